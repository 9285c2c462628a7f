"""The pots of a batch: what each comes to, what is poured off for it and what goes into it.

Water for dispersing colour is the recipe's own; oil is added on top of it, or where the plan asks
for it held back from it. Masses are in g, volumes in mL.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from soapbench.plan import Colourant, Fragrance, Plan, scented_pots
from soapbench.reading.kitchen import whole_parts
from soapbench.reading.units import Amount as Dose
from soapbench.recipe.additives import AdditiveAmount
from soapbench.recipe.colourants import ColourantFacts
from soapbench.recipe.superfat import Superfat

LIQUID_PER_DOSE = 3.0
"""Volumes of liquid to a volume of colourant, where the plan gives none: common practice."""


@dataclass(frozen=True, slots=True)
class ColourantAmount:
    """A colourant of one pot and the liquid it is dispersed in."""

    name: str
    dose: Dose | None
    """As written; None: not said, so not counted."""
    g: float
    """Mass, estimated where the dose is a volume."""
    ml: float
    """What it displaces in the batter."""
    liquid: str
    """"oil", "water" or "" for none."""
    liquid_ml: float
    liquid_g: float
    glycerin_rivers: bool
    """Known for glycerin rivers where batter gels."""
    oil: str = ""
    """The oil it is dispersed in; empty for water or nothing."""
    on_top: bool = False
    """That oil is added to the recipe's; else it is held back from them."""


@dataclass(frozen=True, slots=True)
class PotAmounts:
    """A pot: what it comes to, what is poured off for it, what goes into it."""

    name: str
    share: float
    ml: float
    g: float
    fragrance: str | None
    fragrance_g: float
    pour_off_ml: float
    """Batter to pour off for it: its volume less its dispersal liquid and what is still to come."""
    pour_off_g: float
    main_share: float
    """Its part of the batter that is made in one and poured off, 0 to 1."""
    colourants: tuple[ColourantAmount, ...]
    superfat: Superfat
    """Its own, with the oil its colours are dispersed in."""
    additives: tuple[AdditiveAmount, ...] = ()
    """Those that go into it by itself."""


def colourant_amount(
    colourant: Colourant, facts: ColourantFacts, oil: str, oil_g_ml: float, water_g_ml: float
) -> ColourantAmount:
    """A colourant and its liquid; densities are those of its oil and of water, g/mL."""
    dose = colourant.dose
    spoon_ml = 0.0  # as measured out, air between the grains included
    if dose is not None:
        spoon_ml = dose.ml if dose.ml is not None else (dose.g or 0.0) / facts.bulk_g_ml
    g = dose.g if dose is not None and dose.g is not None else spoon_ml * facts.bulk_g_ml
    liquid = "" if colourant.disperse_in == "none" else colourant.disperse_in
    density = oil_g_ml if liquid == "oil" else water_g_ml
    liquid_ml = LIQUID_PER_DOSE * spoon_ml if liquid else 0.0
    if liquid and colourant.liquid is not None:
        given = colourant.liquid
        liquid_ml = given.ml if given.ml is not None else (given.g or 0.0) / density
    return ColourantAmount(
        colourant.name,
        dose,
        g,
        g / facts.solid_g_ml,
        liquid,
        liquid_ml,
        liquid_ml * density,
        facts.glycerin_rivers,
        oil if liquid == "oil" else "",
        liquid == "oil" and colourant.oil_from == "extra",
    )


def shares_of_pots(plan: Plan, fragrance: Fragrance) -> list[float]:
    """Shares of the pots a fragrance goes into; those of all pots make 1."""
    total = sum(pot.share for pot in plan.pots)
    into = scented_pots(fragrance, [pot.name for pot in plan.pots], plan.base.name)
    return [pot.share / total for pot in plan.pots if pot.name in into]


def additives_of_pots(
    plan: Plan, additives: Sequence[AdditiveAmount]
) -> tuple[tuple[AdditiveAmount, ...], ...]:
    """What goes into each pot by itself, shared by the pots' sizes."""
    return tuple(
        tuple(
            replace(a, g=a.g * pot.share / sum(p.share for p in plan.pots if p.name in a.pots))
            for a in additives
            if pot.name in a.pots
        )
        for pot in plan.pots
    )


def pot_amounts(
    plan: Plan,
    colours: Sequence[tuple[ColourantAmount, ...]],
    additives: Sequence[tuple[AdditiveAmount, ...]],
    fragrances_g: Sequence[float],
    batter_ml: float,
    batter_g: float,
    superfat: Callable[[float, Sequence[ColourantAmount], Sequence[AdditiveAmount]], Superfat],
) -> tuple[PotAmounts, ...]:
    """Pots by share of the batter's volume; what they weigh follows from what goes into them.

    ``superfat`` is that of a part of the main batter with these colours in it.
    """
    total = sum(pot.share for pot in plan.pots)
    in_hand = _fragrances_by_hand(plan, fragrances_g)
    added_ml = [
        sum(c.ml + c.liquid_ml for c in colour) + sum(a.dry_ml + a.water_g for a in more) + ml
        for colour, more, (_, ml) in zip(colours, additives, in_hand, strict=True)
    ]
    added_g = [
        sum(c.g + c.liquid_g for c in colour) + sum(a.g for a in more) + g
        for colour, more, (g, _) in zip(colours, additives, in_hand, strict=True)
    ]
    main_ml, main_g = batter_ml - sum(added_ml), batter_g - sum(added_g)
    in_oils = sum(g for f, g in zip(plan.fragrance, fragrances_g, strict=True) if f.in_oils)
    pots = []
    for pot, colour, more, more_ml, more_g, (fragrance_g, _) in zip(
        plan.pots, colours, additives, added_ml, added_g, in_hand, strict=True
    ):
        ml = pot.share / total * batter_ml
        part = (ml - more_ml) / main_ml if main_ml else 0.0
        fragrance = plan.fragrance_of(pot.name)
        pots.append(
            PotAmounts(
                name=pot.name,
                share=pot.share / total,
                ml=ml,
                g=part * main_g + more_g,
                fragrance=fragrance.name if fragrance else None,
                fragrance_g=fragrance_g + part * in_oils,
                pour_off_ml=ml - more_ml,
                pour_off_g=part * main_g,
                main_share=part,
                colourants=colour,
                superfat=superfat(part, colour, more),
                additives=more,
            )
        )
    return tuple(pots)


def _fragrances_by_hand(plan: Plan, fragrances_g: Sequence[float]) -> list[tuple[float, float]]:
    """(g, mL) of fragrance still to go into each pot; scented oils have theirs already."""
    total = sum(pot.share for pot in plan.pots)
    to_go = []
    for pot in plan.pots:
        fragrance = plan.fragrance_of(pot.name)
        if fragrance is None or fragrance.in_oils:
            to_go.append((0.0, 0.0))
            continue
        g = fragrances_g[plan.fragrance.index(fragrance)]
        g *= pot.share / total / sum(shares_of_pots(plan, fragrance))
        to_go.append((g, g / fragrance.density))
    return to_go


def shown_splits(pots: Sequence[PotAmounts]) -> tuple[tuple[int, int], ...]:
    """Whole mL and g of each pot, as shown: they add up to the batter's own rounded figures."""
    ml, g = whole_parts([pot.ml for pot in pots]), whole_parts([pot.g for pot in pots])
    return tuple((int(a), int(b)) for a, b in zip(ml, g, strict=True))
