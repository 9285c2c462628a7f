"""Cure: what a batch's weighings say about how it dries, and when it will be about dry.

Loss is taken to slow down exponentially, m(t) = m0 (1 - a (1 - exp(-t / tau))), fitted by least
squares. What dries off is water, so ``a`` is never more than the water's share of the batter
(mass balance). Times are days since the first weighing, masses g.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from soapbench.words.curing import heavier, too_light

Array = NDArray[np.float64]

LEAST_WEIGHINGS = 3
"""As many as the curve has unknowns; below that only common practice can be told."""
TAU_DAYS = (0.5, 120.0)
"""Time constants that are looked for (ours)."""
SCALE_G = 1.0
"""What a kitchen scale is good for: the least a weighing is taken to be off by (ours)."""
EIGHTY_PERCENT = 1.6424
"""Chi-squared, one degree of freedom, 80 %: how far the misfit may rise within the range told."""


@dataclass(frozen=True, slots=True)
class Weighing:
    """The same bars on the scale, ``day`` days after the first time."""

    day: float
    g: float


@dataclass(frozen=True, slots=True)
class LossCurve:
    """A fitted curve. ``taus``: the time constants that fit nearly as well (80 %)."""

    start_g: float
    share: float
    """Of ``start_g`` that will have dried off in the end; at most the water's share."""
    tau_days: float
    misfit: float
    """Sum of squares, g²."""
    weighings: int
    water_share: float
    taus: tuple[_Fitted, _Fitted]
    """The quickest and the slowest drying that the weighings allow."""

    def g_at(self, day: float) -> float:
        return self.start_g * (1 - self.share * -math.expm1(-day / self.tau_days))

    @property
    def loss_g(self) -> float:
        """In the end, g."""
        return self.start_g * self.share

    def dry_day(self, to_go: float) -> float:
        """The day on which no more than ``to_go`` of the bar's first mass is still to be lost."""
        return _dry_day(self.share, self.tau_days, to_go)

    def dry_days(self, to_go: float) -> tuple[float, float]:
        """That day at its earliest and latest."""
        days = [_dry_day(end.share, end.tau_days, to_go) for end in self.taus]
        days.append(self.dry_day(to_go))
        return min(days), max(days)


@dataclass(frozen=True, slots=True)
class _Fitted:
    """The best curve with one time constant."""

    tau_days: float
    start_g: float
    share: float
    misfit: float


def _dry_day(share: float, tau: float, to_go: float) -> float:
    return tau * math.log(share / to_go) if share > to_go else 0.0


def loss_curve(
    weighings: Sequence[Weighing], water_share: float, scale_g: float = SCALE_G
) -> LossCurve | None:
    """The curve through ``weighings``; None for fewer than three, or all on one day.

    ``water_share``: water in the batter as poured, 0 to 1, the most that can dry off.
    """
    days = np.array([w.day for w in weighings], dtype=np.float64)
    grams = np.array([w.g for w in weighings], dtype=np.float64)
    if len(weighings) < LEAST_WEIGHINGS or len(set(days.tolist())) < LEAST_WEIGHINGS:
        return None
    grid = np.geomspace(*TAU_DAYS, 241)
    fits = _fits(days, grams, grid, water_share)
    best = int(np.argmin(fits.misfit))
    nearest = fits.at(best)
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    for _ in range(4):  # each round narrows the time constant tenfold and more
        finer = np.geomspace(low, high, 33)
        closer = _fits(days, grams, finer, water_share)
        best = int(np.argmin(closer.misfit))
        nearest = min(nearest, closer.at(best), key=lambda fit: fit.misfit)
        low, high = finer[max(best - 1, 0)], finer[min(best + 1, len(finer) - 1)]
    freedom = len(weighings) - LEAST_WEIGHINGS
    spread2 = max(scale_g**2, nearest.misfit / freedom if freedom else 0.0)
    near = np.flatnonzero(fits.misfit <= nearest.misfit + EIGHTY_PERCENT * spread2)
    ends = (fits.at(int(near[0])), fits.at(int(near[-1]))) if len(near) else (nearest, nearest)
    return LossCurve(
        nearest.start_g,
        nearest.share,
        nearest.tau_days,
        nearest.misfit,
        len(weighings),
        water_share,
        ends,
    )


@dataclass(frozen=True, slots=True)
class _Fits:
    """The best curve with each of n time constants, (n,) each."""

    tau: Array
    start: Array
    share: Array
    misfit: Array

    def at(self, i: int) -> _Fitted:
        return _Fitted(*(float(v[i]) for v in (self.tau, self.start, self.share, self.misfit)))


def _fits(days: Array, grams: Array, taus: Array, most: float) -> _Fits:
    """Least squares in start and share for each time constant, 0 <= share <= ``most``.

    In start and loss the problem is convex with a wedge for its bounds, so where the best of all
    lies outside, the best lies on one of the two edges.
    """
    gone = -np.expm1(-days[None, :] / taus[:, None])
    mean, middle = gone.mean(axis=1), float(grams.mean())
    spread = ((gone - mean[:, None]) ** 2).sum(axis=1)
    loss = -((gone - mean[:, None]) * (grams - middle)).sum(axis=1) / np.maximum(spread, 1e-300)
    start = middle + loss * mean
    shares = [np.clip(loss / np.where(start > 0, start, 1.0), 0.0, most)]
    shares[0] = np.where(start > 0, shares[0], 0.0)
    shares += [np.zeros_like(taus), np.full_like(taus, most)]
    best: _Fits | None = None
    for share in shares:
        shape = 1 - share[:, None] * gone
        fitted = (shape * grams).sum(axis=1) / (shape**2).sum(axis=1)
        misfit = ((fitted[:, None] * shape - grams) ** 2).sum(axis=1)
        if best is None:
            best = _Fits(taus, fitted, share, misfit)
        else:
            better = misfit < best.misfit
            best = _Fits(
                taus,
                np.where(better, fitted, best.start),
                np.where(better, share, best.share),
                np.where(better, misfit, best.misfit),
            )
    assert best is not None
    return best


def doubts(weighings: Sequence[Weighing], water_share: float) -> tuple[str, ...]:
    """What cannot be right about these weighings, in words; empty when nothing is odd."""
    odd = []
    for before, after in pairwise(weighings):
        if after.g > before.g + 2 * SCALE_G:
            odd.append(heavier(after.g, before.g))
    if weighings:
        first = weighings[0].g
        least = first * (1 - water_share) - 2 * SCALE_G
        low = min(w.g for w in weighings)
        if low < least:
            odd.append(too_light(low, first, first * water_share))
    return tuple(odd)
