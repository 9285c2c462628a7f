"""How many times faster, drawn on an axis of text: a dot a batch, a bar for what is expected next.

The axis is logarithmic: twice as fast is as far from once as four times from twice.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import log

from soapbench.outlook.finishing import Quantiles

LOW, HIGH = 0.6, 16.0
"""Ends of the axis; what lies beyond is drawn at its end."""
TICKS = (0.7, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0)
GOOD, BAD = "●", "○"


def place(factor: float, width: int) -> int:
    """The column of ``factor`` on an axis of ``width`` columns."""
    share = log(max(factor, LOW) / LOW) / log(HIGH / LOW)
    return min(round(share * (width - 1)), width - 1)


def scale(width: int) -> str:
    """The axis' numbers, as many as fit."""
    line = [" "] * width
    free_from = 0
    for tick in TICKS:
        words = f"{tick:g}x"
        at = place(tick, width)
        if at >= free_from and at + len(words) <= width:
            line[at : at + len(words)] = words
            free_from = at + len(words) + 1
    return "".join(line)


def bar(expected: Quantiles, width: int) -> str:
    """Four of five between the ends of the bar, half on either side of its mark."""
    line = [" "] * width
    low, high = place(expected.p10, width), place(expected.p90, width)
    line[low : high + 1] = "━" * (high - low + 1)
    line[place(expected.p50, width)] = "◆"
    return "".join(line)


def dots(batches: Iterable[tuple[float, bool]], width: int) -> str:
    """A dot a batch, filled where the swirl worked out; one that has no room goes beside."""
    line = [" "] * width
    for factor, worked_out in sorted(batches):
        at = place(factor, width)
        free = [x for x in range(width) if line[x] == " "]
        if free:
            line[min(free, key=lambda x: abs(x - at))] = GOOD if worked_out else BAD
    return "".join(line)
