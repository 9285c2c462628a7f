"""Reasons in words, how to pour now, and since when a way is in hand: at their bounds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from parts_kit import NONE

from soapbench.advice.known import Known
from soapbench.advice.moment import Moment
from soapbench.advice.reasons import FASTER, SURE, how, needs, tightest_of, why
from soapbench.batter import Trace
from soapbench.outlook.finishing import Outlook, Quantiles, StageOutlook
from soapbench.pour.state import PotState, PourState
from soapbench.swirls.stage import Need, Stage
from soapbench.troubles import Trouble
from soapbench.words import chances as words
from tests.plans import plan
from tests.test_outlook import SURE as EXACT
from tests.test_outlook import batter

# ---------------------------------------------------------------- how to pour

DRAWN = (Trace.LIGHT, Trace.THICK)
DROP = Stage("d", "drop an accent", "Drop in rope", ("rope",), needs=(
    Need(("rope",), Trace.EMULSION, Trace.THICK),
    Need(("base", "gull"), Trace.EMULSION, Trace.EMULSION, Trace.LIGHT, DRAWN),
))  # fmt: skip
WIRE = Stage("w", "draw the hanger", "Pull", ("base", "gull"), draws_down=True)
POUR = Stage("p", "pour", "Pour", ("base",))


def reason(stage: Stage, *ahead: Stage, **traces: Trace) -> str:
    pots = {name: PotState(name, traces.get(name, Trace.EMULSION))
            for name in ("base", "rope", "gull")}  # fmt: skip
    return how(stage, PourState(("s",), (), (stage, *ahead), pots, begun=True))


@pytest.mark.parametrize(
    ("traces", "sentence"),
    [
        ({}, ""),
        ({"rope": Trace.SET_UP}, ""),
        ({"base": Trace.LIGHT}, words.SINKS_HALFWAY),
        ({"gull": Trace.LIGHT}, words.SINKS_HALFWAY),
        ({"base": Trace.LIGHT, "gull": Trace.MEDIUM}, words.LIES_ON_TOP),
        ({"base": Trace.MEDIUM}, words.LIES_ON_TOP),
        ({"base": Trace.SET_UP}, words.LIES_ON_TOP),
    ],
)
def test_how_a_drop_is_poured_goes_by_the_thickest_it_falls_onto(
    traces: dict[str, Trace], sentence: str
) -> None:
    """Common practice, no source."""
    assert reason(DROP, POUR, **traces) == sentence
    drawn = sentence + words.THEN_DRAW if sentence == words.LIES_ON_TOP else sentence
    assert reason(DROP, POUR, WIRE, POUR, **traces) == drawn


def test_a_wire_is_drawn_deep_where_any_of_it_is_medium() -> None:
    assert reason(WIRE) == reason(WIRE, base=Trace.LIGHT) == reason(WIRE, rope=Trace.THICK) == ""
    for name in ("base", "gull"):
        assert reason(WIRE, **{name: Trace.MEDIUM}) == words.DRAW_DEEP
    assert reason(POUR, base=Trace.THICK) == "", "a pour is poured as usual"
    bare = PourState(("s",), (), (WIRE,), {}, begun=True)
    assert how(WIRE, bare) == ""


# ---------------------------------------------------------------- why


def foreseen(chance: float, begins: float, ends: float, room: float, step: str = "") -> Outlook:
    three = Quantiles(ends - 1.0, ends, ends + 1.0)
    stage = StageOutlook(replace(POUR, step=step), Quantiles(0.0, begins, 99.0), three, three,
                         chance, 0.0, room)  # fmt: skip
    return replace(NONE, chance=chance, stages=(stage,), tightest=stage)


def test_it_is_said_to_be_faster_from_three_tenths_on() -> None:
    """Three tenths: ours."""
    assert FASTER == 1.3
    one, other = Quantiles(1.0, 1.2, 9.0), Quantiles(1.0, 1.3, 9.0)
    assert why(NONE, {"rope": one}) == ""
    assert why(NONE, {"rope": one, "gull": other}) == words.faster_since(1.3)
    assert why(NONE, {"rope": other, "gull": one}) == words.faster_since(1.3)
    assert why(NONE, {}) == ""


def test_what_the_tightest_stage_needs_is_told_from_now_on() -> None:
    tight = foreseen(0.5, 100.0, 200.0, 70.0, "hanger swirl")
    by_hand = words.needs_words("hanger swirl", 100.0, 70.0)
    assert why(tight, {}) == by_hand == "hanger swirl. You need 1:40, the batter gives 1:10"
    fast = {"rope": Quantiles(1.0, 2.0, 3.0)}
    assert why(tight, fast) == f"{words.faster_since(2.0)}; {by_hand}"
    assert tight.tightest is not None
    assert needs(tight.tightest) == words.needs_words("hanger swirl", 200.0, 70.0)
    unnamed = foreseen(0.5, 100.0, 200.0, 70.0)
    assert why(unnamed, {}).startswith("pour. You need")


def test_what_has_separated_is_the_reason() -> None:
    pots = {name: PotState(name) for name in ("base", "rope")}
    split = {**pots, "rope": PotState("rope", trouble=Trouble.SEPARATING)}
    assert why(NONE, {}, split) == words.separating(["rope"])
    assert why(NONE, {}, pots) == ""
    assert why(NONE, {}, {**pots, "rope": PotState("rope", trouble=Trouble.RICING)}) == ""


def test_a_stage_is_named_the_tightest_below_98_percent() -> None:
    """Ours."""
    assert SURE == 0.98
    for chance, named in ((0.5, True), (0.979, True), (0.98, False), (1.0, False)):
        tight = foreseen(chance, 0.0, 1.0, 1.0)
        assert (tightest_of(tight) is tight.tightest) is named
        assert (tightest_of(tight) is None) is not named


# ---------------------------------------------------------------- since when it is in hand


def test_a_way_is_in_hand_where_it_begins_with_what_is(known: Known) -> None:
    """40 s of handwork, begun 30 s ago: 10 s are left, or 40 where something else comes first."""
    first, other = (Stage(name, "pour", name, ("p",), 40.0, 1e-9) for name in "ab")
    pots = {"p": PotState("p", fragrance="F")}
    state = PourState(("s",), (), (first, other), pots, begun=True, stage_begun=70.0, base="p")
    exact = replace(known, pace=EXACT)
    at = Moment(plan(), {"p": 1000.0}, exact, state, batter(), 100.0)
    for ahead, ends in (
        ((first, other), (110.0, 150.0)),
        ((first,), (110.0,)),
        ((other,), (140.0,)),
        ((other, first), (140.0, 180.0)),
        ((), ()),
    ):
        assert [float(np.median(e)) for e in at.each(ahead).ends] == pytest.approx(ends)
        assert at.finish(ahead).minutes == pytest.approx(((*ends, 100.0)[-2 if ends else -1]
                                                          - 100.0) / 60)  # fmt: skip
