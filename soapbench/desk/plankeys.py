"""Where a value of a plan is kept: its keys, what the plan says there, what may stand there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from soapbench.plan.fields import field_of, table_at
from soapbench.plan.values import kinds_of
from soapbench.reading.units import Measure

Keys = tuple[int | str, ...]
ADD = "+"
"""Last of the keys of a cell that adds a row."""
MORE = "…"
"""Last of the keys of a cell that asks what else to give."""
SIZE = "size"
"""Last of the keys of the mould's own cell: its three sizes, or its volume."""
SIZES = ("length", "width", "depth")


def measure_of(keys: Keys) -> Measure | None:
    known = field_of(keys)
    return known.measure if known else None


def value_at(tables: Mapping[str, Any], keys: Keys) -> Any:
    """What a plan, or an entry of a table, says at ``keys``; None where it says nothing."""
    here: Any = tables
    for part in keys:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return None
    return here


def not_given(tables: Mapping[str, Any], table: Keys) -> list[str]:
    """Keys that the table at ``table`` may have and has not."""
    value = value_at(tables, table) if table else tables
    given = value if isinstance(value, Mapping) else {}
    ours = ("assumed",)  # filled in when a plan is read
    return [key for key in kinds_of(table_at(table)) if key not in (*given, *ours)]
