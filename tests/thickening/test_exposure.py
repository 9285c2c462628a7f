"""Exposure, its inverse, and the distribution functions under it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from soapbench.batter import Blend
from soapbench.thickening import likelihood, normal
from soapbench.thickening.draws import Draws, dosed_again, milestone_times
from soapbench.thickening.exposure import (
    Dose,
    accelerated,
    blended_by,
    exposure,
    exposure_rate,
    strength,
    time_at,
)


def dose_at(t: float, fragrance_in: float, blends: tuple[Blend, ...]) -> Dose:
    before = min(t, max(fragrance_in, 0.0))
    running = float(any(b.t <= t < b.t + b.seconds for b in blends))
    return Dose(*(np.array([v]) for v in (blended_by(t, blends), before, t - before, running)))


@pytest.mark.parametrize(
    ("t", "failed"),
    [(5.0, 3.5481e-5), (10.0, 0.118942), (12.0, 0.366734), (20.0, 0.973671)],
)
def test_step_stress_cumulative_exposure(t: float, failed: float) -> None:
    """Nelson's cumulative exposure with log-normal lives (form of Nelson, IEEE Trans. Reliab.
    R-29, 1980, cited, not read): steps from 0, 6, 11, mu 3.0, 2.4, 2.0, sigma 0.35; values
    computed apart by step recursion and by sum, agreeing to 1e-15.

    The second step is a blend burst that makes time count exp(0.6)-fold, the third a fragrance
    of AF exp(1.0).
    """
    from scipy import stats

    blends = (Blend(6.0, 5.0),)
    dose = dose_at(t, 11.0, blends)
    used = exposure(dose, np.exp(0.6) - 1.0, np.exp(1.0)) * np.exp(-3.0)
    assert stats.norm.cdf(np.log(used) / 0.35) == pytest.approx(failed, rel=1e-4)


def test_a_second_dose_is_twice_the_load_from_then_on() -> None:
    """Against scipy's integral of the rate, 1 before, A by one load, then A by twice that: where it
    has used up what each milestone needs."""
    from scipy import integrate

    af, at, again, load = np.array([1.0, 3.0, 8.0]), 100.0, 160.0, 0.03
    draws = Draws(
        log_rate=np.zeros(3),
        log_thresholds=np.log(np.tile([80.0, 130.0, 250.0, 900.0, 2000.0], (3, 1))),
        kappa=np.ones(3), log_af={"f": np.log(af)}, strength={"f": strength(load, 24.0, 0.8)},
    )  # fmt: skip
    once = milestone_times(draws, "f", at)
    twice = dosed_again(draws, "f", once, again)
    for i, factor in enumerate(af):
        one, two = (
            float(accelerated(factor, strength(share, 24.0, 0.8))) for share in (load, 2 * load)
        )

        def rate(t: float, one: float = one, two: float = two) -> float:
            return 1.0 if t < at else one if t < again else two

        for j, t in enumerate(twice[i]):
            used = integrate.quad(rate, 0.0, t, points=[at, again], limit=200)[0]
            assert used == pytest.approx(draws.exposures[i, j], rel=1e-6)
    assert (twice[:, 0] == once[:, 0]).all(), "what came before stays"


BLENDS = (Blend(20.0, 8.0), Blend(60.0, 5.0), Blend(500.0, 10.0))


@pytest.mark.parametrize(
    ("fragrance_in", "blends"),
    [(400.0, BLENDS), (64.0, BLENDS), (505.0, BLENDS), (0.0, BLENDS), (-60.0, ()), (300.0, ())],
    ids=["after", "within a burst", "within a late burst", "in the oils", "before", "no blends"],
)
def test_inverse_and_rate(fragrance_in: float, blends: tuple[Blend, ...]) -> None:
    """time_at undoes exposure, and the rate integrates (scipy.integrate.quad) to it."""
    from scipy import integrate

    kappa, af = 20.0, 4.0
    for t in (5.0, 23.0, 61.0, 399.0, 450.0, 507.0, 3000.0):
        e = exposure(dose_at(t, fragrance_in, blends), kappa, af)
        assert time_at(e, fragrance_in, kappa, af, blends) == pytest.approx(t, abs=1e-6)
        edges = sorted({0.0, t, fragrance_in, *(s for b in blends for s in (b.t, b.t + b.seconds))})
        area = sum(
            integrate.quad(
                lambda u: float(exposure_rate(dose_at(u, fragrance_in, blends), kappa, af)[0]), a, b
            )[0]
            for a, b in pairwise(edges)
            if 0.0 <= a < b <= t
        )
        assert area == pytest.approx(float(e[0]), rel=1e-6)


def test_ten_seconds_of_blending_ten_litres_are_less_than_of_one() -> None:
    one, ten = (blended_by(100.0, (Blend(20.0, 10.0, litres),)) for litres in (1.0, 10.0))
    assert one == 10.0
    assert one / 6 < ten < one / 3
    assert blended_by(25.0, (Blend(20.0, 10.0, 10.0),)) == pytest.approx(ten / 2)


def test_fragrance_time_may_differ_in_each_draw() -> None:
    n = 50
    rng = np.random.default_rng(0)
    draws = Draws(
        log_rate=0.2 * rng.standard_normal(n),
        log_thresholds=np.log([1000.0, 1400.0, 1800.0, 2200.0]) + 0.1 * rng.standard_normal((n, 1)),
        kappa=np.full(n, 15.0),
        log_af={"Kelp": rng.normal(1.0, 0.3, n)},
    )
    t_f = rng.uniform(0.0, 1500.0, n)
    together = milestone_times(draws, "Kelp", t_f, BLENDS)
    one_by_one = [milestone_times(draws, "Kelp", float(t_f[i]), BLENDS)[i] for i in range(n)]
    assert together == pytest.approx(np.array(one_by_one))
    assert np.all(np.diff(together, axis=1) > 0)
    never = milestone_times(draws, "Kelp", None, BLENDS)
    assert never == pytest.approx(milestone_times(draws, None, None, BLENDS))
    assert never == pytest.approx(milestone_times(draws, "Kelp", np.full(n, 1e9), BLENDS))
    assert np.all(never >= together - 1e-9)
    with pytest.raises(KeyError):
        milestone_times(draws, "Fig", 300.0)


def test_normal_distribution_against_scipy() -> None:
    from scipy import stats

    z = np.linspace(-20.0, 6.0, 1001)
    assert normal.cumulative(z) == pytest.approx(stats.norm.cdf(z), rel=2e-7)
    assert normal.density(z) == pytest.approx(stats.norm.pdf(z), rel=1e-12)


@pytest.mark.parametrize("tail", [3.0, 8.0])
def test_a_tap_far_off_is_trusted_as_a_student_t_has_it(tail: float) -> None:
    """Against scipy.stats.t; the information is the mean square of the slope, which for a t is
    (tail + 1)/(tail + 3) of the normal's (any handbook), here by quadrature."""
    from scipy import integrate, stats

    scale, h = 0.3, 1e-5
    e = np.array([-2.0, -0.4, -0.05, 0.1, 0.6, 3.0])
    v = np.full_like(e, scale**2)
    law = stats.t(tail, scale=scale)
    assert likelihood.log_tapped(e, v, tail) == pytest.approx(law.logpdf(e), rel=1e-9)
    slope, _, _ = likelihood.tapped_slopes(e, v, np.zeros_like(e), tail)
    steep = (law.logpdf(e + h) - law.logpdf(e - h)) / (2 * h)
    assert slope == pytest.approx(steep, rel=1e-6)
    # The farther off the less it pulls; a normal's pull would grow without end.
    weights = likelihood.weight(e, v, tail)
    assert weights[-1] < weights[-2] < 1.0 < weights[2]

    def mean(of: int) -> float:
        def at(x: float) -> float:
            one, var = np.array([x]), np.array([scale**2])
            slope = likelihood.tapped_slopes(one, var, np.zeros(1), tail)[of]
            return float(slope[0]) ** (2 if of == 0 else 1) * float(law.pdf(x))

        return integrate.quad(at, -np.inf, np.inf)[0]

    assert mean(1) == pytest.approx(mean(0), rel=1e-4)
    # A tap that is a floor: what comes early (e below 0) is not to be explained away.
    floor = likelihood.tapped_slopes(e, v, np.zeros_like(e), tail, true=True)[0]
    assert floor[0] == pytest.approx(2.0 / scale**2)
    assert floor[3:] == pytest.approx(slope[3:])
