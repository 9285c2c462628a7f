"""The batch log's facts: what happened, when, to which pot.

An event is never changed. Undo is an event too: ``standing`` gives the events that still hold.
How events reach the disk is ``soapbench.logfile``'s business.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

Value = str | int | float | bool | list[Any]


class Kind(StrEnum):
    """Every kind of fact a batch log can hold."""

    LYE_MEETS_OILS = "lye meets oils"
    STAGE_DONE = "stage done"
    STAGE_SKIPPED = "stage skipped"
    FRAGRANCE_IN = "fragrance in"
    BLENDER_ON = "blender on"
    BLEND_BURST = "blend burst"
    TRACE_SEEN = "trace seen"
    LOOK = "look"
    TROUBLE = "trouble"
    NOTE = "note"
    WARNING_SHOWN = "warning shown"
    RESCUE_TAKEN = "rescue taken"
    POUR_ENDED = "pour ended"
    OUTCOME = "outcome"
    SET_ASIDE = "set aside"
    WEIGHED_OUT = "weighed out"
    SPRAY = "spray"
    GEL_SEEN = "gel seen"
    GEL_CHOSEN = "gel chosen"
    UNMOULD = "unmould"
    CUT = "cut"
    WEIGHING = "weighing"
    CUT_SEEN = "cut seen"
    VERDICT = "verdict"
    CURED = "cured"
    FINISH_WISHED = "finish wished"
    FINISH_DONE = "finish done"
    TAPS_JUDGED = "taps judged"
    UNDO = "undo"


class Outcome(StrEnum):
    """How the swirl came out: told at the end of a pour, and again at the cut."""

    AS_PLANNED = "as planned"
    IN_PART = "in part"
    NO = "no"


def outcome_of(value: object) -> Outcome | None:
    """The outcome a log names; None for anything else."""
    return Outcome(value) if isinstance(value, str) and value in tuple(Outcome) else None


@dataclass(frozen=True, slots=True)
class Event:
    """One fact. ``t`` is seconds since lye met oils (0 and below: before it)."""

    at: datetime
    """Wall clock with its offset, for people; durations never come from it on the same boot."""
    t: float
    kind: Kind
    pot: str | None = None
    values: Mapping[str, Value] = field(default_factory=dict)
    """Flat values of this kind (``state``, ``seconds``, ``text``, ``stage`` …)."""
    boot_s: float = 0.0
    """Reading of a clock that counts since boot, suspend included, s."""
    boot_id: str = ""
    """Which boot ``boot_s`` belongs to; empty where the machine does not tell."""
    id: str = ""
    """Unique in its log; what an undo names in ``values['of']``."""


class Standing(tuple[Event, ...]):
    """The events of a log that hold, in order: undone ones and the undos themselves left out.

    Made by ``standing``, once a log; whatever reads facts takes this and nothing else.
    """

    __slots__ = ()

    def of(self, *kinds: Kind) -> Iterator[Event]:
        """Those of ``kinds``, in order."""
        return (event for event in self if event.kind in kinds)

    def and_then(self, event: Event) -> Standing:
        """These and one more that is no undo."""
        return Standing((*self, event))

    def first(self, *kinds: Kind) -> Event | None:
        return next(self.of(*kinds), None)

    def last(self, *kinds: Kind) -> Event | None:
        return next((event for event in reversed(self) if event.kind in kinds), None)


def standing(events: Iterable[Event]) -> Standing:
    """The events that hold. An undo names the event it takes back; it can be undone itself."""
    listed = list(events)
    undone: set[str] = set()
    for event in reversed(listed):  # a later undo decides whether an earlier one holds
        if event.kind is Kind.UNDO and event.id not in undone:
            undone.add(str(event.values.get("of", "")))
    return Standing(e for e in listed if e.kind is not Kind.UNDO and e.id not in undone)
