"""What is believed of a pot, when to ask for a look, and what only gets less: worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import Trace
from soapbench.outlook.finishing import Outlook, Quantiles, outlook
from soapbench.outlook.looks import (
    LOOK_EVERY_S,
    UNFORESEEN,
    Belief,
    beliefs,
    counted_down,
    look_wanted,
)
from soapbench.pour.state import DoneStage, PotState, PourState
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws
from tests.test_outlook import ONE, SURE, batter

POUR = Stage("pour", "pour", "Pour", ("p",), 60.0, needs=(Need(("p",), Trace(0), Trace.MEDIUM),))


def state(pot: PotState, *done: DoneStage, stage: Stage = POUR) -> PourState:
    return PourState(("s",), done, (stage,), {"p": pot}, begun=True, stage_begun=400.0, base="p")


def ladder(n: int = 1000) -> Draws:
    """Light trace at 1001, 1002 … s in no order; medium a thousand later, and so on."""
    rank = np.random.default_rng(1).permutation(n) + 1.0
    exposure = rank[:, None] + np.array([0.0, 1000.0, 2000.0, 3000.0, 4000.0])
    return Draws(np.zeros(n), np.log(exposure), np.ones(n), {"F": np.full(n, np.log(2.0))})


def test_a_belief_leaves_out_the_most_extreme_draws_at_each_end() -> None:
    believed = beliefs(state(PotState("p")), ladder(), 1500.5)["p"]
    out = round(UNFORESEEN * 1000)
    assert out > 0
    light = (1001.0 + out, 2000.0 - out)
    assert believed.reached[Trace.LIGHT] == pytest.approx(light)
    assert believed.reached[Trace.SET_UP] == pytest.approx((light[0] + 3000.0, light[1] + 3000.0))
    assert believed.passed == 0.5, "half of them have come to light trace"


@pytest.mark.parametrize(
    ("last", "passed"),
    [(Trace.EMULSION, 1.0), (Trace.LIGHT, 0.25), (Trace.MEDIUM, 0.0), (Trace.SET_UP, 0.0)],
)
def test_past_the_state_last_seen_is_at_the_next(last: Trace, passed: float) -> None:
    assert beliefs(state(PotState("p", last)), ladder(), 2250.5)["p"].passed == passed


def test_fragrance_of_the_stage_in_hand_counts_from_when_that_began() -> None:
    """From 400 s on twice as fast: light trace at 1001 … 2000 s comes at 700.5 … 1200 s."""
    scent = replace(POUR, fragrance_into=("p",))
    pot = PotState("p", fragrance="F")
    out = round(UNFORESEEN * 1000)
    reached = beliefs(state(pot, stage=scent), ladder(), 0.0)["p"].reached[Trace.LIGHT]
    assert reached == pytest.approx((400 + (601 + out) / 2, 400 + (1600 - out) / 2))
    keyed = replace(pot, fragrance_in=0.0)
    reached = beliefs(state(keyed, stage=scent), ladder(), 0.0)["p"].reached[Trace.LIGHT]
    assert reached == pytest.approx(((1001 + out) / 2, (2000 - out) / 2))
    over = replace(state(pot), ahead=())
    assert over.stage is None
    assert beliefs(over, ladder(), 0.0)["p"].reached[Trace.LIGHT][0] > 1000.0


def wanted(pot: PotState, now: float, *done: DoneStage, passed: float = 0.9) -> str | None:
    return look_wanted(state(pot, *done), {"p": Belief(((0.0, 9e9),) * 5, passed)}, now)


def test_a_pot_is_asked_for_some_time_after_eyes_were_in_it() -> None:
    off = DoneStage(Stage("o", "pour off", "Pour off", ("p",)), 400.0, 500.0)
    for pot, done in (
        (PotState("p", looked=500.0), ()),
        (PotState("p", fragrance_in=500.0, looked=100.0), ()),
        (PotState("p", looked=100.0), (off,)),
    ):
        assert wanted(pot, 500.0 + LOOK_EVERY_S - 1.0, *done) is None
        assert wanted(pot, 500.0 + LOOK_EVERY_S + 1.0, *done) == "p"
        assert wanted(pot, 500.0 + LOOK_EVERY_S + 1.0, *done, passed=0.1) is None
    skipped = replace(off, skipped=True)
    assert wanted(PotState("p", looked=100.0), 501.0, skipped) == "p"
    assert wanted(PotState("p"), LOOK_EVERY_S + 1.0) == "p", "never looked at: since the lye"
    assert wanted(PotState("p"), LOOK_EVERY_S - 1.0) is None


def test_nothing_more_can_be_seen_of_a_pot_that_has_set_up_or_is_not_needed() -> None:
    assert wanted(PotState("p", Trace.THICK), 900.0) == "p"
    assert wanted(PotState("p", Trace.SET_UP), 900.0) is None
    assert wanted(PotState("p", where="mould", left_pot=100.0), 900.0) in ("p", None)
    free = replace(state(PotState("p")), ahead=(replace(POUR, needs=()),))
    assert look_wanted(free, {"p": Belief(((0.0, 9e9),) * 5, 0.9)}, 900.0) is None
    assert look_wanted(state(PotState("p")), {}, 900.0) is None


def seen_at(now: float) -> Outlook:
    return outlook([POUR], ONE, batter(), SURE, now=now)


def test_with_no_key_between_nothing_gets_longer() -> None:
    """Room from ``now`` on runs down second by second; windows and what is to spare stand."""
    first = seen_at(0.0)
    later = replace(
        first,
        room_s={"p": Quantiles(195.0, 195.0, 150.0)},
        window_s={"p": Quantiles(250.0, 150.0, 199.0)},
        to_spare_s=500.0,
    )
    later_on = counted_down(first, later, 10.0)
    room = first.room_s["p"]
    assert later_on.room_s["p"] == Quantiles(room.p10 - 10.0, room.p50 - 10.0, 150.0)
    window = first.window_s["p"]
    assert later_on.window_s["p"] == Quantiles(window.p10, 150.0, 199.0)
    assert later_on.to_spare_s == first.to_spare_s
    less = replace(later, to_spare_s=1.0)
    assert counted_down(first, less, 10.0).to_spare_s == 1.0
    other = replace(later, in_part=not first.in_part)
    assert counted_down(first, other, 10.0).to_spare_s == 500.0, "it counts something else"
    assert counted_down(first, later, 1e4).room_s["p"].p10 == 0.0
    new = replace(first, room_s={}, window_s={})
    assert counted_down(new, later, 10.0).room_s == later.room_s
    assert counted_down(new, later, 10.0).window_s == later.window_s


def test_quantiles_of_few_draws_are_numpys() -> None:
    """Linear between the two draws around a quantile, as numpy.quantile has it by default."""
    ends = 60.0 * np.array([3.0, 1.0, 4.0, 1.5, 9.0, 2.6, 5.0, 3.5, 8.0, 9.9, 7.0, 9.3])
    n = len(ends)
    draws = Draws(np.zeros(n), np.log(ends)[:, None] + np.zeros(5), np.ones(n), {})
    forecast = outlook([], {"p": PotState("p")}, draws, SURE)
    room = forecast.room_s["p"]
    assert (room.p10, room.p50, room.p90) == pytest.approx(np.quantile(ends, [0.1, 0.5, 0.9]))
