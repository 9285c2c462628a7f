"""The drying curve: against scipy's least squares, and never more loss than there was water."""

from __future__ import annotations

import numpy as np
import pytest
from aftercare_kit import EVENING, after, poured, water_share
from hypothesis import given, settings
from hypothesis import strategies as st

from soapbench.aftercare.cure import TAU_DAYS, Weighing, doubts, loss_curve
from soapbench.aftercare.due import curve
from soapbench.bench.batchfile import read_batch, resting_in
from soapbench.bench.learned import open_bench
from tests.fakes import FakeClock

DAYS = np.array([0.0, 7.0, 14.0, 21.0, 28.0, 42.0])


def model(day: np.ndarray, start: float, share: float, tau: float) -> np.ndarray:
    return start * (1 - share * (1 - np.exp(-day / tau)))


def weigh(days: np.ndarray, grams: np.ndarray) -> list[Weighing]:
    return [Weighing(float(d), float(g)) for d, g in zip(days, grams, strict=True)]


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("water", [0.12, 0.2, 0.27])
def test_as_scipy_fits_it(seed: int, water: float) -> None:
    """scipy.optimize.curve_fit (trust region, bounds) on the same curve from several starts."""
    from scipy.optimize import curve_fit

    rng = np.random.default_rng(seed)
    tau = float(rng.uniform(6, 35))
    grams = model(DAYS, 1200.0, float(rng.uniform(0.3, 1.1)) * water, tau)
    grams = np.round(grams + rng.normal(0, 1.0, len(DAYS)))
    best = np.inf
    for start in (5.0, 15.0, 50.0):
        fitted, _ = curve_fit(
            model, DAYS, grams, p0=(grams[0], water / 2, start), x_scale=(1000, 0.1, 10),
            bounds=([1, 0, TAU_DAYS[0]], [5000, water, TAU_DAYS[1]]), max_nfev=5000,
        )  # fmt: skip
        misfit = float(np.sum((model(DAYS, *fitted) - grams) ** 2))
        if misfit < best:
            best, theirs = misfit, fitted
    ours = loss_curve(weigh(DAYS, grams), water)
    assert ours is not None
    assert ours.misfit <= best * (1 + 1e-6) + 1e-6, "at least as good a fit"
    assert ours.misfit == pytest.approx(best, rel=1e-3, abs=1e-3)
    assert [ours.g_at(d) for d in DAYS] == pytest.approx(model(DAYS, *theirs), abs=0.05)
    assert ours.share == pytest.approx(theirs[1], rel=0.01)


@given(
    st.lists(st.floats(1, 5000), min_size=3, max_size=9),
    st.floats(0.02, 0.4),
    st.lists(st.floats(0.2, 30), min_size=9, max_size=9),
)
@settings(max_examples=60, deadline=None)
def test_never_more_than_the_water(grams: list[float], water: float, gaps: list[float]) -> None:
    """Mass balance, whatever was put on the scale: what dries off was water in the batter."""
    days = np.concatenate([[0.0], np.cumsum(gaps)])[: len(grams)]
    fit = loss_curve(weigh(days, np.array(grams)), water)
    assert fit is not None
    assert 0 <= fit.share <= water * (1 + 1e-9)
    for day in (0.0, 3.0, 50.0, 1e4):
        assert fit.g_at(day) >= fit.start_g * (1 - water) - 1e-6
    early, late = fit.dry_days(0.01)
    assert 0 <= early <= fit.dry_day(0.01) <= late


def test_a_batch_loses_less_than_the_water_weighed_into_it(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """From the plan's own amounts to the fitted curve."""
    clock = FakeClock(EVENING)
    _, desk = poured(tmp_path, clock)
    after(desk, clock, weeks=(0, 1, 2, 3, 4, 6))
    desk.close()
    bench = open_bench(tmp_path)
    rests = resting_in(bench, read_batch(bench, desk.log.path))
    assert rests is not None
    drying = curve(rests)
    assert drying is not None
    assert drying.loss_g <= 1200 * desk.amounts.water_g / desk.amounts.batter_g
    assert drying.share == pytest.approx(0.8 * water_share(desk), abs=0.004)
    assert drying.tau_days == pytest.approx(14, abs=0.7)


def test_too_few_weighings_give_no_curve() -> None:
    grams = [1000.0, 950.0]
    assert loss_curve(weigh(DAYS[:2], np.array(grams)), 0.2) is None
    assert loss_curve([Weighing(0, 1000), Weighing(0, 999), Weighing(7, 950)], 0.2) is None


def test_range_narrows_with_every_weighing() -> None:
    days = np.arange(0.0, 60.0, 7.0)
    grams = np.round(model(days, 1200, 0.15, 14))
    widths = []
    for count in (3, 5, 8):
        fit = loss_curve(weigh(days[:count], grams[:count]), 0.25)
        assert fit is not None
        early, late = fit.dry_days(0.01)
        widths.append(late - early)
    assert widths[0] > widths[1] > widths[2]


ODD = {
    "nothing odd": ([1000, 960, 930], 0),
    "gained": ([1000, 960, 990], 1),
    "within the scale's word": ([1000, 960, 961], 0),
    "lost more than all its water": ([1000, 900, 790], 1),
}


@pytest.mark.parametrize("case", ODD)
def test_weighings_that_cannot_be_right(case: str) -> None:
    grams, count = ODD[case]
    odd = doubts(weigh(DAYS[:3], np.array(grams, dtype=float)), 0.2)
    assert len(odd) == count
