"""Draw by draw: how long hands still take, when pots come to their states, medians and shares."""

from __future__ import annotations

import math

import numpy as np
import pytest

from soapbench.batter import Blend, Trace
from soapbench.outlook import hands
from soapbench.outlook.batters import Batters, column, median, never, share, trace_at
from soapbench.outlook.hands import still_takes
from soapbench.pour.state import PotState
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws
from soapbench.thickening.exposure import LOAD_POWER

POUR = Stage("pour", "pour", "Pour", ("p",))
N = 400


def normals(n: int = N) -> np.ndarray:
    return hands._normals("pour/p", n)


# ---------------------------------------------------------------- hands


def test_what_has_just_begun_takes_a_log_normal_time() -> None:
    fresh = still_takes(POUR, 100.0, 0.3, 0.0, N)
    assert fresh == pytest.approx(100.0 * np.exp(0.3 * normals()))
    assert still_takes(POUR, 100.0, 0.3, 0.5, N) != pytest.approx(fresh, abs=0.1)


def test_what_has_taken_some_time_takes_what_is_left_of_those_that_take_longer() -> None:
    """By hand: those of the draws beyond, in order, spread over all draws by their ranks."""
    z, spent = normals(), 110.0
    beyond = np.sort(z[z >= math.log(spent / 100.0) / 0.3])
    ranks = np.argsort(np.argsort(z))
    by_hand = 100.0 * np.exp(0.3 * beyond[ranks * len(beyond) // N]) - spent
    takes = still_takes(POUR, 100.0, 0.3, spent, N)
    assert takes == pytest.approx(by_hand)
    assert takes.min() >= 0.0
    assert np.array_equal(np.argsort(takes, kind="stable")[-1:], np.argsort(z)[-1:])


@pytest.mark.parametrize("left", [19, 20, 21])
def test_twenty_draws_that_take_longer_are_enough_to_go_by(left: int) -> None:
    """Of fewer, hands were held up: a quarter as long again, give or take (ours)."""
    z = normals()
    spent = 100.0 * math.exp(0.3 * (np.sort(z)[-left] - 1e-9))
    takes = still_takes(POUR, 100.0, 0.3, spent, N)
    held_up = 0.25 * spent * np.exp(0.5 * z)
    assert np.allclose(takes, held_up) is (left < 20)


def test_hands_held_up_before_the_usual_time_are_held_up_by_that() -> None:
    z = normals(10)
    takes = still_takes(POUR, 100.0, 0.3, 60.0, 10)
    assert takes == pytest.approx(0.25 * 100.0 * np.exp(0.5 * z)), "ten draws are never enough"
    assert still_takes(POUR, 100.0, 0.3, 240.0, 10) == pytest.approx(60.0 * np.exp(0.5 * z))


def test_what_is_shared_cannot_be_changed_by_mistake() -> None:
    for shared in (normals(), never(N)):
        with pytest.raises(ValueError, match="read-only"):
            shared[0] = 0.0
    assert never(N) is never(N)
    assert np.isinf(never(N)).all()


# ---------------------------------------------------------------- medians, shares, states


@pytest.mark.parametrize("n", [1, 2, 3, 4, 5, 6, 9, 10, 99, 100])
def test_a_median_is_numpys(n: int) -> None:
    for seed in range(3):
        values = np.random.default_rng(seed).normal(size=n)
        assert median(values) == pytest.approx(np.median(values), abs=1e-12)


def test_a_share_is_how_many_of_them() -> None:
    assert share(np.array([True, False, False, True, True])) == 0.6
    assert share(np.zeros(4, dtype=bool)) == 0.0


@pytest.mark.parametrize(
    ("t", "state"),
    [
        (0.0, 0.0), (10.0, 0.0), (15.0, 0.25), (20.0, 0.5), (30.0, 1.0), (35.0, 1.5), (40.0, 2.0),
        (60.0, 2.5), (80.0, 3.0), (90.0, 3.5), (100.0, 4.0), (999.0, 4.0),
    ],
)  # fmt: skip
def test_between_two_states_the_time_decides(t: float, state: float) -> None:
    times = np.array([[10.0, 30.0, 40.0, 80.0, 100.0]])
    assert trace_at(times, t) == pytest.approx([state])
    later = np.array([[10.0, 30.0, 40.0, 80.0, 100.0], [99.0, 1e3, 2e3, 3e3, 4e3]])
    assert trace_at(later, np.array([t, 99.0])) == pytest.approx([state, 0.0])


def test_two_states_that_are_reached_at_once_are_passed_at_once() -> None:
    times = np.array([[10.0, 30.0, 30.0, 80.0, 100.0]])
    assert trace_at(times, 29.9)[0] < 1.0
    assert 1.0 <= trace_at(times, 30.0)[0] <= 2.0
    assert trace_at(times, 30.1)[0] == pytest.approx(2.0, abs=0.01)


def test_states_are_counted_from_the_end_of_what_is_known() -> None:
    times = np.array([[1.0, 2.0, 3.0, 4.0, 5.0]])
    assert [column(times, state)[0] for state in Trace] == [1.0, 2.0, 3.0, 4.0, 5.0]
    assert column(times[:, 3:], Trace.SET_UP)[0] == 5.0


# ---------------------------------------------------------------- pots

EXPOSURES = np.array([60.0, 100.0, 150.0, 200.0, 300.0])
DRAWS = Draws(np.zeros(3), np.log(EXPOSURES) + np.zeros((3, 1)), np.full(3, 20.0),
              {"F": np.full(3, math.log(4.0))})  # fmt: skip
"""Thick trace at 200 s; four times as fast with the fragrance; a second of blending is 20 more."""


def thick(pot: PotState) -> float:
    return float(Batters(DRAWS, {"p": pot}, None).times("p")[0, Trace.THICK])


def test_a_fragrance_counts_once_it_is_in() -> None:
    assert thick(PotState("p", fragrance="F")) == pytest.approx(200.0)
    assert thick(PotState("p", fragrance="F", fragrance_in=100.0)) == pytest.approx(125.0)
    assert thick(PotState("p", fragrance_in=100.0)) == pytest.approx(200.0), "there is none"
    assert thick(PotState("p", fragrance="F", fragrance_in=0.0)) == pytest.approx(50.0)


def test_a_second_dose_makes_what_is_left_as_fast_as_twice_the_load_does() -> None:
    """A - 1 grows with the load to the power of LOAD_POWER; it starts when the second is in, or
    when blending up to a state has ended after that."""
    twice = 1.0 + 3.0 * 2.0**LOAD_POWER
    once = PotState("p", fragrance="F", fragrance_in=100.0)
    for second, since in ((110.0, 110.0), (130.0, 130.0)):
        pot = PotState("p", fragrance="F", fragrance_in=100.0, second_dose=second)
        left = max(125.0 - since, 0.0)
        assert thick(pot) == pytest.approx(min(since, 125.0) + left * 4.0 / twice)
    assert thick(once) == pytest.approx(125.0)
    not_in = PotState("p", fragrance="F", second_dose=50.0)
    assert thick(not_in) == pytest.approx(200.0)
    # Kept at light trace until 120 s; 50 of exposure more to medium, 100 to thick trace.
    up = (Blend(115.0, 5.0, 1.0, Trace.LIGHT),)
    blended = PotState("p", fragrance="F", fragrance_in=100.0, blends=up, second_dose=110.0)
    plain = PotState("p", fragrance="F", fragrance_in=100.0, blends=up)
    assert thick(blended) == pytest.approx(120.0 + (thick(plain) - 120.0) * 4.0 / twice)


def test_what_a_copy_goes_through_the_first_does_not() -> None:
    first = Batters(DRAWS, {"p": PotState("p", fragrance="F")}, None)
    other = first.copy()
    other.add_fragrance("p", np.full(3, 100.0))
    assert other.times("p")[0, Trace.THICK] == pytest.approx(125.0)
    other.blend(("p",), Blend(0.0, 1.0))
    assert other.times("p")[0, Trace.THICK] == pytest.approx(120.0)
    assert first.times("p")[0, Trace.THICK] == pytest.approx(200.0)


POTS = {
    "p": PotState("p"),
    "q": PotState("q", blends=(Blend(0.0, 2.0),)),
    "r": PotState("r", fragrance="F", fragrance_in=100.0),
}
"""Thick trace at 200 s, 160 s and 125 s."""


def test_work_waits_for_the_last_pot_and_is_too_late_by_the_first() -> None:
    batters = Batters(DRAWS, POTS, None)
    both = Need(("p", "q"), Trace.MEDIUM, Trace.MEDIUM, Trace.THICK)
    assert batters.last(both, Trace.MEDIUM)[0] == pytest.approx(150.0)
    work = Stage("s", "s", "S", ("p",), needs=(both, Need(("r",), Trace.EMULSION, Trace.THICK)))
    planned, in_part = batters.limits(work, drawn=False)
    # Thick trace of q at 160 s, and set up: of q at 260 s, of r at 150 s.
    assert planned[0] == pytest.approx(150.0)
    assert in_part[0] == pytest.approx(150.0)
    planned, in_part = batters.limits(Stage("s", "s", "S", needs=(both,)), drawn=False)
    assert (planned[0], in_part[0]) == pytest.approx((160.0, 260.0))


def test_what_may_set_up_is_never_too_late() -> None:
    batters = Batters(DRAWS, POTS, None)
    always = Need(("p",), Trace.EMULSION, Trace.THICK, Trace.SET_UP)
    planned, in_part = batters.limits(Stage("s", "s", "S", needs=(always,)), drawn=False)
    assert planned[0] == pytest.approx(300.0)
    assert in_part is never(3)
    drawn = Need(("p",), Trace.EMULSION, Trace.EMULSION, Trace.LIGHT, (Trace.LIGHT, Trace.MEDIUM))
    work = Stage("s", "s", "S", needs=(drawn,))
    assert [limit[0] for limit in batters.limits(work, False)] == pytest.approx([100.0, 150.0])
    assert [limit[0] for limit in batters.limits(work, True)] == pytest.approx([150.0, 200.0])
    assert batters.limits(Stage("s", "s", "S"), False) == (never(3), never(3))


def test_blending_up_to_a_state_takes_as_long_as_the_slowest_pot() -> None:
    """At 40 s: 60 of exposure to light trace of p, 20 of q, at 21 a second of one litre."""
    batters = Batters(DRAWS, POTS, None)
    up = Stage("s", "s", "S", ("p", "q"), blend_to=Trace.LIGHT, litres=1.0)
    start = np.full(3, 40.0)
    assert batters.seconds_to(up, start, 0.0)[0] == pytest.approx(60 / 21)
    assert batters.seconds_to(up, start, 2.0)[0] == pytest.approx(60 / 21 - 2.0)
    assert batters.seconds_to(up, start, 9.0)[0] == 0.0
    alone = Stage("s", "s", "S", ("q",), blend_to=Trace.LIGHT, litres=1.0)
    assert batters.seconds_to(alone, start, 0.0)[0] == pytest.approx(20 / 21)
    assert batters.seconds_to(Stage("s", "s", "S", ("p",)), start, 0.0)[0] == 0.0
