"""How much of everything: from a pour plan to masses, volumes and what each pot gets.

All masses are in g, volumes in mL, shares fractions. Volumes are those at the batter's
temperature and are taken to add up when things are mixed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from soapbench.plan import Fragrance, Oil, Plan, scented_pots
from soapbench.recipe.colourants import ColourantFacts, facts_of
from soapbench.recipe.lye import KOH, NAOH, Alkali, peak_c, solution_ml, water_density
from soapbench.recipe.oils import USUAL_SATURATED, OilFacts, usual_density
from soapbench.recipe.pots import (
    ColourantAmount,
    PotAmounts,
    colourant_amount,
    pot_amounts,
    shares_of_pots,
)

LEAST_OF_BATTER = 0.5
"""Colourants past this part of the mould no longer shrink the oils: they overfill it."""
NINE_IN_TEN = 1.2815515655446004
"""Normal quantile of 90 %."""


@dataclass(frozen=True, slots=True)
class OilAmount:
    """An oil to weigh out."""

    name: str
    g: float
    share: float
    saponification: tuple[float, float]
    """Low and high, mg KOH/g; equal where the plan gives its certificate's value."""
    density: float
    """g/mL at the batter's temperature."""
    saturated: float
    """Saturated share of its fatty acids."""


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
    oils_g: float
    naoh_g: float
    """As weighed, purity counted in."""
    koh_g: float
    water_g: float
    """All the water of the recipe, that for dispersing colour included."""
    lye_water_g: float
    """Water the alkali is dissolved in: all but what colours are dispersed in."""
    concentration: float
    """Pure alkali / (pure alkali + all water)."""
    lye_solution_ml: float
    """Of the alkali and ``lye_water_g``."""
    lye_peak_c: float
    """Upper bound on the temperature of the lye while it is made from water at room temperature."""
    superfat: float
    """At the middle of every oil's range."""
    superfat_range: tuple[float, float]
    """Worst case: every oil at the same end of its range."""
    superfat_spread: tuple[float, float]
    """10 to 90 % if each oil lies anywhere in its range, independently of the others."""
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


@dataclass(frozen=True, slots=True)
class _Lye:
    """Lye for one g of oils."""

    pure: Mapping[Alkali, float]
    weighed: Mapping[Alkali, float]
    water: float

    def times(self, oils_g: float) -> _Lye:
        return _Lye(
            {alkali: g * oils_g for alkali, g in self.pure.items()},
            {alkali: g * oils_g for alkali, g in self.weighed.items()},
            self.water * oils_g,
        )


def amounts(
    plan: Plan,
    oil_table: Mapping[str, OilFacts],
    colourant_table: Mapping[str, ColourantFacts] | None = None,
) -> Amounts:
    """All amounts of ``plan``. Raises KeyError for an oil of neither table nor certificate."""
    kinds = _oils(plan, oil_table)
    per_g = _lye_per_g(plan, kinds)
    colours = _colours(plan, kinds, colourant_table or {})
    doses = [colour for pot in colours for colour in pot]
    doses_ml = sum(dose.ml for dose in doses)
    ml_per_g = _ml_per_g(plan, kinds, per_g)
    oils_g = _oils_g(plan, ml_per_g, doses_ml)
    oils = tuple(replace(oil, g=oil.share * oils_g) for oil in kinds)
    lye = per_g.times(oils_g)
    scents = [f.load * oils_g * sum(shares_of_pots(plan, f)) for f in plan.fragrance]
    batter_ml = ml_per_g * oils_g + doses_ml
    batter_g = sum([oils_g, *lye.weighed.values(), lye.water, *scents, *(d.g for d in doses)])
    pots = pot_amounts(plan, colours, scents, batter_ml, batter_g)
    fragrances = tuple(
        _fragrance(fragrance, g, plan, pots, lye.water / batter_g)
        for fragrance, g in zip(plan.fragrance, scents, strict=True)
    )
    lye_water_g = lye.water - sum(dose.liquid_g for dose in doses if dose.liquid == "water")
    # Less water than alkali dissolves nothing; that is told as a problem, not worked out here.
    dissolving_g = max(lye_water_g, sum(lye.weighed.values()))
    superfat, worst, spread = _superfat(oils, lye.pure)
    return Amounts(
        oils=oils,
        oils_g=oils_g,
        naoh_g=lye.weighed.get(NAOH, 0.0),
        koh_g=lye.weighed.get(KOH, 0.0),
        water_g=lye.water,
        lye_water_g=lye_water_g,
        concentration=plan.lye.strength,
        lye_solution_ml=solution_ml(lye.weighed, dissolving_g, plan.conditions.batter),
        lye_peak_c=peak_c(lye.pure, dissolving_g, plan.conditions.room),
        superfat=superfat,
        superfat_range=worst,
        superfat_spread=spread,
        saturated=sum(oil.saturated * oil.share for oil in oils),
        fragrances=fragrances,
        fragrance_g=sum(scents),
        fragrance_share_of_product=max((f.share_cured for f in fragrances), default=0.0),
        batter_ml=batter_ml,
        batter_g=batter_g,
        mould_ml=plan.mould.volume_ml,
        fill=batter_ml / plan.mould.volume_ml,
        pots=pots,
    )


def _oils(plan: Plan, table: Mapping[str, OilFacts]) -> tuple[OilAmount, ...]:
    """The oils by share, their masses still to come."""
    parts = [oil.share or oil.mass or 0.0 for oil in plan.oils]
    total = sum(parts)
    return tuple(
        _oil(oil, part / total, plan.conditions.batter, table)
        for oil, part in zip(plan.oils, parts, strict=True)
    )


def _oil(oil: Oil, share: float, c: float, table: Mapping[str, OilFacts]) -> OilAmount:
    facts = table.get(oil.name) if oil.saponification is not None else table[oil.name]
    low = high = oil.saponification or 0.0
    if oil.saponification is None and facts is not None:
        low, high = facts.saponification.low, facts.saponification.high
    saturated = oil.saturated
    if saturated is None:
        known = facts.saturated if facts else None
        saturated = known.mid if known else USUAL_SATURATED
    density = facts.density_at(c) if facts else usual_density(c)
    return OilAmount(oil.name, 0.0, share, (low, high), density, saturated)


def _colours(
    plan: Plan, oils: Sequence[OilAmount], table: Mapping[str, ColourantFacts]
) -> tuple[tuple[ColourantAmount, ...], ...]:
    """The colourants of each pot."""
    oil_g_ml = 1 / sum(oil.share / oil.density for oil in oils)
    water_g_ml = water_density(plan.conditions.batter)
    return tuple(
        tuple(
            colourant_amount(
                colourant,
                facts_of(colourant.name, table),
                oil_g_ml,
                water_g_ml,
            )
            for colourant in pot.colourants
        )
        for pot in plan.pots
    )


def _lye_per_g(plan: Plan, oils: Sequence[OilAmount]) -> _Lye:
    """Alkali for the middle of every oil's range less the superfat, and its water."""
    need = sum(oil.share * sum(oil.saponification) / 2 for oil in oils) / 1000 / KOH.molar_mass
    by_koh = {"NaOH": 0.0, "KOH": 1.0, "both": plan.lye.koh_share or 0.0}[plan.lye.alkali]
    moles = {NAOH: need * (1 - by_koh), KOH: need * by_koh}
    pure = {a: n * a.molar_mass * (1 - plan.lye.superfat) for a, n in moles.items() if n > 0}
    purity = {NAOH: plan.lye.purity, KOH: plan.lye.koh_purity or plan.lye.purity}
    if plan.lye.alkali == "both":
        # Not given, the KOH counts as pure: the mistake then leaves more superfat, not less.
        purity[KOH] = plan.lye.koh_purity or 1.0
    weighed = {alkali: g / purity[alkali] for alkali, g in pure.items()}
    return _Lye(pure, weighed, sum(pure.values()) * (1 / plan.lye.strength - 1))


def _ml_per_g(plan: Plan, oils: Sequence[OilAmount], lye: _Lye) -> float:
    """Batter from one g of oils, the colourants' own volume apart, mL."""
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


def _superfat(
    oils: Sequence[OilAmount], pure: Mapping[Alkali, float]
) -> tuple[float, tuple[float, float], tuple[float, float]]:
    """Superfat at mid, its worst-case range and its independent 10 to 90 % spread.

    The spread is that of a sum of uniform ranges: a normal quantile, flattened by the sum's
    excess kurtosis (Cornish-Fisher), which is exact to 1 % of the range even for a single oil.
    """
    koh_g = sum(g / alkali.molar_mass for alkali, g in pure.items()) * KOH.molar_mass
    low, high = (sum(oil.g * oil.saponification[end] for oil in oils) / 1000 for end in (0, 1))
    mid = (low + high) / 2
    widths = [oil.g * (oil.saponification[1] - oil.saponification[0]) / 1000 for oil in oils]
    variance = sum(width**2 for width in widths) / 12
    half = 0.0
    if variance:
        kurtosis = -1.2 * sum(width**4 for width in widths) / sum(width**2 for width in widths) ** 2
        z = NINE_IN_TEN + (NINE_IN_TEN**3 - 3 * NINE_IN_TEN) * kurtosis / 24
        half = z * math.sqrt(variance)
    return (
        1 - koh_g / mid,
        (1 - koh_g / low, 1 - koh_g / high),
        (1 - koh_g / (mid - half), 1 - koh_g / (mid + half)),
    )
