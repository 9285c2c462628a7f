"""A line of a screen as pieces of text, each with a word for how it is drawn.

The trade can make such lines without knowing a toolkit: a screen gives the words their colours,
plain text leaves them out. No meaning hangs on a colour alone.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple


class Piece(NamedTuple):
    """``ink``: words such as "strong" or "bad reverse", or a colour "#rrggbb" among them."""

    text: str
    ink: str = ""


Line = tuple[Piece, ...]


def plain(line: Line) -> str:
    return "".join(piece.text for piece in line)


def cells(text: str) -> int:
    """Columns ``text`` takes in a terminal: wide signs take two, combining marks none."""
    return len(text) if text.isascii() else _cells(text)


@lru_cache(maxsize=4096)
def _cells(text: str) -> int:
    """Lines are drawn every second, most of them as they were."""
    return sum(
        0 if unicodedata.combining(c) else 1 + (unicodedata.east_asian_width(c) in "WF")
        for c in text
    )


def cut(text: str, width: int) -> str:
    """``text`` in at most ``width`` columns; what is left out is told by an ellipsis."""
    if cells(text) <= width:
        return text
    kept = ""
    for c in text:
        if cells(kept + c) > width - 1:
            break
        kept += c
    return f"{kept.rstrip()}…" if width > 0 else ""


def fit(text: str, width: int) -> str:
    """``text`` in exactly ``width`` columns."""
    shown = cut(text, width)
    return shown + " " * (width - cells(shown))


def cut_line(line: Iterable[Piece], width: int) -> Line:
    """The line in at most ``width`` columns, its last piece cut short."""
    kept: list[Piece] = []
    left = width
    for piece in line:
        if left <= 0:
            break
        needs = cells(piece.text)
        kept.append(piece if needs <= left else Piece(cut(piece.text, left), piece.ink))
        left -= needs
    return tuple(kept)


def spread(left: Line, right: Line, width: int) -> Line:
    """``left`` and ``right`` at the two ends of a line; the left gives way."""
    needs = cells(plain(right))
    if needs >= width:
        return cut_line(right, width)
    left = cut_line(left, width - needs - 1)
    gap = width - needs - cells(plain(left))
    return (*left, Piece(" " * gap), *right)


def short_names(names: Sequence[str], width: int) -> tuple[str, ...]:
    """Each name in at most ``width`` columns, and no two of them alike that were not before.

    Names with a common beginning are cut in their middle: "dark red wine" and "dark red rust"
    become "dark…wine" and "dark…rust".
    """
    heads = [cut(name, width) for name in names]
    ends = [_middle_cut(name, width) for name in names]
    shown = [e if heads.count(h) > 1 else h for h, e in zip(heads, ends, strict=True)]
    digits = len(str(len(names)))
    numbered = [f"{cut(n, width - digits).rstrip('…')}{i + 1}" for i, n in enumerate(names)]
    return tuple(
        n if shown.count(s) > 1 and cells(n) <= width else s
        for s, n in zip(shown, numbered, strict=True)
    )


def _middle_cut(name: str, width: int) -> str:
    half = (width - 1) // 2
    if half < 1 or cells(name) <= width:
        return cut(name, width)
    middle = f"{cut(name, half + 1).rstrip('…')}…{name[-half:]}"
    return middle if cells(middle) <= width else cut(name, width)
