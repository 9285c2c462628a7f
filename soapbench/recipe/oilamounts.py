"""The oils of a batch: those of the recipe, what is held back of them, what is added on top.

Masses are in g, volumes in mL.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from soapbench.plan import Colourant, Oil, Plan
from soapbench.recipe.oils import USUAL_SATURATED, OilFacts, usual_density
from soapbench.recipe.superfat import Fat

LIQUID_BELOW = 0.30
"""Saturated share below which an oil is liquid in a room: ours, from the oils of the table."""


@dataclass(frozen=True, slots=True)
class OilAmount:
    """An oil to weigh out."""

    name: str
    g: float
    share: float
    """Of the recipe's oils; 0 for one that only colours are dispersed in."""
    saponification: tuple[float, float]
    """Low and high, mg KOH/g; equal where the plan gives its certificate's value."""
    density: float
    """g/mL at the batter's temperature."""
    saturated: float
    """Saturated share of its fatty acids."""
    usual: tuple[float, float] | None = None
    """The table's range of saponification values; None: it is not in the table."""

    @property
    def liquid(self) -> bool:
        return self.saturated < LIQUID_BELOW

    def fat(self, g: float) -> Fat:
        return Fat(self.name, g, self.saponification)


@dataclass(frozen=True, slots=True)
class HeldBack:
    """Oil of the recipe that goes in later than the rest of it."""

    oil: str
    g: float
    use: str
    """ "colours" or "after the cook"."""


def recipe_oils(plan: Plan, table: Mapping[str, OilFacts]) -> tuple[OilAmount, ...]:
    """The oils by share, their masses still to come. KeyError: neither table nor certificate."""
    parts = [oil.share or oil.mass or 0.0 for oil in plan.oils]
    total = sum(parts)
    return tuple(
        _oil(oil, part / total, plan.conditions.batter, table)
        for oil, part in zip(plan.oils, parts, strict=True)
    )


def _oil(oil: Oil, share: float, c: float, table: Mapping[str, OilFacts]) -> OilAmount:
    facts = table.get(oil.name) if oil.saponification is not None else table[oil.name]
    usual = (facts.saponification.low, facts.saponification.high) if facts else None
    own = oil.saponification
    saturated = oil.saturated
    if saturated is None:
        known = facts.saturated if facts else None
        saturated = known.mid if known else USUAL_SATURATED
    density = facts.density_at(c) if facts else usual_density(c)
    value = (own, own) if own is not None else usual or (0.0, 0.0)
    return OilAmount(oil.name, 0.0, share, value, density, saturated, usual)


def main_liquid(oils: Sequence[OilAmount]) -> OilAmount:
    """The recipe's largest liquid oil; where all are solid, the softest."""
    liquid = [oil for oil in oils if oil.liquid]
    if liquid:
        return max(liquid, key=lambda oil: oil.share)
    return min(oils, key=lambda oil: oil.saturated)


def dispersal_oil(
    colourant: Colourant, oils: Sequence[OilAmount], c: float, table: Mapping[str, OilFacts]
) -> OilAmount:
    """The oil a colourant is dispersed in. KeyError where the plan names an unknown one."""
    if colourant.oil is None:
        return main_liquid(oils)
    named = [oil for oil in oils if oil.name == colourant.oil]
    return named[0] if named else _oil(Oil(name=colourant.oil, share=1.0), 0.0, c, table)


def summed(uses: Iterable[tuple[OilAmount, float]]) -> dict[str, tuple[OilAmount, float]]:
    """g of each oil by name."""
    sums: dict[str, tuple[OilAmount, float]] = {}
    for oil, g in uses:
        sums[oil.name] = (oil, sums[oil.name][1] + g if oil.name in sums else g)
    return sums
