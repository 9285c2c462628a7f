"""What a plan's annotations say of each of its keys: its measure and bounds, words and default.

Forms and messages derive from this, so that nothing of it is written down twice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import MISSING, dataclass, fields, is_dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Any, Literal, get_args, get_origin

from soapbench.plan.pourplan import Plan
from soapbench.plan.values import AsText, Sound, kinds_of
from soapbench.reading.units import Measure


@dataclass(frozen=True, slots=True)
class Field:
    """One key of a plan."""

    measure: Measure | None = None
    """Of a number; None: no number of one kind goes there (a name, a word, a dose)."""
    words: tuple[str, ...] = ()
    """The only ones allowed; empty: any."""
    default: str | None = None
    """As a plan would write it; None: there is none."""
    required: bool = False
    """Its table is none without it."""
    check: Callable[[Any], Any] | None = None
    """Raises Wrong for what cannot stand there, by itself; None: only its words are checked."""


def field_of(keys: Sequence[int | str]) -> Field | None:
    """The field at ``keys``, list places left out of account; None: a plan has no such key."""
    return _field(tuple(key for key in keys if isinstance(key, str)))


@lru_cache(maxsize=200)
def _field(names: tuple[str, ...]) -> Field | None:
    if not names:
        return None
    table = table_at(names[:-1])
    kind = kinds_of(table).get(names[-1])
    if kind is None:
        return None
    given = next((f.default for f in fields(table) if f.name == names[-1]), MISSING)
    parts = list(_parts(kind))
    as_text = next((part for part in parts if isinstance(part, AsText)), None)
    words = tuple(
        str(word) for part in parts if get_origin(part) is Literal for word in get_args(part)
    ) or next(
        (
            tuple(word.value for word in part)
            for part in parts
            if isinstance(part, type) and issubclass(part, StrEnum)
        ),
        (),
    )
    checks = [
        part.read if isinstance(part, AsText) else part.check
        for part in parts
        if isinstance(part, AsText | Sound)
    ]
    return Field(
        as_text.measure if as_text else None,
        words,
        _written(given, as_text),
        given is MISSING,
        checks[0] if checks else None,
    )


def _written(given: Any, as_text: AsText | None) -> str | None:
    if given is MISSING or given is None or isinstance(given, tuple):
        return None
    return as_text.write(given) if as_text else str(given)


def _parts(kind: Any) -> list[Any]:
    """``kind`` and all it is put together from, annotations included."""
    inner = [*get_args(kind), *getattr(kind, "__metadata__", ())]
    if get_origin(kind) is Literal:
        inner = []
    return [kind, *(part for one in inner for part in _parts(one))]


def table_at(location: Sequence[int | str]) -> type:
    """The table of a plan that ``location`` leads to."""
    table: type = Plan
    for name in location:
        for part in _parts(kinds_of(table).get(name)) if isinstance(name, str) else ():
            if isinstance(part, type) and is_dataclass(part):
                table = part
    return table
