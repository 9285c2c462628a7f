"""What is to be said about a plan before it is poured: problems and cautions.

The rules are here; what they say, and what it rests on, comes from the table of cautions.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from soapbench.batter import Reputation
from soapbench.plan import Plan
from soapbench.reading.safetext import clean
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.lye import BOIL_AND_SPIT_C
from soapbench.recipe.warmth import batter_c, melting_floor

WELL_UNDER = 0.75
"""Part of the mould below which it is well under-full (ours)."""
WIDE_RANGE = 0.05
"""Half a saponification range against its middle, from which a certificate is asked for (ours)."""
WARM_C = 32.0
"""From this batter temperature on, a known accelerator gets a caution (ours)."""
COOL_C = 27.0
"""Below this batter temperature, false trace gets a caution (common practice, from memory)."""
NEAR_SATURATION = 0.45
"""Lye concentration from which it may not dissolve or stay dissolved (ours, from memory)."""
LONGEST_NAME = 24
ALWAYS = ("lye-to-water", "lye-gear", "lye-first-aid", "fresh-soap", "alcohol", "local-rules")
Found = Iterator[tuple[str, dict[str, str]]]
"""The id of a caution and the words that go into its text."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to mind, what it rests on, and how far that was verified."""

    id: str
    text: str
    source: str
    verified: str


def problems(
    plan: Plan, amounts: Amounts, table: Mapping[str, Mapping[str, str]]
) -> tuple[Caution, ...]:
    """What needs attention before this plan is poured; empty when nothing does."""
    return _told(_problems(plan, amounts), table)


def cautions(
    plan: Plan, amounts: Amounts, table: Mapping[str, Mapping[str, str]]
) -> tuple[Caution, ...]:
    """What to mind with this plan, then what to mind with every plan."""
    told = _told(_cautions(plan, amounts), table)
    return told + _told(((id_, {}) for id_ in ALWAYS), table)


def _told(found: Found, table: Mapping[str, Mapping[str, str]]) -> tuple[Caution, ...]:
    return tuple(
        Caution(
            id_, table[id_]["text"].format(**words), table[id_]["source"], table[id_]["verified"]
        )
        for id_, words in found
    )


def _problems(plan: Plan, amounts: Amounts) -> Found:
    for fragrance in amounts.fragrances:
        if fragrance.over and fragrance.limit is not None:
            rest_g = fragrance.g / fragrance.share_cured - fragrance.g
            yield (
                "fragrance-over-limit",
                {
                    "fragrance": _name(fragrance.name),
                    "cured": _percent(fragrance.share_cured, 2),
                    "fresh": _percent(fragrance.share_fresh, 2),
                    "limit": _percent(fragrance.limit, 2),
                    "most": f"{_floor(fragrance.limit / (1 - fragrance.limit) * rest_g)} g",
                },
            )
    if amounts.fill > 1:
        words = {"ml": f"{amounts.batter_ml:.0f} mL", "fill": _percent(amounts.fill, 0)}
        yield "mould-overfull", words
    if amounts.superfat < 0:
        yield "superfat-negative", {"superfat": _percent(amounts.superfat)}
    yield from _too_cool(plan, amounts)
    yield from _too_much_liquid(amounts)


def _too_cool(plan: Plan, amounts: Amounts) -> Found:
    c, floor = batter_c(plan, amounts), melting_floor(amounts)
    if floor is not None and c < floor:
        words = {"batter": f"{c:.0f} degC", "floor": f"{math.ceil(floor)} degC"}
        yield "below-melting-floor", words


def _too_much_liquid(amounts: Amounts) -> Found:
    alkali_g = amounts.naoh_g + amounts.koh_g
    if amounts.lye_water_g < alkali_g and amounts.lye_water_g < amounts.water_g:
        yield (
            "lye-water-short",
            {
                "taken": f"{amounts.water_g - amounts.lye_water_g:.0f} g",
                "left": f"{max(amounts.lye_water_g, 0):.0f} g",
                "alkali": f"{alkali_g:.0f} g",
            },
        )
    for pot in amounts.pots:
        if pot.pour_off_ml <= 0:
            yield "colour-too-much", {"pot": _name(pot.name)}
    oil_g = sum(c.liquid_g for pot in amounts.pots for c in pot.colourants if c.liquid == "oil")
    if oil_g > amounts.oils_g:
        words = {"taken": f"{oil_g:.0f} g", "oils": f"{amounts.oils_g:.0f} g"}
        yield "dispersal-oil-short", words


def _cautions(plan: Plan, amounts: Amounts) -> Found:
    low, high = amounts.superfat_range
    if low < 0:
        yield "superfat-low-end", {"low": _percent(low), "high": _percent(high)}
    for fragrance in amounts.fragrances:
        if fragrance.limit is None:
            yield "no-limit", {"fragrance": _name(fragrance.name)}
    yield from _colour_cautions(plan, amounts)
    if amounts.fill < WELL_UNDER:
        yield "mould-under", {"fill": _percent(amounts.fill, 0)}
    yield from _lye_cautions(plan, amounts)
    for oil in amounts.oils:
        least, most = oil.saponification
        if (most - least) / (most + least) > WIDE_RANGE:
            spread = f"± {_percent((most - least) / (most + least), 0)}"
            yield "oil-range", {"oil": _name(oil.name), "spread": spread}
    yield from _heat_cautions(plan)


def _colour_cautions(plan: Plan, amounts: Amounts) -> Found:
    if plan.conditions.gel == "prevent":
        return
    seen: set[tuple[str, str]] = set()
    for colourant in (c for pot in amounts.pots for c in pot.colourants):
        for id_, applies in (
            ("glycerin-rivers", colourant.glycerin_rivers),
            ("water-colour-gel", colourant.liquid == "water"),
        ):
            if applies and (id_, colourant.name) not in seen:
                seen.add((id_, colourant.name))
                yield id_, {"colour": _name(colourant.name)}


def _lye_cautions(plan: Plan, amounts: Amounts) -> Found:
    if amounts.lye_peak_c >= BOIL_AND_SPIT_C:
        yield "lye-hot", {"peak": f"{amounts.lye_peak_c:.0f} degC"}
    if amounts.concentration >= NEAR_SATURATION:
        yield "lye-near-saturation", {"strength": _percent(amounts.concentration)}
    purity_assumed = "lye.purity" in plan.assumed
    if plan.lye.alkali != "KOH" and purity_assumed:
        yield "purity-assumed", {"alkali": "NaOH"}
    if plan.lye.alkali == "both" and plan.lye.koh_purity is None:
        yield "purity-assumed", {"alkali": "KOH"}
    if plan.lye.alkali == "KOH" and plan.lye.koh_purity is None and purity_assumed:
        yield "purity-assumed", {"alkali": "KOH"}


def _heat_cautions(plan: Plan) -> Found:
    conditions = plan.conditions
    assumed = [name for name in ("batter", "room") if f"conditions.{name}" in plan.assumed]
    if conditions.oils is not None:
        assumed = [name for name in assumed if name != "batter"]
    if assumed:
        given = (f"{name} at {getattr(conditions, name):.0f} degC" for name in assumed)
        yield "conditions-assumed", {"assumed": ", ".join(given)}
    if conditions.batter >= WARM_C:
        for fragrance in plan.fragrance:
            if fragrance.reputation in (Reputation.ACCELERATES, Reputation.NOTORIOUS):
                yield (
                    "warm-accelerator",
                    {
                        "fragrance": _name(fragrance.name),
                        "batter": f"{conditions.batter:.0f} degC",
                    },
                )
    if conditions.batter < COOL_C:
        yield "false-trace", {"batter": f"{conditions.batter:.0f} degC"}


def _name(name: str) -> str:
    return clean(name, LONGEST_NAME)


def _percent(share: float, decimals: int = 1) -> str:
    return f"{share * 100:.{decimals}f} %"


def _floor(g: float) -> float:
    """Rounded down to 0.1 g, as the most that may be weighed."""
    return int(g * 10) / 10
