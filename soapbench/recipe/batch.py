"""All of a batch that hangs on how much oil there is, and how much that is.

Masses are in g, volumes in mL.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from soapbench.plan import Plan
from soapbench.plan.tables import LYE_WATER
from soapbench.recipe.additives import AdditiveAmount, AdditiveFacts, additive_amount
from soapbench.recipe.alkali import Alkalis, alkalis_for, taken_up
from soapbench.recipe.lye import solution_ml
from soapbench.recipe.oilamounts import OilAmount
from soapbench.recipe.pots import ColourantAmount, shares_of_pots

LEAST_OF_BATTER = 0.5
"""Colourants past this part of the mould no longer shrink the oils: they overfill it."""


@dataclass(frozen=True, slots=True)
class Batch:
    """All of a batch that hangs on how much oil there is."""

    oils_g: float
    lye: Alkalis
    fragrances_g: tuple[float, ...]
    additives: tuple[AdditiveAmount, ...]
    ml: float
    g: float

    @classmethod
    def of(
        cls,
        plan: Plan,
        oils: Sequence[OilAmount],
        doses: Sequence[ColourantAmount],
        table: Mapping[str, AdditiveFacts],
        oils_g: float,
    ) -> Batch:
        additives = tuple(additive_amount(a, table, oils_g) for a in plan.additives)
        mol = taken_up((oil.share * oils_g, oil.saponification) for oil in oils)
        lye = alkalis_for(plan.lye, mol, sum(a.acid_mol for a in additives))
        fragrances_g = tuple(f.load * oils_g * sum(shares_of_pots(plan, f)) for f in plan.fragrance)
        on_top = [dose for dose in doses if dose.on_top]
        ml = (
            sum(oil.share * oils_g / oil.density for oil in oils)
            + solution_ml(lye.weighed, lye.water, plan.conditions.batter)
            + sum(g / f.density for f, g in zip(plan.fragrance, fragrances_g, strict=True))
            + sum(a.dry_ml for a in additives)
            + sum(dose.ml for dose in doses)
            + sum(dose.liquid_ml for dose in on_top)
        )
        dry = sum(a.g - a.water_g for a in additives)
        weighed = [*lye.weighed.values(), lye.water, *fragrances_g, *(d.g for d in doses), dry]
        g = sum([oils_g, *weighed, *(d.liquid_g for d in on_top)])
        return cls(oils_g, lye, fragrances_g, additives, ml, g)


@dataclass(frozen=True, slots=True)
class Water:
    """Who brings the water of a batch, g."""

    plain_g: float
    for_lye_g: float
    dissolving_g: float

    @classmethod
    def of(
        cls, lye: Alkalis, doses: Sequence[ColourantAmount], additives: Sequence[AdditiveAmount]
    ) -> Water:
        colours = sum(dose.liquid_g for dose in doses if dose.liquid == "water")
        in_lye = sum(a.water_g for a in additives if a.place == LYE_WATER)
        elsewhere = sum(a.water_g for a in additives if a.place != LYE_WATER)
        dissolving = lye.water - colours - elsewhere
        for_lye = dissolving - in_lye - lye.stock_water_g
        return cls(for_lye + colours, for_lye, dissolving)


def oils_wanted(plan: Plan, whole: Callable[[float], Batch]) -> float:
    """As the plan gives them by mass, else what fills the mould as far as it asks."""
    if plan.oils[0].mass is not None:
        return sum(oil.mass or 0.0 for oil in plan.oils)
    target = max(_room_ml(plan), 1.0)
    one, two = whole(1000.0).ml, whole(2000.0).ml  # doses apart, batter grows with its oils
    fixed_ml = 2 * one - two
    return max(target - fixed_ml, target * LEAST_OF_BATTER) / (two - one) * 1000.0


def embeds_ml(plan: Plan) -> float:
    return sum(embed.volume for embed in plan.embeds)


def embeds_of_moulds(plan: Plan) -> tuple[float, ...]:
    """Room that embeds take in each mould, mL: where they lie, else of every mould alike."""
    wanted = plan.mould.wanted_ml
    anywhere = sum(embed.volume for embed in plan.embeds if embed.mould is None)
    volumes = [anywhere * ml / sum(wanted) for ml in wanted]
    for embed in plan.embeds:
        if embed.mould is not None:
            volumes[int(embed.mould) - 1] += embed.volume
    return tuple(volumes)


def _room_ml(plan: Plan) -> float:
    """Batter that fills the moulds as far as they ask and none further: where pots are chosen for
    them, the mould that is full first decides."""
    wanted, taken = plan.mould.wanted_ml, embeds_of_moulds(plan)
    whole = sum(pot.share for pot in plan.pots)
    room = []
    for filled in plan.filled:
        share = sum(plan.pot(name).share for name in filled.pots) / whole
        room.append(sum(wanted[i] - taken[i] for i in filled.moulds) / share)
    return min(room)
