"""Exposure by hand: what each part of it is at, just below and just above each of its bounds.

Laws and sums of any handbook; where a number is ours, the test says what a maker sees of it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from soapbench.batter import Blend, PotHistory, Trace
from soapbench.thickening.bursts import Bursts
from soapbench.thickening.exposure import (
    Dose,
    accelerated,
    arrhenius,
    blended_by,
    exposure,
    exposure_at,
    exposure_rate,
    own_part,
    strength,
    thinned,
    time_at,
)


@pytest.mark.parametrize(
    ("c", "x"), [(20.0, -0.60903), (24.0, -0.36048), (30.0, 0.0), (40.0, 0.57012)]
)
def test_warmth_is_arrhenius_law_at_45_kj_per_mol(c: float, x: float) -> None:
    """By hand: 45,000 / 8.31446 (1/303.15 - 1/(273.15 + c))."""
    assert arrhenius(c) == pytest.approx(x, abs=2e-5)


def test_ten_litres_take_five_times_the_blending_of_one() -> None:
    """Ours, judged: a maker says three to six."""
    assert thinned(1.0) == 1.0
    assert 1.0 / thinned(10.0) == pytest.approx(5.0, rel=0.1)
    assert thinned(0.1) == pytest.approx(1.0 / thinned(10.0))


def test_twice_the_fragrance_is_half_as_fast_again() -> None:
    """Ours, judged: of the fragrance's own part, at any warmth."""
    assert strength(0.03, 24.0, 1.2) == pytest.approx(1.0)
    for c in (20.0, 30.0):
        twice = strength(0.06, c, 1.2) / strength(0.03, c, 1.2)
        assert twice == pytest.approx(1.5, rel=0.05)
        assert strength(0.03, c, 1.2) / strength(0.015, c, 1.2) == pytest.approx(twice)


@pytest.mark.parametrize("c", [18.0, 34.0])
@pytest.mark.parametrize("warmth", [0.5, 1.2])
def test_a_fragrance_keeps_a_third_of_what_warmth_does_to_a_batter(c: float, warmth: float) -> None:
    """Ours, judged; the batter's own warmth stands outside and counts in full."""
    batter = warmth * (arrhenius(c) - arrhenius(24.0))
    both = math.log(strength(0.03, c, warmth)) + batter
    assert both / batter == pytest.approx(0.35, abs=0.04)


@pytest.mark.parametrize(
    ("af", "w", "factor", "slope"),
    [
        (3.0, 2.0, 5.0, 6.0),
        (3.0, 0.5, 2.0, 1.5),
        (1.5, 2.0, 2.0, 3.0),
        (1.0, 2.0, 1.0, 2.0),
        (0.9, 2.0, 0.9, 0.9),
        (0.5, 2.0, 0.5, 0.5),
        (0.5, 0.6, 0.7, 0.3),
    ],
)
def test_a_factor_above_1_grows_with_its_load_and_one_below_never_past_the_usual(
    af: float, w: float, factor: float, slope: float
) -> None:
    assert accelerated(np.array(af), w) == pytest.approx(factor)
    assert own_part(np.array(af), w) == pytest.approx(slope), "by log AF, from above"


BURSTS = (Blend(10.0, 4.0), Blend(30.0, 10.0, 10.0), Blend(20.0, 5.0, 1.0, Trace.LIGHT))


@pytest.mark.parametrize(
    ("t", "seconds"),
    [(9.0, 0.0), (10.0, 0.0), (11.0, 1.0), (14.0, 4.0), (25.0, 4.0), (33.0, 4.0 + 3.0 * 10**-0.7),
     (40.0, 4.0 + 10.0 * 10**-0.7), (99.0, 4.0 + 10.0 * 10**-0.7)],
)  # fmt: skip
def test_seconds_blended_as_of_one_litre(t: float, seconds: float) -> None:
    assert blended_by(t, BURSTS) == pytest.approx(seconds)
    pots = [PotHistory("none", 0.0), PotHistory("p", 0.0, blends=BURSTS), PotHistory("q", 0.0)]
    by = Bursts(pots).by(np.array([1, 0, 2]), np.full(3, t))
    assert by == pytest.approx([seconds, 0.0, 0.0])


def test_pots_without_a_burst_have_none() -> None:
    assert Bursts([]).seconds.shape == (0, 0)
    assert Bursts([PotHistory("p", 0.0)]).t.shape == (1, 0)
    two = PotHistory("p", 0.0, blends=BURSTS)
    assert Bursts([two, PotHistory("q", 0.0, blends=BURSTS[:1])]).t.tolist() == [[10, 30], [10, 0]]


@pytest.mark.parametrize(
    ("t", "delay", "share"),
    [(105.5, 0.0, 0.5), (105.5, 0.5, 1.5 / 2.0), (99.0, 3.0, 2.0 / 9.0), (110.0, 3.0, 2.0 / 9.0)],
)
def test_a_burst_counts_from_two_delays_before_to_one_after(
    t: float, delay: float, share: float
) -> None:
    """And to a second after at the least: 105 to 106 is the end of it."""
    pot = PotHistory("p", 900.0, blends=(Blend(100.0, 6.0),))
    about = Bursts([pot]).about(np.zeros(1, dtype=np.intp), np.array([t]), np.array([delay]))
    assert about == pytest.approx([share])


def test_exposure_and_its_rate_by_hand() -> None:
    dose = Dose(*(np.array(x) for x in ([5.0, 5.0], [7.0, 7.0], [11.0, 0.0], [1.0, 0.5])))
    assert exposure(dose, 3.0, 2.0) == pytest.approx([15 + 7 + 22, 15 + 7])
    assert exposure_rate(dose, 3.0, 2.0) == pytest.approx([3.0 + 2.0, 1.5 + 1.0])


KAPPA, A = 3.0, 5.0


@pytest.mark.parametrize(
    ("t_f", "expected"),
    [
        (None, [5.0, 20.0 + 12.0, 35.0 + 27.0]),
        (20.0, [5.0, 20.0 + 12.0, 35.0 + 27.0 + 4 * 15.0]),
        (0.0, [5.0 * 5, 5 * 20.0 + 12.0, 5 * 35.0 + 27.0]),
        (-50.0, [5.0 * 5, 5 * 20.0 + 12.0, 5 * 35.0 + 27.0]),
    ],
    ids=["never", "at 20 s", "in the oils", "before the lye"],
)
def test_exposure_at_a_moment_by_hand(t_f: float | None, expected: list[float]) -> None:
    """Two bursts, 10 to 14 s and 30 to 40 s, in one litre: a second of them is 3 more."""
    blends = (Blend(10.0, 4.0), Blend(30.0, 10.0))
    exposures = [float(exposure_at(t, t_f, KAPPA, A, blends)) for t in (5.0, 20.0, 35.0)]
    assert exposures == pytest.approx(expected)
    assert float(exposure_at(20.0, None, KAPPA, A)) == 20.0


def used(t: float, t_f: float | None, kappa: float, a: float, blends: tuple[Blend, ...]) -> float:
    """Exposure as a sum over quarters of a second, each at its middle; every edge lies on one."""
    middles = np.arange(0.0, t, 0.25) + 0.125
    rate = np.where(middles > np.inf if t_f is None else middles > t_f, a, 1.0)
    for b in blends:
        if b.to is None:
            rate += kappa * b.litres**-0.7 * ((middles > b.t) & (middles < b.end))
    return float(0.25 * rate.sum())


@pytest.mark.parametrize("t_f", [None, -5.0, 0.0, 8.0, 12.0, 14.0, 25.0, 35.0, 90.0])
@pytest.mark.parametrize("a", [0.5, 1.0, 5.0])
@pytest.mark.parametrize(
    "blends",
    [
        (),
        (Blend(10.0, 4.0),),
        (Blend(0.0, 6.0), Blend(30.0, 10.0, 10.0), Blend(40.0, 2.0)),
        (Blend(10.0, 4.0), Blend(30.0, 10.0, 1.0, Trace.LIGHT)),
        (Blend(30.0, 10.0, 1.0, Trace.LIGHT),),
    ],
    ids=["none", "one", "three", "one, and up to light trace", "up to light trace"],
)
def test_time_is_the_inverse_of_a_sum_of_small_steps(
    t_f: float | None, a: float, blends: tuple[Blend, ...]
) -> None:
    moments = np.array([0.0, 3.0, 6.0, 8.0, 10.0, 11.0, 14.0, 20.0, 33.0, 41.0, 42.0, 60.0, 120.0])
    target = np.array([used(t, t_f, KAPPA, a, blends) for t in moments])
    assert time_at(target, t_f, KAPPA, a, blends) == pytest.approx(moments, abs=1e-9)
    columns = time_at(target[:, None], t_f, np.full((1, 2), KAPPA), np.full((1, 2), a), blends)
    assert pytest.approx(np.tile(moments, (columns.shape[1], 1)), abs=1e-9) == columns.T
