"""Each change of a plan at the bounds within which it is made."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from soapbench.advice.levers import (
    COOLER_BY,
    LEAST_COOLER,
    LEAST_LOAD,
    STRONG_FROM,
    WEAKER_BY,
    _as_poured,
    _base_only,
    _cooler,
    _coolest,
    _fewer_accents,
    _fragrance_later,
    _half_the_load,
    _last_first,
    _less_blending,
    _more_water,
    _without,
)
from soapbench.batter import Trace
from soapbench.plan import Fragrance, Plan
from tests.plans import EVERYTHING, plan

PLAN = plan()
(FRAGRANCE,) = PLAN.fragrance
BASE, ROPE, GULL = PLAN.pots


def degrees(**given: float | None) -> Plan:
    whole: dict[str, Any] = {"batter": 30.0, "oils": None, "lye": None, "room": 10.0} | given
    return replace(PLAN, conditions=replace(PLAN.conditions, **whole))


def scented(*fragrances: Fragrance) -> Plan:
    return replace(PLAN, fragrance=fragrances)


def into(*pots: str, **more: Any) -> Fragrance:
    return replace(FRAGRANCE, goes_into=pots, **more)


def first_scented(of: Plan | None) -> object:
    return None if of is None else of.fragrance[0].goes_into


# ---------------------------------------------------------------- cooler


@pytest.mark.parametrize(
    ("given", "floor", "to"),
    [
        ({"batter": 30.0}, 0.0, 24.0),
        ({"batter": 30.4}, 0.0, 24.0),
        ({"batter": 30.6}, 0.0, 25.0),
        ({"batter": 30.0}, 24.0, 24.0),
        ({"batter": 30.0}, 24.1, 25.0),
        ({"batter": 30.0}, 28.0, 28.0),
        ({"batter": 30.0}, 28.1, None),
        ({"batter": 30.0, "room": 26.5}, 0.0, 27.0),
        ({"batter": 30.0, "room": 28.5}, 0.0, None),
        ({"batter": 29.5, "room": 27.5}, 0.0, None),
    ],
)
def test_cooler_by_six_degrees_and_not_for_less_than_two(
    given: dict[str, float], floor: float, to: float | None
) -> None:
    """Six kelvins, two at the least (ours), in whole degrees."""
    assert (COOLER_BY, LEAST_COOLER) == (6.0, 2.0)
    cooled = _cooler(degrees(**given), floor)
    assert (cooled.conditions.batter if cooled else None) == to


@pytest.mark.parametrize(
    ("oils", "lye", "cooled"),
    [
        (40.0, 30.0, (34.0, 30.0)),
        (30.0, 40.0, (30.0, 34.0)),
        (40.0, 38.0, (34.0, 34.0)),
        (14.0, 12.0, (10.0, 10.0)),
        (12.0, 11.0, (10.0, 10.0)),
        (11.0, 11.0, None),
        (0.0, 30.0, (0.0, 24.0)),
        (30.0, 0.0, (24.0, 0.0)),
    ],
)
def test_of_oils_and_lye_apart_the_warmer_is_cooled(
    oils: float, lye: float, cooled: tuple[float, float] | None
) -> None:
    apart = degrees(oils=oils, lye=lye, batter=99.0)
    cooler = _cooler(apart, 0.0)
    apart_c = (cooler.conditions.oils, cooler.conditions.lye) if cooler else None
    assert apart_c == cooled
    assert _coolest(apart) == max(oils, lye)
    assert _coolest(degrees(batter=27.0)) == 27.0


# ---------------------------------------------------------------- blending, water


@pytest.mark.parametrize(
    ("blend", "changes"), [(Trace.EMULSION, False), (Trace.LIGHT, True), (30.0, True)]
)
def test_less_blending_is_to_stable_emulsion(blend: Trace | float, changes: bool) -> None:
    less = _less_blending(replace(PLAN, conditions=replace(PLAN.conditions, blend=blend)), 0.0)
    assert (less is not None) is changes
    if less:
        assert less.conditions.blend is Trace.EMULSION


def test_more_water_for_lye_of_30_percent_on() -> None:
    """Four points weaker (ours), to a tenth of a point."""
    assert (WEAKER_BY, STRONG_FROM) == (0.04, 0.30)
    for strength, to in ((0.33, 0.29), (0.30, 0.26), (0.299, None), (0.3333, 0.293)):
        weaker = _more_water(replace(PLAN, lye=replace(PLAN.lye, concentration=strength)), 0.0)
        assert (weaker.lye.concentration if weaker else None) == to
    ratio = replace(PLAN, lye=replace(PLAN.lye, concentration=None, water_to_lye="2 : 1"))
    weaker = _more_water(ratio, 0.0)
    assert weaker is not None
    assert (weaker.lye.concentration, weaker.lye.water_to_lye) == (0.293, None)


# ---------------------------------------------------------------- fewer accents


def test_the_smallest_of_two_accents_or_more_is_left_out() -> None:
    small, large = replace(ROPE, share=0.1), replace(GULL, share=0.3)
    for pots in ((BASE, small, large), (BASE, large, small)):
        fewer = _fewer_accents(replace(PLAN, pots=pots), 0.0)
        assert fewer is not None
        assert [(p.name, round(p.share, 9)) for p in fewer.pots] == [("base", 0.7), ("gull", 0.3)]
    assert _fewer_accents(replace(PLAN, pots=(BASE, ROPE)), 0.0) is None
    fewer = _fewer_accents(PLAN, 0.0)
    assert fewer is not None, "two are enough"
    assert [pot.name for pot in fewer.pots] == ["base", "gull"], "of equals the first"
    third = replace(ROPE, name="third", share=0.05)
    fewer = _fewer_accents(replace(PLAN, pots=(*PLAN.pots, third)), 0.0)
    assert fewer is not None
    assert [pot.name for pot in fewer.pots] == ["base", "rope", "gull"]
    assert _fewer_accents(plan(EVERYTHING), 0.0) is None, "its moulds ask for their pots"


def test_fragrance_of_a_pot_left_out_goes_with_it_and_no_other() -> None:
    each, base = FRAGRANCE, replace(FRAGRANCE, goes_into="base")
    assert _without((each, base), ROPE) == (each, base)
    assert _without((into("rope"), into("gull")), ROPE) == (into("gull"),)
    assert _without((into("base", "rope", "gull"),), ROPE) == (into("base", "gull"),)
    assert _without((replace(FRAGRANCE, goes_into="rope"),), ROPE) == ()
    assert _without((replace(FRAGRANCE, goes_into="gull"),), ROPE) == (
        replace(FRAGRANCE, goes_into="gull"),
    )


# ---------------------------------------------------------------- fragrance


def test_into_the_base_only_where_one_fragrance_goes_into_more() -> None:
    alone = replace(PLAN, pots=(BASE,))
    assert first_scented(_base_only(PLAN, 0.0)) == "base"
    assert first_scented(_base_only(scented(into("rope", "gull")), 0.0)) == "base"
    assert _base_only(scented(into("gull", "rope", "base")), 0.0) is None, "just put into order"
    assert _base_only(scented(replace(FRAGRANCE, goes_into="base")), 0.0) is None
    assert _base_only(alone, 0.0) is None
    assert _base_only(scented(), 0.0) is None
    assert _base_only(scented(into("rope"), into("gull")), 0.0) is None
    assert first_scented(_base_only(scented(replace(FRAGRANCE, goes_into="oil")), 0.0)) == "base"


def test_half_of_every_load_from_one_and_a_half_percent_on() -> None:
    """Half of less is hardly a fragrance any more (ours)."""
    assert LEAST_LOAD == 0.015

    def loads(*given: float) -> list[float] | None:
        halved = _half_the_load(scented(*(replace(FRAGRANCE, load=load) for load in given)), 0.0)
        return None if halved is None else [f.load for f in halved.fragrance]

    assert loads(0.03) == [0.015]
    assert loads(0.015) == [0.0075]
    assert loads(0.0149) is None
    assert loads(0.01, 0.02) == [0.01, 0.01]
    assert loads(0.02, 0.01) == [0.01, 0.01]
    assert loads(0.04, 0.02) == [0.02, 0.01]
    assert loads(0.0333333) == [0.01667], "to a thousandth of a percent"
    assert loads() is None


def test_fragrance_later_where_any_goes_in_early() -> None:
    late = replace(FRAGRANCE, when="just before pouring")

    def when(*fragrances: Fragrance) -> list[tuple[object, str]] | None:
        later = _fragrance_later(scented(*fragrances), 0.0)
        return None if later is None else [(f.goes_into, f.when) for f in later.fragrance]

    assert when(FRAGRANCE) == [("each pot", "just before pouring")]
    assert when(late) is None
    assert when() is None
    assert when(into("rope"), replace(late, goes_into="gull")) == [
        (("rope",), "just before pouring"), ("gull", "just before pouring"),
    ]  # fmt: skip
    assert when(replace(FRAGRANCE, goes_into="oils")) == [("each pot", "just before pouring")]
    assert when(replace(FRAGRANCE, goes_into="base")) == [("base", "just before pouring")]


@pytest.mark.parametrize(
    ("order", "names"),
    [(_as_poured, ("base", "rope", "gull")), (_last_first, ("gull", "rope", "base"))],
)
def test_another_order_for_one_fragrance_that_goes_into_each_pot_early(
    order: Any, names: tuple[str, ...]
) -> None:
    assert first_scented(order(PLAN, 0.0)) == names
    assert order(replace(PLAN, pots=(BASE,)), 0.0) is None
    assert order(scented(), 0.0) is None
    assert order(scented(into("rope"), into("gull")), 0.0) is None
    assert order(scented(FRAGRANCE, into("gull")), 0.0) is None
    assert order(scented(replace(FRAGRANCE, when="just before pouring")), 0.0) is None
    assert order(scented(into("rope", "gull", "base")), 0.0) is None
    one_accent = replace(PLAN, pots=(BASE, ROPE))
    expected = ("base", "rope") if order is _as_poured else None
    assert first_scented(order(one_accent, 0.0)) == expected, "one accent comes first anyhow"
