"""Reading one entry of a table of facts, keeping every fault instead of stopping at the first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from soapbench.reading.faults import Fault, nearest
from soapbench.reading.safetext import clean

Kind = TypeVar("Kind")
MARKS = ("source", "verified")
"""What every value carries: where it was read, and how far that was verified."""


class Entry:
    """A table of values with the marks they carry, their own or those of the table around them."""

    def __init__(
        self, key: str, table: Mapping[str, Any], faults: list[Fault], marks: Mapping[str, str]
    ) -> None:
        self.key = key
        self.table = table
        self.faults = faults
        own = {mark: self.text(mark) for mark in MARKS if mark in table}
        self.marks = {**dict.fromkeys(MARKS, ""), **marks, **own}

    def fault(self, name: str, wrong: str, right: str) -> None:
        key = ".".join(part for part in (self.key, name) if part)
        self.faults.append(Fault(key, wrong, right))

    def keys(self, *known: str) -> None:
        """Fault every key but these and the marks."""
        for name in self.table:
            if name not in (*known, *MARKS):
                self.fault(clean(name, 60), "unknown setting", nearest(name[:60], known))

    def marked(self) -> None:
        """Fault an entry whose values have no source or verification mark."""
        for mark in MARKS:
            if not self.marks.get(mark):
                self.fault(mark, "missing", f'{mark} = "…", where the values are from')

    def text(self, name: str, default: str = "") -> str:
        value = self.table.get(name, default)
        if not isinstance(value, str):
            self.fault(name, "text is expected here", 'write it in quotes, "…"')
            return default
        return clean(value)

    def word(self, name: str, words: Iterable[str], default: str) -> str:
        value = self.text(name, default)
        if value not in (known := list(words)):
            self.fault(name, "not a word known here", nearest(value[:60], known))
            return default
        return value

    def number(self, name: str, least: float, most: float, default: float) -> float:
        value = self.table.get(name, default)
        if not between(value, least, most):
            self.fault(name, "no number in range", f"a number from {least:g} to {most:g}")
            return default
        return float(value)

    def count(self, name: str, least: int, most: int, default: int) -> int:
        value = self.table.get(name, default)
        if not between(value, least, most) or value != int(value):
            self.fault(name, "no whole number in range", f"from {least} to {most}")
            return default
        return int(value)

    def flag(self, name: str) -> bool:
        value = self.table.get(name, False)
        if not isinstance(value, bool):
            self.fault(name, "yes or no is expected here", f"{name} = true, or remove the line")
            return False
        return value

    def ends(self, name: str, least: float, most: float) -> tuple[float, float]:
        """Low and high of ``[low, high]`` or of one number."""
        value: Any = self.table.get(name)
        ends: list[Any] = value if isinstance(value, list) else [value, value]
        if len(ends) != 2 or not all(between(e, least, most) for e in ends) or ends[0] > ends[1]:
            self.fault(
                name,
                "missing" if value is None else "no range",
                f"[low, high] or one number, from {least:g} to {most:g}",
            )
            return least, most
        return float(ends[0]), float(ends[1])

    def names(self, name: str) -> tuple[str, ...]:
        value = self.table.get(name, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.fault(name, "a list of names is expected here", 'write ["…", "…"]')
            return ()
        return tuple(clean(item) for item in value)

    def group(self, name: str) -> Entry | None:
        """The table ``name`` in this one, with this one's marks where it has none."""
        if name not in self.table:
            return None
        value = self.table[name]
        if not isinstance(value, Mapping):
            self.fault(name, "a table is expected here", f"{name} = {{ … }}")
            return None
        key = f"{self.key}.{name}" if self.key else name
        return Entry(key, value, self.faults, self.marks)


@dataclass(frozen=True, slots=True)
class Labelled:
    """The name a label gives to an ingredient, and how far that was verified; empty: not known."""

    name: str = ""
    source: str = ""
    verified: str = ""
    soap: str = ""
    """Of an oil: what its soap is called after "Sodium" or "Potassium"; empty: not known."""


UNLABELLED = Labelled()


def labelled(entry: Entry) -> Labelled:
    """An entry's ``inci.name``, and an oil's ``inci.soap``."""
    group = entry.group("inci")
    if group is None:
        return UNLABELLED
    group.keys("name", "soap")
    group.marked()
    return Labelled(group.text("name"), **group.marks, soap=group.text("soap"))


def entries(tables: Mapping[str, Any], faults: list[Fault]) -> Iterator[tuple[str, Entry]]:
    """Every entry of a file by name; the file's own marks hold for entries without any."""
    marks = {mark: tables[mark] for mark in MARKS if isinstance(tables.get(mark), str)}
    for name, value in tables.items():
        if name in marks:
            continue
        if not isinstance(value, Mapping):
            faults.append(Fault(clean(name, 60), "a table is expected here", "write [name]"))
        elif clean(name, 60) != name or not name.strip():
            faults.append(Fault(clean(name, 60), "no name for an entry", "60 plain characters"))
        else:
            yield name, Entry(name, value, faults, marks)


def table_of(
    tables: Mapping[str, Any], make: Callable[[str, Entry], Kind]
) -> tuple[dict[str, Kind], tuple[Fault, ...]]:
    """What ``make`` makes of every entry, by name, and what was wrong with those left out."""
    faults: list[Fault] = []
    sound = {}
    for name, entry in entries(tables, faults):
        before = len(faults)
        one = make(name, entry)
        if len(faults) == before:
            sound[name] = one
    return sound, tuple(faults)


def between(value: object, least: float, most: float) -> bool:
    """Whether ``value`` is a number from ``least`` to ``most``; NaN is not."""
    return isinstance(value, int | float) and not isinstance(value, bool) and least <= value <= most
