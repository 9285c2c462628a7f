"""How much of what an act takes: said beside the act, when the hands are there and not before."""

from __future__ import annotations

from soapbench.plan import Plan
from soapbench.plan.tables import EMULSION, LYE_WATER
from soapbench.reading.safetext import clean, counted
from soapbench.recipe.amounts import Amounts
from soapbench.settings import USUAL, Settings
from soapbench.swirls.pouring import SET_IN, embeds_in, lots
from soapbench.swirls.stage import Stage
from soapbench.words.acts import COOK, LYE_IN, POUR_OFF, STIR_IN, liquid_words
from soapbench.words.quantities import mass, volume

_HOW = {
    "emulsify": "short bursts, stir between; stop before it leaves a trail",
    "turn the pot": "one slow turn, no more",
    "draw the hanger": "slowly, one pass",
    "texture the top": "peaks hold when it is thick enough",
    COOK: "never unattended, pot at most half full",
}
HOLDS_FROM = "thinner than light trace lets it sink"
"""Common practice, no source."""


def act_amount(stage: Stage, plan: Plan, amounts: Amounts, settings: Settings = USUAL) -> str:
    """ "114 mL (122 g)", "2.7 g Velvet Rose · stir by hand"; how it is done where nothing is."""
    one = stage.pots[0] if len(stage.pots) == 1 else None
    if stage.action == LYE_IN:
        brought = sum(a.g for a in amounts.additives if a.place == LYE_WATER)
        lye = amounts.naoh_g + amounts.koh_g + max(amounts.lye_water_g, 0.0) + brought
        return f"{mass(lye, settings, 0)} of lye, slowly down the blender's shaft"
    if stage.action == POUR_OFF and one:
        pot = amounts.pot(one)
        return f"{volume(pot.pour_off_ml, settings)} ({mass(pot.pour_off_g, settings, 0)})"
    if stage.action == STIR_IN:
        into = amounts.pot(one).additives if one and len(plan.pots) > 1 else amounts.additives
        own = [a for a in into if a.pots or a.place == EMULSION]
        return " + ".join(f"{mass(a.g, settings)} {clean(a.name, 24)}" for a in own)
    if stage.action == SET_IN:
        embeds = next(embeds_in(lot, plan) for lot in lots(plan) if lot.pots == stage.onto)
        held = sum(embed.volume for embed in embeds)
        return f"{volume(held, settings)} of finished soap · {HOLDS_FROM}"
    if stage.action == "colour" and one:
        return _colours(one, plan, amounts)
    if stage.fragrance_into and one:
        pot = amounts.pot(one)
        name = clean(pot.fragrance or "fragrance", 30)
        return f"{mass(pot.fragrance_g, settings)} {name} · stir by hand"
    if stage.puts and one:
        pot, in_hand = amounts.pot(one), 1000 * stage.litres  # what was turned into it goes along
        where = f" · {stage.mould}" if stage.mould and stage.puts == "mould" else ""
        g = mass(pot.g * in_hand / pot.ml, settings, 0)
        return f"{volume(in_hand, settings)} ({g}){where}"
    if stage.puts:
        pots = [amounts.pot(name) for name in stage.pots]
        return f"{volume(sum(pot.ml for pot in pots), settings)}, {counted(len(pots), 'pot')}"
    how = _HOW.get(stage.action, "")
    return f"{how}, clear of the embeds" if stage.draws_down and plan.embeds else how


def _colours(name: str, plan: Plan, amounts: Amounts) -> str:
    colours = []
    for dose, written in zip(amounts.pot(name).colourants, plan.pot(name).colourants, strict=True):
        amount = clean(written.dose.written, 20) if written.dose else "as you like it,"
        liquid = liquid_words(dose.liquid_ml, clean(dose.oil, 20), dose.on_top)
        colours.append(f"{amount} {clean(dose.name, 24)}{liquid}")
    return " + ".join(colours)
