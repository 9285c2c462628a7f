"""How much of everything: from a pour plan to masses, volumes and what each pot gets.

All masses are in g, volumes in mL, shares fractions. Volumes are those at the batter's
temperature and are taken to add up when things are mixed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from soapbench.plan import Fragrance, Plan, scented_pots
from soapbench.plan.tables import LYE_WATER
from soapbench.recipe.additives import AdditiveAmount, AdditiveFacts, hurry_of
from soapbench.recipe.alkali import Alkalis
from soapbench.recipe.batch import Batch, Water, embeds_ml, embeds_of_moulds, oils_wanted
from soapbench.recipe.colourants import ColourantFacts, facts_of
from soapbench.recipe.fats import Fats, held_back
from soapbench.recipe.lye import KOH, NAOH, Alkali, peak_c, solution_ml, water_density
from soapbench.recipe.oilamounts import (
    HeldBack,
    OilAmount,
    dispersal_oil,
    main_liquid,
    recipe_oils,
)
from soapbench.recipe.oils import OilFacts
from soapbench.recipe.pots import (
    ColourantAmount,
    PotAmounts,
    additives_of_pots,
    colourant_amount,
    pot_amounts,
)
from soapbench.recipe.superfat import Superfat


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
class MouldAmount:
    """A mould: how much it holds to the brim, and how much goes into it, embeds included, mL."""

    brim_ml: float
    ml: float
    pots: tuple[str, ...] = ()
    """What goes into it, where pots are chosen for moulds."""


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
    additives: tuple[AdditiveAmount, ...]
    naoh_g: float
    """As weighed, purity counted in; of a ready-made solution all of it."""
    koh_g: float
    pure_g: float
    """Alkali alone."""
    stock_water_g: float
    """Water in a ready-made solution, part of ``naoh_g``."""
    water_g: float
    """Plain water to weigh, that for dispersing colour included."""
    lye_water_g: float
    """Plain water to weigh for the lye; below 0: others bring more than the recipe has."""
    all_water_g: float
    """With what additives and a ready-made lye bring."""
    dissolving_g: float
    """Water the alkali is dissolved in, whoever brings it."""
    concentration: float
    """Pure alkali / (pure alkali + all water)."""
    lye_strength: float
    """The same of the lye as it is made, with ``dissolving_g``; 1 where no water is left."""
    lye_solution_ml: float
    """Of the alkali and ``dissolving_g``."""
    lye_peak_c: float
    """Upper bound on the temperature of the lye while it is made from water at room temperature."""
    superfat: Superfat
    saturated: float
    hurry: float
    """Times faster the batter thickens with its additives, by their table; 1 without any."""
    fragrances: tuple[FragranceAmount, ...]
    fragrance_g: float
    fragrance_share_of_product: float
    """The highest of the fragrances' ``share_cured``; 0 without fragrance."""
    batter_ml: float
    batter_g: float
    mould_ml: float
    """All of them to the brim."""
    moulds: tuple[MouldAmount, ...]
    """In the order they are filled."""
    fill: float
    """Batter and embeds as a part of the mould."""
    pots: tuple[PotAmounts, ...]

    def pot(self, name: str) -> PotAmounts:
        return next(pot for pot in self.pots if pot.name == name)

    @property
    def alkalis(self) -> tuple[tuple[Alkali, float], ...]:
        """What there is to weigh of each alkali, g; only those that are used."""
        return tuple((a, g) for a, g in ((NAOH, self.naoh_g), (KOH, self.koh_g)) if g > 0)


def pot_ml(amounts: Amounts) -> dict[str, float]:
    """Batter of each pot, mL."""
    return {pot.name: pot.ml for pot in amounts.pots}


def amounts(
    plan: Plan,
    oil_table: Mapping[str, OilFacts],
    colourant_table: Mapping[str, ColourantFacts] | None = None,
    additive_table: Mapping[str, AdditiveFacts] | None = None,
) -> Amounts:
    """All amounts of ``plan``. Raises KeyError for an oil of neither table nor certificate."""
    kinds = recipe_oils(plan, oil_table)
    colours, dispersed = _colours(plan, kinds, oil_table, colourant_table or {})
    doses = [colour for pot in colours for colour in pot]
    whole = partial(Batch.of, plan, kinds, doses, additive_table or {})
    batch = whole(oils_wanted(plan, whole))
    oils = tuple(replace(oil, g=oil.share * batch.oils_g) for oil in kinds)
    lye, additives = batch.lye, batch.additives
    fats = Fats(oils, dispersed, lye.as_koh, additives)
    held = fats.used(doses, on_top=False)
    own = partial(fats.of_pot, {name: g for name, (_, g) in held.items()})
    added = additives_of_pots(plan, additives)
    pots = pot_amounts(plan, colours, added, batch.fragrances_g, batch.ml, batch.g, own)
    fragrances = tuple(
        _fragrance(fragrance, g, plan, pots, lye.water / batch.g)
        for fragrance, g in zip(plan.fragrance, batch.fragrances_g, strict=True)
    )
    water = Water.of(lye, doses, additives)
    pure_g, alkali_g = sum(lye.pure.values()), sum(lye.weighed.values())
    # Less water than alkali dissolves nothing; that is told as a problem, not worked out here.
    dissolving_g = max(water.dissolving_g, alkali_g)
    return Amounts(
        oils=oils,
        oils_g=batch.oils_g,
        extra_oils=tuple(replace(o, g=g) for o, g in fats.used(doses, on_top=True).values()),
        held_back=held_back(plan, oils, held),
        additives=additives,
        naoh_g=lye.stock_g or lye.weighed.get(NAOH, 0.0),
        koh_g=lye.weighed.get(KOH, 0.0),
        pure_g=pure_g,
        stock_water_g=lye.stock_water_g,
        water_g=water.plain_g,
        lye_water_g=water.for_lye_g,
        all_water_g=lye.water,
        dissolving_g=water.dissolving_g,
        concentration=plan.lye.strength,
        lye_strength=pure_g / (pure_g + max(water.dissolving_g, 0.0)),
        lye_solution_ml=solution_ml(lye.weighed, dissolving_g, plan.conditions.batter),
        lye_peak_c=_peak_c(plan, lye, additives, dissolving_g),
        superfat=fats.of_batch(doses),
        saturated=sum(oil.saturated * oil.share for oil in oils),
        hurry=hurry_of(additives),
        fragrances=fragrances,
        fragrance_g=sum(batch.fragrances_g),
        fragrance_share_of_product=max((f.share_cured for f in fragrances), default=0.0),
        batter_ml=batch.ml,
        batter_g=batch.g,
        mould_ml=plan.mould.volume_ml,
        moulds=_moulds(plan, pots),
        fill=(batch.ml + embeds_ml(plan)) / plan.mould.volume_ml,
        pots=pots,
    )


def _peak_c(
    plan: Plan, lye: Alkalis, additives: Sequence[AdditiveAmount], dissolving_g: float
) -> float:
    """How warm the lye gets at the most while it is made, with what goes into its water."""
    in_water = [a for a in additives if a.place == LYE_WATER]
    return peak_c(
        lye.pure,
        dissolving_g,
        plan.conditions.room,
        lye.stock_water_g,
        min(sum(a.ice_g for a in in_water), dissolving_g),
        sum(a.acid_mol for a in in_water),
    )


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
    rows = []
    for pot in plan.pots:
        row = []
        for colourant in pot.colourants:
            oil = main_liquid(oils)
            if colourant.disperse_in == "oil":
                oil = dispersal_oil(colourant, oils, c, table)
                dispersed[oil.name] = oil
            facts = facts_of(colourant.name, colourants)
            row.append(colourant_amount(colourant, facts, oil.name, oil.density, water_g_ml))
        rows.append(tuple(row))
    return tuple(rows), dispersed


def _moulds(plan: Plan, pots: Sequence[PotAmounts]) -> tuple[MouldAmount, ...]:
    """Each filled as far as is wanted, by as much more or less as there is of what goes into it."""
    wanted, embeds = plan.mould.wanted_ml, embeds_of_moulds(plan)
    ml = {pot.name: pot.ml for pot in pots}
    moulds: dict[int, MouldAmount] = {}
    for filled in plan.filled:
        there = sum(ml[name] for name in filled.pots) + sum(embeds[i] for i in filled.moulds)
        part = there / sum(wanted[i] for i in filled.moulds)
        chosen = filled.pots if plan.mould.by_pots else ()
        for i in filled.moulds:
            moulds[i] = MouldAmount(plan.mould.all[i].ml, wanted[i] * part, chosen)
    return tuple(moulds[i] for i in sorted(moulds))


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
