"""A face in terminal cells: half blocks in true colour, or signs where there is no colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapbench.barface.draw import AIR, Bytes
from soapbench.words.signs import LETTERS, pattern

UPPER, LOWER = "▀", "▄"


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring cells that look alike. Colours are '#rrggbb'; None: the terminal's own."""

    text: str
    fg: str | None
    bg: str | None


@dataclass(frozen=True, slots=True)
class PotRun:
    """Neighbouring cells of one pot; ``pot`` None is air."""

    text: str
    pot: int | None


def half_blocks(rgb: Bytes, cover: Bytes | None = None) -> list[list[Run]]:
    """Lines of runs, two pixel rows a line: (h, w, 3) to (h + 1) // 2 lines.

    ``cover`` (h, w): pixels less than half soap are left to the terminal's background.
    """
    high, wide, _ = rgb.shape
    wholly = rgb.astype(np.int64) @ np.array([65536, 256, 1])
    if cover is not None:
        wholly = np.where(cover < 128, -1, wholly)
    if high % 2:
        wholly = np.vstack([wholly, np.full((1, wide), -1)])
    lines = []
    for top, bottom in zip(wholly[::2], wholly[1::2], strict=True):
        both = top * 2**25 + bottom
        starts = np.flatnonzero(np.concatenate([[True], both[1:] != both[:-1]]))
        ends = np.append(starts[1:], wide)
        lines.append(
            [
                _half_block(int(top[a]), int(bottom[a]), int(b - a))
                for a, b in zip(starts, ends, strict=True)
            ]
        )
    return lines


def _half_block(top: int, bottom: int, n: int) -> Run:
    if top < 0:
        return Run(" " * n, None, None) if bottom < 0 else Run(LOWER * n, f"#{bottom:06x}", None)
    return Run(UPPER * n, f"#{top:06x}", None if bottom < 0 else f"#{bottom:06x}")


def pattern_cells(
    pots: Bytes, patterns: Sequence[int] | None = None, letters: bool = False
) -> list[list[PotRun]]:
    """Lines of runs for a terminal without colour, two pixel rows a line.

    ``patterns`` gives each pot its place in PATTERNS (its own index when left out); ``letters``
    shows A, B, C … instead. The upper pixel of each cell decides.
    """
    wide = pots.shape[1]
    lines = []
    for row in pots[::2]:
        starts = np.flatnonzero(np.concatenate([[True], row[1:] != row[:-1]]))
        ends = np.append(starts[1:], wide)
        lines.append(
            [
                _pot_run(int(row[a]), int(b - a), patterns, letters)
                for a, b in zip(starts, ends, strict=True)
            ]
        )
    return lines


def _pot_run(pot: int, n: int, patterns: Sequence[int] | None, letters: bool) -> PotRun:
    if pot == AIR:
        return PotRun(" " * n, None)
    if letters:
        return PotRun(LETTERS[pot % len(LETTERS)] * n, pot)
    return PotRun(pattern(pot if patterns is None else patterns[pot]) * n, pot)
