"""What is offered, warned of and held on to; changes of a plan and sets of them: by hand.

Ways are given with their worths, so that no draw is run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest

from soapbench.advice import changes
from soapbench.advice.advise import (
    CLEARLY,
    FAR,
    STEADY_S,
    Advice,
    _factors,
    advice_of,
    shown,
    steady,
)
from soapbench.advice.changes import Together, changes_together
from soapbench.advice.known import Known
from soapbench.advice.levers import CHANGES, Change
from soapbench.advice.reasons import why
from soapbench.advice.ways import NEAR, SwirlChoice
from soapbench.batter import Tap, Trace
from soapbench.outlook.finishing import Quantiles, outlook
from soapbench.outlook.worth import WORTH_POURING, Become
from soapbench.plan import Plan
from soapbench.pour.state import PotState, PourState, TroubleSeen
from soapbench.thickening.draws import Draws
from soapbench.troubles import Trouble
from tests.plans import plan
from tests.test_outlook import ONE, SURE, batter, stage

ON = ("drop swirl",)


def way(name: str, worth: float, chance: float = 0.5, in_part: float = 0.0) -> SwirlChoice:
    become = Become.WISH if (name,) == ON else Become.ANOTHER
    return SwirlChoice((name,), chance, 5.0, in_part, worth, become)


def advised(on: SwirlChoice, *others: SwirlChoice) -> Advice:
    ranked = sorted([on, *others], key=lambda one: -one.worth)
    return advice_of(ranked, ON, "it thickens")


def test_while_going_on_is_good_enough_nothing_is_offered_and_no_reason_told() -> None:
    fine = advised(way("drop swirl", 0.95), way("layers", 0.99))
    assert (fine.backup, fine.why, fine.warns) == (None, "", False)
    assert fine.way == fine.going_on
    danger = advised(way("drop swirl", 0.6), way("layers", 0.59))
    assert (danger.backup, danger.why, danger.warns) == (None, "it thickens", False)


def test_in_danger_the_best_other_way_is_offered_and_taken_where_it_is_worth_more() -> None:
    on, layers, wall = way("drop swirl", 0.5), way("layers", 0.7), way("wall pour", 0.6)
    advice = advised(on, wall, layers)
    assert (advice.way, advice.backup, advice.going_on, advice.warns) == (layers, layers, on, True)
    near = way("layers", 0.5 + 0.5 * NEAR)
    advice = advised(on, near)
    assert (advice.way, advice.backup, advice.warns) == (on, near, False), "hardly worth more"


def test_a_way_that_is_surer_to_come_to_something_is_a_backup_too() -> None:
    on = way("drop swirl", 0.5, 0.4, 0.2)
    surer = way("layers", 0.49, 0.5, 0.2)
    assert advised(on, surer).backup == surer
    assert advised(on, way("layers", 0.49, 0.42, 0.2)).backup is None
    assert advised(on, way("layers", 0.49, 0.3, 0.3)).backup is None
    assert advised(on, way("layers", 0.49, 0.2, 0.6)).backup is not None


def test_what_was_offered_stays_until_another_has_been_clearly_better_for_a_while() -> None:
    on, held = way("drop swirl", 0.3), way("layers", 0.5)
    close, clear = way("wall pour", 0.5 + 0.8 * CLEARLY), way("wall pour", 0.5 + 1.5 * CLEARLY)
    before = Advice(held, on, held, "", warns=True)

    def now(best: SwirlChoice, before: Advice | None, t: float) -> Advice:
        ranked = [best, held, on]
        return steady(advice_of(ranked, ON, ""), ranked, before, t)

    assert now(close, before, 100.0).backup == held
    assert now(close, None, 100.0).backup == close, "nothing was offered before"
    first = now(clear, before, 100.0)
    assert (first.backup, first.rival) == (held, (clear.key, 100.0))
    still = now(clear, first, 100.0 + STEADY_S - 1.0)
    assert (still.backup, still.rival) == (held, (clear.key, 100.0))
    assert now(clear, still, 100.0 + STEADY_S).backup == clear
    far = way("wall pour", 0.5 + 1.5 * FAR)
    assert now(far, before, 100.0).backup == far, "so much better it is taken at once"
    third = replace(clear, steps=("ombré",))
    other = now(third, still, 100.0 + STEADY_S)
    assert (other.backup, other.rival) == (held, (third.key, 100.0 + STEADY_S)), "a new rival"
    lost = replace(held, worth=0.1, chance=0.1)
    ranked = [clear, on, lost]
    assert steady(advice_of(ranked, ON, ""), ranked, before, 100.0).backup == clear


def test_one_look_one_fragrance_or_a_trouble_shows_how_fast_a_batter_is() -> None:
    pots = {name: PotState(name) for name in ("base", "rope")}
    state = PourState(ON, (), (), pots, begun=True)
    assert not shown(state)
    for pot in (
        PotState("rope", taps=(Tap(60.0, Trace.LIGHT),)),
        PotState("rope", looks=(60.0,)),
        PotState("rope", fragrance_in=0.0),
    ):
        assert shown(replace(state, pots={**pots, "rope": pot}))
    assert shown(replace(state, troubles=(TroubleSeen(60.0, None, Trouble.RICING),)))


def test_it_is_said_that_it_thickens_faster_from_about_a_third_on() -> None:
    late = outlook([stage("pour", 10, 0.1)], ONE, batter(), SURE)
    assert late.tightest is None
    assert why(late, {}) == ""
    for times, faster in ((1.0, False), (1.2, False), (1.5, True), (4.0, True)):
        factor = {"rope": Quantiles(0.5, times, 9.0), "base": Quantiles(0.5, 0.9, 9.0)}
        assert ("faster" in why(late, factor)) is faster


def test_how_much_faster_is_told_by_one_in_ten_half_and_nine_in_ten() -> None:
    times = np.arange(1.0, 102.0)
    draws = Draws(np.zeros(101), np.zeros((101, 5)), np.ones(101), {"F": np.log(times)})
    factors = _factors(draws, "F")
    assert (factors.p10, factors.p50, factors.p90) == pytest.approx((11.0, 51.0, 91.0))


# ---------------------------------------------------------------- sets of changes


def together(worth: float, *named: str) -> Together:
    return Together(named or ("cool to 25 °C",), worth, 0.0, worth, plan())


@pytest.fixture
def sets(monkeypatch: pytest.MonkeyPatch) -> list[list[Together]]:
    answers: list[list[Together]] = []

    def by_size(of: Plan, known: Known) -> Iterator[list[Together]]:
        yield from answers

    monkeypatch.setattr(changes, "sets_by_size", by_size)
    return answers


ENOUGH = WORTH_POURING


def test_the_first_size_that_is_enough_is_told_the_best_first(
    sets: list[list[Together]], known: Known
) -> None:
    good, better, cheaper = together(ENOUGH), together(ENOUGH + 0.1), together(ENOUGH + 0.09, "x")
    sets += [[together(0.4)], [together(0.5, "a", "b"), good, cheaper, better], [together(0.9)]]
    assert changes_together(plan(), known, 0.3) == (cheaper, better, good)
    assert changes_together(plan(), known, ENOUGH) == (), "it is worth pouring as it is"


def test_where_none_is_enough_the_best_that_gains_is_told(
    sets: list[list[Together]], known: Known
) -> None:
    one, two = together(0.5), together(0.5 + 0.5 * NEAR, "a", "b")
    sets += [[together(0.4), one, together(0.45)], [two]]
    assert changes_together(plan(), known, 0.3) == (one,), "two changes must gain more than that"
    sets[1] = [together(0.5 + 2 * NEAR, "a", "b")]
    assert changes_together(plan(), known, 0.3) == tuple(sets[1])
    assert changes_together(plan(), known, 0.5 + 1.5 * NEAR) == (), "hardly any gain"
    sets.clear()
    assert changes_together(plan(), known, 0.3) == ()


def test_sets_are_of_one_two_and_three_changes_that_can_each_be_made(
    monkeypatch: pytest.MonkeyPatch, known: Known
) -> None:
    """Of four changes, one of which cannot be made: 3, 3 and 1; more make another plan of it."""
    four = CHANGES[:4]

    def with_some(some: Sequence[Change], *_: object) -> Together | None:
        return None if four[1] in some else together(0.4, *(str(id(one)) for one in some))

    monkeypatch.setattr(changes, "CHANGES", four)
    monkeypatch.setattr(changes, "_with", with_some)
    sets = list(changes.sets_by_size(plan(), known))
    assert [[len(one.changes) for one in of_size] for of_size in sets] == [[1] * 3, [2] * 3, [3]]


# ---------------------------------------------------------------- one change


def change(words: str) -> Change:
    return next(one for one in CHANGES if one.words(plan()).startswith(words))


def degrees(of: Plan, **given: float | None) -> Plan:
    return replace(of, conditions=replace(of.conditions, **given))  # type: ignore[arg-type]


def test_cooling_by_six_degrees_as_far_as_floor_and_room_allow() -> None:
    cooler = change("cool")
    warm = degrees(plan(), batter=34.0, oils=None, lye=None, room=20.0)
    for floor, to in ((0.0, 28.0), (29.2, 30.0), (31.5, 32.0)):
        cooled = cooler.make(warm, floor)
        assert cooled is not None
        assert cooled.conditions.batter == to
        assert cooler.words(cooled) == f"cool to {to:g} °C"
    assert cooler.make(warm, 32.5) is None, "a degree is not worth the trouble"
    cooled = cooler.make(degrees(warm, room=30.0), 0.0)
    assert cooled is not None
    assert cooled.conditions.batter == 30.0


def test_oils_and_lye_given_apart_are_cooled_to_what_the_warmer_of_them_is_cooled_to() -> None:
    cooler = change("cool")
    apart = degrees(plan(), oils=40.0, lye=30.0, room=20.0)
    cooled = cooler.make(apart, 0.0)
    assert cooled is not None
    assert (cooled.conditions.oils, cooled.conditions.lye) == (34.0, 30.0)
    assert cooler.words(cooled) == "cool to 34 °C"
    cooled = cooler.make(degrees(apart, oils=30.0, lye=50.0), 0.0)
    assert cooled is not None
    assert (cooled.conditions.oils, cooled.conditions.lye) == (30.0, 44.0)


def test_more_water_is_weaker_lye_and_weak_lye_is_left() -> None:
    water = change("more water")
    weaker = water.make(plan(), 0.0)
    assert weaker is not None
    assert weaker.lye.strength == pytest.approx(plan().lye.strength - 0.04)
    assert water.words(weaker) == "more water (lye 29 %)"
    assert water.make(weaker, 0.0) is None


def test_half_of_each_load_that_is_worth_halving() -> None:
    half = change("half")
    (scent,) = plan().fragrance
    both = replace(plan(), fragrance=(scent, replace(scent, name="Fig", load=0.01)))
    halved = half.make(both, 0.0)
    assert halved is not None
    assert [f.load for f in halved.fragrance] == [0.015, 0.01], "a hint is not halved"
    only = replace(plan(), fragrance=(replace(scent, load=0.01),))
    assert half.make(only, 0.0) is None


def test_an_accent_less_gives_its_batter_back_to_the_base() -> None:
    fewer = next(one for one in CHANGES if "instead of" in one.words(plan()))
    base, rope, gull = plan().pots
    uneven = replace(plan(), pots=(base, replace(rope, share=0.1), replace(gull, share=0.3)))
    without = fewer.make(uneven, 0.0)
    assert without is not None
    assert {pot.name: pot.share for pot in without.pots} == {
        "base": pytest.approx(0.7),
        "gull": 0.3,
    }
    assert fewer.words(without) == "1 accent instead of 2"
    assert fewer.make(replace(uneven, pots=uneven.pots[:2]), 0.0) is None
