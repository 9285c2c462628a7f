"""What to mind with a plan before it is poured.

The rules are here; what they say, and what it rests on, comes from the table of cautions.
"""

from __future__ import annotations

from soapbench.batter import Reputation
from soapbench.plan import Plan
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.browning import looks_after_cure, shows
from soapbench.recipe.problems import LOWEST_OF_BATCH
from soapbench.recipe.severity import Caution, Findings, Texts, name, texts_of
from soapbench.recipe.warmth import batter_c
from soapbench.words.numbers import celsius, share

WELL_UNDER = 0.75
"""Part of the mould below which it is well under-full (ours)."""
WIDE_RANGE = 0.05
"""Half a saponification range against its middle, from which a certificate is asked for (ours)."""
FATTY_POT = 0.15
"""Superfat from which a pot comes out softer than the rest (common practice, no source)."""
WARM_C = 32.0
"""From this batter temperature on, a known accelerator gets a caution (ours)."""
HOT_C = 60.0
"""Above this, oils or lye are told to be hot (common practice, no source)."""
COOL_C = 27.0
"""Below this batter temperature, false trace gets a caution (common practice, from memory)."""
ORDINARY_PEAK_C = 104.0
"""Fresh lye of 33 % from a room at 20 °C can come to this by our heat balance, and makers know it;
more is told (ours)."""
NEAR_SATURATION = {"NaOH": 0.48, "KOH": 0.50}
"""Lye concentration from which it may not dissolve or stay dissolved (common practice, from
memory; at 20 °C water holds about 52 % of NaOH and 53 % of KOH)."""
HOT_PROCESS, WETTEST_COOK = "hot process", 0.28
"""Lye stronger than this leaves too little water for a cook (common practice, no source)."""
ALWAYS = ("lye-to-water", "lye-gear", "lye-first-aid", "fresh-soap", "alcohol", "local-rules")


def cautions(plan: Plan, amounts: Amounts, table: Texts) -> tuple[Caution, ...]:
    """What to mind with this plan, then what to mind with every plan."""
    return texts_of(_cautions(plan, amounts), table) + texts_of(
        ((id_, {}) for id_ in ALWAYS), table
    )


def _cautions(plan: Plan, amounts: Amounts) -> Findings:
    low, high = amounts.superfat.range
    if LOWEST_OF_BATCH <= low < 0:
        yield "superfat-low-end", {"low": share(low), "high": share(high)}
    for fragrance in amounts.fragrances:
        if fragrance.limit is None:
            yield "no-limit", {"fragrance": name(fragrance.name)}
    yield from _browning(plan, amounts)
    for pot in amounts.pots:
        if pot.superfat.mid > FATTY_POT > plan.lye.superfat:
            yield "pot-fatty", {"pot": name(pot.name), "superfat": share(pot.superfat.mid, 0)}
    yield from _colour_cautions(plan, amounts)
    if amounts.fill < WELL_UNDER:
        yield "mould-under", {"fill": share(amounts.fill, 0)}
    for i, mould in enumerate(amounts.moulds, 1):
        if mould.pots and mould.ml < WELL_UNDER * mould.brim_ml and amounts.fill >= WELL_UNDER:
            words = {"mould": str(i), "fill": share(mould.ml / mould.brim_ml, 0)}
            yield "mould-of-pots-under", words
    yield from _lye_cautions(plan, amounts)
    for oil in amounts.oils:
        least, most = oil.saponification
        if (most - least) / (most + least) > WIDE_RANGE:
            spread = f"± {share((most - least) / (most + least), 0)}"
            yield "oil-range", {"oil": name(oil.name), "spread": spread}
    yield from _additive_cautions(plan, amounts)
    if HOT_PROCESS in plan.swirl.steps:
        yield "hot-process", {}
        if amounts.concentration > WETTEST_COOK:
            yield "hot-process-water", {"strength": share(amounts.concentration)}
    yield from _heat_cautions(plan, amounts)


def _browning(plan: Plan, amounts: Amounts) -> Findings:
    """Pots that will brown for all to see, by the fragrance in them."""
    after = looks_after_cure(plan, amounts)
    browning: dict[str, list[str]] = {}
    for pot in plan.pots:
        fragrance = plan.fragrance_of(pot.name)
        if fragrance and pot.name in after and shows(pot.colour, after[pot.name]):
            browning.setdefault(fragrance.name, []).append(name(pot.name))
    for fragrance in plan.fragrance:
        if pots := browning.get(fragrance.name):
            yield (
                "vanillin-browns",
                {
                    "fragrance": name(fragrance.name),
                    "vanillin": share(fragrance.vanillin or 0),
                    "pots": ", ".join(pots),
                    "keep": pots[0] if len(pots) == 1 else "one of them",
                },
            )


def _colour_cautions(plan: Plan, amounts: Amounts) -> Findings:
    colourants = {c.name: c for pot in amounts.pots for c in pot.colourants}
    if colourants:
        yield "powder-dust", {"powders": name(next(iter(colourants)))}
    solid = {c.oil for c in colourants.values() if c.oil and not _liquid(c.oil, amounts)}
    for oil in sorted(solid):
        yield "solid-for-colours", {"oil": name(oil)}
    for colourant in colourants.values() if plan.conditions.gel != "prevent" else ():
        if colourant.glycerin_rivers:
            yield "glycerin-rivers", {"colour": name(colourant.name)}
        if colourant.liquid == "water":
            yield "water-colour-gel", {"colour": name(colourant.name)}


def _liquid(oil: str, amounts: Amounts) -> bool:
    return all(o.liquid for o in (*amounts.oils, *amounts.extra_oils) if o.name == oil)


def _additive_cautions(plan: Plan, amounts: Amounts) -> Findings:
    for additive in {a.facts.name: a for a in amounts.additives}.values():
        if additive.facts.note:
            yield "additive", {"additive": name(additive.name), "note": additive.facts.note}
        if not additive.facts.known:
            yield "additive-unknown", {"additive": name(additive.name)}
    hot = [a.name for a in amounts.additives if a.facts.heats]
    if hot and plan.conditions.gel != "prevent":
        yield "additive-heats", {"additive": name(hot[0])}
    if plan.lye.stock is not None:
        yield "lye-stock", {"stock": share(plan.lye.stock, 0)}


def _lye_cautions(plan: Plan, amounts: Amounts) -> Findings:
    if amounts.lye_peak_c > ORDINARY_PEAK_C:
        yield "lye-hot", {"peak": celsius(amounts.lye_peak_c)}
    if NEAR_SATURATION[plan.lye.main] < amounts.lye_strength < 1:
        words = {"alkali": plan.lye.main, "strength": share(amounts.lye_strength)}
        yield "lye-near-saturation", words
    if plan.lye.alkali != "KOH" and plan.lye.stock is None and "lye.purity" in plan.assumed:
        yield "purity-assumed", {}


def _heat_cautions(plan: Plan, amounts: Amounts) -> Findings:
    conditions = plan.conditions
    assumed = [key for key in ("batter", "room") if f"conditions.{key}" in plan.assumed]
    if conditions.oils is not None:
        assumed = [key for key in assumed if key != "batter"]
    if assumed:
        given = (f"{key} at {celsius(getattr(conditions, key))}" for key in assumed)
        yield "conditions-assumed", {"assumed": ", ".join(given)}
    c = batter_c(plan, amounts)
    hottest = max(c, conditions.oils or 0.0, conditions.lye or 0.0)
    if hottest > HOT_C:
        yield "hot-oils", {"batter": celsius(hottest)}
    batter = {"batter": celsius(c)}
    if c >= WARM_C:
        for fragrance in plan.fragrance:
            if fragrance.reputation in (Reputation.ACCELERATES, Reputation.NOTORIOUS):
                yield "warm-accelerator", {"fragrance": name(fragrance.name), **batter}
    if c < COOL_C:
        yield "false-trace", batter
