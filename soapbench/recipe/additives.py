"""Additives: what a batter holds beside oils, lye, colours and fragrance, and what that does.

Masses are in g, volumes in mL. Water an additive brings counts as the recipe's own; an acid uses
up alkali by its molar mass, which is added.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from soapbench.plan import Plan
from soapbench.plan.tables import EMULSION, PLACES, Additive
from soapbench.reading.entries import UNLABELLED, Entry, Labelled, labelled, table_of
from soapbench.reading.faults import Fault
from soapbench.recipe.colourants import BULKS_G_ML, SOLIDS_G_ML, by_words
from soapbench.recipe.lye import C, H, O


@dataclass(frozen=True, slots=True)
class AdditiveFacts:
    """An additive of the table."""

    name: str
    water: float = 0.0
    """Share of it that is water."""
    bulk_g_ml: float = 1.0
    """Mass of a measure of it."""
    solid_g_ml: float = 1.5
    """Density of what is not water in it."""
    goes_in: str = EMULSION
    clock: tuple[float, float] = (1.0, 1.0)
    """Times faster the batter thickens with a usual dose, low and high."""
    acid_mol_g: float = 0.0
    """Alkali that one g of it uses up, mol."""
    heats: bool = False
    rivers: bool = False
    frozen: bool = False
    powder: bool = False
    cut: str = ""
    note: str = ""
    lot: str = ""
    source: str = ""
    verified: str = ""
    aliases: tuple[str, ...] = ()
    inci: Labelled = UNLABELLED
    known: bool = True
    """False: nothing is known of it but what is taken as usual."""


USUAL = AdditiveFacts("", known=False)


@dataclass(frozen=True, slots=True)
class AdditiveAmount:
    """An additive to weigh out."""

    name: str
    g: float
    written: str
    """Its dose as written."""
    place: str
    """One of ``PLACES``; empty where it goes into single pots."""
    pots: tuple[str, ...]
    facts: AdditiveFacts

    @property
    def water_g(self) -> float:
        return self.g * self.facts.water

    @property
    def dry_ml(self) -> float:
        """What it displaces beside its water."""
        return self.g * (1 - self.facts.water) / self.facts.solid_g_ml

    @property
    def acid_mol(self) -> float:
        return self.g * self.facts.acid_mol_g

    @property
    def ice_g(self) -> float:
        """Of it what has to melt for certain: ice is weighed as ice, milk may not be frozen."""
        return self.water_g if self.facts.frozen and self.facts.water == 1 else 0.0


def additive_amount(
    additive: Additive, table: Mapping[str, AdditiveFacts], oils_g: float
) -> AdditiveAmount:
    """One additive of a plan in a batch of ``oils_g``."""
    facts = by_words(additive.name, table) or AdditiveFacts(additive.name, known=False)
    dose = additive.dose
    if dose.share is not None:
        g = dose.share * oils_g
    else:
        g = dose.g if dose.g is not None else (dose.ml or 0.0) * facts.bulk_g_ml
    into = additive.goes_in or facts.goes_in
    place = into if isinstance(into, str) and into in PLACES else ""
    return AdditiveAmount(additive.name, g, dose.written, place, additive.pots, facts)


def placed(plan: Plan, table: Mapping[str, AdditiveFacts]) -> Plan:
    """The plan with every additive told where to go, where its maker did not say."""
    if all(a.goes_in for a in plan.additives):
        return plan
    additives = (
        a if a.goes_in else replace(a, goes_in=(by_words(a.name, table) or USUAL).goes_in)
        for a in plan.additives
    )
    return replace(plan, additives=tuple(additives))


def hurry_of(additives: Iterable[AdditiveAmount]) -> float:
    """Times faster the batter thickens with them all: the middle of each one's range."""
    ranges = {a.facts.name: a.facts.clock for a in additives}.values()
    return math.prod(math.sqrt(low * high) for low, high in ranges)


def additive_table(tables: Mapping[str, Any]) -> tuple[dict[str, AdditiveFacts], tuple[Fault, ...]]:
    """Additives by name from their tables, and what was wrong with the entries left out."""
    return table_of(tables, _additive)


def _additive(name: str, entry: Entry) -> AdditiveFacts:
    entry.keys(
        "aliases", "water", "bulk_g_ml", "solid_g_ml", "goes_in", "clock", "acid", "heats",
        "rivers", "frozen", "powder", "cut", "note", "lot", "inci",
    )  # fmt: skip
    entry.marked()
    clock = entry.ends("clock", 0.2, 10) if "clock" in entry.table else (1.0, 1.0)
    return AdditiveFacts(
        name=name,
        water=entry.number("water", 0, 1, 0.0),
        bulk_g_ml=entry.number("bulk_g_ml", *BULKS_G_ML, 1.0),
        solid_g_ml=entry.number("solid_g_ml", *SOLIDS_G_ML, 1.5),
        goes_in=entry.word("goes_in", PLACES, EMULSION),
        clock=clock,
        acid_mol_g=_acid(entry),
        heats=entry.flag("heats"),
        rivers=entry.flag("rivers"),
        frozen=entry.flag("frozen"),
        powder=entry.flag("powder"),
        cut=entry.text("cut"),
        note=entry.text("note"),
        lot=entry.text("lot"),
        aliases=entry.names("aliases"),
        inci=labelled(entry),
        source=entry.marks["source"],
        verified=entry.marks["verified"],
    )


def _acid(entry: Entry) -> float:
    """mol of alkali that one g uses up: its protons over its molar mass, times its share."""
    group = entry.group("acid")
    if group is None:
        return 0.0
    group.keys("atoms", "protons", "share")
    atoms = group.table.get("atoms")
    sound = isinstance(atoms, list) and len(atoms) == 3
    if not sound or not all(isinstance(n, int) and 0 <= n <= 99 for n in atoms or ()):
        group.fault("atoms", "no count of C, H and O", "atoms = [6, 8, 7]")
        return 0.0
    mass = sum(n * weight for n, weight in zip(atoms or (), (C, H, O), strict=True))
    protons = group.count("protons", 1, 9, 1)
    return protons * group.number("share", 0.001, 1, 1.0) / mass if mass else 0.0
