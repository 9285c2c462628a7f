"""What is wrong with a plan: what must not be poured as it stands, and what needs attention.

The rules are here; what they say, and what it rests on, comes from the table of cautions.
"""

from __future__ import annotations

import math

from soapbench.plan import Plan
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.oilamounts import OilAmount
from soapbench.recipe.oils import NAOH_PER_KOH
from soapbench.recipe.severity import Caution, Findings, Texts, name, texts_of
from soapbench.recipe.warmth import batter_c, melting_floor
from soapbench.words.numbers import celsius, g, ml, share, span

MOST_WITHOUT_LIMIT = 0.06
"""Fragrance load above which a limit has to be given (common practice, no source)."""
LOWEST_OF_BATCH = -0.01
"""Superfat at the low end of the oils' ranges below which a batch is lye-heavy (ours)."""
OFF_ITS_RANGE = 0.03
"""How far a certificate may lie outside the table's range before it is doubted (ours)."""
NEAR_NAOH = 0.02
"""How near to the NaOH value of the range it looks like that (ours)."""
LOWEST_VALUE = 160.0
"""mg KOH/g: no fat of the table lies below (shea, CXS 325R-2017); a few waxes do."""


def problems(plan: Plan, amounts: Amounts, table: Texts) -> tuple[Caution, ...]:
    """What needs attention before this plan is poured; empty when nothing does."""
    return texts_of(_problems(plan, amounts), table)


def _problems(plan: Plan, amounts: Amounts) -> Findings:
    yield from _of_lye(plan, amounts)
    yield from _of_superfat(amounts)
    yield from _of_fragrance(plan, amounts)
    if amounts.fill > 1:
        words = {"ml": ml(amounts.batter_ml), "fill": share(amounts.fill, 0)}
        yield "mould-overfull", words
    for i, mould in enumerate(amounts.moulds, 1):
        if mould.pots and mould.ml > mould.brim_ml > 0 and amounts.fill <= 1:
            words = {"ml": ml(mould.ml), "fill": share(mould.ml / mould.brim_ml, 0)}
            yield "mould-of-pots-overfull", {**words, "mould": str(i)}
    yield from _of_liquid(amounts)
    yield from _of_warmth(plan, amounts)


def _of_warmth(plan: Plan, amounts: Amounts) -> Findings:
    c, floor = batter_c(plan, amounts), melting_floor(amounts)
    if floor is not None and c < floor:
        words = {"batter": celsius(c), "floor": celsius(math.ceil(floor))}
        yield "below-melting-floor", words


def _of_lye(plan: Plan, amounts: Amounts) -> Findings:
    for oil in amounts.oils:
        yield from _of_value(oil)
    assumed = {"KOH": plan.lye.koh_purity is None and "lye.purity" in plan.assumed}
    assumed["both"] = "lye.koh_purity" in plan.assumed
    if assumed.get(plan.lye.alkali):
        purity = plan.lye.koh_purity or plan.lye.purity
        yield "koh-purity", {"assumed": share(purity, 0)}
    alkali_g = amounts.pure_g if plan.lye.stock else amounts.naoh_g + amounts.koh_g
    if amounts.dissolving_g <= 0:
        yield "lye-water-none", {"water": g(amounts.all_water_g)}
    elif amounts.lye_water_g < -0.05:
        over = {"over": g(-amounts.lye_water_g), "strength": share(amounts.concentration)}
        yield "water-over", over
    elif amounts.dissolving_g < alkali_g:
        words = {"left": g(amounts.dissolving_g), "alkali": g(alkali_g)}
        yield "lye-water-short", words


def _of_value(oil: OilAmount) -> Findings:
    """A certificate's value that cannot be that oil's."""
    value = oil.saponification[0]
    low, high = oil.usual or (LOWEST_VALUE, LOWEST_VALUE / NAOH_PER_KOH)
    by_koh = f"{value / NAOH_PER_KOH:.0f} mg/g"
    words = {"oil": name(oil.name), "value": f"{value:.0f} mg/g", "koh": by_koh}
    as_naoh = (low * NAOH_PER_KOH * (1 - NEAR_NAOH), high * NAOH_PER_KOH * (1 + NEAR_NAOH))
    outside = not low * (1 - OFF_ITS_RANGE) <= value <= high * (1 + OFF_ITS_RANGE)
    if oil.usual is None:
        outside = value < low  # nothing is known of it but that no fat lies there
    if not outside:
        return
    if as_naoh[0] <= value <= as_naoh[1]:
        yield "saponification-naoh", words
    elif oil.usual is not None:
        yield "saponification-off", {**words, "usual": span(low, high)}


def _of_superfat(amounts: Amounts) -> Findings:
    low, high = amounts.superfat.range
    if amounts.superfat.mid < 0:
        yield "superfat-negative", {"superfat": share(amounts.superfat.mid)}
    elif low < LOWEST_OF_BATCH:
        yield "superfat-low", {"low": share(low), "high": share(high)}
    for pot in amounts.pots:
        if pot.superfat.mid < 0 <= amounts.superfat.mid:
            words = {"pot": name(pot.name), "superfat": share(pot.superfat.mid)}
            yield "superfat-of-pot", {**words, "batch": share(amounts.superfat.mid)}


def _of_fragrance(plan: Plan, amounts: Amounts) -> Findings:
    for fragrance, planned in zip(amounts.fragrances, plan.fragrance, strict=True):
        if fragrance.limit is None and planned.load > MOST_WITHOUT_LIMIT:
            words = {"fragrance": name(fragrance.name), "load": share(planned.load)}
            yield "fragrance-no-limit", {**words, "most": share(MOST_WITHOUT_LIMIT, 0)}
        if fragrance.over and fragrance.limit is not None:
            rest_g = fragrance.g / fragrance.share_cured - fragrance.g
            most_g = fragrance.limit / (1 - fragrance.limit) * rest_g
            yield (
                "fragrance-over-limit",
                {
                    "fragrance": name(fragrance.name),
                    "cured": share(fragrance.share_cured, 2),
                    "fresh": share(fragrance.share_fresh, 2),
                    "limit": share(fragrance.limit, 2),
                    "most": f"{int(most_g * 10) / 10} g",  # rounded down: it may not be more
                },
            )


def _of_liquid(amounts: Amounts) -> Findings:
    for pot in amounts.pots:
        if pot.pour_off_ml <= 0:
            yield "colour-too-much", {"pot": name(pot.name)}
    oils = {oil.name: oil.g for oil in amounts.oils}
    for oil in {held.oil for held in amounts.held_back}:
        held_g = sum(held.g for held in amounts.held_back if held.oil == oil)
        if held_g > oils.get(oil, 0.0):
            words = {"oil": name(oil), "held": g(held_g), "all": g(oils.get(oil, 0.0))}
            yield "held-back-short", words
