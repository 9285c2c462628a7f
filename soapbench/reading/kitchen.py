"""Volumes in spoons and cups, and parts of a whole that add up when they are rounded."""

from __future__ import annotations

import math
from collections.abc import Sequence

from soapbench.reading.units import KITCHEN_US


def kitchen(ml: float, measures: tuple[tuple[str, float], ...] = KITCHEN_US) -> str:
    """Kitchen measures nearest to ``ml``, to a quarter teaspoon: "2 cups + 3 tbsp + 1¼ tsp".

    Rounding is done once, on the smallest measure, so the parts add up to the whole.
    """
    quarters = round(ml / (measures[-1][1] / 4))
    parts = []
    for name, size in measures:
        each = round(size / (measures[-1][1] / 4))
        count, quarters = divmod(quarters, each) if name != measures[-1][0] else (quarters / 4, 0)
        if count:
            several = "s" if name == "cup" and count > 1 else ""
            parts.append(f"{_mixed(float(count))} {name}{several}")
    return " + ".join(parts) or f"0 {measures[-1][0]}"


def _mixed(count: float) -> str:
    whole, part = divmod(count, 1)
    sign = {0.25: "¼", 0.5: "½", 0.75: "¾"}.get(part, "")
    return f"{int(whole) if whole or not sign else ''}{sign}"


def whole_parts(parts: Sequence[float], step: float = 1.0) -> tuple[float, ...]:
    """``parts`` as multiples of ``step`` that add up to their sum rounded to ``step``.

    Largest remainders are rounded up first, so no part is off by a whole step. Parts are >= 0.
    """
    steps = [part / step for part in parts]
    floors = [math.floor(s) for s in steps]
    left = round(sum(steps)) - sum(floors)
    by_remainder = sorted(range(len(steps)), key=lambda i: floors[i] - steps[i])
    up = set(by_remainder[:left])
    return tuple((floor + (i in up)) * step for i, floor in enumerate(floors))


def kitchen_parts(
    mls: Sequence[float], measures: tuple[tuple[str, float], ...] = KITCHEN_US
) -> tuple[str, ...]:
    """Volumes in kitchen measures, to the quarter teaspoon, that add up to the kitchen total."""
    return tuple(kitchen(ml, measures) for ml in whole_parts(mls, measures[-1][1] / 4))
