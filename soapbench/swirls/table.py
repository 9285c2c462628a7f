"""Kinds of swirl: how each is poured, move by move, and how long handwork takes.

Built from the swirl table (ours, with the maker's own added); times are for one litre in hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Literal, cast, get_args

from soapbench.batter import TRACE_WORDS, Trace
from soapbench.plan.values import MOST_POTS
from soapbench.reading.entries import MARKS, Entry
from soapbench.reading.faults import Fault

Role = Literal["pour", "tool", "top"]
PotsOf = Literal["base", "each accent", "each pot", "all", "mould"]
MouldBy = Literal["base", "last"]
Puts = Literal["mould", "base"]
MEDIANS_S = (1, 36_000)
"""Least and most time a move takes, s: what lies beyond is a slip of the pen (ours)."""


class Manner(StrEnum):
    """How a colour goes into the mould."""

    FILL = "fill"
    DROP = "drop"
    COLUMN = "column"
    LAYER = "layer"
    STRIPE = "stripe"
    WALL = "wall"
    SPOON = "spoon"
    IN_THE_POT = "in the pot"
    BLEND = "blend"
    """Neighbouring pots blended step by step: ombré."""
    EMBED = "embed"
    """Finished soap laid in: it stays as it is whatever is done to the batter around it."""


POURED = tuple(manner for manner in Manner if manner is not Manner.EMBED)


class WireLed(StrEnum):
    """How a tool is led through the batter, seen in the cut face."""

    UP_DOWN = "up-down"
    LOOPS = "loops"
    SWEEP = "sweep"


@dataclass(frozen=True, slots=True)
class Window:
    """Trace states a batter may be in: ``earliest`` at the start, ``latest`` at the end.

    Up to ``latest`` the work comes out as planned, up to ``in_part`` it still comes out in part.
    """

    earliest: Trace = Trace.EMULSION
    latest: Trace = Trace.SET_UP
    in_part: Trace = Trace.SET_UP


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
    mould_by: MouldBy = "base"
    """Whose state in the mould must have come to the earliest: the base's, or the last poured's."""
    mould_drawn: Window | None = None
    """What is already in the mould may be when a wire is drawn through it afterwards."""
    draws_down: bool = False
    """Of a tool: it draws down what did not sink."""
    puts: Puts | None = None
    manner: Manner | WireLed = Manner.FILL
    """Only for the picture of the cut face; of a tool: how it is led."""


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
    saves: bool = False
    """Rather what a lost pour can still become than a swirl that is wished for."""
    mind: str = ""
    """What to mind with it; empty: nothing of its own."""
    source: str = ""
    verified: str = ""

    @property
    def from_mould(self) -> bool:
        """Whether it can go on when part of the batter is already in the mould."""
        return "mould" in self.starts_from

    @property
    def draws_down(self) -> bool:
        return any(move.draws_down for move in self.moves)


@dataclass(frozen=True, slots=True)
class SwirlTable:
    """Every swirl known, and the handwork before any of them."""

    kinds: Mapping[str, SwirlKind]
    handwork: Mapping[str, Handwork]

    @property
    def pours(self) -> tuple[SwirlKind, ...]:
        return tuple(kind for kind in self.kinds.values() if kind.role == "pour")


def swirl_table(tables: Mapping[str, Any]) -> tuple[SwirlTable, tuple[Fault, ...]]:
    """The swirl table from its TOML tables, and every fault; a faulty swirl is left out."""
    faults: list[Fault] = []
    marks = {mark: str(tables[mark]) for mark in MARKS if isinstance(tables.get(mark), str)}
    whole = Entry("", tables, faults, marks)
    whole.keys("handwork", "swirl")
    handwork = {name: _handwork(entry) for name, entry in _entries_of(whole, "handwork")}
    kinds = {}
    for name, entry in _entries_of(whole, "swirl"):
        before = len(faults)
        kind = _kind(name, entry)
        if len(faults) == before:
            kinds[name] = kind
    return SwirlTable(kinds, handwork), tuple(faults)


def _entries_of(whole: Entry, name: str) -> Iterator[tuple[str, Entry]]:
    group = whole.group(name)
    if group is not None:
        for key in group.table:
            entry = group.group(key)
            if entry is not None:
                yield key, entry


def _kind(name: str, entry: Entry) -> SwirlKind:
    entry.keys(
        "says", "role", "starts_from", "moves", "least_pots", "most_pots", "cooked", "saves", "mind"
    )
    entry.marked()
    starts = entry.names("starts_from") or ("pots",)
    if not set(starts) <= {"pots", "mould"}:
        entry.fault(
            "starts_from", "not where a swirl can start from", '["pots"] or ["pots", "mould"]'
        )
    listed = entry.table.get("moves")
    if not isinstance(listed, list) or not listed:
        entry.fault("moves", "it has no moves", 'moves = [{ do = "…", pots = "…", … }]')
        listed = []
    role = cast(Role, entry.word("role", get_args(Role), "pour"))
    least = entry.count("least_pots", 1, MOST_POTS, 1)
    moves = []
    for i, move in enumerate(listed, 1):
        if isinstance(move, Mapping):
            within = Entry(f"{entry.key}.moves[{i}]", move, entry.faults, entry.marks)
            moves.append(_move(within, role))
        else:
            entry.fault(f"moves[{i}]", "not a move", '{ do = "…", pots = "…", median_s = 30, … }')
    return SwirlKind(
        name=name,
        says=entry.text("says"),
        role=role,
        starts_from=starts,
        moves=tuple(moves),
        least_pots=least,
        most_pots=entry.count("most_pots", least, MOST_POTS, MOST_POTS),
        cooked=entry.flag("cooked"),
        saves=entry.flag("saves"),
        mind=entry.text("mind"),
        source=entry.marks["source"],
        verified=entry.marks["verified"],
    )


def _move(entry: Entry, role: Role) -> Move:
    manners: tuple[Manner | WireLed, ...] = tuple(WireLed) if role == "tool" else POURED
    entry.keys(
        "do",
        "pots",
        "hand",
        "base",
        "mould",
        "mould_by",
        "mould_drawn",
        "draws_down",
        "puts",
        "manner",
        "median_s",
        "spread",
        "volume_power",
        "per_pot",
    )
    if not entry.text("do"):
        entry.fault("do", "missing", 'the kind of handwork, do = "pour into mould"')
    return Move(
        do=entry.text("do"),
        pots=cast(PotsOf, entry.word("pots", get_args(PotsOf), "each pot")),
        handwork=_handwork(entry),
        hand=_window(entry, "hand") or Window(),
        base=_window(entry, "base"),
        mould=_window(entry, "mould"),
        mould_by=cast(MouldBy, entry.word("mould_by", get_args(MouldBy), "base")),
        mould_drawn=_window(entry, "mould_drawn"),
        draws_down=entry.flag("draws_down"),
        puts=cast(Puts, entry.word("puts", get_args(Puts), "mould"))
        if "puts" in entry.table
        else None,
        manner=type(manners[0])(entry.word("manner", manners, manners[0])),
    )


def _handwork(entry: Entry) -> Handwork:
    return Handwork(
        median_s=entry.number("median_s", *MEDIANS_S, -1.0),
        spread=entry.number("spread", 0.02, 2, 0.3),
        volume_power=entry.number("volume_power", 0, 1, 0.0),
        per_pot=entry.flag("per_pot"),
    )


def _window(entry: Entry, name: str) -> Window | None:
    if name not in entry.table:
        return None
    words = entry.names(name)
    if len(words) not in (2, 3) or not set(words) <= set(TRACE_WORDS):
        entry.fault(
            name,
            "not an earliest and a latest trace state",
            f"two or three of {', '.join(TRACE_WORDS)}",
        )
        return None
    earliest, latest, *beyond = (Trace(TRACE_WORDS.index(word)) for word in words)
    in_part = beyond[0] if beyond else latest
    if earliest > latest:
        entry.fault(name, "it ends before it begins", f'["{words[1]}", "{words[0]}"]')
        return None
    if in_part < latest:
        entry.fault(name, "in part it ends before it ends as planned", f'"{words[1]}" or later')
        return None
    return Window(earliest, latest, in_part)
