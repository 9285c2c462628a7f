"""The normal equations of the sightings, with the batch effects eliminated.

Batch effects touch only their own rows, so a Schur complement takes them out and the cost grows
linearly with the number of batches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapbench.thickening import likelihood
from soapbench.thickening.exposure import exposure, exposure_rate
from soapbench.thickening.sightings import NO_LOT, Rows

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Spreads:
    """Standard deviations as learned so far."""

    batch: float
    spread: float
    lot: float
    noise: float


@dataclass(frozen=True, slots=True)
class Unknowns:
    """theta (p + 5,), lots (L,), fragrances (F,), rates (N,) and spreads (N,) of batches."""

    theta: Array
    lots: Array
    fragrances: Array
    rates: Array
    spreads: Array


def positions(log_gaps: Array) -> Array:
    """(..., 4) log exposure of the milestones beyond light trace."""
    gaps = np.exp(log_gaps)
    return np.concatenate([np.zeros_like(gaps[..., :1]), np.cumsum(gaps, axis=-1)], axis=-1)


@dataclass(frozen=True, slots=True)
class View:
    """The rows seen from one point."""

    e: Array
    v: Array
    share_blended: Array
    share_after: Array
    total: Array
    rate: Array
    stretch: Array
    loglik: float


def look(rows: Rows, at: Unknowns, noise: float, tail: float) -> View:
    """Residuals and the log-likelihood."""
    p = rows.x.shape[1]
    kappa = np.exp(at.theta[p])
    af = np.exp(np.where(rows.lot == NO_LOT, 0.0, np.append(at.lots, 0.0)[rows.lot]))
    total = exposure(rows.dose, kappa, af)
    rate = exposure_rate(rows.dose, kappa, af)
    stretch = np.exp(at.spreads[rows.batch])
    beyond = positions(at.theta[p + 2 :])[rows.milestone] * stretch
    e = rows.x @ at.theta[:p] + at.rates[rows.batch] + np.log(total) - at.theta[p + 1] - beyond
    v = noise**2 + (rows.unsure * rate / total) ** 2
    tapped, missed = rows.tapped, ~rows.tapped
    loglik = likelihood.log_tapped(e[tapped], v[tapped], tail).sum()
    loglik += np.log(rate[tapped] / total[tapped]).sum()
    loglik += likelihood.log_not_tapped(e[missed], noise, rows.floor[missed]).sum()
    return View(
        e=e,
        v=v,
        share_blended=kappa * rows.dose.blended / total,
        share_after=af * rows.dose.after / total,
        total=total,
        rate=rate,
        stretch=stretch,
        loglik=float(loglik),
    )


@dataclass(frozen=True, slots=True)
class Pairs:
    """Which lots went into which batch: the only places where batch and lot effects meet."""

    batch: Index
    lot: Index
    of_row: Index
    """(n,) pair of each row, one past the end for unscented rows."""


def pairs_of(rows: Rows, lots: int) -> Pairs:
    scented = rows.lot != NO_LOT
    codes, where = np.unique(
        rows.batch[scented] * max(lots, 1) + rows.lot[scented], return_inverse=True
    )
    of_row = np.full(rows.batch.shape, len(codes), dtype=np.intp)
    of_row[scented] = where
    return Pairs(codes // max(lots, 1), codes % max(lots, 1), of_row)


def _sum(where: Index, what: Array, size: int) -> Array:
    return np.bincount(where, weights=what, minlength=size)[:size].astype(np.float64)


@dataclass(frozen=True, slots=True)
class Equations:
    """What the sightings say about theta (P) and lots (L), the batch effects eliminated.

    Two lots meet only in batches that hold both; that little is left out of the information and
    bounded by ``met`` instead, so that lots stay diagonal however many there are.
    """

    theta: Array
    """(P, P) information."""
    tie: Array
    """(P, L) information between theta and lots."""
    lots: Array
    """(L,) information."""
    met: Array
    """(L,) bound on what each lot shares with others."""
    slope_theta: Array
    slope_lots: Array
    inverse: Array
    """(N, 2, 2) covariance of the batch effects given the rest."""
    to_theta: Array
    """(N, 2, P)."""
    to_pairs: Array
    """(M, 2)."""
    slope: Array
    """(N, 2) of the log posterior by the batch effects."""
    square: float
    count: float
    """Sum of squared noise and how many sightings carry it: the E step for the noise."""

    def effects(self, theta: Array, lots: Array, pairs: Pairs) -> Array:
        """(N, 2) moves of the batch effects that go with moves of theta and lots."""
        rest = self.slope - self.to_theta @ theta
        np.subtract.at(rest, pairs.batch, self.to_pairs * lots[pairs.lot][:, None])
        return np.asarray(np.einsum("nuv,nv->nu", self.inverse, rest))


def equations(
    rows: Rows,
    at: Unknowns,
    sd: Spreads,
    view: View,
    pairs: Pairs,
    tail: float,
    trust: Array,
) -> Equations:
    """Linearise at ``at``; ``trust`` (N,) is how normal each batch is, 1 as a rule, 0 for none."""
    n, n_lots, p, m = len(at.rates), len(at.lots), rows.x.shape[1], len(pairs.batch)
    size, tapped, b = p + 5, rows.tapped, rows.batch
    lot = np.where(rows.lot == NO_LOT, n_lots, rows.lot)

    widened = (rows.unsure * view.rate / view.total) ** 2
    by_e, curvature, by_rate = likelihood.tapped_slopes(view.e, view.v, widened, tail)
    by_rate[~tapped] = 0.0
    by_e[~tapped], curvature[~tapped], ahead, beyond = likelihood.not_tapped_slopes(
        view.e[~tapped], sd.noise, rows.floor[~tapped]
    )

    gaps = np.exp(at.theta[p + 2 :])
    J = np.empty((size, len(view.e)))
    J[:p] = rows.x.T
    J[p] = view.share_blended
    J[p + 1] = -1.0
    for k in range(3):
        J[p + 2 + k] = -gaps[k] * view.stretch * (rows.milestone > k)
    j_spread = -positions(at.theta[p + 2 :])[rows.milestone] * view.stretch
    j_lot = view.share_after
    blending = np.exp(at.theta[p]) * rows.dose.blending / view.rate
    scented = np.where(rows.dose.after > 0.0, 1.0 - blending, 0.0)

    slope_theta = J @ by_e
    slope_theta[p] += by_rate @ (blending - view.share_blended)
    slope_lots = _sum(lot, by_e * j_lot + by_rate * (scented - j_lot), n_lots)
    slope = np.stack(
        [
            _sum(b, by_e, n) - trust * at.rates / sd.batch**2,
            _sum(b, by_e * j_spread, n) - at.spreads / sd.spread**2,
        ],
        axis=1,
    )

    c_spread, c_lot = curvature * j_spread, curvature * j_lot
    WJ = curvature * J
    theta = WJ @ J.T
    tie = np.array([_sum(lot, c_lot * j, n_lots) for j in J])
    lots = _sum(lot, c_lot * j_lot, n_lots)
    h11 = _sum(b, curvature, n) + trust / sd.batch**2
    h12 = _sum(b, c_spread, n)
    h22 = _sum(b, c_spread * j_spread, n) + 1.0 / sd.spread**2
    inverse = np.array([[h22, -h12], [-h12, h11]]).transpose(2, 0, 1)
    inverse = inverse / (h11 * h22 - h12**2)[:, None, None]
    to_theta = np.array([[_sum(b, k, n), _sum(b, k * j_spread, n)] for k in WJ]).transpose(2, 1, 0)
    to_pairs = np.stack(
        [_sum(pairs.of_row, c_lot, m), _sum(pairs.of_row, c_lot * j_spread, m)], axis=1
    )

    # Laplace's -1/2 log det of the batch effects: left out, the gaps come out too wide, however
    # many batches there are.
    tug = -curvature * (inverse[b, 1, 1] * j_spread + inverse[b, 0, 1])
    slope_theta[p + 2 :] += J[p + 2 :] @ tug
    tugged = slope.copy()
    tugged[:, 1] += _sum(b, tug * j_spread, n)

    # The Schur complement: what the batch effects would explain is taken off.
    solved = inverse @ to_theta
    theta -= to_theta.reshape(-1, size).T @ solved.reshape(-1, size)
    slope_theta -= solved.reshape(-1, size).T @ tugged.reshape(-1)
    shared = np.einsum("mup,mu->pm", solved[pairs.batch], to_pairs)
    tie -= np.array([_sum(pairs.lot, s, n_lots) for s in shared])
    explained = np.einsum("muv,mv->mu", inverse[pairs.batch], to_pairs)
    own = (to_pairs * explained).sum(1)
    lots -= _sum(pairs.lot, own, n_lots)
    slope_lots -= _sum(pairs.lot, (explained * tugged[pairs.batch]).sum(1), n_lots)
    all_pairs = np.stack([_sum(pairs.batch, column, n) for column in to_pairs.T], axis=1)
    met = _sum(pairs.lot, (explained * all_pairs[pairs.batch]).sum(1) - own, n_lots)

    uncertain = (
        inverse[b, 0, 0] + 2.0 * j_spread * inverse[b, 0, 1] + j_spread**2 * inverse[b, 1, 1]
    )
    part = sd.noise**2 / view.v  # of v that is noise, not delay
    w = likelihood.weight(view.e, view.v, tail)
    seen = part**2 * w * (view.e**2 + uncertain) + part * widened
    return Equations(
        theta=theta,
        tie=tie,
        lots=lots,
        met=np.maximum(met, 0.0),
        slope_theta=slope_theta,
        slope_lots=slope_lots,
        inverse=inverse,
        to_theta=to_theta,
        to_pairs=to_pairs,
        slope=slope,
        square=float(seen[tapped].sum() + sd.noise**2 * (ahead * beyond).sum()),
        count=float(tapped.sum() + ahead.sum()),
    )
