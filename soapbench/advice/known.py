"""What a bench knows, all that advice goes by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from soapbench.batter import Mix
from soapbench.pace import Pace
from soapbench.plan import Plan
from soapbench.recipe.additives import AdditiveFacts
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.colourants import ColourantFacts
from soapbench.recipe.oils import OilFacts
from soapbench.recipe.warmth import batter_c
from soapbench.settings import Risk
from soapbench.sinking import Sinking
from soapbench.swirls.table import SwirlTable
from soapbench.thickening.fitted import Fit


@dataclass(frozen=True, slots=True)
class Known:
    """What a maker's bench knows: the fitted batters, the maker's pace, the tables."""

    fit: Fit
    pace: Pace
    swirls: SwirlTable
    oils: Mapping[str, OilFacts]
    colourants: Mapping[str, ColourantFacts]
    risk: Risk = Risk.USUAL
    """How bad the maker says a spoilt batch is."""
    sinking: Sinking = field(default=Sinking())
    additives: Mapping[str, AdditiveFacts] = field(default_factory=dict)


def mix_of(plan: Plan, amounts: Amounts) -> Mix:
    """What the recipe says about how fast the batter thickens."""
    return Mix(batter_c(plan, amounts), amounts.concentration, amounts.saturated, amounts.hurry)
