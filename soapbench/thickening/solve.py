"""The solver: MAP by Gauss-Newton, EM for the spreads and for the mixture of fragrances.

Unknowns are theta = (coefficients, log kappa, log light, log gaps), one log AF for each lot and
one for each fragrance, and two effects for each batch: its log rate and the spread of its
milestones. Batch effects and lots are eliminated, so that only theta and the fragrances are
solved for densely.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple, dataclass

import numpy as np
import numpy.typing as npt

from soapbench.thickening.equations import Equations, Pairs, equations, pairs_of
from soapbench.thickening.evidence import Rows
from soapbench.thickening.priors import Component
from soapbench.thickening.sightings import Spreads, Unknowns, look

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

Pull = Callable[[Array, Array], tuple[Array, Array]]
"""From the fragrances' log AF and their variances to the (mean, precision) of the normal prior
that a mixture amounts to near there: the E step of the mixture."""

LONGEST_STEP = 1.5
"""On the log scale; keeps a first step from a poor start within reason."""
SURE_STEP = 0.3
"""A shorter step is taken unseen: there the quadratic is good."""
CREEP = 0.4
"""What a fragrance's last move counts: one that lies between two beliefs creeps from one to the
other, round after round, by steps far smaller than what is known of it."""

SLOWLY = (0.5, 0.95)
"""Each step of a spread against the one before, where it comes slowly and steadily."""
LONGEST_LEAP = 0.3


@dataclass(frozen=True, slots=True)
class Setting:
    """What is believed and held fixed while solving."""

    mean: Array
    """(p + 6,) of theta."""
    precision: Array
    """(p + 6,) of theta; 0 is a flat prior."""
    batch: Component
    spread: Component
    lot: Component
    noise: Component
    fragrance_of: Index
    """(L,) which fragrance each lot is of."""
    pull: Pull
    tail: float = np.inf
    batch_tail: float = np.inf


@dataclass(frozen=True, slots=True)
class Solution:
    """The mode, and what the data say around it with the batch effects integrated out."""

    at: Unknowns
    sd: Spreads
    covariance: Array
    """(p + 6 + F) square: of theta and fragrances, lots integrated out."""
    data: Equations
    """At the mode."""
    rounds: int


def lot_sd(sd: float, log_af: Array) -> Array:
    """Lot to lot spread of a fragrance: a strong accelerator varies more."""
    return np.asarray(sd * np.sqrt(1.0 + log_af**2))


def solve(
    rows: Rows,
    n_batches: int,
    setting: Setting,
    rounds: int = 60,
    tolerance: float = 1e-3,
    start: Solution | None = None,
) -> Solution:
    """Find the mode and the spreads. ``tolerance``: the largest last move, log scale.

    ``start``: the solution of something very like it.
    """
    of, n_lots = setting.fragrance_of, len(setting.fragrance_of)
    size, n_fragrances = len(setting.mean), int(of.max(initial=-1)) + 1
    sd = Spreads(setting.batch.sd, setting.spread.sd, setting.lot.sd, setting.noise.sd)
    variance = np.ones(n_fragrances)
    guess = setting.pull(np.full(n_fragrances, 0.5), variance)[0]
    none = np.zeros(n_batches)
    at, pairs = Unknowns(setting.mean, guess[of], guess, none, none), pairs_of(rows, n_lots)
    if start is not None:
        at, sd = start.at, start.sd
        variance = np.maximum(np.diag(start.covariance)[size:], 1e-6)
    done, moved, trust, grown = 0, np.inf, np.ones(n_batches), np.zeros(len(astuple(sd)))
    while done < rounds and moved >= tolerance:
        done += 1
        pulled = setting.pull(at.fragrances, variance)
        view = look(rows, at, sd.noise, setting.tail)
        data = equations(rows, at, sd, view, pairs, setting.tail, trust)
        covariance, step = _step(setting, data, pairs, at, sd, pulled)
        creep = float(np.abs(step.fragrances).max(initial=0.0))
        longest = max(float(np.abs(step.theta).max()), creep, 1e-12)
        scale = min(1.0, LONGEST_STEP / longest)
        if longest > SURE_STEP:
            before = view.loglik + _log_prior(at, setting, sd, pulled, trust)
            for _ in range(8):
                there = _moved(at, step, scale)
                reached = look(rows, there, sd.noise, setting.tail).loglik
                if reached + _log_prior(there, setting, sd, pulled, trust) >= before - 1e-9:
                    break
                scale *= 0.5
        at = _moved(at, step, scale)
        variance = np.maximum(np.diag(covariance)[size:], 1e-6)
        learned = _learn(setting, data, at, sd, variance, trust)
        growth = np.log(np.array(astuple(learned)) / np.array(astuple(sd)))
        far = max(float(np.abs(step.theta).max()), CREEP * creep)
        moved = max(scale * far, float(np.abs(growth).max()))
        leaps = _leaps(growth, grown) if longest < SURE_STEP else np.zeros_like(growth)
        grown = np.where(leaps == 0.0, growth, 0.0)
        sd = Spreads(*(np.array(astuple(learned)) * np.exp(leaps)).tolist())
        if np.isfinite(setting.batch_tail):
            square = (at.rates**2 + data.inverse[:, 0, 0]) / sd.batch**2
            trust = (setting.batch_tail + 1.0) / (setting.batch_tail + square)
    view = look(rows, at, sd.noise, setting.tail)
    data = equations(rows, at, sd, view, pairs, setting.tail, trust)
    pulled = setting.pull(at.fragrances, variance)
    covariance, _ = _step(setting, data, pairs, at, sd, pulled)
    return Solution(at, sd, covariance, data, done)


def _leaps(growth: Array, before: Array) -> Array:
    """How far each spread is sure to go on, log scale: Aitken's sum of a geometric series.

    EM comes to a spread by steps each a little shorter than the one before, for dozens of rounds.
    """
    ratio = np.divide(growth, before, out=np.zeros_like(growth), where=before != 0.0)
    steady = (ratio > SLOWLY[0]) & (ratio < SLOWLY[1])
    ratio = np.where(steady, ratio, 0.0)
    return np.clip(growth * ratio / (1.0 - ratio), -LONGEST_LEAP, LONGEST_LEAP)


def log_evidence(rows: Rows, solution: Solution, tail: float) -> float:
    """Log-likelihood with the batch effects integrated out (Laplace), all else at its mode."""
    at, sd, n = solution.at, solution.sd, len(solution.at.rates)
    prior = ((at.rates / sd.batch) ** 2).sum() + ((at.spreads / sd.spread) ** 2).sum()
    prior += 2.0 * n * (np.log(sd.batch) + np.log(sd.spread))
    width = np.linalg.slogdet(solution.data.inverse)[1].sum()
    return float(look(rows, at, sd.noise, tail).loglik - 0.5 * prior + 0.5 * width)


def _step(
    setting: Setting,
    data: Equations,
    pairs: Pairs,
    at: Unknowns,
    sd: Spreads,
    pulled: tuple[Array, Array],
) -> tuple[Array, Unknowns]:
    """Covariance of (theta, fragrances) and the Newton step of everything."""
    of, size, n_fragrances = setting.fragrance_of, len(setting.mean), len(at.fragrances)
    holds = lot_sd(sd.lot, at.fragrances)[of] ** -2.0  # of a lot to its fragrance
    force = holds * (at.lots - at.fragrances[of])
    slope_lots = data.slope_lots - force
    within = data.lots + data.met + holds
    mean, precision = pulled

    def by_fragrance(what: Array) -> Array:
        return np.bincount(of, weights=what, minlength=n_fragrances).astype(np.float64)

    H = np.zeros((size + n_fragrances,) * 2)
    H[:size, :size] = data.theta + np.diag(setting.precision) - (data.tie / within) @ data.tie.T
    H[:size, size:] = np.array([by_fragrance(t * holds / within) for t in data.tie])
    H[size:, :size] = H[:size, size:].T
    H[size:, size:] = np.diag(by_fragrance(holds - holds**2 / within) + precision)
    slope = np.concatenate(
        [
            data.slope_theta
            - setting.precision * (at.theta - setting.mean)
            - data.tie @ (slope_lots / within),
            by_fragrance(force + holds * slope_lots / within) - precision * (at.fragrances - mean),
        ]
    )
    covariance: Array = np.asarray(np.linalg.inv(H))
    step = covariance @ slope
    theta, fragrances = step[:size], step[size:]
    lots = (slope_lots - data.tie.T @ theta + holds * fragrances[of]) / within
    effects = data.effects(theta, lots, pairs)
    return covariance, Unknowns(theta, lots, fragrances, effects[:, 0], effects[:, 1])


def _moved(at: Unknowns, step: Unknowns, scale: float) -> Unknowns:
    return Unknowns(
        *(getattr(at, name) + scale * getattr(step, name) for name in Unknowns.__slots__)
    )


def _log_prior(
    at: Unknowns, setting: Setting, sd: Spreads, pulled: tuple[Array, Array], trust: Array
) -> float:
    of = setting.fragrance_of
    lots = (at.lots - at.fragrances[of]) / lot_sd(sd.lot, at.fragrances)[of]
    return -0.5 * float(
        (setting.precision * (at.theta - setting.mean) ** 2).sum()
        + (trust * at.rates**2).sum() / sd.batch**2
        + (at.spreads**2).sum() / sd.spread**2
        + (lots**2).sum()
        + (pulled[1] * (at.fragrances - pulled[0]) ** 2).sum()
    )


def _learn(
    setting: Setting, data: Equations, at: Unknowns, sd: Spreads, variance: Array, trust: Array
) -> Spreads:
    """The M step of the standard deviations."""
    of = setting.fragrance_of
    holds = lot_sd(sd.lot, at.fragrances)[of] ** -2.0
    within = data.lots + holds
    lots = (at.lots - at.fragrances[of]) ** 2
    lots = lots + 1.0 / within + (data.lots / within) ** 2 * variance[of]

    def m_step(component: Component, square: float, count: float, old: float) -> float:
        total = component.pseudo_counts + count
        if np.isinf(total) or total <= 0.0:
            return old
        return float(np.sqrt((component.pseudo_counts * component.sd**2 + square) / total))

    n = len(at.rates)
    return Spreads(
        m_step(
            setting.batch, float((trust * (at.rates**2 + data.inverse[:, 0, 0])).sum()), n, sd.batch
        ),
        m_step(setting.spread, float((at.spreads**2 + data.inverse[:, 1, 1]).sum()), n, sd.spread),
        m_step(setting.lot, float((lots / (1.0 + at.fragrances[of] ** 2)).sum()), len(of), sd.lot),
        m_step(setting.noise, data.square, data.count, sd.noise),
    )
