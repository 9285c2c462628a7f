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
    fitted = [_with_tau(days, grams, float(tau), water_share) for tau in grid]
    best = min(range(len(fitted)), key=lambda i: fitted[i].misfit)
    found = _between(days, grams, water_share, grid[max(best - 1, 0)], grid[min(best + 1, 240)])
    freedom = len(weighings) - LEAST_WEIGHINGS
    spread2 = max(scale_g**2, found.misfit / freedom if freedom else 0.0)
    near = [f for f in fitted if f.misfit <= found.misfit + EIGHTY_PERCENT * spread2] or [found]
    return LossCurve(
        found.start_g,
        found.share,
        found.tau_days,
        found.misfit,
        len(weighings),
        water_share,
        (near[0], near[-1]),
    )


def _with_tau(days: Array, grams: Array, tau: float, most: float) -> _Fitted:
    """Least squares in start and loss, 0 <= loss <= ``most`` of the start; convex, so exact."""
    gone = -np.expm1(-days / tau)
    basis = np.column_stack([np.ones_like(days), -gone])
    (start, loss), *_ = np.linalg.lstsq(basis, grams, rcond=None)
    if not (start > 0 and 0 <= loss <= most * start):
        edges = []
        for share in (0.0, most):
            shape = 1 - share * gone
            edge = float(shape @ grams / (shape @ shape))
            edges.append((float(np.sum((edge * shape - grams) ** 2)), edge, edge * share))
        _, start, loss = min(edges)
    misfit = float(np.sum((start - loss * gone - grams) ** 2))
    return _Fitted(tau, float(start), float(loss / start), misfit)


def _between(days: Array, grams: Array, most: float, low: float, high: float) -> _Fitted:
    """The best time constant between two, by golden section in its logarithm."""
    ratio = (math.sqrt(5) - 1) / 2
    a, b = math.log(low), math.log(high)

    def at(x: float) -> _Fitted:
        return _with_tau(days, grams, math.exp(x), most)

    for _ in range(60):
        x, y = b - ratio * (b - a), a + ratio * (b - a)
        if at(x).misfit <= at(y).misfit:
            b = y
        else:
            a = x
    return at((a + b) / 2)


def doubts(weighings: Sequence[Weighing], water_share: float) -> tuple[str, ...]:
    """What cannot be right about these weighings, in words; empty when nothing is odd."""
    said = []
    for before, after in pairwise(weighings):
        if after.g > before.g + 2 * SCALE_G:
            said.append(
                f"{after.g:.0f} g after {before.g:.0f} g: soap gains nothing by itself. "
                "Damp air, or other bars?"
            )
    if weighings:
        first = weighings[0].g
        least = first * (1 - water_share) - 2 * SCALE_G
        low = min(w.g for w in weighings)
        if low < least:
            said.append(
                f"{low:.0f} g is less than {first:.0f} g without all its water "
                f"({first * water_share:.0f} g): other bars, or the scale?"
            )
    return tuple(said)
