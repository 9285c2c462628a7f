"""Times makers go by after the pour: spray, gel, unmould, cut, cure; from the table of aftercare.

All of it is common practice without a source, and marked so in the table.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from soapbench.plan.tables import GELS
from soapbench.reading.entries import Entry, entries
from soapbench.reading.faults import Fault

SOAP_KEYS = ("brittle", "salty", "castile", "cooked")
"""Soaps with windows of their own, by their words in ``soapkind.Soap``."""
COMMON = "common practice, no source"
FINISHES = ("plane", "stamp", "wrap")
SPRAY_AGAIN_FOR_S = 3600.0
"""So long a second spray is called for; then it is pointless (ours)."""
TABLES = ("spray", "gel", "unmould", "cut", "recipe", "cure", "finish", "keeps")
Span = tuple[float, float]
"""Earliest and latest."""


@dataclass(frozen=True, slots=True)
class Practice:
    """Common practice after the pour. Windows count hours from the end of the pour."""

    spray_again_s: float
    heat_wait_s: float
    """From the last spray until heat may come near."""
    gel_h: Span
    gel_at_c: Span
    """How warm a forced gel is kept, degC."""
    unmould_h: Mapping[str, Span]
    """By ``GELS`` for the usual soap, by ``SOAP_KEYS`` for others."""
    cut_h: Mapping[str, Span]
    brittle_over: float
    """Share of the oils that are coconut, palm kernel or babassu."""
    salty_over: float
    castile_over: float
    soft_below: float
    """Saturated share of the fatty acids."""
    soft_times: float
    wet_below: float
    """Lye concentration."""
    wet_times: float
    cure_weeks: Mapping[str, Span]
    """From the cut, by "usual" and ``SOAP_KEYS``."""
    castile_months: Span
    """How long castile is left by custom."""
    weigh_every_days: float
    to_go: float
    """Part of a bar's mass still to be lost at which it counts as dry."""
    forgotten_weeks: float
    """From the cut until a batch nobody put away counts as put away."""
    finish_days: Mapping[str, Span]
    """By ``FINISHES``: from the cut; wrapping from the end of the cure."""
    finish_always: tuple[str, ...]
    """Of ``FINISHES``: wanted for every batch."""
    keeps_months: float
    """How long a bar is said to keep, from the day it was made."""
    source: str
    """Of the times; the same words for all that are common practice."""

    @property
    def rule(self) -> str:
        """What the times are, for a footnote."""
        ours = self.source == COMMON
        return "rule of thumb" if ours else f"times by {self.source}"


def practice_table(tables: Mapping[str, Any]) -> tuple[Practice, tuple[Fault, ...]]:
    """Practice from its TOML tables, and what was wrong with them."""
    faults: list[Fault] = []
    parts = dict(entries(tables, faults))
    for name in parts:
        if name not in TABLES:
            parts[name].fault("", "no such table here", f"{', '.join(TABLES[:-1])} or {TABLES[-1]}")

    def entry(name: str) -> Entry:
        return parts.get(name) or Entry(name, {}, faults, {})

    def inner(name: str, below: str) -> Entry:
        return entry(name).group(below) or Entry(f"{name}.{below}", {}, faults, {})

    def windows(name: str) -> dict[str, Span]:
        return {word: entry(name).ends(word, 0, 2000) for word in (*GELS, *SOAP_KEYS)}

    recipe, cure, finish = entry("recipe"), entry("cure"), entry("finish")
    weeks = {soap: cure.ends(f"{soap}_weeks", 0, 200) for soap in SOAP_KEYS}
    practice = Practice(
        spray_again_s=entry("spray").number("again_s", 10, 36_000, 300),
        heat_wait_s=inner("spray", "heat").number("wait_min", 1, 2880, 30) * 60,
        gel_h=entry("gel").ends("hours", 0, 200),
        gel_at_c=inner("gel", "forced").ends("at_c", 30, 95),
        unmould_h=windows("unmould"),
        cut_h=windows("cut"),
        brittle_over=recipe.number("brittle_over", 0, 1, 0.6),
        salty_over=recipe.number("salty_over", 0, 1, 0.25),
        castile_over=recipe.number("castile_over", 0, 1, 0.8),
        soft_below=recipe.number("soft_below", 0, 1, 0.3),
        soft_times=recipe.number("soft_times", 1, 10, 1.5),
        wet_below=recipe.number("wet_below", 0, 1, 0.3),
        wet_times=recipe.number("wet_times", 1, 10, 1.25),
        cure_weeks={"usual": cure.ends("weeks", 0, 200), **weeks},
        castile_months=cure.ends("castile_custom_months", 0, 60),
        weigh_every_days=cure.number("weigh_every_days", 1, 365, 7),
        to_go=inner("cure", "dry").number("to_go", 0.0005, 0.2, 0.01),
        forgotten_weeks=inner("cure", "forgotten").number("weeks", 1, 1000, 26),
        finish_days={act: finish.ends(f"{act}_days", 0, 1000) for act in FINISHES},
        finish_always=_acts(finish),
        keeps_months=entry("keeps").number("months", 1, 120, 12),
        source=cure.marks["source"],
    )
    return practice, tuple(faults)


def _acts(finish: Entry) -> tuple[str, ...]:
    acts = finish.names("always")
    for act in acts:
        if act not in FINISHES:
            finish.fault("always", f'"{act[:40]}" is no finishing touch', ", ".join(FINISHES))
    return tuple(act for act in FINISHES if act in acts)
