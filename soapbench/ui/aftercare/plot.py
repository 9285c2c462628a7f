"""A small curve drawn in braille dots, with marks for what was measured."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from soapbench.aftercare.cure import LossCurve, Weighing
from soapbench.words import numbers

# Dots of a braille cell by column and row, as offsets from U+2800 (Unicode block "Braille
# Patterns").
_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
MARK = "o"


def loss_lines(
    weighed: Sequence[Weighing], curve: LossCurve | None, wide: int, high: int
) -> list[str]:
    """Mass over days as ``high`` lines of ``wide`` characters, scales left and below included."""
    if len(weighed) < 2 or wide < 24 or high < 4:
        return []
    grams = [w.g for w in weighed]
    if curve is not None:
        grams += [curve.start_g, curve.start_g - curve.loss_g]
    most, least = max(grams), min(grams)
    days = max(weighed[-1].day * 1.6, 7.0)
    label = max(len(f"{most:,.0f}"), len(f"{least:,.0f}")) + 3
    across, up = wide - label, high - 1

    def row(g: float) -> float:
        return (most - g) / ((most - least) or 1.0)

    cells = _curve(curve.g_at if curve else None, row, days, across, up)
    for one in weighed:
        x = min(round(one.day / days * (across - 1)), across - 1)
        cells[min(round(row(one.g) * (up - 1)), up - 1)][x] = MARK
    scale = {0: numbers.g(most, 0), up - 1: numbers.g(least, 0)}
    lines = [f"{scale.get(y, ''):>{label - 1}}│" + "".join(cells[y]) for y in range(up)]
    end = f"{days:.0f} days"
    return [*lines, " " * (label - 1) + "└0" + "─" * (across - 1 - len(end)) + end]


def _curve(
    g_at: Callable[[float], float] | None,
    row: Callable[[float], float],
    days: float,
    across: int,
    up: int,
) -> list[list[str]]:
    bits = [[0] * across for _ in range(up)]
    if g_at is not None:
        last = None
        for x in range(across * 2):
            y = min(
                max(round(row(g_at(x / (across * 2 - 1) * days)) * (up * 4 - 1)), 0), up * 4 - 1
            )
            for dot in range(min(y, y if last is None else last), y + 1):
                bits[dot // 4][x // 2] |= _DOTS[x % 2][dot % 4]
            last = y
    return [[chr(0x2800 + b) if b else " " for b in line] for line in bits]
