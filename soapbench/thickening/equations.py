"""The normal equations of the sightings, with the batch effects eliminated.

Batch effects touch only their own rows, so a Schur complement takes them out and the cost grows
linearly with the number of batches.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from soapbench.thickening import likelihood
from soapbench.thickening.evidence import NO_LOT, Rows
from soapbench.thickening.sightings import GAPS, STEPS, Spreads, Unknowns, View, positions

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]


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
    return np.asarray(np.bincount(where, weights=what, minlength=size)[:size])


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


@dataclass(frozen=True, slots=True)
class _Slopes:
    """Derivatives of e and of log(rate / total), by row."""

    theta: Array
    """(P, n) of e."""
    rate: Array
    spread: Array
    lot: Array
    """(n,) of e, by b_i, s_i and log AF."""
    jacobian_theta: Array
    jacobian_rate: Array
    jacobian_spread: Array
    jacobian_lot: Array
    """The same of log(rate / total)."""


def _slopes(rows: Rows, at: Unknowns, view: View) -> _Slopes:
    """e = log rate + log E - log m; what a pot was blended up to moves log E with theta, too."""
    p = rows.x.shape[1]
    gaps, place = np.exp(at.theta[p + 2 :]), positions(at.theta[p + 2 :])
    given = view.given * view.stretch
    blending = np.exp(at.theta[p]) * rows.dose.blending / view.rate
    total = np.concatenate(  # of log E by theta
        [
            -view.given * rows.x.T,
            [view.share_blended, view.given],
            (given[:, None] * STEPS[rows.to] * gaps).T,
        ]
    )
    plain = np.zeros_like(total)  # of log rate - log m by theta
    plain[:p], plain[p + 1] = rows.x.T, -1.0
    plain[p + 2 :] = -(view.stretch[:, None] * STEPS[rows.milestone] * gaps).T
    jacobian = -total
    jacobian[p] += blending
    spread = given * place[rows.to]
    return _Slopes(
        theta=plain + total,
        rate=1.0 - view.given,
        spread=spread - place[rows.milestone] * view.stretch,
        lot=view.share_after,
        jacobian_theta=jacobian,
        jacobian_rate=view.given,
        jacobian_spread=-spread,
        jacobian_lot=np.where(rows.dose.after > 0.0, view.own / view.rate, 0.0) - view.share_after,
    )


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
    n, n_lots, size, m = len(at.rates), len(at.lots), len(at.theta), len(pairs.batch)
    tapped, b = rows.tapped, rows.batch
    lot = np.where(rows.lot == NO_LOT, n_lots, rows.lot)

    by_e, curvature, by_rate, widened, square, ahead = _likelihood(rows, sd, view, tail)
    j = _slopes(rows, at, view)
    slope_theta = j.theta @ by_e + j.jacobian_theta @ by_rate
    slope_lots = _sum(lot, by_e * j.lot + by_rate * j.jacobian_lot, n_lots)
    slope = np.stack(
        [
            _sum(b, by_e * j.rate + by_rate * j.jacobian_rate, n) - trust * at.rates / sd.batch**2,
            _sum(b, by_e * j.spread + by_rate * j.jacobian_spread, n) - at.spreads / sd.spread**2,
        ],
        axis=1,
    )

    c_rate, c_spread, c_lot = curvature * j.rate, curvature * j.spread, curvature * j.lot
    WJ = curvature * j.theta
    inverse = _inverse(
        _sum(b, c_rate * j.rate, n) + trust / sd.batch**2,
        _sum(b, c_rate * j.spread, n),
        _sum(b, c_spread * j.spread, n) + 1.0 / sd.spread**2,
    )
    to_theta = np.array([[_sum(b, k * j.rate, n), _sum(b, k * j.spread, n)] for k in WJ])
    by_pair = (_sum(pairs.of_row, c_lot * k, m) for k in (j.rate, j.spread))

    # Laplace's -1/2 log det of the batch effects: left out, the gaps come out too wide, however
    # many batches there are.
    tug = -curvature * (inverse[b, 1, 1] * j.spread + inverse[b, 0, 1] * j.rate)
    slope_theta[-GAPS:] += j.theta[-GAPS:] @ tug
    tugged = slope.copy()
    tugged[:, 1] += _sum(b, tug * j.spread, n)

    noise2 = _noise(view, j, inverse[b], sd, tail, widened)
    whole = Equations(
        theta=WJ @ j.theta.T,
        tie=np.array([_sum(lot, c_lot * k, n_lots) for k in j.theta]).reshape(size, n_lots),
        lots=_sum(lot, c_lot * j.lot, n_lots),
        met=np.zeros(n_lots),
        slope_theta=slope_theta,
        slope_lots=slope_lots,
        inverse=inverse,
        to_theta=to_theta.transpose(2, 1, 0),
        to_pairs=np.stack(list(by_pair), axis=1),
        slope=slope,
        square=float(noise2[tapped].sum() + square),
        count=float(tapped.sum() + ahead),
    )
    return _without_batches(whole, tugged, pairs)


def _likelihood(
    rows: Rows, sd: Spreads, view: View, tail: float
) -> tuple[Array, Array, Array, Array, float, float]:
    """Of each row (n,): slope by e, curvature, slope by the rate, what delay widens v by; of those
    not tapped the expected square and count of the noise that lies ahead, summed."""
    tapped = rows.tapped
    widened = (rows.unsure * view.rate / view.total) ** 2
    by_e, curvature, by_rate = likelihood.tapped_slopes(view.e, view.v, widened, tail)
    by_rate[~tapped] = 0.0
    missed = likelihood.not_tapped_slopes(view.e[~tapped], sd.noise, rows.floor[~tapped])
    by_e[~tapped], curvature[~tapped] = missed.by_e, missed.curvature
    square = sd.noise**2 * (missed.ahead * missed.beyond).sum()
    return by_e, curvature, by_rate, widened, float(square), float(missed.ahead.sum())


def _inverse(h11: Array, h12: Array, h22: Array) -> Array:
    """(N, 2, 2) of symmetric matrices given by their entries (N,)."""
    inverse = np.array([[h22, -h12], [-h12, h11]]).transpose(2, 0, 1)
    return np.asarray(inverse / (h11 * h22 - h12**2)[:, None, None])


def _noise(
    view: View, j: _Slopes, inverse: Array, sd: Spreads, tail: float, widened: Array
) -> Array:
    """(n,) expected squared noise of each row, the batch effects' doubt (n, 2, 2) counted in."""
    uncertain = (
        inverse[:, 0, 0] * j.rate**2
        + 2.0 * j.spread * j.rate * inverse[:, 0, 1]
        + j.spread**2 * inverse[:, 1, 1]
    )
    part = sd.noise**2 / view.v  # of v that is noise, not delay
    w = likelihood.weight(view.e, view.v, tail)
    return np.asarray(part**2 * w * (view.e**2 + uncertain) + part * widened)


def _without_batches(whole: Equations, tugged: Array, pairs: Pairs) -> Equations:
    """The Schur complement: what the batch effects would explain is taken off."""
    inverse, to_theta, to_pairs = whole.inverse, whole.to_theta, whole.to_pairs
    n, n_lots, size = len(inverse), len(whole.lots), len(whole.theta)
    solved = inverse @ to_theta
    explained = np.einsum("muv,mv->mu", inverse[pairs.batch], to_pairs)
    shared = np.einsum("mup,mu->pm", solved[pairs.batch], to_pairs)
    own = (to_pairs * explained).sum(1)
    all_pairs = np.stack([_sum(pairs.batch, column, n) for column in to_pairs.T], axis=1)
    met = _sum(pairs.lot, (explained * all_pairs[pairs.batch]).sum(1) - own, n_lots)
    by_lot = _sum(pairs.lot, (explained * tugged[pairs.batch]).sum(1), n_lots)
    return replace(
        whole,
        theta=whole.theta - to_theta.reshape(-1, size).T @ solved.reshape(-1, size),
        slope_theta=whole.slope_theta - solved.reshape(-1, size).T @ tugged.reshape(-1),
        tie=whole.tie - np.array([_sum(pairs.lot, s, n_lots) for s in shared]),
        lots=whole.lots - _sum(pairs.lot, own, n_lots),
        slope_lots=whole.slope_lots - by_lot,
        met=np.maximum(met, 0.0),
    )
