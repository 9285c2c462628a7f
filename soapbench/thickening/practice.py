"""How late a maker taps, by rehearsals at life speed: the truth is known there."""

from __future__ import annotations

from collections.abc import Sequence
from math import log

COUNTS = 4.0
"""How many taps of a pour all those of rehearsals are worth at most: a screen is read sooner or
later than a pot (ours)."""
FEWEST, LATEST = 6, 40
"""So many taps must have been rehearsed, and so many of the latest count: habits change (ours)."""
OVERLOOKED_S = 90.0
"""Tapped later than this, a state had been overlooked, and that is no lateness; so much too early,
keys were only tried (ours)."""


def practised(delay: float, late_s: Sequence[float]) -> float:
    """Log-likelihood of a mean delay of taps, s, that come exponentially late; 0 of too few.

    ``late_s``: how late each tap came, oldest first; below 0: too early.
    """
    late = [max(s, 0.0) for s in late_s if abs(s) <= OVERLOOKED_S][-LATEST:]
    if len(late) < FEWEST:
        return 0.0
    return -min(len(late), COUNTS) * (log(delay) + sum(late) / len(late) / delay)
