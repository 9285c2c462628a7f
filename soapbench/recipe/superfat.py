"""Superfat: what part of the oils the lye leaves alone, as far as the oils' ranges let it be known.

Of the whole batch, and of each pot: marbled colours do not even out, so a pot with less oil than
its share is lye-heavy whatever the batch as a whole comes to.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

NINE_IN_TEN = 1.2815515655446004
"""Normal quantile of 90 %."""
WORST = -9.0
"""Nothing is told below: lye without oil has no superfat."""


@dataclass(frozen=True, slots=True)
class Superfat:
    """Shares of the oils left over; below 0 there is lye left over."""

    mid: float
    """At the middle of every oil's range."""
    range: tuple[float, float]
    """Worst case: every oil at the same end of its range."""
    spread: tuple[float, float]
    """10 to 90 % if each oil lies anywhere in its range, independently of the others."""


@dataclass(frozen=True, slots=True)
class Fat:
    """Some of one oil; two lots of one name are one oil, with one value."""

    name: str
    g: float
    saponification: tuple[float, float]
    """Low and high, mg KOH/g."""


def superfat_of(fats: Iterable[Fat], koh_g: float) -> Superfat:
    """Superfat of these oils with alkali that would do the work of ``koh_g`` of pure KOH.

    The spread is that of a sum of uniform ranges: a normal quantile, flattened by the sum's
    excess kurtosis (Cornish-Fisher), which is exact to 1 % of the range even for a single oil.
    """
    by_name: dict[str, tuple[float, float]] = {}
    for fat in fats:
        low, high = by_name.get(fat.name, (0.0, 0.0))
        least, most = fat.saponification
        by_name[fat.name] = (low + fat.g * least / 1000, high + fat.g * most / 1000)
    low, high = (sum(ends[i] for ends in by_name.values()) for i in (0, 1))
    mid = (low + high) / 2
    widths = [most - least for least, most in by_name.values()]
    variance = sum(width**2 for width in widths) / 12
    half = 0.0
    if variance:
        kurtosis = -1.2 * sum(width**4 for width in widths) / sum(width**2 for width in widths) ** 2
        z = NINE_IN_TEN + (NINE_IN_TEN**3 - 3 * NINE_IN_TEN) * kurtosis / 24
        half = z * math.sqrt(variance)

    def left(need_g: float) -> float:
        if koh_g <= 0:
            return 1.0
        return max(1 - koh_g / need_g, WORST) if need_g > 0 else WORST

    return Superfat(left(mid), (left(low), left(high)), (left(mid - half), left(mid + half)))
