"""What went into one batch: what was weighed out and ticked, and the list of ingredients."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from soapbench.advice.known import Known
from soapbench.log import Event, Kind
from soapbench.plan import Plan
from soapbench.recipe.amounts import Amounts
from soapbench.sheet.setout import items

MATERIAL_GROUPS = ("Weigh", "Colours")
NAOH, KOH, WATER = "sodium hydroxide", "potassium hydroxide", "water"
"""As ingredients are called."""


@dataclass(frozen=True, slots=True)
class Material:
    """One thing weighed out: as planned, when it was ticked, its lot."""

    words: str
    ticked: datetime | None
    lot: str
    has_lot: bool


@dataclass(frozen=True, slots=True)
class Ingredient:
    """An ingredient as it was added; ``g`` None: its dose was not written down."""

    name: str
    g: float | None
    share: float | None
    """Of the batter."""


def ingredients(amounts: Amounts) -> tuple[Ingredient, ...]:
    """What went into the batter, in descending mass at the time of adding; unweighed ones last.

    Alkali is listed as weighed. Colourants of one name are one ingredient, whatever the pot.
    """
    grams: dict[str, float] = {}
    unknown: list[str] = []
    listed = [
        *((oil.name, oil.g) for oil in (*amounts.oils, *amounts.extra_oils)),
        (NAOH, amounts.naoh_g - amounts.stock_water_g),
        (KOH, amounts.koh_g),
        (WATER, amounts.water_g + amounts.stock_water_g),
        *((a.name, a.g) for a in amounts.additives),
        *((fragrance.name, fragrance.g) for fragrance in amounts.fragrances),
        *((c.name, c.g) for pot in amounts.pots for c in pot.colourants if c.dose is not None),
    ]
    for name, g in listed:
        if g > 0:
            grams[name] = grams.get(name, 0.0) + g
    for pot in amounts.pots:
        unknown += [c.name for c in pot.colourants if c.dose is None and c.name not in grams]
    weighed = [Ingredient(name, g, g / amounts.batter_g) for name, g in grams.items()]
    weighed.sort(key=lambda i: -(i.g or 0))
    return (*weighed, *(Ingredient(name, None, None) for name in dict.fromkeys(unknown)))


def materials(
    plan: Plan, amounts: Amounts, known: Known, facts: Iterable[Event]
) -> tuple[Material, ...]:
    """What the set-out weighs, each with when it was ticked and its lot."""
    ticks = {str(e.values.get("item")): e for e in facts if e.kind is Kind.WEIGHED_OUT}
    rows = []
    for item in items(plan, amounts, known.swirls):
        if item.group in MATERIAL_GROUPS:
            tick = ticks.get(item.id)
            lot = str(tick.values.get("lot", "")) if tick else item.expected_lot
            rows.append(Material(item.words, tick.at if tick else None, lot, item.lot))
    return tuple(rows)
