"""Rows of values a maker changes in place, apart from how a screen draws them."""

from __future__ import annotations

from dataclasses import dataclass

from soapbench.reading.faults import Fault


@dataclass(frozen=True, slots=True)
class Cell:
    """One value: where it is kept, how it is shown."""

    keys: tuple[int | str, ...]
    shown: str
    label: str = ""
    look: str = ""
    """A colour to show beside it, #rrggbb."""
    quiet: bool = False
    """Not given: what is shown is what everybody has, or what can be added."""
    wide: int = 0
    """Columns it fills at least."""
    after: str = ""
    """What it comes to, said after it, less loudly."""


@dataclass(frozen=True, slots=True)
class Row:
    """Cells in a line; ``heading`` names the group that starts here."""

    cells: tuple[Cell, ...]
    heading: str = ""
    faults: tuple[Fault, ...] = ()
    indent: int = 0
    more: str = ""
    """Said after the cells, less loudly."""
