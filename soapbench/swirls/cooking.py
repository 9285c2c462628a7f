"""Hot process as its own way: what is done otherwise where the batter is cooked.

A cook ends by look and not by the clock; colour, kept-back oil and fragrance come after it, and
there is no trace to look for afterwards. What is in the mould already can be scraped back into the
cooker. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from soapbench.plan import Plan
from soapbench.swirls.stage import Stage
from soapbench.swirls.stages import BEFORE_COOK, cook_stages, scrape_stage
from soapbench.swirls.table import SwirlTable
from soapbench.words.acts import COOK, COOKED_ALREADY

LEAST_COOK_S = 900.0
"""A cook keyed as done sooner is asked about once (common practice, no source)."""
WATER = (0.25, 0.28)
"""Lye concentration that leaves enough water for a cook (common practice, no source)."""


def cook_first(
    before: Sequence[Stage],
    in_mould: Sequence[str],
    plan: Plan,
    ml: Mapping[str, float],
    table: SwirlTable,
) -> list[Stage]:
    """``before``, what is still to do before the pour, with a cook in its place.

    ``in_mould``: pots that are in the mould, or in the base's pot, and are scraped back first.
    """
    early = [s for s in before if s.action in BEFORE_COOK]
    scraped = [scrape_stage(in_mould, plan, ml, table)] if in_mould else []
    rest = [s for s in before if s not in early]
    return [*early, *scraped, *cook_stages(plan, ml, table), *rest]


def too_soon(stage: Stage, spent_s: float) -> str:
    """Why a cook keyed as done after ``spent_s`` is asked about once; empty: it is not."""
    if stage.action != COOK or spent_s >= LEAST_COOK_S:
        return ""
    return COOKED_ALREADY


def water_wanted_g(alkali_g: float, water_g: float) -> float:
    """Water to add for a cook, g: up to the stronger of ``WATER``; 0 where there is enough.

    ``alkali_g``: pure alkali in the batter.
    """
    return max(0.0, alkali_g * (1 / WATER[1] - 1) - water_g)
