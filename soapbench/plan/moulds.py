"""Moulds: how they are told, and how much they hold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from soapbench.plan.values import (
    Fill,
    Length,
    Size,
    Volume,
    no_other_keys,
    wrong,
)


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class FurtherMould:
    """A mould that takes what the ones before it do not."""

    length: Length | None = None
    width: Length | None = None
    depth: Length | None = None
    volume: Volume | None = None
    fill: Fill = 0.92

    def __post_init__(self) -> None:
        _sized(self)

    @property
    def ml(self) -> float:
        """Volume to the brim, mL."""
        return _brim_ml(self)


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Mould:
    """The mould, by its inner sizes or by its volume, and how full it is to be.

    Of several ([[mould]] in a file) the first, whose loaf the cut face shows; the others follow it.
    """

    length: Length | None = None
    width: Length | None = None
    depth: Length | None = None
    volume: Volume | None = None
    fill: Fill = 0.92
    also: Annotated[tuple[FurtherMould, ...], Size(0, 11)] = ()
    """Filled in turn after it."""

    def __post_init__(self) -> None:
        _sized(self)

    @property
    def ml(self) -> float:
        """Its own volume to the brim, mL."""
        return _brim_ml(self)

    @property
    def volume_ml(self) -> float:
        """Volume of them all to the brim, mL."""
        return self.ml + sum(mould.ml for mould in self.also)

    @property
    def wanted_ml(self) -> tuple[float, ...]:
        """What each is to be filled with, mL."""
        moulds: list[Mould | FurtherMould] = [self, *self.also]
        return tuple(mould.ml * mould.fill for mould in moulds)


def _sized(mould: Mould | FurtherMould) -> None:
    sizes = [mould.length, mould.width, mould.depth]
    if mould.volume is None and None in sizes:
        wrong("its size is not known", 'give length, width and depth, or volume = "1.5 L"')
    if mould.volume is not None and any(sizes):
        wrong("it has both sizes and a volume", "keep one of the two")


def _brim_ml(mould: Mould | FurtherMould) -> float:
    if mould.volume is not None:
        return mould.volume
    return (mould.length or 0) * (mould.width or 0) * (mould.depth or 0)
