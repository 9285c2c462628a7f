"""Milestone times by hand, two or three draws at a time: floors, doses, and what is left to blend.

Exposures are plain numbers of seconds, so that every answer is a sum done in one's head.
"""

from __future__ import annotations

import numpy as np
import pytest

from soapbench.batter import Blend, Trace
from soapbench.thickening.draws import (
    Draws,
    chance_above,
    dosed_again,
    milestone_times,
    seconds_to,
)

EMULSION, LIGHT, MEDIUM, THICK, SET_UP = Trace


def draws(**more: object) -> Draws:
    """Two ways: at rate 1, and at rate 2 with everything reached in half the exposure."""
    given: dict[str, object] = {
        "log_rate": np.log([1.0, 2.0]),
        "log_thresholds": np.log(np.tile([100.0, 200.0, 300.0, 400.0, 500.0], (2, 1))),
        "kappa": np.array([3.0, 9.0]),
        "log_af": {"Kelp": np.log([2.0, 5.0])},
    }
    return Draws(**{**given, **more})  # type: ignore[arg-type]


def test_exposures_are_thresholds_at_the_rate() -> None:
    assert draws().exposures == pytest.approx(np.array([[100, 200, 300, 400, 500],
                                                        [50, 100, 150, 200, 250]]))  # fmt: skip
    assert draws().n == 2


def test_a_factor_is_of_the_usual_load_unless_the_batch_says_otherwise() -> None:
    assert draws().factor("Kelp") == pytest.approx([2.0, 5.0])
    assert draws(strength={"Kelp": 3.0}).factor("Kelp") == pytest.approx([4.0, 13.0])
    assert draws(strength={"Fig": 3.0}).factor("Kelp") == pytest.approx([2.0, 5.0])


def test_draws_picked_keep_all_that_belongs_to_them() -> None:
    whole = draws(strength={"Kelp": 3.0})
    picked = whole.picked(np.array([1, 1, 0]))
    assert picked.n == 3
    assert picked.log_rate == pytest.approx(np.log([2, 2, 1]))
    assert picked.kappa.tolist() == [9.0, 9.0, 3.0]
    assert picked.exposures[2] == pytest.approx(whole.exposures[0])
    assert picked.factor("Kelp") == pytest.approx([13.0, 13.0, 4.0])


@pytest.mark.parametrize("t_f", [150.0, np.array([150.0, 120.0])])
def test_times_with_a_fragrance_on_the_way(t_f: float | np.ndarray) -> None:
    times = milestone_times(draws(), "Kelp", t_f)
    assert times[0] == pytest.approx([100, 150 + 50 / 2, 150 + 150 / 2, 275, 325])
    since = float(np.broadcast_to(t_f, 2)[1])
    last = [since + (e - since) / 5 if e > since else e for e in (50, 100, 150, 200, 250)]
    assert times[1] == pytest.approx(last)


@pytest.mark.parametrize(("fragrance", "t_f"), [(None, 10.0), ("Kelp", None), (None, None)])
def test_without_a_fragrance_in_it_is_the_batter_alone(
    fragrance: str | None, t_f: float | None
) -> None:
    assert milestone_times(draws(), fragrance, t_f) == pytest.approx(draws().exposures)


def test_a_burst_by_its_seconds_shortens_what_comes_after_it() -> None:
    """10 s of it are 30 and 90 more, in ten draws of the one and the other."""
    times = milestone_times(draws(), None, None, (Blend(80.0, 10.0),))
    assert times[0] == pytest.approx([80 + 20 / 4, 170, 270, 370, 470])
    assert times[1] == pytest.approx([50, 80 + 20 / 10, 80 + 70 / 10, 110, 160])


def test_blended_up_to_a_state_it_is_there_by_the_end_and_goes_on_from_it() -> None:
    """Light trace by 30 s: the rest follows 100, 200 and 300 s after, or half of that; what was
    reached meanwhile came between the start of the blending and its end."""
    times = milestone_times(draws(), None, None, (Blend(20.0, 10.0, 1.0, LIGHT),))
    assert times[0] == pytest.approx([20, 30, 130, 230, 330])
    assert times[1] == pytest.approx([20, 30, 80, 130, 180])


def test_a_state_reached_long_before_it_was_seen_keeps_its_own_time() -> None:
    times = milestone_times(draws(), None, None, (Blend(140.0, 20.0, 1.0, LIGHT),))
    assert times[0] == pytest.approx([140, 160, 260, 360, 460])
    assert times[1] == pytest.approx([50, 100, 150, 200, 250]), "reached by itself: as it was"


def test_just_reached_by_the_end_is_reached_by_itself() -> None:
    times = milestone_times(draws(), None, None, (Blend(190.0, 10.0, 1.0, LIGHT),))
    assert times[0] == pytest.approx([100, 200, 300, 400, 500])


def test_seen_twice_the_first_holds_and_the_order_told_is_no_matter() -> None:
    up, later = Blend(20.0, 10.0, 1.0, EMULSION), Blend(60.0, 0.0, 1.0, MEDIUM)
    for blends in ((up, later), (later, up)):
        times = milestone_times(draws(), None, None, blends)
        assert times[0] == pytest.approx([30, 60, 60, 160, 260])
        assert times[1] == pytest.approx([30, 60, 60, 110, 160])
    again = milestone_times(draws(), None, None, (up, Blend(90.0, 0.0, 1.0, EMULSION)))
    assert again[0] == pytest.approx([30, 130, 230, 330, 430])


def test_a_second_dose_by_hand() -> None:
    """AF 2: the own part of 1 becomes 2^0.6 = 1.516; what is left after 200 s shrinks by
    2 / 2.516. What was due by then stays."""
    times = np.array([[100.0, 200.0, 300.0], [100.0, 200.0, 300.0]])
    later = dosed_again(draws(), "Kelp", times, 200.0)
    assert later[0] == pytest.approx([100, 200, 200 + 100 * 2 / 2.5157], rel=1e-4)
    assert later[1] == pytest.approx([100, 200, 200 + 100 * 5 / 7.0629], rel=1e-4)


@pytest.mark.parametrize(
    ("state", "start", "litres", "expected"),
    [
        (LIGHT, 40.0, 1.0, [160 / 4, 60 / 10]),
        (LIGHT, 40.0, 10.0, [160 / (1 + 3 * 10**-0.7), 60 / (1 + 9 * 10**-0.7)]),
        (MEDIUM, 170.0, 1.0, [130 / 4, 0.0]),
    ],
)
def test_seconds_left_to_blend(
    state: Trace, start: float, litres: float, expected: list[float]
) -> None:
    """Each second of it is its own and kappa more."""
    seconds = seconds_to(draws(), state, None, None, (), np.full(2, start), litres)
    assert seconds == pytest.approx(expected)


def test_seconds_left_count_what_was_blended_up_to_and_scented_before() -> None:
    up = (Blend(20.0, 10.0, 1.0, EMULSION),)
    seconds = seconds_to(draws(), MEDIUM, "Kelp", 50.0, up, np.full(2, 80.0), 1.0)
    # 30 s are worth the exposure at emulsion; then 20 s plain, 30 s at A; of 200 (100) asked for.
    assert seconds == pytest.approx([(200 - 20 - 60) / 4, 0.0])


def test_chance_of_a_strong_fragrance_counts_its_bound_in() -> None:
    of_four = Draws(np.zeros(4), np.zeros((4, 5)), np.ones(4), {"F": np.log([1.0, 2.0, 3.0, 5.0])})
    assert chance_above(of_four, "F") == 0.5, "three times as fast, unless asked otherwise"
    assert chance_above(of_four, "F", 2.0) == 0.75
    assert chance_above(of_four, "F", 5.5) == 0.0
