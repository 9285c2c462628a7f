"""A small letter set of our own: letters and figures five dots high, drawn in block characters.

A dot is so many columns wide and so many half rows high, so that the same letters serve for an
act in three rows and for a time that fills the screen.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

DOTS = 5
"""Rows of dots of every letter."""
_WIDE = {
    "A": "111 101 111 101 101", "B": "110 101 110 101 110", "C": "111 100 100 100 111",
    "D": "110 101 101 101 110", "E": "111 100 111 100 111", "F": "111 100 111 100 100",
    "G": "111 100 101 101 111", "H": "101 101 111 101 101", "I": "1 1 1 1 1",
    "J": "001 001 001 101 111", "K": "101 101 110 101 101", "L": "100 100 100 100 111",
    "M": "10001 11011 10101 10001 10001", "N": "1001 1101 1011 1001 1001",
    "O": "111 101 101 101 111", "P": "111 101 111 100 100", "Q": "111 101 101 111 001",
    "R": "111 101 110 101 101", "S": "111 100 111 001 111", "T": "111 010 010 010 010",
    "U": "101 101 101 101 111", "V": "101 101 101 101 010", "W": "10001 10001 10101 11011 10001",
    "X": "101 101 010 101 101", "Y": "101 101 010 010 010", "Z": "111 001 010 100 111",
    "0": "111 101 101 101 111", "1": "010 110 010 010 111", "2": "111 001 111 100 111",
    "3": "111 001 111 001 111", "4": "101 101 111 001 001", "5": "111 100 111 001 111",
    "6": "111 100 111 101 111", "7": "111 001 010 010 010", "8": "111 101 111 101 111",
    "9": "111 101 111 001 111", ":": "0 1 0 1 0", ".": "0 0 0 0 1", ",": "0 0 0 1 1",
    "-": "000 000 111 000 000", "–": "000 000 111 000 000", "−": "000 000 111 000 000",
    "+": "000 010 111 010 000", "%": "101 001 010 100 101", ">": "100 010 001 010 100",
    "<": "001 010 100 010 001", "/": "001 001 010 100 100", "?": "111 001 011 000 010",
    "!": "1 1 1 0 1", "'": "1 1 0 0 0", "&": "010 101 010 101 011", " ": "00 00 00 00 00",
}  # fmt: skip
SIGNS = {sign: tuple(rows.split()) for sign, rows in _WIDE.items()}
HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def plain_letters(text: str) -> str | None:
    """``text`` in the signs there are, accents left out; None where it has others."""
    flat = unicodedata.normalize("NFKD", text).upper()
    flat = "".join(c for c in flat if not unicodedata.combining(c))
    return flat if all(c in SIGNS for c in flat) else None


@lru_cache(maxsize=512)
def dots(text: str) -> tuple[str, ...]:
    """Rows of dots, "1" for a lit one; a column of none between letters."""
    return tuple("0".join(SIGNS[c][row] for c in text) for row in range(DOTS))


def columns(text: str, wide: int = 1) -> int:
    """Columns ``text`` takes with dots so wide."""
    return (sum(len(SIGNS[c][0]) + 1 for c in text) - 1) * wide if text else 0


def rows(halves: int = 1) -> int:
    """Rows that letters take with dots so many half rows high."""
    return -(-DOTS * halves // 2)


@lru_cache(maxsize=512)
def drawn(text: str, wide: int = 1, halves: int = 1) -> tuple[str, ...]:
    """``text`` in block characters, a line for each row."""
    lit = [row for row in dots(text) for _ in range(halves)]
    if len(lit) % 2:
        lit.append("0" * len(lit[0]))
    return tuple(
        "".join(
            HALVES[(a == "1", b == "1")] * wide for a, b in zip(upper, lower, strict=True)
        ).rstrip()
        for upper, lower in zip(lit[::2], lit[1::2], strict=True)
    )


def first_fitting(wanted: tuple[str, ...], width: int, wide: int = 1) -> str | None:
    """The first of ``wanted`` that these letters can spell in so many columns; None: none."""
    for words in wanted:
        flat = plain_letters(words)
        if flat and columns(flat, wide) <= width:
            return flat
    return None
