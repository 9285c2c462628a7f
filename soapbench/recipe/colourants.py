"""What is known of a colourant: what it weighs, what it displaces, what to look out for."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from soapbench.plan.tables import LIQUIDS
from soapbench.reading.entries import UNLABELLED, Entry, Labelled, labelled, table_of
from soapbench.reading.faults import Fault
from soapbench.words.signs import LOOK

Facts = TypeVar("Facts")
WORD_ENDS = re.compile(r"[\W_]+")

USUAL_BULK_G_ML = 0.5
"""A spoonful of powder, for a colourant outside the table: ours, from memory of micas and clays."""
USUAL_SOLID_G_ML = 2.7
"""What powder displaces once wetted: ours, about the density of silicates, from memory."""
BULKS_G_ML, SOLIDS_G_ML = (0.02, 20), (0.5, 20)
"""Least and most of each: what lies beyond is a slip of the pen (ours)."""


@dataclass(frozen=True, slots=True)
class ColourantFacts:
    """A colourant of the table."""

    name: str
    bulk_g_ml: float = USUAL_BULK_G_ML
    """Mass of a level measure, g/mL."""
    solid_g_ml: float = USUAL_SOLID_G_ML
    """Density of the solid itself, g/mL."""
    disperse_in: str = "none"
    """What it is usually dispersed in: oil, water or none."""
    look: str | None = None
    """Usual colour, #rrggbb."""
    glycerin_rivers: bool = False
    """Known for glycerin rivers where batter gels."""
    note: str = ""
    """What to look out for."""
    lot: str = ""
    """Of the jar in use."""
    source: str = ""
    verified: str = ""
    aliases: tuple[str, ...] = ()
    inci: Labelled = UNLABELLED


def colourant_table(
    tables: Mapping[str, Any],
) -> tuple[dict[str, ColourantFacts], tuple[Fault, ...]]:
    """Colourants by name from their tables, and what was wrong with the entries left out."""
    return table_of(tables, _colourant)


def _colourant(name: str, entry: Entry) -> ColourantFacts:
    entry.keys(
        "aliases",
        "bulk_g_ml",
        "solid_g_ml",
        "disperse_in",
        "look",
        "glycerin_rivers",
        "lot",
        "note",
        "inci",
    )
    entry.marked()
    look = entry.text("look") or None
    if look and not LOOK.fullmatch(look):
        entry.fault("look", "no colour", 'write it as "#8a2020": red, green, blue')
    return ColourantFacts(
        name=name,
        bulk_g_ml=entry.number("bulk_g_ml", *BULKS_G_ML, USUAL_BULK_G_ML),
        solid_g_ml=entry.number("solid_g_ml", *SOLIDS_G_ML, USUAL_SOLID_G_ML),
        disperse_in=entry.word("disperse_in", LIQUIDS, "none"),
        look=look,
        glycerin_rivers=entry.flag("glycerin_rivers"),
        note=entry.text("note"),
        lot=entry.text("lot"),
        aliases=entry.names("aliases"),
        inci=labelled(entry),
        **entry.marks,
    )


def facts_of(colourant: str, table: Mapping[str, ColourantFacts]) -> ColourantFacts:
    """Facts of a colourant by its name, else by the longest table name within its words.

    "slate mica" is a mica; a name with no known word gets the usual values.
    """
    return by_words(colourant, table) or ColourantFacts(colourant)


def by_words(written: str, table: Mapping[str, Facts]) -> Facts | None:
    """The entry of that name, else of the longest name within its words, if there is one."""
    if written in table:
        return table[written]
    words = _words(written)
    names = [name for name in table if _words(name) in words]
    return table[max(names, key=len)] if names else None


def _words(name: str) -> str:
    return f" {' '.join(WORD_ENDS.split(name.casefold()))} "
