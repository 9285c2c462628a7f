"""What is known of an oil: its saponification range, density and fatty acids.

Every value is a range with its own source and how far that was verified, as in the oil table.
Saponification values are mg KOH per g of oil, fatty acids are mass percent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from soapbench.plan.values import DENSITIES, SAPONIFICATION_VALUES
from soapbench.reading.entries import UNLABELLED, Entry, Labelled, labelled, table_of
from soapbench.reading.faults import Fault
from soapbench.recipe.lye import KOH, NAOH, water_density

NAOH_PER_KOH = NAOH.molar_mass / KOH.molar_mass
"""g of NaOH that does the work of 1 g of KOH."""
EXPANSION_G_ML_K = 0.00068
"""How much lighter an oil gets per kelvin: common practice, no source. The CoolProp library's
"FoodFat" loses 0.0004 (fat still partly solid), the chemicals library's methyl oleate 0.0007."""
USUAL_DENSITY = 0.915
"""g/mL at 20 degC, for an oil outside the table: ours, the middle of the oils in it."""
USUAL_SATURATED = 0.40
"""For an oil outside the table: ours, the middle of common recipes."""

FATTY_ACIDS: Mapping[str, tuple[int, int, int, int]] = {
    "8:0": (8, 16, 2, 0),
    "10:0": (10, 20, 2, 0),
    "12:0": (12, 24, 2, 0),
    "14:0": (14, 28, 2, 0),
    "16:0": (16, 32, 2, 0),
    "16:1": (16, 30, 2, 1),
    "18:0": (18, 36, 2, 0),
    "18:1": (18, 34, 2, 1),
    "18:1-OH": (18, 34, 3, 1),
    "18:2": (18, 32, 2, 2),
    "18:3": (18, 30, 2, 3),
    "20:0": (20, 40, 2, 0),
    "20:1": (20, 38, 2, 1),
    "22:0": (22, 44, 2, 0),
    "22:1": (22, 42, 2, 1),
}
"""Carbon, hydrogen and oxygen atoms and double bonds, by carbons:double bonds; 18:1-OH is
ricinoleic acid."""


@dataclass(frozen=True, slots=True)
class Range:
    """From low to high, both within; where it was read and how far that was verified."""

    low: float
    high: float
    source: str
    verified: str

    @property
    def mid(self) -> float:
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True)
class OilFacts:
    """An oil of the table. None: not known."""

    name: str
    saponification: Range
    """mg KOH/g."""
    saturated: Range | None = None
    """Saturated share of the fatty acids, 0 to 1: given, or from the middles of their ranges."""
    iodine: Range | None = None
    """g of iodine per 100 g."""
    density: Range | None = None
    """g/mL at ``density_c``."""
    density_c: float = 20.0
    fatty_acids: tuple[tuple[str, Range], ...] = ()
    """Mass percent by acid."""
    document: str = ""
    """The standard or other document the ranges belong to."""
    lot: str = ""
    """Of the drum in use."""
    aliases: tuple[str, ...] = ()
    inci: Labelled = UNLABELLED

    def density_at(self, c: float) -> float:
        """Density at ``c`` degC, g/mL, from the middle of its range."""
        if self.density is None:
            return usual_density(c)
        return self.density.mid - EXPANSION_G_ML_K * (c - self.density_c)


def usual_density(c: float) -> float:
    """Density at ``c`` degC of an oil nothing is known of, g/mL."""
    return USUAL_DENSITY - EXPANSION_G_ML_K * (c - 20)


def oil_table(tables: Mapping[str, Any]) -> tuple[dict[str, OilFacts], tuple[Fault, ...]]:
    """Oils by name from their tables, and what was wrong with the entries left out.

    An entry is made of groups of values, each with its own ``source`` and ``verified`` or those
    of the entry. A range is ``[low, high]`` or one number.
    """
    return table_of(tables, _oil)


def _oil(name: str, entry: Entry) -> OilFacts:
    entry.keys(
        "aliases",
        "document",
        "lot",
        "saponification",
        "iodine",
        "density",
        "fatty_acids",
        "saturated",
        "inci",
    )
    saponification = _range(entry, "saponification", "mg_koh_g", *SAPONIFICATION_VALUES)
    if "saponification" not in entry.table:
        entry.fault("saponification", "missing", "saponification.mg_koh_g = [184, 196]")
    density, density_c = _density(entry)
    acids = _fatty_acids(entry)
    return OilFacts(
        name=name,
        saponification=saponification or Range(0, 0, "", ""),
        saturated=_range(entry, "saturated", "share", 0, 1) or _saturated(acids),
        iodine=_range(entry, "iodine", "g_100g", 0, 400),
        density=density,
        density_c=density_c,
        fatty_acids=acids,
        document=entry.text("document"),
        lot=entry.text("lot"),
        aliases=entry.names("aliases"),
        inci=labelled(entry),
    )


def _range(entry: Entry, name: str, unit: str, least: float, most: float) -> Range | None:
    group = entry.group(name)
    if group is None:
        return None
    group.keys(unit)
    group.marked()
    low, high = group.ends(unit, least, most)
    return Range(low, high, **group.marks)


def _density(entry: Entry) -> tuple[Range | None, float]:
    """Density in g/mL, from a relative one by the water it is compared with, and its degC."""
    group = entry.group("density")
    if group is None:
        return None, 20.0
    group.keys("relative", "g_ml", "at_c", "water_c")
    group.marked()
    at_c = group.number("at_c", 0, 100, 20)
    if "relative" not in group.table:
        low, high = group.ends("g_ml", *DENSITIES)
        return Range(low, high, **group.marks), at_c
    water = water_density(group.number("water_c", 0, 100, 20))
    low, high = group.ends("relative", *DENSITIES)
    return Range(low * water, high * water, **group.marks), at_c


def _fatty_acids(entry: Entry) -> tuple[tuple[str, Range], ...]:
    group = entry.group("fatty_acids")
    if group is None:
        return ()
    group.keys("percent")
    group.marked()
    percent = group.group("percent")
    if percent is None or not percent.table:
        group.fault("percent", "missing", 'percent = { "18:1" = [55, 83] }')
        return ()
    percent.keys(*FATTY_ACIDS)
    return tuple(
        (
            acid,
            Range(*percent.ends(acid, 0, 100), percent.marks["source"], percent.marks["verified"]),
        )
        for acid in percent.table
        if acid in FATTY_ACIDS
    )


def _saturated(acids: tuple[tuple[str, Range], ...]) -> Range | None:
    """Saturated share by the middles of the ranges, as parts of what they add up to."""
    total = sum(acid.mid for _, acid in acids)
    if not total:
        return None
    share = sum(acid.mid for name, acid in acids if FATTY_ACIDS[name][3] == 0) / total
    mark = acids[0][1]
    return Range(share, share, f"middles of the fatty-acid ranges, {mark.source}", mark.verified)
