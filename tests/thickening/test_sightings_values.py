"""The sightings from one point, and what the solver makes of all of them, row by row by hand.

Against scalars and scipy.stats, on the small bench of ``thickening_kit``.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats
from thickening_kit import FRAGRANCE_OF, PRIORS, SD, bench_rows, unknowns

from soapbench.thickening import equations as eq
from soapbench.thickening import sightings
from soapbench.thickening.evidence import NO_LOT
from soapbench.thickening.priors import Component
from soapbench.thickening.solve import Setting, Solution, _learn, _log_prior, log_evidence

FIXED = Component(0.2, math.inf)


def test_milestones_lie_by_their_gaps_from_light_trace() -> None:
    gaps = np.log([[0.9, 0.2, 0.3, 0.4], [1.0, 0.5, 0.5, 0.5]])
    expected = [[-0.9, 0.0, 0.2, 0.5, 0.9], [-1.0, 0.0, 0.5, 1.0, 1.5]]
    assert pytest.approx(np.array(expected)) == sightings.positions(gaps)


def test_what_each_row_is_from_one_point_by_hand() -> None:
    """log age = x'b + b_i + log E and log m = mu + Gamma exp(s), one row at a time; densities by
    scipy.stats, of a tap in time: its rate beside it."""
    rows, at = bench_rows(), unknowns()
    view = sightings.look(rows, at, SD.noise, PRIORS.tail)
    gamma, loglik = sightings.positions(at.theta[5:]), 0.0
    kappa, mu = math.exp(at.theta[3]), float(at.theta[4])
    for i in range(len(rows.lot)):
        of, stretch = rows.batch[i], math.exp(at.spreads[rows.batch[i]])
        log_rate = float(rows.x[i] @ at.theta[:3] + at.rates[of])
        af = 1.0 if rows.lot[i] == NO_LOT else math.exp(at.lots[rows.lot[i]])
        w = rows.strength[i]
        a = 1.0 + (af - 1.0) * w
        d = rows.dose
        given = math.exp(mu + gamma[rows.to[i]] * stretch - log_rate) if rows.to[i] >= 0 else 0.0
        total = given + kappa * d.blended[i] + d.before[i] + a * d.after[i]
        speed = kappa * d.blending[i] + (a if d.after[i] > 0 else 1.0)
        e = log_rate + math.log(total) - mu - gamma[rows.milestone[i]] * stretch
        v = SD.noise**2 + (rows.unsure[i] * speed / total) ** 2
        assert view.e[i] == pytest.approx(e)
        assert view.v[i] == pytest.approx(v)
        assert (view.total[i], view.rate[i]) == pytest.approx((total, speed))
        assert view.given[i] == pytest.approx(given / total)
        assert view.own[i] == pytest.approx(af * w)
        assert view.stretch[i] == pytest.approx(stretch)
        assert view.share_blended[i] == pytest.approx(kappa * d.blended[i] / total)
        assert view.share_after[i] == pytest.approx(af * w * d.after[i] / total)
        if rows.tapped[i]:
            loglik += stats.t(4.0, scale=v**0.5).logpdf(e) + math.log(speed / total)
        else:
            floor = rows.floor[i]
            loglik += math.log(floor + (1 - floor) * stats.norm.sf(e / SD.noise))
    assert view.loglik == pytest.approx(loglik)


def test_which_lots_went_into_which_batch() -> None:
    rows = SimpleNamespace(
        batch=np.array([1, 0, 1, 1, 0, 2]), lot=np.array([2, 0, NO_LOT, 0, 0, NO_LOT])
    )
    pairs = eq.pairs_of(rows, 3)  # type: ignore[arg-type]
    assert list(zip(pairs.batch, pairs.lot, strict=True)) == [(0, 0), (1, 0), (1, 2)]
    assert pairs.of_row.tolist() == [2, 0, 3, 1, 0, 3]
    only = SimpleNamespace(batch=np.array([0, 1, 1]), lot=np.array([0, NO_LOT, 0]))
    one = eq.pairs_of(only, 1)  # type: ignore[arg-type]
    assert list(zip(one.batch, one.lot, strict=True)) == [(0, 0), (1, 0)]
    assert one.of_row.tolist() == [0, 2, 1]
    none = SimpleNamespace(batch=np.array([0, 1]), lot=np.array([NO_LOT, NO_LOT]))
    for lots in (0, 1):
        empty = eq.pairs_of(none, lots)  # type: ignore[arg-type]
        assert len(empty.batch) == len(empty.lot) == 0
        assert empty.of_row.tolist() == [0, 0]


def test_the_evidence_is_laplaces_integral_over_the_effects() -> None:
    """Likelihood times both normals at the mode, times 2 pi sqrt det of each batch's covariance."""
    rows, at = bench_rows(), unknowns()
    pairs = eq.pairs_of(rows, 3)
    view = sightings.look(rows, at, SD.noise, PRIORS.tail)
    data = eq.equations(rows, at, SD, view, pairs, PRIORS.tail, np.ones(3))
    evidence = log_evidence(rows, Solution(at, SD, np.eye(9), data, 1), PRIORS.tail)
    expected = view.loglik + stats.norm.logpdf(at.rates, 0.0, SD.batch).sum()
    expected += stats.norm.logpdf(at.spreads, 0.0, SD.spread).sum()
    widths = 0.5 * np.log(np.linalg.det(data.inverse))
    assert evidence == pytest.approx(expected + (math.log(2 * math.pi) + widths).sum())


def test_a_spread_fixed_or_told_nothing_stays() -> None:
    rows, at = bench_rows(), unknowns()
    pairs = eq.pairs_of(rows, 3)
    view = sightings.look(rows, at, SD.noise, PRIORS.tail)
    data = eq.equations(rows, at, SD, view, pairs, PRIORS.tail, np.ones(3))
    setting = Setting(
        at.theta, np.ones(9), FIXED, FIXED, FIXED, FIXED, FRAGRANCE_OF, lambda a, v: (a, v)
    )
    assert _learn(setting, data, at, SD, np.ones(2), np.ones(3)) == SD
    nothing_told = replace(
        setting, lot=Component(0.3, 0.0), fragrance_of=np.zeros(0, dtype=np.intp)
    )
    none = replace(at, lots=np.zeros(0), fragrances=np.zeros(0))
    without = replace(data, lots=np.zeros(0))
    assert _learn(nothing_told, without, none, SD, np.zeros(0), np.ones(3)) == SD, "0 of 0 counts"


def test_a_fragrance_is_held_by_what_its_mixture_amounts_to() -> None:
    """Of normals of mean 0.5 and 1.5 and precision 4 and 6, with no bottle in the way: by hand."""
    at, of = unknowns(), np.zeros(0, dtype=np.intp)
    setting = Setting(at.theta, np.ones(9), FIXED, FIXED, FIXED, FIXED, of, lambda a, v: (a, v))
    pulled = np.array([0.5, 1.5]), np.array([4.0, 6.0])
    near, far = (
        replace(at, lots=np.zeros(0), fragrances=np.array(a)) for a in ([0.5, 1.5], [0.8, 1.0])
    )
    values = [_log_prior(x, setting, SD, pulled, np.ones(3)) for x in (near, far)]
    assert values[1] - values[0] == pytest.approx(-0.5 * (4.0 * 0.3**2 + 6.0 * 0.5**2))
