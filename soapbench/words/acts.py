"""Each kind of handwork as makers say it: a sentence, and in few large letters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from soapbench.reading.safetext import counted
from soapbench.words import numbers

# Handwork by name, as logs have it.
COOK, POUR_OFF, COLOUR = "cook", "pour off", "colour"
STIR_IN = "stir in an additive"
LYE_IN, FRAGRANCE_IN = "lye into oils", "stir in fragrance"
KEPT_BACK, SCRAPE = "kept-back oil", "scrape back"

SENTENCES: Mapping[str, str] = {
    LYE_IN: "Pour the lye into the oils",
    "emulsify": "Emulsify{until}",
    COOK: "Cook until done",
    KEPT_BACK: "Stir in the oil kept back",
    SCRAPE: "Scrape it back into the cooker",
    POUR_OFF: "Pour off {pot}",
    COLOUR: "Stir the colour into {pot}",
    FRAGRANCE_IN: "Stir fragrance into {pot} by hand",
    "pour into mould": "Pour {pot} into the mould",
    "drop an accent": "Drop in {pot}",
    "accent into base pot": "Pour {pot} into the base pot",
    "turn the pot": "One stir through the pot",
    "draw the hanger": "Pull the hanger through",
    "texture the top": "Texture the top",
    "pour a layer": "Pour {pot} as a layer",
    "pour a shade": "Pour {pot} as the next shade",
    "pour around column": "Pour round the column, in turns",
    "pour stripes": "Pour stripes, in turns",
    "pour down the wall": "Pour down the wall, in turns",
    "spoon in": "Spoon {pot} into the mould",
    "spoon in cooked soap": "Spoon into the mould",
}
LARGE: Mapping[str, tuple[str, ...]] = {
    LYE_IN: ("LYE INTO OILS", "LYE IN"),
    "emulsify": ("BLEND TO EMULSION", "BLEND"),
    COOK: ("COOK TILL DONE", "COOK"),
    POUR_OFF: ("POUR OFF {pot}", "OFF {pot}"),
    COLOUR: ("COLOUR {pot}", "TINT {pot}"),
    FRAGRANCE_IN: ("FRAGRANCE IN {pot}", "FRAGRANCE {pot}", "FRAGR. {pot}"),
    "pour into mould": ("POUR {pot}", "POUR"),
    "drop an accent": ("DROP IN {pot}", "DROP {pot}"),
    "accent into base pot": ("{pot} INTO BASE POT", "{pot} INTO BASE", "ADD {pot}"),
    "turn the pot": ("ONE STIR",),
    "set in embeds": ("LAY IN EMBEDS", "EMBEDS"),
    "draw the hanger": ("PULL THE HANGER", "HANGER"),
    "texture the top": ("TEXTURE THE TOP", "TOP"),
    "pour a layer": ("LAYER OF {pot}", "LAYER {pot}"),
    "pour a shade": ("SHADE OF {pot}", "SHADE {pot}"),
    "pour around column": ("POUR THE COLUMN", "COLUMN"),
    "pour stripes": ("POUR STRIPES", "STRIPES"),
    "pour down the wall": ("DOWN THE WALL", "WALL"),
    "spoon in": ("SPOON IN {pot}", "SPOON {pot}"),
    "spoon in cooked soap": ("SPOON IT IN", "SPOON"),
}
"""Longest first; every one of SENTENCES but those that are short enough themselves."""
DONE_WHEN = "it is waxy and see-through to the middle, and no oil or white is left"
COOKED_ALREADY = f"Cooked already? Done when {DONE_WHEN}. Press it again if it is"
ONLY_POT = "the batter"
"""What a plan's only pot is called in a sentence."""


def sentence(action: str, pot: str = "", until: str = "") -> str:
    """The sentence for ``action``; an own swirl's handwork is said in its own words.

    ``until``: the trace state that is blended for, or how long.
    """
    if known := SENTENCES.get(action):
        end = f", {until}" if until else ""
        return known.format(pot=pot or ONLY_POT, until=end)
    words = action[:1].upper() + action[1:]
    return f"{words}: {pot}" if pot else words


def stir_in(names: str, pot: str = "") -> str:
    return f"Stir {names} into {pot}" if pot else f"Stir in {names}"


def lay_in(names: Sequence[str]) -> str:
    """Embeds by name; more than two are counted."""
    if len(names) > 2:
        return f"Lay in the {len(names)} embeds"
    return f"Lay in {' and '.join(names)}"


def mould_name(moulds: Sequence[int]) -> str:
    """ "mould 2", "moulds 2, 3"; ``moulds`` counted from 0."""
    return f"mould{'s' if len(moulds) > 1 else ''} {', '.join(str(i + 1) for i in moulds)}"


def into_mould(words: str, name: str) -> str:
    """An act of one of several moulds says which one."""
    if not name:
        return words
    if "the mould" in words:
        return words.replace("the mould", name)
    return f"{words}, {name}"


def emulsify_until(state: str, seconds: float) -> str:
    """ "stop at stable emulsion", "20 s of blending"."""
    return f"stop at {state}" if state else f"{seconds:.0f} s of blending"


LOW_AND_CLOSE = "{words}, low and close"
COOKED_NO_TRACE = "Cooked soap has no trace"
NO_BATTER = "No batter yet: press it once the lye is in the oils"
POUR_OVER = "The pour is over"
NOT_POURED_OFF = "{pot} is not poured off yet: mark {base}"
IN_BASE_POT = "{pot} is in the pot of {base}: mark {base}"


def cook_water(water_g: float, concentration: float) -> str:
    return (
        f"For a cook, add {numbers.g(water_g, 0)} of water: lye of "
        f"{numbers.share(concentration)} dries out before it is done."
    )


def liquid_words(ml: float, oil: str, on_top: bool) -> str:
    """What a colour is mixed into: " in 15 mL extra olive", " in 15 mL of the water"; or nothing.

    ``oil``: empty where it is water; ``on_top``: more of it than the recipe has.
    """
    if not ml:
        return ""
    return f" in {numbers.ml(ml)} {'extra ' if on_top else 'of the '}{oil or 'water'}"


TWICE = "A step is named twice."


def no_pour_first(step: str, pours: str) -> str:
    return f"{step[:1].upper()}{step[1:]} comes after a pour: start with one ({pours})."


def second_pour(step: str) -> str:
    return f"Only one kind of pour per plan; {step} would be a second."


def too_few_pots(step: str, least: int, there: int) -> str:
    return f"{step} takes at least {counted(least, 'pot')}, the plan has {there}."


def never_poured(pot: str) -> str:
    return f"This swirl never uses {pot}."
