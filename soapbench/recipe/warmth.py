"""How warm the batter is when lye and oils meet, and how cool its oils bear to be.

Melting points and the heat of melting are common practice or ours, from memory, no source.
"""

from __future__ import annotations

import math

from soapbench.plan import Plan
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.lye import KOH, NAOH, solution_heat

OIL_HEAT_J_G_K = 2.0
"""Heat capacity of liquid oils: common practice, from memory, no source."""

MELTS_C = {
    "babassu": 24.0,
    "cocoa butter": 34.0,
    "coconut": 25.0,
    "lard": 40.0,
    "palm": 36.0,
    "palm kernel": 28.0,
    "shea": 36.0,
    "tallow": 44.0,
}
"""Where a hard fat by itself is clear, degC: common practice, from memory, no source."""
HARD_FROM, USUAL_MELTS_C = 0.40, 36.0
"""A fat of no list counts as hard from this saturated share on, and as palm (ours)."""
MELTING_J_MOL = 61_000.0
"""By which hard fat dissolves the more in liquid oils the warmer they are (ours: half of palm and
coconut in equal parts are still clear at a cool room's 19 degC, 60 % are not)."""


def batter_c(plan: Plan, amounts: Amounts) -> float:
    """The batter's temperature, degC, as oils and lye water meet.

    Given apart, by their heat capacities (lye by Laliberté's correlation); what the reaction
    itself gives off comes later.
    """
    conditions = plan.conditions
    if conditions.oils is None or conditions.lye is None:
        return conditions.batter
    koh_g = min(amounts.koh_g, amounts.pure_g)
    lye_g = amounts.pure_g + amounts.all_water_g
    parts = {NAOH: (amounts.pure_g - koh_g) / lye_g, KOH: koh_g / lye_g}
    lye = lye_g * solution_heat(parts, conditions.lye)
    oils = amounts.oils_g * OIL_HEAT_J_G_K
    return (oils * conditions.oils + lye * conditions.lye) / (oils + lye)


def melting_floor(amounts: Amounts) -> float | None:
    """The temperature below which its hard fats cloud the oils, degC; None without hard fats.

    Below it a batter looks traced that is not (false trace), so cooler gains nothing. By ideal
    solubility, 1/T = 1/T_m - R ln(x) / H with x the share of all fats at least as hard; the
    hardest asks for most as a rule.
    """
    hard = [(c, oil.share) for oil in amounts.oils if (c := _melts(oil.name, oil.saturated))]
    asked = []
    for melts, _ in hard:
        x = sum(share for c, share in hard if c >= melts)
        inverse = 1 / (melts + 273.15) - 8.314462618 * math.log(x) / MELTING_J_MOL
        asked.append(1 / inverse - 273.15)
    return max(asked, default=None)


def _melts(name: str, saturated: float) -> float | None:
    for fat, melts in MELTS_C.items():
        if name.casefold() in (fat, f"{fat} oil", f"{fat} butter"):
            return melts
    return USUAL_MELTS_C if saturated >= HARD_FROM else None
