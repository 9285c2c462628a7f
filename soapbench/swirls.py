"""Kinds of swirl: how each is poured, move by move, and how long handwork takes.

Built from the swirl table (ours, with the maker's own added); times are for one litre in hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from soapbench.batter import TRACE_WORDS, Trace
from soapbench.faults import Fault, nearest

Role = Literal["pour", "tool", "top"]
PotsOf = Literal["base", "each accent", "each pot", "all", "mould"]


@dataclass(frozen=True, slots=True)
class Window:
    """Trace states a batter may be in: ``earliest`` at the start, ``latest`` at the end."""

    earliest: Trace = Trace.EMULSION
    latest: Trace = Trace.SET_UP


@dataclass(frozen=True, slots=True)
class Handwork:
    """How long one kind of handwork takes: log-normal, s, growing with the litres in hand."""

    median_s: float
    spread: float
    volume_power: float = 0.0
    per_pot: bool = False

    def seconds(self, ml: float, pots: int = 1) -> float:
        """Median for ``ml`` of batter shared by ``pots`` pots."""
        count = pots if self.per_pot else 1
        litres = max(ml / count, 20.0) / 1000
        return self.median_s * count * float(litres**self.volume_power)


@dataclass(frozen=True, slots=True)
class Move:
    """One move of a swirl, for the pots it is done with."""

    do: str
    pots: PotsOf
    handwork: Handwork
    hand: Window = Window()
    base: Window | None = None
    mould: Window | None = None
    mould_by: Literal["base", "last"] = "base"
    """Whose state in the mould must have come to the earliest: the base's, or the last poured's."""
    puts: Literal["mould", "base"] | None = None


@dataclass(frozen=True, slots=True)
class SwirlKind:
    """A kind of swirl: what it is, where it can start from, its moves."""

    name: str
    says: str
    role: Role
    starts_from: tuple[str, ...]
    moves: tuple[Move, ...]
    least_pots: int = 1
    most_pots: int = 12
    """Not offered to plans with more; as a last way out it still is."""
    cooked: bool = False
    source: str = ""
    verified: str = ""

    @property
    def from_mould(self) -> bool:
        """Whether it can go on when part of the batter is already in the mould."""
        return "mould" in self.starts_from


@dataclass(frozen=True, slots=True)
class SwirlTable:
    """Every swirl known, and the handwork before any of them."""

    kinds: Mapping[str, SwirlKind]
    handwork: Mapping[str, Handwork]

    @property
    def pours(self) -> tuple[SwirlKind, ...]:
        return tuple(kind for kind in self.kinds.values() if kind.role == "pour")


class _Reader:
    """Reads the table and keeps every fault instead of stopping at the first."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def fault(self, key: str, wrong: str, right: str) -> None:
        self.faults.append(Fault(key, wrong, right))

    def number(self, key: str, table: Mapping[str, Any], name: str, least: float, most: float,
               default: float | None = None) -> float:
        value = table.get(name, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            self.fault(f"{key}.{name}", "not a number in range", f"{least:g} to {most:g}")
            return least
        return float(value)

    def word(self, key: str, table: Mapping[str, Any], name: str, words: tuple[str, ...],
             default: str) -> Any:
        value = table.get(name, default)
        if value not in words:
            self.fault(f"{key}.{name}", "not one of the words allowed", nearest(str(value)[:60], words))
            return default
        return value

    def handwork(self, key: str, table: Mapping[str, Any]) -> Handwork:
        return Handwork(
            median_s=self.number(key, table, "median_s", 1, 36_000),
            spread=self.number(key, table, "spread", 0.02, 2),
            volume_power=self.number(key, table, "volume_power", 0, 1, 0.0),
            per_pot=table.get("per_pot", False) is True,
        )

    def window(self, key: str, table: Mapping[str, Any], name: str) -> Window | None:
        words = table.get(name)
        if words is None:
            return None
        if not (isinstance(words, list) and len(words) == 2 and all(w in TRACE_WORDS for w in words)):
            self.fault(f"{key}.{name}", "not an earliest and a latest trace state",
                       f'two of {", ".join(TRACE_WORDS)}')
            return Window()
        return Window(Trace(TRACE_WORDS.index(words[0])), Trace(TRACE_WORDS.index(words[1])))

    def move(self, key: str, table: Any) -> Move | None:
        if not isinstance(table, Mapping) or not isinstance(table.get("do"), str):
            self.fault(key, "not a move", '{ do = "…", pots = "…", median_s = 30, spread = 0.3 }')
            return None
        puts = table.get("puts")
        return Move(
            do=table["do"][:40],
            pots=self.word(key, table, "pots",
                           ("base", "each accent", "each pot", "all", "mould"), "each pot"),
            handwork=self.handwork(key, table),
            hand=self.window(key, table, "hand") or Window(),
            base=self.window(key, table, "base"),
            mould=self.window(key, table, "mould"),
            mould_by=self.word(key, table, "mould_by", ("base", "last"), "base"),
            puts=puts if puts in ("mould", "base") else None,
        )


def swirl_table(tables: Mapping[str, Any]) -> tuple[SwirlTable, tuple[Fault, ...]]:
    """The swirl table from its TOML tables, and what was wrong with entries left out."""
    reader = _Reader()
    handwork = {
        name: reader.handwork(f"handwork.{name}", entry)
        for name, entry in tables.get("handwork", {}).items()
    }
    kinds = {}
    for name, entry in tables.get("swirl", {}).items():
        key = f"swirl.{name}"
        before = len(reader.faults)
        listed = entry.get("moves", []) if isinstance(entry, Mapping) else []
        moves = [reader.move(f"{key}.moves[{i}]", m) for i, m in enumerate(listed, 1)]
        if not moves:
            reader.fault(key, "it has no moves", 'moves = [{ do = "…", pots = "…", … }]')
        if len(reader.faults) > before:
            continue
        kinds[name] = SwirlKind(
            name=name,
            says=str(entry.get("says", ""))[:200],
            role=reader.word(key, entry, "role", ("pour", "tool", "top"), "pour"),
            starts_from=tuple(entry.get("starts_from", ("pots",))),
            moves=tuple(move for move in moves if move),
            least_pots=int(reader.number(key, entry, "least_pots", 1, 12, 1)),
            most_pots=int(reader.number(key, entry, "most_pots", 1, 12, 12)),
            cooked=entry.get("cooked", False) is True,
            source=str(entry.get("source", tables.get("source", "the maker's own"))),
            verified=str(entry.get("verified", tables.get("verified", "no"))),
        )
    return SwirlTable(kinds, handwork), tuple(reader.faults)
