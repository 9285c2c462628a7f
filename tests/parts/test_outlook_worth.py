"""What ways are worth, when a look is asked for, when a tap is asked about: at their bounds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import Trace
from soapbench.outlook.finishing import Quantiles, outlook
from soapbench.outlook.looks import (
    DECIDING_EVERY_S,
    LOOK_EVERY_S,
    UNFORESEEN,
    WORTH_A_LOOK,
    WORTH_DECIDING,
    Belief,
    before_foreseen,
    beliefs,
    counted_down,
    look_wanted,
    unforeseen,
)
from soapbench.outlook.worth import WORTH_POURING, Become, worth, worths
from soapbench.pour.state import DoneStage, PotState, PourState
from soapbench.settings import Risk
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws
from tests.test_outlook import BEFORE_THICK, ONE, SURE, batter, stage

# ---------------------------------------------------------------- worth


def test_what_a_pour_can_become_is_worth_by_a_scale_of_ours() -> None:
    """As planned 1, with something skipped .7, another swirl .6, saved .3; ruin 0, -.5 or -1."""
    assert [become.worth for become in Become] == [1.0, 0.7, 0.6, 0.3]
    assert [risk.ruin for risk in Risk] == sorted((0.0, -0.5, -1.0), reverse=True)
    assert WORTH_POURING == 0.7, "as good as in part for certain"


@pytest.mark.parametrize(
    ("become", "expected"),
    [
        (Become.WISH, 0.5 + 0.7 * 0.2),
        (Become.LESS, 0.7 * (0.5 + 0.7 * 0.2)),
        (Become.ANOTHER, 0.6 * (0.5 + 0.7 * 0.2)),
        (Become.SAVED, 0.3 * (0.5 + 0.2)),
    ],
)
@pytest.mark.parametrize("risk", list(Risk))
def test_a_way_is_worth_the_mean_of_what_it_comes_to(
    become: Become, expected: float, risk: Risk
) -> None:
    """Of ten draws five as planned, two in part, three lost: the mean, and each by itself."""
    planned = np.arange(10) < 5
    in_part = np.arange(10) < 7
    mean = worth(become, 0.5, 0.2, risk)
    assert mean == pytest.approx(expected + risk.ruin * 0.3)
    each = worths(become, planned, in_part, risk)
    assert each.mean() == pytest.approx(mean)
    assert each[0] == become.worth
    assert each[9] == risk.ruin
    part = 1.0 if become is Become.SAVED else 0.7
    assert each[6] == pytest.approx(part * become.worth)


def test_chances_that_make_a_little_more_than_one_lose_nothing() -> None:
    for risk in Risk:
        assert worth(Become.WISH, 0.8, 0.3, risk) == pytest.approx(0.8 + 0.7 * 0.3)
    assert worth(Become.WISH, 0.0, 0.0) == Risk.USUAL.ruin


# ---------------------------------------------------------------- unforeseen taps

SEEN = Belief(((10.0, 20.0), (30.0, 40.0), (50.0, 60.0), (70.0, 80.0), (90.0, 100.0)), 0.5)
"""Light trace is believed to be reached between 30 s and 40 s, and so on."""


@pytest.mark.parametrize(
    ("state", "now", "before", "far"),
    [
        (Trace.EMULSION, 0.0, False, False),
        (Trace.EMULSION, 40.0, False, False),
        (Trace.EMULSION, 40.1, False, True),
        (Trace.LIGHT, 29.9, True, True),
        (Trace.LIGHT, 30.0, False, False),
        (Trace.LIGHT, 60.0, False, False),
        (Trace.LIGHT, 60.1, False, True),
        (Trace.THICK, 69.9, True, True),
        (Trace.THICK, 100.1, False, True),
        (Trace.SET_UP, 89.9, True, True),
        (Trace.SET_UP, 9999.0, False, False),
    ],
)
def test_a_tap_is_far_from_belief_before_its_state_and_after_the_next(
    state: Trace, now: float, before: bool, far: bool
) -> None:
    assert before_foreseen(SEEN, state, now) is before
    assert unforeseen(SEEN, state, now) is far


@pytest.mark.parametrize("n", [100, 101, 150, 1000])
def test_a_belief_is_cut_at_one_draw_in_a_hundred_at_each_end(n: int) -> None:
    """The draws in order, by Python's own sort: one in a hundred is left out below and above."""
    out = int(UNFORESEEN * n)
    assert (UNFORESEEN, out) == (0.01, n // 100)
    for seed in range(6):
        times = np.random.default_rng(seed).lognormal(5.0, 1.0, (n, 5)).cumsum(axis=1)
        draws = Draws(np.zeros(n), np.log(times), np.ones(n), {})
        state = PourState(("s",), (), (), {"p": PotState("p")}, begun=True, base="p")
        believed = beliefs(state, draws, 0.0)["p"].reached
        for column, (low, high) in enumerate(believed):
            in_order = sorted(times[:, column])
            assert (low, high) == pytest.approx((in_order[out], in_order[n - 1 - out]))


# ---------------------------------------------------------------- looks

POUR = Stage("pour", "pour", "Pour", ("p",), 60.0, needs=(Need(("p", "q"), Trace(0), Trace(3)),))
OFF = Stage("off", "pour off", "Pour off", ("p",))


def wanted(
    pots: dict[str, PotState],
    passed: dict[str, float],
    now: float,
    deciding: bool,
    *done: DoneStage,
) -> str | None:
    state = PourState(("s",), done, (POUR,), pots, begun=True, stage_begun=0.0, base="p")
    believed = {name: Belief(((0.0, 9e9),) * 5, chance) for name, chance in passed.items()}
    return look_wanted(state, believed, now, deciding)


def asked(pot: PotState, now: float, deciding: bool = False, *done: DoneStage) -> bool:
    return wanted({"p": pot}, {"p": 0.9}, now, deciding, *done) == "p"


def test_eyes_are_asked_for_again_after_three_quarters_of_a_minute() -> None:
    """45 s, and 20 s where how to go on hangs on it; from a chance of a
    quarter on, or of a tenth (ours)."""
    assert (LOOK_EVERY_S, DECIDING_EVERY_S, WORTH_A_LOOK) == (45.0, 20.0, 0.25)
    looked = PotState("p", looked=100.0)
    for deciding, soonest in ((False, 145.0), (True, 120.0)):
        assert not asked(looked, soonest - 0.1, deciding)
        assert asked(looked, soonest, deciding)
        assert not asked(PotState("p"), soonest - 100.1, deciding)
        assert asked(PotState("p"), soonest - 100.0, deciding)
    for deciding, least in ((False, 0.25), (True, WORTH_DECIDING)):
        for passed, asked_of in ((least - 0.01, None), (least, "p"), (least + 0.01, "p")):
            assert wanted({"p": looked}, {"p": passed}, 500.0, deciding) == asked_of
    assert WORTH_DECIDING == 0.1


def test_where_how_to_go_on_hangs_on_it_only_what_was_really_seen_counts() -> None:
    done = DoneStage(OFF, 400.0, 500.0)
    scented = PotState("p", looked=100.0, fragrance_in=500.0)
    for pot, over in ((scented, ()), (PotState("p", looked=100.0), (done,))):
        assert asked(pot, 510.0, True, *over)
        assert not asked(pot, 510.0, False, *over)
    looked_at = PotState("p", looked=495.0)
    assert not asked(looked_at, 510.0, True)


def test_the_pot_most_likely_to_have_moved_on_is_asked_for() -> None:
    pots = {name: PotState(name) for name in ("p", "q")}
    off = DoneStage(replace(OFF, pots=("q",)), 10.0, 20.0)

    def of(p: float, q: float, *done: DoneStage, pots: dict[str, PotState] = pots) -> str | None:
        return wanted(pots, {"p": p, "q": q}, 500.0, False, *done)

    assert of(0.5, 0.6, off) == "q"
    assert of(0.6, 0.5, off) == "p"
    assert of(0.5, 0.6) == "p", "the other is not poured off yet"
    assert wanted(pots, {"p": 0.5}, 500.0, False, off) == "p", "of the other nothing is believed"
    assert of(0.5, 0.6, off, pots={**pots, "q": PotState("q", where="base")}) == "p"


def test_nobody_is_asked_before_lye_or_after_the_last_stage() -> None:
    state = PourState(("s",), (), (POUR,), {"p": PotState("p")}, begun=False, base="p")
    believed = {"p": Belief(((0.0, 9e9),) * 5, 0.9)}
    assert look_wanted(state, believed, 500.0) is None
    assert look_wanted(replace(state, begun=True), believed, 500.0) == "p"
    assert look_wanted(replace(state, begun=True, ahead=()), believed, 500.0) is None


# ---------------------------------------------------------------- nothing gets longer


def test_each_part_of_what_is_left_runs_down_by_itself() -> None:
    forecast = outlook([stage("pour", 60, 1e-6, needs=BEFORE_THICK)], ONE, batter(), SURE)
    before = replace(
        forecast,
        room_s={"p": Quantiles(100.0, 200.0, 300.0)},
        window_s={"p": Quantiles(110.0, 210.0, 310.0)},
    )

    def after(room: Quantiles, window: Quantiles, passed: float) -> tuple[Quantiles, Quantiles]:
        later = replace(before, room_s={"p": room}, window_s={"p": window})
        counted = counted_down(before, later, passed)
        return counted.room_s["p"], counted.window_s["p"]

    more, less = Quantiles(500.0, 500.0, 500.0), Quantiles(1.0, 2.0, 3.0)
    assert after(more, more, 30.0) == (Quantiles(70.0, 170.0, 270.0), before.window_s["p"])
    assert after(less, less, 30.0) == (less, less)
    assert after(more, more, 250.0)[0] == Quantiles(0.0, 0.0, 50.0)
    assert after(more, more, 999.0) == (Quantiles(0.0, 0.0, 0.0), before.window_s["p"])
