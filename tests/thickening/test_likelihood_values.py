"""The likelihood of one sighting: values, slopes and bounds, by scipy.stats and differences."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from soapbench.thickening import likelihood, normal

INF = float("inf")
E = np.array([-1.1, -0.3, -0.02, 0.0, 0.05, 0.4, 1.7])
V = np.array([0.04, 0.09, 0.02, 0.05, 0.03, 0.5, 0.2])


def test_log_of_the_normal_distribution_function_however_far_off() -> None:
    """scipy.stats.norm.logcdf."""
    z = np.concatenate([-np.geomspace(0.01, 200.0, 60), [0.0], np.geomspace(0.01, 5.0, 30)])
    assert normal.log_cumulative(z) == pytest.approx(stats.norm.logcdf(z), rel=3e-7, abs=1e-12)
    assert normal.cumulative(np.array([-40.0, 0.0, 40.0])) == pytest.approx([0.0, 0.5, 1.0])


@pytest.mark.parametrize("tail", [3.0, 4.0, 30.0, INF])
def test_log_density_of_a_tap(tail: float) -> None:
    """scipy.stats.t, and its limit, the normal."""
    law = stats.norm if tail == INF else stats.t(tail)
    expected = law.logpdf(E / np.sqrt(V)) - 0.5 * np.log(V)
    assert likelihood.log_tapped(E, V, tail) == pytest.approx(expected)


@pytest.mark.parametrize("tail", [3.0, 4.0, INF])
def test_a_tap_true_until_taken_back_is_normal_where_it_came_early(tail: float) -> None:
    """The t where it came late; as high as that at 0, and from there a normal's slope."""
    plain, true = (likelihood.log_tapped(E, V, tail, one) for one in (False, True))
    late = E >= 0.0
    assert true[late] == pytest.approx(plain[late])
    top = likelihood.log_tapped(np.zeros_like(E), V, tail)
    assert (true - top)[~late] == pytest.approx((-0.5 * E**2 / V)[~late])


@pytest.mark.parametrize("tail", [3.0, 4.0])
def test_the_weight_of_a_tap_by_hand(tail: float) -> None:
    plain = [(tail + 1) / (tail + e * e / v) for e, v in zip(E, V, strict=True)]
    true = [1.0 if e < 0 else w for e, w in zip(E, plain, strict=True)]
    assert likelihood.weight(E, V, tail) == pytest.approx(plain)
    assert likelihood.weight(E, V, tail, true=True) == pytest.approx(true)
    assert likelihood.weight(E, V, INF) == pytest.approx(np.ones(7))


@pytest.mark.parametrize("true", [False, True])
@pytest.mark.parametrize("tail", [3.0, 4.0, INF])
def test_slopes_of_a_tap_against_differences(tail: float, true: bool) -> None:
    """By e; and by log rate, which moves the delay's part of v by twice as much, beside the
    Jacobian: log rate itself."""
    noise2 = 0.01
    widened = V - noise2
    h = 1e-6
    e = np.where(E == 0.0, 0.01, E)
    slope, information, by_rate = likelihood.tapped_slopes(e, V, widened, tail, true)

    def log_density(d: float, r: float) -> np.ndarray:
        v = noise2 + widened * np.exp(2.0 * r)
        return likelihood.log_tapped(e + d, v, tail, true) + r

    assert slope == pytest.approx((log_density(h, 0) - log_density(-h, 0)) / (2 * h), rel=1e-6)
    steep = (log_density(0, h) - log_density(0, -h)) / (2 * h)
    assert by_rate == pytest.approx(steep, rel=1e-6, abs=1e-8)
    core = 1.0 if tail == INF else (tail + 1) / (tail + 3)
    assert information == pytest.approx(core * likelihood.weight(e, V, tail, true) / V)


@pytest.mark.parametrize("floor", [0.0, 0.05, 0.6])
def test_not_tapped_is_not_reached_or_let_go_by(floor: float) -> None:
    """scipy.stats.norm: floor + (1 - floor) Phi(-e / noise)."""
    e, noise = np.linspace(-1.0, 1.5, 11), 0.2
    chance = floor + (1 - floor) * stats.norm.cdf(-e / noise)
    floors = np.full(11, floor)
    assert likelihood.log_not_tapped(e, noise, floors) == pytest.approx(np.log(chance), rel=1e-6)
    columns = likelihood.log_not_tapped(np.stack([e, e], axis=1), noise, floors[:, None])
    assert columns[:, 1] == pytest.approx(np.log(chance), rel=1e-6)


def test_rows_with_and_without_a_floor_stand_beside_each_other() -> None:
    e, floor = np.array([0.1, 0.1, -0.2, 0.4]), np.array([0.0, 0.3, 0.0, 0.1])
    alone = [float(likelihood.log_not_tapped(e[[i]], 0.2, floor[[i]])[0]) for i in range(4)]
    assert likelihood.log_not_tapped(e, 0.2, floor) == pytest.approx(alone)


def test_past_thirty_times_the_noise_nothing_more_is_told() -> None:
    noise = 0.1
    far = likelihood.log_not_tapped(np.array([2.9, 3.0, 3.1, 99.0]), noise, np.zeros(4))
    assert far[1] == pytest.approx(stats.norm.logcdf(-30.0), rel=1e-6)
    assert far[0] > far[1] == far[2] == far[3]
    slopes = np.array(likelihood.not_tapped_slopes(np.array([2.9, 3.0, 9.0]), noise, np.zeros(3)))
    assert slopes[0, 1] == slopes[0, 2] == pytest.approx(-30.033 / noise, rel=1e-4)
    assert slopes[0, 0] > slopes[0, 1]


@pytest.mark.parametrize("floor", [0.0, 0.05, 0.6])
def test_slopes_of_silence_against_scipy(floor: float) -> None:
    """First and second derivative of the log by hand from scipy's density and distribution; the
    truth ahead is a normal cut off below z: its mean square is 1 + z phi / (1 - Phi)."""
    noise, e = 0.3, np.linspace(-0.8, 1.2, 9)
    z = e / noise
    phi, ahead = stats.norm.pdf(z), stats.norm.sf(z)
    chance = floor + (1 - floor) * ahead
    first = -(1 - floor) * phi / chance
    second = (1 - floor) * z * phi / chance - first**2
    slope, bent, share, square, log = likelihood.not_tapped_slopes(e, noise, np.full(9, floor))
    assert log == pytest.approx(np.log(chance), rel=1e-6)
    assert slope == pytest.approx(first / noise, rel=1e-5)
    assert bent == pytest.approx(np.maximum(-second, 0.0) / noise**2, rel=1e-4, abs=1e-5)
    assert share == pytest.approx((1 - floor) * ahead / chance, rel=1e-5)
    cut = [stats.truncnorm(one, np.inf).moment(2) for one in z]
    assert square == pytest.approx(cut, rel=1e-5)


def test_density_of_the_normal_at_its_top_and_one_off() -> None:
    densities = normal.density(np.array([-1.0, 0.0, 1.0]))
    top = 1 / math.sqrt(2 * math.pi)
    assert densities == pytest.approx([top * math.exp(-0.5), top, top * math.exp(-0.5)])
