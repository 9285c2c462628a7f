"""The tables of facts: those that come with the program, and the maker's own in the bench.

``oils.toml``, ``colourants.toml``, ``additives.toml``, ``fragrances.toml`` and ``swirls.toml`` in
the bench folder add entries or replace whole entries of the same name; ``aftercare.toml`` replaces
single values.
Nothing slow is imported here: the tables are read before the first screen.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from pkgutil import get_data  # importlib.resources takes 5 ms to load
from types import MappingProxyType
from typing import Any, NamedTuple, Protocol, TypeVar

from soapbench.aftercare.practice import Practice, practice_table
from soapbench.logfile.tomlfile import key_lines, parse_text, read_text
from soapbench.reading.entries import MARKS
from soapbench.reading.faults import Fault, FileFaults
from soapbench.recipe.additives import AdditiveFacts, additive_table
from soapbench.recipe.colourants import ColourantFacts, colourant_table
from soapbench.recipe.fragrances import FragranceFacts, fragrance_table
from soapbench.recipe.oils import OilFacts, oil_table
from soapbench.swirls.table import SwirlTable, swirl_table

OWN_MARKS = {"source": "the maker's own table", "verified": "the maker's word"}
"""Marks of a maker's entry that gives none."""
T = TypeVar("T")


class Named(Protocol):
    """A fact that is also known by other names."""

    @property
    def aliases(self) -> tuple[str, ...]: ...


N = TypeVar("N", bound=Named)
Reader = Callable[[Mapping[str, Any]], tuple[T, tuple[Fault, ...]]]


def oils(bench: Path | None = None) -> Mapping[str, OilFacts]:
    """Oils by name and alias. Raises FileFaults for a faulty ``oils.toml`` of the bench."""
    return _named(_packaged_oils(), _own(bench, "oils.toml", oil_table, {}))


def colourants(bench: Path | None = None) -> Mapping[str, ColourantFacts]:
    """Colourants by name and alias. Raises FileFaults for a faulty file of the bench."""
    return _named(_packaged_colourants(), _own(bench, "colourants.toml", colourant_table, {}))


def additives(bench: Path | None = None) -> Mapping[str, AdditiveFacts]:
    """Additives by name and alias. Raises FileFaults for a faulty file of the bench."""
    return _named(_packaged_additives(), _own(bench, "additives.toml", additive_table, {}))


def fragrances(bench: Path | None = None) -> Mapping[str, FragranceFacts]:
    """The maker's own fragrances by name; none come with the program. Raises FileFaults."""
    return _own(bench, "fragrances.toml", fragrance_table, {})


def swirls(bench: Path | None = None) -> SwirlTable:
    """Swirls and handwork. Raises FileFaults for a faulty ``swirls.toml`` of the bench."""
    known = _packaged_swirls()
    own = _own(bench, "swirls.toml", swirl_table, SwirlTable({}, {}))
    return SwirlTable({**known.kinds, **own.kinds}, {**known.handwork, **own.handwork})


class Tables(NamedTuple):
    """What a pour's amounts and stages are worked out from."""

    oils: Mapping[str, OilFacts]
    colourants: Mapping[str, ColourantFacts]
    additives: Mapping[str, AdditiveFacts]
    swirls: SwirlTable
    faulty: str = ""
    """The maker's own file that could not be read; then none of his is used."""


def tables_anyhow(bench: Path) -> Tables:
    """The tables; without the maker's own where those cannot be read.

    A pour under way must not wait until a table is put right.
    """
    try:
        return Tables(oils(bench), colourants(bench), additives(bench), swirls(bench))
    except FileFaults as refused:
        return Tables(oils(), colourants(), additives(), swirls(), Path(refused.file).name)


def practice(bench: Path | None = None) -> Practice:
    """Common practice after the pour, values of the bench's ``aftercare.toml`` in place of ours.

    Raises FileFaults for a faulty file.
    """
    return _own(bench, "aftercare.toml", _with_own_practice, _packaged_practice())


def _with_own_practice(tables: Mapping[str, Any]) -> tuple[Practice, tuple[Fault, ...]]:
    marks = {mark: tables[mark] for mark in MARKS if mark in tables}
    ours = packaged("aftercare.toml")
    own = {
        name: {**ours.get(name, {}), **marks, **entry} if isinstance(entry, Mapping) else entry
        for name, entry in tables.items()
        if name not in MARKS
    }
    return practice_table({**ours, **own})


@cache
def cautions() -> Mapping[str, Mapping[str, str]]:
    """Texts of cautions by id, each with its source and how far that was verified."""
    return MappingProxyType(packaged("cautions.toml"))


def packaged(name: str) -> dict[str, Any]:
    """The tables of a file that comes with the program."""
    return tomllib.loads((get_data("soapbench", f"data/{name}") or b"").decode())


# What comes with the program cannot change while it runs, so it is read once.
@cache
def _packaged_oils() -> dict[str, OilFacts]:
    return _sound("oils.toml", oil_table(packaged("oils.toml")))


@cache
def _packaged_colourants() -> dict[str, ColourantFacts]:
    return _sound("colourants.toml", colourant_table(packaged("colourants.toml")))


@cache
def _packaged_additives() -> dict[str, AdditiveFacts]:
    return _sound("additives.toml", additive_table(packaged("additives.toml")))


@cache
def _packaged_practice() -> Practice:
    return _sound("aftercare.toml", practice_table(packaged("aftercare.toml")))


@cache
def _packaged_swirls() -> SwirlTable:
    return _sound("swirls.toml", swirl_table(packaged("swirls.toml")))


def _sound(file: str, read: tuple[T, tuple[Fault, ...]]) -> T:
    table, faults = read
    if faults:
        raise FileFaults(file, faults)
    return table


def _own(bench: Path | None, name: str, reader: Reader[T], nothing: T) -> T:
    """The maker's own table, or ``nothing``; every fault in it with its line."""
    if bench is None or not os.path.exists(path := bench / name):
        return nothing
    text = read_text(path)
    tables = parse_text(text, str(path))
    table, faults = reader({**OWN_MARKS, **tables})
    if faults:
        raise FileFaults(str(path), _with_lines(faults, text))
    return table


def _with_lines(faults: tuple[Fault, ...], text: str) -> list[Fault]:
    """Faults with the line of their key, else of the nearest table around it."""
    lines = {".".join(map(str, keys)): line for keys, line in key_lines(text).items()}
    placed = []
    for fault in faults:
        key = fault.key
        while key not in lines and "." in key:
            key = key.rpartition(".")[0]
        placed.append(replace(fault, line=lines.get(key)))
    return placed


def _named(packaged: Mapping[str, N], own: Mapping[str, N]) -> Mapping[str, N]:
    """Facts by name and alias; names win over aliases, the maker's own over the program's."""
    by_name = {**packaged, **own}
    aliases = {
        alias: fact
        for table in (packaged, own)
        for fact in table.values()
        for alias in fact.aliases
    }
    return MappingProxyType({**aliases, **by_name})
