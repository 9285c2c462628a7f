"""The set-out: everything weighed, labelled and within reach before lye meets oil."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from soapbench.plan import Colourant, Plan, Pot
from soapbench.plan.tables import EMULSION
from soapbench.recipe.alkali import alkali_words
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.pots import ColourantAmount, PotAmounts
from soapbench.settings import USUAL, Settings
from soapbench.swirls.table import SwirlTable
from soapbench.words import numbers
from soapbench.words.acts import liquid_words
from soapbench.words.quantities import mass, temperature, volume

GROUPS = ("Protect", "Mould", "Weigh", "Lye", "Colours", "Cups", "Tools", "Last")
"""In the order they are worked through: lye water cools while the rest is set out."""

FIRST_AID = "Lye on skin: water, 15 to 30 min; lenses, wet clothes off; no vinegar"
"""As in the table of cautions, in one line: where there is no time to read more."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to set out; ``lot`` tells whether a lot number belongs to it."""

    id: str
    group: str
    words: str
    lot: bool = False
    expected_lot: str = ""


def items(
    plan: Plan, amounts: Amounts, table: SwirlTable, settings: Settings = USUAL
) -> tuple[Item, ...]:
    """The whole checklist, in the order it is worked through."""
    things = [
        *_protect(plan),
        *_moulds(amounts, settings),
        *_oils(plan, amounts, settings),
        *_lye(plan, amounts, settings),
        *_additives(plan, amounts, settings),
        *_embeds(plan, settings),
        *_fragrances(plan, amounts, settings),
        *_pots(plan, amounts, settings),
        *_tools(plan, table),
        Item("temperature", "Last", _warm_words(plan, settings)),
    ]
    return tuple(sorted(things, key=lambda item: GROUPS.index(item.group)))


def _moulds(amounts: Amounts, settings: Settings) -> Iterator[Item]:
    for i, mould in enumerate(amounts.moulds, 1):
        if len(amounts.moulds) == 1:
            words = f"Mould lined and level ({volume(mould.brim_ml, settings)} to the brim)"
            yield Item("mould", "Mould", words)
            continue
        pots = f", for {' and '.join(mould.pots)}" if mould.pots else ""
        words = f"Mould {i} lined and level, marked at {volume(mould.ml, settings)}{pots}"
        yield Item(f"mould {i}", "Mould", words)


def _embeds(plan: Plan, settings: Settings) -> Iterator[Item]:
    for i, embed in enumerate(plan.embeds):
        words = (
            f"Embed {embed.name or i + 1}, {volume(embed.volume, settings)}, at room temperature"
            f"{f', for mould {embed.mould}' if embed.mould else ''}"
        )
        yield Item(f"embed {i + 1}", "Tools", words)


def _warm_words(plan: Plan, settings: Settings) -> str:
    conditions = plan.conditions
    if conditions.oils is None or conditions.lye is None:
        return f"Oils and lye water at {temperature(conditions.batter, settings)}"
    oils, lye = (temperature(c, settings) for c in (conditions.oils, conditions.lye))
    return f"Oils at {oils}, lye water at {lye}"


def _protect(plan: Plan) -> Iterator[Item]:
    yield Item("goggles", "Protect", "Goggles, gloves and long sleeves on")
    yield Item("quiet", "Protect", "Children and animals out; water running close by")
    yield Item("first aid", "Protect", FIRST_AID)
    yield Item("air", "Protect", "Window open; no flame, spark or heater near any alcohol spray")
    if any(pot.colourants for pot in plan.pots):
        yield Item("dust", "Protect", "Dust mask for powders, titanium dioxide above all")


def _oils(plan: Plan, amounts: Amounts, settings: Settings) -> Iterator[Item]:
    for oil, written in zip(amounts.oils, plan.oils, strict=True):
        lot = written.lot or ""
        words = f"{mass(oil.g, settings, 0)}  {oil.name}"
        yield Item(f"oil {oil.name}", "Weigh", words, True, lot)
        for held in amounts.held_back:
            if held.oil == oil.name:
                words = f"of that, {mass(held.g, settings)} {oil.name} held back, for {held.use}"
                yield Item(f"held back {oil.name} {held.use}", "Weigh", words)
    for oil in amounts.extra_oils:
        words = f"{mass(oil.g, settings)}  {oil.name}, extra, for the colours"
        yield Item(f"extra {oil.name}", "Weigh", words, True)


def _lye(plan: Plan, amounts: Amounts, settings: Settings) -> Iterator[Item]:
    for alkali, g in amounts.alkalis:
        words = f"{mass(g, settings)}  {alkali_words(plan, alkali)}"
        yield Item(alkali.name, "Weigh", words, True, plan.lye.lot or "")
    if amounts.lye_water_g > 0:
        yield Item("water", "Weigh", f"{mass(amounts.lye_water_g, settings)}  water for the lye")
    poured = "Lye solution and water together" if plan.lye.stock else "Lye into water"
    yield Item(
        "lye water",
        "Lye",
        f"{poured}, never the reverse; steel or PP, no glass, no aluminium",
    )


def _additives(plan: Plan, amounts: Amounts, settings: Settings) -> Iterator[Item]:
    for i, (additive, written) in enumerate(zip(amounts.additives, plan.additives, strict=True), 1):
        where = f"for the {additive.place}" if additive.place else f"for {', '.join(additive.pots)}"
        if additive.place == EMULSION:
            where = "to stir in at emulsion"
        state = ", frozen" if additive.facts.frozen else ""
        words = f"{mass(additive.g, settings)}  {additive.name}{state}, {where}"
        yield Item(f"additive {i}: {additive.name}", "Weigh", words, True, written.lot or "")


def _fragrances(plan: Plan, amounts: Amounts, settings: Settings) -> Iterator[Item]:
    for fragrance, written in zip(amounts.fragrances, plan.fragrance, strict=True):
        yield Item(
            f"fragrance {fragrance.name}",
            "Weigh",
            f"{mass(fragrance.g, settings)}  {fragrance.name} in total",
            True,
            written.lot or "",
        )


def _pots(plan: Plan, amounts: Amounts, settings: Settings) -> Iterator[Item]:
    for pot, batter in zip(plan.pots, amounts.pots, strict=True):
        for colourant, dose in zip(pot.colourants, batter.colourants, strict=True):
            yield _colour(pot, colourant, dose)
        if pot is not plan.base:
            yield Item(f"cup {pot.name}", "Cups", _cup_words(batter, settings))
        if batter.fragrance_g:
            yield Item(
                f"dose {pot.name}",
                "Cups",
                f"{mass(batter.fragrance_g, settings)} {batter.fragrance} next to {pot.name}",
            )


def _colour(pot: Pot, colourant: Colourant, dose: ColourantAmount) -> Item:
    liquid = liquid_words(dose.liquid_ml, dose.oil, dose.on_top)
    written = colourant.dose.written if colourant.dose else "as you like"
    return Item(
        f"colour {pot.name}: {colourant.name}",
        "Colours",
        f"{written} {colourant.name}{liquid}, for {pot.name}",
        True,
        colourant.lot or "",
    )


def _cup_words(batter: PotAmounts, settings: Settings) -> str:
    marked = f"{volume(batter.pour_off_ml, settings)} ({numbers.g(batter.pour_off_g, 0)})"
    return f"Cup for {batter.name}, marked at {marked}"


TOOLS = {
    "hanger swirl": "Hanger within reach",
    "textured top": "Spoon or spatula for the top within reach",
}
"""By finishing step; a maker's own is called by its name."""


def _tools(plan: Plan, table: SwirlTable) -> Iterator[Item]:
    for name in plan.swirl.steps:
        if table.kinds[name].role != "pour":
            yield Item(
                f"tool {name}", "Tools", TOOLS.get(name, f"Tool for the {name} within reach")
            )
    yield Item("way out", "Tools", "Plan B ready: spoon, jug, cover")
