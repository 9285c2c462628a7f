"""Draws from the posterior of one batch: Laplace modes, then importance sampling.

The state q of a batch is (log rate, log kappa, mu, 4 log gaps, spread s, log AF of each
fragrance). Each piece of the prior gets its own mode; draws come from t8 around the modes (3/4)
and from the prior (1/4), are weighted, and resampled to equal weights. States are stored by
dimension, (d, n), so that every operation runs along the draws.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import lgamma, log, pi

import numpy as np
import numpy.typing as npt

from soapbench.thickening import likelihood
from soapbench.thickening.evidence import Rows
from soapbench.thickening.exposure import accelerated, own_part
from soapbench.thickening.fitted import Fit
from soapbench.thickening.sightings import STEPS, positions

Array = npt.NDArray[np.float64]

RATE, KAPPA, LIGHT, GAPS, SPREAD, AF = 0, 1, 2, slice(3, 7), 7, 8
TAIL = 8.0


@dataclass(frozen=True, slots=True)
class Pieces:
    """K normal pieces over d dimensions."""

    weights: Array
    means: Array
    """(K, d)."""
    covariances: Array
    """(K, d, d)."""


@dataclass(frozen=True, slots=True)
class _View:
    """m rows seen from n states, (m, n); names as in ``equations.View``."""

    kappa: Array
    """(n,)."""
    factor: Array
    """A."""
    given: Array
    """Exposure at the milestone blended up to, s; 0 elsewhere."""
    total: Array
    e: Array


def _af(rows: Rows, q: Array) -> tuple[Array, Array]:
    """AF (L + 1, n) and w (L + 1, 1) of each lot; NO_LOT: the last, 1."""
    lots = len(q) - AF
    w = np.ones((lots + 1, 1), dtype=q.dtype)
    w[rows.lot, 0] = rows.strength
    af = np.ones((lots + 1, q.shape[1]), dtype=q.dtype)
    np.exp(q[AF:], out=af[:lots])
    return af, w


def _view(rows: Rows, q: Array) -> _View:
    d = rows.dose
    kappa = np.exp(q[KAPPA])
    log_m = _milestones(q)
    factor = accelerated(*_af(rows, q))[rows.lot]
    total = d.after.astype(q.dtype)[:, None] * factor
    total += d.before.astype(q.dtype)[:, None]
    total += d.blended.astype(q.dtype)[:, None] * kappa
    given = np.zeros_like(total)
    up = rows.to >= 0
    if up.any():
        given[up] = np.exp(log_m[rows.to[up]])
        total += given
    e = np.log(total)
    e -= log_m[rows.milestone]
    return _View(kappa, factor, given, total, e)


def _milestones(q: Array) -> Array:
    """(5, n) log exposure at each milestone, the batch's rate counted in."""
    steps = STEPS.astype(q.dtype) @ np.exp(q[GAPS])
    steps *= np.exp(q[SPREAD])
    steps += q[LIGHT] - q[RATE]
    return np.asarray(steps)


def _rate(rows: Rows, view: _View) -> Array:
    """dE/dt, (m, n)."""
    one = view.factor.dtype.type(1.0)
    rate = np.where((rows.dose.after > 0.0)[:, None], view.factor, one)
    if rows.dose.blending.any():
        rate = rate + rows.dose.blending.astype(rate.dtype)[:, None] * view.kappa
    return np.asarray(rate)


def log_likelihood(fit: Fit, rows: Rows, q: Array) -> Array:
    """(n,) of states q (d, n); rows tapped come first."""
    tapped = int(rows.tapped.sum())
    view, tail = _view(rows, q), fit.priors.tail
    one = q.dtype.type
    total = np.zeros(q.shape[1], dtype=q.dtype)
    if tapped:
        speed = _rate(rows, view)[:tapped] / view.total[:tapped]
        v = (speed * rows.unsure[:tapped, None].astype(q.dtype)) ** 2 + one(fit.sd.noise**2)
        total += (likelihood.log_tapped(view.e[:tapped], v, tail, true=True) + np.log(speed)).sum(
            axis=0
        )
    if tapped < len(rows.tapped):
        floor = rows.floor[tapped:].astype(q.dtype)[:, None]
        total += likelihood.log_not_tapped(view.e[tapped:], fit.sd.noise, floor).sum(axis=0)
    return total


def _slopes(fit: Fit, rows: Rows, q: Array) -> tuple[Array, Array]:
    """Gradient (n, d) and Gauss-Newton information (n, d, d) of the log-likelihood."""
    tapped = int(rows.tapped.sum())
    view = _view(rows, q)
    rate = _rate(rows, view)
    widened = (rows.unsure[:, None] * rate / view.total) ** 2
    v = fit.sd.noise**2 + widened
    by_e, curvature, by_rate = likelihood.tapped_slopes(
        view.e, v, widened, fit.priors.tail, true=True
    )
    by_e[tapped:], curvature[tapped:], _, _ = likelihood.not_tapped_slopes(
        view.e[tapped:], fit.sd.noise, rows.floor[tapped:, None]
    )
    by_rate[tapped:] = 0.0
    E, R = _by_state(rows, q, view, rate)
    J = E.copy()  # of e = log E - log m
    stretch = np.exp(q[SPREAD])
    J[..., RATE] += 1.0
    J[..., LIGHT] -= 1.0
    J[..., GAPS] -= STEPS[rows.milestone][:, None, :] * (np.exp(q[GAPS]) * stretch).T
    J[..., SPREAD] -= (positions(q[GAPS].T) * stretch[:, None]).T[rows.milestone]
    gradient = np.einsum("mn,mnd->nd", by_e, J) + np.einsum("mn,mnd->nd", by_rate, R - E)
    by_state = J.transpose(1, 2, 0)
    return gradient, by_state * curvature.T[:, None, :] @ J.transpose(1, 0, 2)


def _by_state(rows: Rows, q: Array, view: _View, rate: Array) -> tuple[Array, Array]:
    """Derivatives of log E and of log dE/dt, (m, n, d)."""
    E = np.zeros((*view.e.shape, q.shape[0]))
    R = np.zeros_like(E)
    given = view.given / view.total
    stretch = np.exp(q[SPREAD])
    E[..., RATE], E[..., LIGHT] = -given, given
    E[..., GAPS] = (given[..., None] * STEPS[rows.to][:, None, :]) * (np.exp(q[GAPS]) * stretch).T
    E[..., SPREAD] = given * (positions(q[GAPS].T) * stretch[:, None]).T[rows.to]
    E[..., KAPPA] = view.kappa * rows.dose.blended[:, None] / view.total
    R[..., KAPPA] = view.kappa * rows.dose.blending[:, None] / rate
    own = own_part(*_af(rows, q))[rows.lot]
    for i in range(q.shape[0] - AF):
        mine = rows.lot == i
        after = rows.dose.after[mine, None]
        E[mine, :, AF + i] = after * own[mine] / view.total[mine]
        R[mine, :, AF + i] = np.where(after > 0.0, own[mine] / rate[mine], 0.0)
    return E, R


def laplace(fit: Fit, prior: Pieces, rows: Rows, rounds: int = 12) -> Pieces:
    """The mode of each piece, all pieces at once; weights by Laplace's evidence."""
    precision = np.linalg.inv(prior.covariances)
    q = prior.means.copy()

    def value(q: Array) -> Array:
        away = q - prior.means
        return np.asarray(
            log_likelihood(fit, rows, q.T) - 0.5 * np.einsum("kd,kde,ke->k", away, precision, away)
        )

    best, scale = value(q), np.ones(len(q))
    for _ in range(rounds):
        slope, curvature = _slopes(fit, rows, q.T)
        slope = slope - np.einsum("kde,ke->kd", precision, q - prior.means)
        step = np.linalg.solve(precision + curvature, slope[..., None])[..., 0]
        step *= np.minimum(scale, 1.0 / np.maximum(np.abs(step).max(axis=1), 1e-12))[:, None]
        reached = value(q + step)
        better = reached >= best
        gained = np.where(better, reached - best, np.inf)
        q = np.where(better[:, None], q + step, q)
        best = np.maximum(best, reached)
        scale = np.where(better, 1.0, 0.4 * scale)
        if np.all(gained < 0.02):
            break
    information = precision + curvature  # of the last place but one: near enough to draw by
    evidence = best + 0.5 * (np.linalg.slogdet(precision)[1] - np.linalg.slogdet(information)[1])
    weights = prior.weights * np.exp(evidence - evidence.max())
    return Pieces(weights / weights.sum(), q, np.asarray(np.linalg.inv(information)))


def log_density(q: Array, pieces: Pieces, tail: float = np.inf) -> Array:
    """(n,) log density at q (d, n) of a mixture of normal or, with ``tail``, t pieces."""
    d = len(q)
    logs = np.empty((len(pieces.weights), q.shape[1]), dtype=q.dtype)
    for k, covariance in enumerate(pieces.covariances):
        root = np.linalg.cholesky(covariance)
        unroot = np.linalg.inv(root).astype(q.dtype)
        z = unroot @ (q - pieces.means[k].astype(q.dtype)[:, None])
        square = np.einsum("dn,dn->n", z, z)
        scale = log(max(pieces.weights[k], 1e-300)) - float(np.log(np.diag(root)).sum())
        if np.isinf(tail):
            logs[k] = scale - 0.5 * d * log(2.0 * pi) - 0.5 * square
        else:
            scale += lgamma((tail + d) / 2.0) - lgamma(tail / 2.0) - 0.5 * d * log(tail * pi)
            logs[k] = scale - 0.5 * (tail + d) * np.log1p(square / tail)
    most = logs.max(axis=0)
    return np.asarray(most + np.log(np.exp(logs - most).sum(axis=0)))


def place(z: Array, pieces: Pieces) -> Array:
    """Standard draws z (d, n) moved to the pieces, to each its share of them in turn."""
    n = z.shape[1]
    ends = np.rint(np.cumsum(pieces.weights) / pieces.weights.sum() * n).astype(int)
    q, start = np.empty_like(z), 0
    for mean, covariance, end in zip(pieces.means, pieces.covariances, ends, strict=True):
        root = np.linalg.cholesky(covariance).astype(z.dtype)
        q[:, start:end] = root @ z[:, start:end] + mean.astype(z.dtype)[:, None]
        start = end
    return q


def posterior_draws(
    fit: Fit, prior: Pieces, rows: Rows, n: int, seed: int, thinned: int = 1
) -> Array:
    """(d, n / ``thinned``) equally weighted states out of n. Single precision inside: 1e-6 of a log
    time is nothing."""
    z, heavy = _standard(seed, prior.means.shape[1], n)
    if not len(rows.lot):
        return place(z, prior)[:, ::thinned].astype(np.float64)
    around = laplace(fit, prior, rows)
    plain = n // 4
    q = np.concatenate([place(z[:, :plain], prior), place(heavy[:, plain:], around)], 1)
    log_prior = log_density(q, prior)
    proposal = np.logaddexp(
        log(plain / n) + log_prior, log(1.0 - plain / n) + log_density(q, around, TAIL)
    )
    log_weight = log_likelihood(fit, rows, q) + log_prior - proposal
    weight = np.cumsum(np.exp(log_weight - log_weight.max()), dtype=np.float64)
    # Systematic resampling: a comb of equally spaced teeth over the weights.
    kept = -(-n // thinned)
    teeth = (np.arange(kept) + 0.5) / kept * weight[-1]
    return np.asarray(q[:, np.searchsorted(weight, teeth)], dtype=np.float64)


@lru_cache(maxsize=4)
def _standard(seed: int, d: int, n: int) -> tuple[Array, Array]:
    """The underlying numbers (d, n), always the same for a seed: standard normals, and the same
    with the tails of a t."""
    rng = np.random.default_rng(seed)
    z: Array = np.asarray(rng.standard_normal((d, n), dtype=np.float32))
    tails = np.sqrt(TAIL / (2.0 * rng.standard_gamma(TAIL / 2.0, n, dtype=np.float32)))
    heavy: Array = np.asarray(z * tails)
    for numbers in (z, heavy):
        numbers.setflags(write=False)
    return z, heavy
