"""Draws from the posterior of one batch: Laplace modes, then importance sampling.

The state q of a batch is (log rate, log kappa, mu, 4 log gaps, spread s, log AF of each
fragrance). Each piece of the prior gets its own mode; draws come from t8 around the modes (3/4)
and from the prior (1/4), are weighted, and resampled to equal weights. States are stored by
dimension, (d, n), so that every operation runs along the draws.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import lgamma, log, pi

import numpy as np
import numpy.typing as npt

from soapbench.thickening import likelihood
from soapbench.thickening.evidence import Rows, put_together
from soapbench.thickening.exposure import accelerated, own_part
from soapbench.thickening.fitted import Fit
from soapbench.thickening.sightings import STEPS

Array = npt.NDArray[np.float64]

RATE, KAPPA, LIGHT, GAPS, SPREAD, AF = 0, 1, 2, slice(3, 7), 7, 8
TAIL = 8.0


@dataclass(frozen=True)
class Pieces:
    """K normal pieces over d dimensions."""

    weights: Array
    means: Array
    """(K, d)."""
    covariances: Array
    """(K, d, d)."""

    @cached_property
    def roots(self) -> Array:
        """(K, d, d) by Cholesky."""
        return np.asarray(np.linalg.cholesky(self.covariances))

    @cached_property
    def unroots(self) -> Array:
        """(K, d, d) their inverses."""
        return np.asarray(np.linalg.inv(self.roots))


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
    total = factor * d.after.astype(q.dtype)[:, None]
    total += d.before.astype(q.dtype)[:, None]
    if d.blended.any():
        total += d.blended.astype(q.dtype)[:, None] * kappa
    reached = np.zeros((len(log_m) + 1, len(kappa)), dtype=q.dtype)  # the last: NOT_KEYED_UP
    np.exp(log_m, out=reached[:-1])
    given = reached[rows.to]
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


def _rate(rows: Rows, view: _View, first: int | None = None) -> Array:
    """dE/dt of the first so many rows or of all, (m, n)."""
    one = view.factor.dtype.type(1.0)
    after, blending = rows.dose.after[:first, None], rows.dose.blending[:first, None]
    rate = np.where(after > 0.0, view.factor[:first], one)
    if blending.any():
        rate += blending.astype(rate.dtype) * view.kappa
    return np.asarray(rate)


def log_likelihood(fit: Fit, rows: Rows, q: Array, often: Array | None = None) -> Array:
    """(n,) of states q (d, n); rows tapped come first. ``often``: how often each row was seen."""
    view = _view(rows, q)
    tapped, one = int(rows.tapped.sum()), q.dtype.type
    each = np.empty_like(view.e)
    if tapped:
        speed = _rate(rows, view, tapped) / view.total[:tapped]
        v = (speed * rows.unsure[:tapped, None].astype(q.dtype)) ** 2 + one(fit.sd.noise**2)
        logs = likelihood.log_tapped(view.e[:tapped], v, fit.priors.tail, true=True)
        each[:tapped] = logs + np.log(speed)
    if tapped < len(each):
        floor = rows.floor[tapped:].astype(q.dtype)[:, None]
        each[tapped:] = likelihood.log_not_tapped(view.e[tapped:], fit.sd.noise, floor)
    return np.asarray(each.sum(axis=0) if often is None else often.astype(q.dtype) @ each)


def _slopes(
    fit: Fit, rows: Rows, q: Array, often: Array | None = None
) -> tuple[Array, Array, Array]:
    """The log-likelihood (n,), its gradient (n, d) and Gauss-Newton information (n, d, d)."""
    view, noise = _view(rows, q), fit.sd.noise
    tapped = int(rows.tapped.sum())
    rate = _rate(rows, view, tapped)
    J, by_speed = _by_state(rows, q, view, rate)
    logs, by_e, curvature = (np.empty_like(view.e) for _ in range(3))
    e, speed = view.e[:tapped], rate / view.total[:tapped]
    widened = (rows.unsure[:tapped, None] * speed) ** 2
    v = noise**2 + widened
    logs[:tapped] = likelihood.log_tapped(e, v, fit.priors.tail, true=True) + np.log(speed)
    by_e[:tapped], curvature[:tapped], by_rate = likelihood.tapped_slopes(
        e, v, widened, fit.priors.tail, true=True
    )
    missed = likelihood.not_tapped_slopes(view.e[tapped:], noise, rows.floor[tapped:, None])
    by_e[tapped:], curvature[tapped:], logs[tapped:] = missed.by_e, missed.curvature, missed.log
    if often is not None:
        for each in (logs, by_e, curvature):
            each *= often[:, None]
        by_rate = by_rate * often[:tapped, None]
    gradient = np.einsum("mn,mnd->nd", by_e, J) + np.einsum("mn,mnd->nd", by_rate, by_speed)
    information = J.transpose(1, 2, 0) * curvature.T[:, None, :] @ J.transpose(1, 0, 2)
    return logs.sum(axis=0), gradient, information


def _by_state(rows: Rows, q: Array, view: _View, rate: Array) -> tuple[Array, Array]:
    """Derivatives of e (m, n, d), and of log(rate / E) of the rows tapped, whose ``rate`` it is."""
    n, tapped = q.shape[1], len(rate)
    given = view.given / view.total
    gaps = (np.exp(q[GAPS]) * np.exp(q[SPREAD])).T
    place = STEPS @ gaps.T
    own = own_part(*_af(rows, q))[rows.lot]
    of_lot = (rows.lot[:, None] == np.arange(len(q) - AF))[:, None, :]
    E = np.zeros((len(rows.lot), n, len(q)))  # of log E
    E[..., RATE], E[..., LIGHT] = -given, given
    E[..., GAPS] = given[..., None] * STEPS[rows.to][:, None, :] * gaps
    E[..., SPREAD] = given * place[rows.to]
    E[..., KAPPA] = view.kappa * rows.dose.blended[:, None] / view.total
    E[..., AF:] = (own * rows.dose.after[:, None] / view.total)[..., None] * of_lot
    by_speed = -E[:tapped]
    by_speed[..., KAPPA] += view.kappa * rows.dose.blending[:tapped, None] / rate
    scented = own[:tapped] / rate * (rows.dose.after[:tapped, None] > 0.0)
    by_speed[..., AF:] += scented[..., None] * of_lot[:tapped]
    J = E  # e = log E - log m
    J[..., RATE] += 1.0
    J[..., LIGHT] -= 1.0
    J[..., GAPS] -= STEPS[rows.milestone][:, None, :] * gaps
    J[..., SPREAD] -= place[rows.milestone]
    return J, by_speed


GAINS, LOST = 0.1, 20.0
"""A mode is found where a step is to gain less of its log posterior (draws from a little beside it
are as good), or where its piece stays so far below the best that nothing is drawn from it."""
LEAST = 1e-4
"""Share of the draws below which a piece gets none."""


def laplace(
    fit: Fit, prior: Pieces, rows: Rows, often: Array | None = None, rounds: int = 12
) -> Pieces:
    """The mode of each piece that counts, all at once; weights by Laplace's evidence."""
    precision = np.linalg.inv(prior.covariances)

    def seen_from(q: Array) -> tuple[Array, Array, Array]:
        value, gradient, information = _slopes(fit, rows, q.T, often)
        away = q - prior.means
        pull = (precision @ away[..., None])[..., 0]
        return value - 0.5 * (away * pull).sum(axis=1), gradient - pull, precision + information

    q = prior.means.copy()
    best, slope, information = seen_from(q)
    scale = np.ones(len(q))
    for _ in range(rounds):
        step = np.linalg.solve(information, slope[..., None])[..., 0]
        gain = 0.5 * (slope * step).sum(axis=1)
        step *= np.minimum(scale, 1.0 / np.maximum(np.abs(step).max(axis=1), 1e-12))[:, None]
        if np.all((gain < GAINS) | (best + gain < best.max() - LOST)):
            q, best = q + 0.5 * step, best + 0.75 * gain  # half of it needs no look
            break
        reached, slope_there, information_there = seen_from(q + step)
        better = reached >= best
        q[better] += step[better]
        slope[better], information[better] = slope_there[better], information_there[better]
        best, scale = np.maximum(best, reached), np.where(better, 1.0, 0.4 * scale)
    evidence = best + 0.5 * (np.linalg.slogdet(precision)[1] - np.linalg.slogdet(information)[1])
    weights = prior.weights * np.exp(evidence - evidence.max())
    counts = weights > LEAST * weights.sum()
    weights, q, information = weights[counts], q[counts], information[counts]
    return Pieces(weights / weights.sum(), q, np.asarray(np.linalg.inv(information)))


def log_density(q: Array, pieces: Pieces, tail: float = np.inf) -> Array:
    """(n,) log density at q (d, n) of a mixture of normal or, with ``tail``, t pieces."""
    d = len(q)
    logs = np.empty((len(pieces.weights), q.shape[1]), dtype=q.dtype)
    for k, unroot in enumerate(pieces.unroots.astype(q.dtype)):
        z = unroot @ (q - pieces.means[k].astype(q.dtype)[:, None])
        z *= z
        square = z.sum(axis=0)
        scale = log(max(pieces.weights[k], 1e-300)) + float(np.log(np.diag(unroot)).sum())
        if np.isinf(tail):
            logs[k] = scale - 0.5 * d * log(2.0 * pi) - 0.5 * square
        else:
            scale += lgamma((tail + d) / 2.0) - lgamma(tail / 2.0) - 0.5 * d * log(tail * pi)
            logs[k] = scale - 0.5 * (tail + d) * np.log1p(square / tail)
    return _log_sum(logs)


def _log_sum(logs: Array) -> Array:
    """(n,) log of the summed exponentials of ``logs`` (k, n)."""
    most = logs.max(axis=0)
    return np.asarray(most + np.log(np.exp(logs - most).sum(axis=0)))


def place(z: Array, pieces: Pieces) -> Array:
    """Standard draws z (d, n) moved to the pieces, to each its share of them in turn."""
    n = z.shape[1]
    ends = np.rint(np.cumsum(pieces.weights) / pieces.weights.sum() * n).astype(int)
    q, start = np.empty_like(z), 0
    for mean, root, end in zip(pieces.means, pieces.roots, ends, strict=True):
        q[:, start:end] = root.astype(z.dtype) @ z[:, start:end]
        q[:, start:end] += mean.astype(z.dtype)[:, None]
        start = end
    return q


BLOCK = 2000
"""Draws weighed at once: what is worked out of so many stays near the processor."""


def posterior_draws(
    fit: Fit, prior: Pieces, rows: Rows, n: int, seed: int, thinned: int = 1
) -> Array:
    """(d, n / ``thinned``) equally weighted states out of n. Single precision inside: 1e-6 of a log
    time is nothing."""
    z, heavy = _standard(seed, prior.means.shape[1], n)
    if not len(rows.lot):
        return place(z, prior)[:, ::thinned].astype(np.float64)
    rows, often = put_together(rows)
    around = laplace(fit, prior, rows, often)
    plain = n // 4
    q = np.concatenate([place(z[:, :plain], prior), place(heavy[:, plain:], around)], 1)

    def log_weight(q: Array) -> Array:
        log_prior = log_density(q, prior)
        near = log(1.0 - plain / n) + log_density(q, around, TAIL)
        proposal = _log_sum(np.stack([log(plain / n) + log_prior, near]))
        return log_likelihood(fit, rows, q, often) + log_prior - proposal

    logs = np.concatenate([log_weight(q[:, i : i + BLOCK]) for i in range(0, n, BLOCK)])
    weight = np.cumsum(np.exp(logs - logs.max()), dtype=np.float64)
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
