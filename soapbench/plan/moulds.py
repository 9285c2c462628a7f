"""Moulds: how they are told, and how much they hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from soapbench.plan.values import (
    MOST_POTS,
    Fill,
    Length,
    Size,
    Text,
    Volume,
    no_other_keys,
    wrong,
)
from soapbench.reading.faults import nearest
from soapbench.reading.safetext import clean

MOST_MOULDS = 12
PotNames = Annotated[tuple[Text, ...], Size(1, MOST_POTS)]


@dataclass(frozen=True, slots=True)
class Filled:
    """Moulds, by their place in the plan from 0, and the pots that go into them, all of each."""

    moulds: tuple[int, ...]
    """Filled in turn where they are several."""
    pots: tuple[str, ...]
    """Named in the order of the plan."""


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class FurtherMould:
    """A mould, by its inner sizes or by its volume, and how full it is to be.

    One that takes what the ones before it do not.
    """

    length: Length | None = None
    width: Length | None = None
    depth: Length | None = None
    volume: Volume | None = None
    fill: Fill = 0.92
    pots: PotNames | None = None
    """Which pots go into it, and into no other; None: what no mould asks for, in turn."""

    def __post_init__(self) -> None:
        sizes = [self.length, self.width, self.depth]
        if self.volume is None and None in sizes:
            wrong("its size is not known", 'give length, width and depth, or volume = "1.5 L"')
        if self.volume is not None and any(sizes):
            wrong("it has both sizes and a volume", "keep one of the two")

    @property
    def ml(self) -> float:
        """Its own volume to the brim, mL."""
        if self.volume is not None:
            return self.volume
        return (self.length or 0) * (self.width or 0) * (self.depth or 0)


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Mould(FurtherMould):
    """The mould; of several ([[mould]] in a file) the first, whose loaf the cut face shows, with
    the others, which follow it."""

    also: Annotated[tuple[FurtherMould, ...], Size(0, MOST_MOULDS - 1)] = ()
    """Filled in turn after it, or by their pots."""

    @property
    def volume_ml(self) -> float:
        """Volume of them all to the brim, mL."""
        return self.ml + sum(mould.ml for mould in self.also)

    @property
    def all(self) -> tuple[FurtherMould, ...]:
        return (self, *self.also)

    @property
    def by_pots(self) -> bool:
        """Whether some mould says which pots go into it."""
        return any(mould.pots for mould in self.all)

    def filled(self, pots: Sequence[str]) -> tuple[Filled, ...]:
        """Which of ``pots`` go where, in the order they are poured: moulds by their own pots, and
        one group of those that are filled in turn with the rest."""
        asked = {name for mould in self.all for name in mould.pots or ()}
        in_turn = tuple(i for i, mould in enumerate(self.all) if mould.pots is None)
        takes = [
            Filled((i,), tuple(name for name in pots if name in mould.pots))
            for i, mould in enumerate(self.all)
            if mould.pots is not None
        ]
        if in_turn:
            takes.append(Filled(in_turn, tuple(name for name in pots if name not in asked)))
        return tuple(sorted(takes, key=lambda filled: filled.moulds))

    @property
    def wanted_ml(self) -> tuple[float, ...]:
        """What each is to be filled with, mL."""
        return tuple(mould.ml * mould.fill for mould in self.all)


def sound_pots(mould: Mould, pots: Sequence[str]) -> None:
    """Every pot goes into one mould, and every mould has a pot. Raises Wrong, with the key."""
    taken: dict[str, int] = {}
    for i, one in enumerate(mould.all):
        for j, name in enumerate(one.pots or ()):
            key = f"{_key(i)}pots.{j}"
            if name not in pots:
                wrong(f'no pot is called "{clean(name)}"', nearest(name, pots), key)
            if name in taken:
                wrong(
                    f'pot "{clean(name)}" goes into mould {taken[name] + 1} already',
                    "each pot goes into one mould: make two pots of it, or name no pots and the "
                    "moulds are filled in turn",
                    key,
                )
            taken[name] = i
    for filled in mould.filled(pots):
        if not filled.pots:
            i = filled.moulds[0]
            wrong("no pot is left for it", 'pots = ["…"], those that go into it', _key(i))
    left = [name for name in pots if name not in taken]
    if left and all(one.pots for one in mould.all):
        named = ", ".join(f'"{clean(name)}"' for name in left)
        wrong(f"{named} goes into no mould", "add it to one mould's pots", "pots")


def _key(i: int) -> str:
    """How the keys of the mould at place ``i`` begin."""
    return f"also.{i - 1}." if i else ""
