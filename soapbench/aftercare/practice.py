"""Times makers go by after the pour: spray, gel, unmould, cut, cure; from the table of aftercare.

All of it is common practice without a source, and marked so in the table.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from soapbench.reading.entries import Entry, entries
from soapbench.reading.faults import Fault

GEL_WORDS = ("prevent", "allow", "force", "cooked")
Hours = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Practice:
    """Common practice after the pour. Windows are (earliest, latest) from the end of the pour."""

    spray_again_s: float
    heat_wait_s: float
    """From the last spray until heat may come near."""
    gel_h: Hours
    unmould_h: Mapping[str, Hours]
    """By ``GEL_WORDS``."""
    cut_h: Mapping[str, Hours]
    soft_below: float
    """Saturated share of the fatty acids."""
    soft_times: float
    wet_below: float
    """Lye concentration."""
    wet_times: float
    cure_weeks: tuple[float, float]
    cooked_weeks: tuple[float, float]
    weigh_every_days: float
    to_go: float
    """Part of a bar's mass still to be lost at which it counts as dry."""
    forgotten_weeks: float
    """From the cut until a batch nobody put away counts as put away."""
    source: str
    """Of the times; the same words for all that are common practice."""


def practice_table(tables: Mapping[str, Any]) -> tuple[Practice, tuple[Fault, ...]]:
    """Practice from its TOML tables, and what was wrong with them."""
    faults: list[Fault] = []
    found = dict(entries(tables, faults))
    for name in found:
        if name not in ("spray", "gel", "unmould", "cut", "recipe", "cure"):
            found[name].fault("", "no such table here", "spray, gel, unmould, cut, recipe or cure")

    def entry(name: str) -> Entry:
        return found.get(name) or Entry(name, {}, faults, {})

    def inner(name: str, below: str) -> Entry:
        return entry(name).group(below) or Entry(f"{name}.{below}", {}, faults, {})

    def windows(name: str) -> dict[str, Hours]:
        return {gel: entry(name).ends(gel, 0, 2000) for gel in GEL_WORDS}

    recipe, cure = entry("recipe"), entry("cure")
    made = Practice(
        spray_again_s=entry("spray").number("again_s", 10, 36_000, 300),
        heat_wait_s=inner("spray", "heat").number("wait_min", 1, 2880, 30) * 60,
        gel_h=entry("gel").ends("hours", 0, 200),
        unmould_h=windows("unmould"),
        cut_h=windows("cut"),
        soft_below=recipe.number("soft_below", 0, 1, 0.3),
        soft_times=recipe.number("soft_times", 1, 10, 1.5),
        wet_below=recipe.number("wet_below", 0, 1, 0.3),
        wet_times=recipe.number("wet_times", 1, 10, 1.25),
        cure_weeks=cure.ends("weeks", 0, 200),
        cooked_weeks=cure.ends("cooked_weeks", 0, 200),
        weigh_every_days=cure.number("weigh_every_days", 1, 365, 7),
        to_go=inner("cure", "dry").number("to_go", 0.0005, 0.2, 0.01),
        forgotten_weeks=inner("cure", "forgotten").number("weeks", 1, 1000, 26),
        source=cure.marks["source"],
    )
    return made, tuple(faults)
