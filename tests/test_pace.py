"""The maker's pace is shrunk to the table: few taps move it little, many move it there."""

from __future__ import annotations

import math
import random

import pytest

from soapbench.pace import KIND_SD, MAKER_SD, Pace, Timed, learn


def taken(action: str, factor: float, n: int, spread: float = 0.3) -> list[Timed]:
    rng = random.Random(action)
    return [
        Timed(action, 40.0, 40.0 * factor * math.exp(rng.gauss(0, spread)), spread)
        for _ in range(n)
    ]


def test_nothing_timed_is_the_table() -> None:
    median, spread = learn([]).duration("colour", 40.0, 0.3)
    assert median == 40.0
    assert spread == pytest.approx(math.hypot(0.3, math.hypot(MAKER_SD, KIND_SD)))


@pytest.mark.parametrize(("n", "least", "most"), [(1, 1.05, 1.9), (4, 1.3, 2.1), (200, 1.9, 2.1)])
def test_a_slow_maker_is_believed_little_by_little(n: int, least: float, most: float) -> None:
    median, _ = learn(taken("colour", 2.0, n)).duration("colour", 40.0, 0.3)
    assert least <= median / 40.0 <= most


def test_other_handwork_is_thought_slow_too() -> None:
    pace = learn(taken("colour", 2.0, 50) + taken("pour off", 2.0, 50))
    median, _ = pace.duration("draw the hanger", 40.0, 0.3)
    assert 1.3 < median / 40.0 < 2.0


def test_doubt_shrinks_with_taps() -> None:
    spreads = [learn(taken("colour", 1.0, n)).of("colour").sd for n in (0, 1, 5, 50)]
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[-1] < 0.06


def test_a_forgotten_key_costs_little() -> None:
    usual = taken("colour", 1.0, 20)
    broken = [*usual, Timed("colour", 40.0, 9000.0, 0.3)]
    assert learn(broken).of("colour").shift < learn(usual).of("colour").shift + 0.12


def test_kinds_by_the_posterior_of_a_normal_mean() -> None:
    # One kind timed once, against the conjugate normal posterior worked by hand:
    # r ~ N(d, 0.3²), d ~ N(m, KIND_SD²), m ~ N(0, MAKER_SD²), so d ~ N(0, MAKER_SD² + KIND_SD²).
    prior = MAKER_SD**2 + KIND_SD**2
    ratio = math.log(1.5)
    expected = ratio * prior / (prior + 0.3**2)
    pace = learn([Timed("colour", 40.0, 60.0, 0.3)]).of("colour")
    assert pace.shift == pytest.approx(expected, rel=1e-9)
    assert pace.sd == pytest.approx(math.sqrt(prior * 0.09 / (prior + 0.09)), rel=1e-9)


def test_slips_are_not_handwork() -> None:
    assert learn([Timed("colour", 40.0, 0.2, 0.3)]) == Pace({}, 0.0, MAKER_SD)
