"""How much of everything: from a pour plan to masses, volumes and what each pot gets.

All masses are in g, volumes in mL, shares fractions. Volumes are those at the batter's
temperature and are taken to add up when things are mixed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from soapbench.plan import Fragrance, Plan, scented_pots
from soapbench.recipe.alkali import Alkalis, alkalis_for
from soapbench.recipe.colourants import ColourantFacts, facts_of
from soapbench.recipe.lye import KOH, NAOH, peak_c, solution_ml, water_density
from soapbench.recipe.oilamounts import (
    HeldBack,
    OilAmount,
    dispersal_oil,
    main_liquid,
    recipe_oils,
    summed,
)
from soapbench.recipe.oils import OilFacts
from soapbench.recipe.pots import (
    ColourantAmount,
    PotAmounts,
    colourant_amount,
    pot_amounts,
    shares_of_pots,
)
from soapbench.recipe.superfat import Superfat, superfat_of

LEAST_OF_BATTER = 0.5
"""Colourants past this part of the mould no longer shrink the oils: they overfill it."""


@dataclass(frozen=True, slots=True)
class FragranceAmount:
    """A fragrance to weigh out, and what part it is of the soap it goes into."""

    name: str
    g: float
    ml: float
    pots: tuple[str, ...]
    share_fresh: float
    """Of the product as poured."""
    share_cured: float
    """Of the product once all its water has dried off: the most it can come to, so strictest."""
    limit: float | None
    """From its own certificate; None: not given."""

    @property
    def over(self) -> bool:
        """Over its limit, judged by the stricter share."""
        return self.limit is not None and self.share_cured > self.limit


@dataclass(frozen=True, slots=True)
class Amounts:
    """Everything to weigh and measure for one batch."""

    oils: tuple[OilAmount, ...]
    """Those of the recipe, all of each: what is held back of them included."""
    oils_g: float
    extra_oils: tuple[OilAmount, ...]
    """Oil on top of the recipe, that colours are dispersed in."""
    held_back: tuple[HeldBack, ...]
    """Oil of the recipe that does not meet the lye with the rest."""
    naoh_g: float
    """As weighed, purity counted in."""
    koh_g: float
    water_g: float
    """All the water of the recipe, that for dispersing colour included."""
    lye_water_g: float
    """Water the alkali is dissolved in: all but what colours are dispersed in."""
    concentration: float
    """Pure alkali / (pure alkali + all water)."""
    lye_strength: float
    """The same of the lye as it is made, with ``lye_water_g``; 1 where no water is left."""
    lye_solution_ml: float
    """Of the alkali and ``lye_water_g``."""
    lye_peak_c: float
    """Upper bound on the temperature of the lye while it is made from water at room temperature."""
    superfat: Superfat
    saturated: float
    fragrances: tuple[FragranceAmount, ...]
    fragrance_g: float
    fragrance_share_of_product: float
    """The highest of the fragrances' ``share_cured``; 0 without fragrance."""
    batter_ml: float
    batter_g: float
    mould_ml: float
    fill: float
    """Batter as a part of the mould."""
    pots: tuple[PotAmounts, ...]

    def pot(self, name: str) -> PotAmounts:
        return next(pot for pot in self.pots if pot.name == name)


def pot_ml(made: Amounts) -> dict[str, float]:
    """Batter of each pot, mL."""
    return {pot.name: pot.ml for pot in made.pots}


def amounts(
    plan: Plan,
    oil_table: Mapping[str, OilFacts],
    colourant_table: Mapping[str, ColourantFacts] | None = None,
) -> Amounts:
    """All amounts of ``plan``. Raises KeyError for an oil of neither table nor certificate."""
    kinds = recipe_oils(plan, oil_table)
    per_g = alkalis_for(plan.lye, [(oil.share, oil.saponification) for oil in kinds])
    colours, dispersed = _colours(plan, kinds, oil_table, colourant_table or {})
    doses = [colour for pot in colours for colour in pot]
    on_top = [dose for dose in doses if dose.on_top]
    doses_ml = sum(dose.ml for dose in doses) + sum(dose.liquid_ml for dose in on_top)
    ml_per_g = _ml_per_g(plan, kinds, per_g)
    oils_g = _oils_g(plan, ml_per_g, doses_ml)
    oils = tuple(replace(oil, g=oil.share * oils_g) for oil in kinds)
    lye = per_g.times(oils_g)
    fragrances_g = [f.load * oils_g * sum(shares_of_pots(plan, f)) for f in plan.fragrance]
    batter_ml = ml_per_g * oils_g + doses_ml
    weighed = [*lye.weighed.values(), lye.water, *fragrances_g, *(d.g for d in doses)]
    batter_g = sum([oils_g, *weighed, *(d.liquid_g for d in on_top)])
    fats = _Fats(oils, dispersed, lye.as_koh)
    held = fats.used(doses, on_top=False)
    own = partial(fats.of_pot, {name: g for name, (_, g) in held.items()})
    pots = pot_amounts(plan, colours, fragrances_g, batter_ml, batter_g, own)
    fragrances = tuple(
        _fragrance(fragrance, g, plan, pots, lye.water / batter_g)
        for fragrance, g in zip(plan.fragrance, fragrances_g, strict=True)
    )
    lye_water_g = lye.water - sum(dose.liquid_g for dose in doses if dose.liquid == "water")
    # Less water than alkali dissolves nothing; that is told as a problem, not worked out here.
    dissolving_g = max(lye_water_g, sum(lye.weighed.values()))
    return Amounts(
        oils=oils,
        oils_g=oils_g,
        extra_oils=tuple(replace(o, g=g) for o, g in fats.used(doses, on_top=True).values()),
        held_back=_held_back(plan, oils, held),
        naoh_g=lye.weighed.get(NAOH, 0.0),
        koh_g=lye.weighed.get(KOH, 0.0),
        water_g=lye.water,
        lye_water_g=lye_water_g,
        concentration=plan.lye.strength,
        lye_strength=sum(lye.pure.values()) / (sum(lye.pure.values()) + max(lye_water_g, 0.0)),
        lye_solution_ml=solution_ml(lye.weighed, dissolving_g, plan.conditions.batter),
        lye_peak_c=peak_c(lye.pure, dissolving_g, plan.conditions.room),
        superfat=fats.of_batch(doses),
        saturated=sum(oil.saturated * oil.share for oil in oils),
        fragrances=fragrances,
        fragrance_g=sum(fragrances_g),
        fragrance_share_of_product=max((f.share_cured for f in fragrances), default=0.0),
        batter_ml=batter_ml,
        batter_g=batter_g,
        mould_ml=plan.mould.volume_ml,
        fill=batter_ml / plan.mould.volume_ml,
        pots=pots,
    )


@dataclass(frozen=True, slots=True)
class _Fats:
    """The oils of a batch and the alkali they share: whose superfat is what."""

    oils: Sequence[OilAmount]
    dispersed: Mapping[str, OilAmount]
    """Oils that colours are dispersed in, by name."""
    koh_g: float
    """The lye, as pure KOH that would do its work."""

    def used(
        self, doses: Sequence[ColourantAmount], on_top: bool
    ) -> dict[str, tuple[OilAmount, float]]:
        """Oil for colours: on top of the recipe, or held back from it."""
        return summed(
            (self.dispersed[d.oil], d.liquid_g) for d in doses if d.oil and d.on_top is on_top
        )

    def of_batch(self, doses: Sequence[ColourantAmount]) -> Superfat:
        extra = self.used(doses, on_top=True).values()
        fats = [oil.fat(oil.g) for oil in self.oils] + [oil.fat(g) for oil, g in extra]
        return superfat_of(fats, self.koh_g)

    def of_pot(
        self, held: Mapping[str, float], part: float, colours: Sequence[ColourantAmount]
    ) -> Superfat:
        """Of ``part`` of the main batter with these colours; ``held``: g of oil not in it."""
        main = [o.fat(part * max(o.g - held.get(o.name, 0.0), 0.0)) for o in self.oils]
        own = [self.dispersed[c.oil].fat(c.liquid_g) for c in colours if c.oil]
        return superfat_of([*main, *own], part * self.koh_g)


def _held_back(
    plan: Plan, oils: Sequence[OilAmount], held: Mapping[str, tuple[OilAmount, float]]
) -> tuple[HeldBack, ...]:
    found = [HeldBack(name, g, "colours") for name, (_, g) in held.items()]
    if (cook := plan.hot_process) is not None:
        oil = cook.oil or main_liquid(oils).name
        found.append(HeldBack(oil, cook.kept_back * sum(o.g for o in oils), "after the cook"))
    return tuple(found)


def _colours(
    plan: Plan,
    oils: Sequence[OilAmount],
    table: Mapping[str, OilFacts],
    colourants: Mapping[str, ColourantFacts],
) -> tuple[tuple[tuple[ColourantAmount, ...], ...], dict[str, OilAmount]]:
    """The colourants of each pot, and the oils they are dispersed in by name."""
    c = plan.conditions.batter
    water_g_ml = water_density(c)
    dispersed: dict[str, OilAmount] = {}
    found = []
    for pot in plan.pots:
        row = []
        for colourant in pot.colourants:
            oil = main_liquid(oils)
            if colourant.disperse_in == "oil":
                oil = dispersal_oil(colourant, oils, c, table)
                dispersed[oil.name] = oil
            facts = facts_of(colourant.name, colourants)
            row.append(colourant_amount(colourant, facts, oil.name, oil.density, water_g_ml))
        found.append(tuple(row))
    return tuple(found), dispersed


def _ml_per_g(plan: Plan, oils: Sequence[OilAmount], lye: Alkalis) -> float:
    """Batter from one g of oils, what goes into single pots apart, mL."""
    return (
        sum(oil.share / oil.density for oil in oils)
        + solution_ml(lye.weighed, lye.water, plan.conditions.batter)
        + sum(f.load * sum(shares_of_pots(plan, f)) / f.density for f in plan.fragrance)
    )


def _oils_g(plan: Plan, ml_per_g: float, doses_ml: float) -> float:
    """As the plan gives them by mass, else what fills the mould as far as it asks."""
    if plan.oils[0].mass is not None:
        return sum(oil.mass or 0.0 for oil in plan.oils)
    target = plan.mould.volume_ml * plan.mould.fill
    return max(target - doses_ml, target * LEAST_OF_BATTER) / ml_per_g


def _fragrance(
    fragrance: Fragrance, g: float, plan: Plan, pots: Sequence[PotAmounts], water: float
) -> FragranceAmount:
    """``water``: the batter's share of water, all of it gone in a cured bar."""
    names = [pot.name for pot in plan.pots]
    into = scented_pots(fragrance, names, plan.base.name)
    # Never less than the fragrance itself, however absurd the doses of a plan.
    product_g = max(sum(pot.g for pot in pots if pot.name in into), g)
    return FragranceAmount(
        name=fragrance.name,
        g=g,
        ml=g / fragrance.density,
        pots=into,
        share_fresh=g / product_g,
        share_cured=g / max(product_g * (1 - water), g),
        limit=fragrance.limit,
    )
