"""What the workshop says: headings, labels, questions, and how swirls and amounts are spoken of."""

from __future__ import annotations

from collections.abc import Mapping

from soapbench.words import numbers

HEADINGS: Mapping[str, str] = {
    "title": "title",
    "mould": "mould",
    "oils": "oils",
    "lye": "lye",
    "conditions": "batter",
    "fragrance": "fragrance",
    "pots": "pots",
    "steps": "swirl",
    "fall_back": "backup",
    "additives": "additive",
    "embeds": "embeds",
    "hot_process": "hot proc.",
}
LABELS: Mapping[str, str] = {
    "fill": "filled",
    "purity": "purity",
    "superfat": "superfat",
    "concentration": "lye concentration",
    "water_to_lye": "water : lye",
    "koh_share": "KOH share",
    "koh_purity": "KOH purity",
    "stock": "ready-made lye",
    "saponification": "SAP value",
    "saturated": "saturated",
    "lot": "lot",
    "batter": "oils and lye",
    "oils": "oils",
    "lye": "lye",
    "room": "room",
    "blend": "blend",
    "gel": "gel",
    "load": "amount",
    "limit": "limit",
    "reputation": "described as",
    "goes_into": "goes into",
    "goes_in": "goes in",
    "when": "",
    "density": "density",
    "vanillin": "vanillin",
    "disperse_in": "mixed with",
    "oil_from": "oil is",
    "oil": "oil",
    "liquid": "liquid",
    "look": "colour",
    "dose": "",
    "kept_back": "kept back",
    "mass": "weight",
    "volume": "volume",
}
QUESTIONS: Mapping[str, str] = {
    "title": "Title of the plan",
    "size": "Mould: length x width x depth, 30 x 9 x 8 cm or 12 x 3.5 x 3 in – or its volume, 2 L",
    "fill": "How full to pour it",
    "share": "Share, in percent",
    "mass": "Weight",
    "saponification": "SAP value from its certificate, mg KOH per g",
    "lot": "Lot number",
    "alkali": "Lye: sodium hydroxide, potassium hydroxide or both",
    "purity": "Purity (see the label)",
    "koh_share": "Share of the oils that KOH turns to soap",
    "koh_purity": "Purity of the KOH (see the label)",
    "stock": "Strength of a ready-made lye solution",
    "superfat": "Superfat",
    "concentration": "Lye concentration: lye in the lye water",
    "water_to_lye": 'Water : lye by weight, "2 : 1"',
    "batter": "Temperature of oils and lye when combined",
    "oils": "Temperature of the oils",
    "lye": "Temperature of the lye water",
    "room": "Room temperature",
    "blend": "Stick-blending: to stable emulsion, to light trace, or seconds",
    "gel": "Gel: prevent it, allow it, or force it",
    "load": "How much fragrance, in percent of the oils",
    "limit": "Maximum in the finished soap, from its certificate",
    "goes_into": "Goes into: each pot, the base, the oils, or a list of pots (rust, gold)",
    "goes_in": "Goes into: lye water, oils, emulsion, or a list of pots",
    "when": "All pots at the same time, or each just before it is poured?",
    "reputation": "How does the supplier say it behaves?",
    "density": "Density, from its sheet",
    "vanillin": "Vanillin, from its certificate (it browns the soap)",
    "dose": "How much for the whole pot: 1 tsp, or 4 g",
    "disperse_in": "Mixed with",
    "oil_from": "Oil to mix it with: extra, on top of the recipe, or out of the recipe",
    "oil": "Which oil it is mixed with",
    "liquid": "How much oil or water it is mixed with",
    "look": "Colour: pick one or type a name",
    "kept_back": "Oil that goes in after the cook, as a share of the oils",
    "volume": "Volume",
    "steps 0": "How is it poured?",
    "steps": "Finishing step",
    "fall_back": "Backup swirl if time runs short",
}
SHOWN: Mapping[str, str] = {
    "together": "all at the same time",
    "just before pouring": "just before pouring",
    "none": "nothing",
    "oil": "oil",
    "water": "water",
    "extra": "extra",
    "recipe": "out of the recipe",
}
"""Words of a plan's file that a maker would say otherwise."""
ADDS: Mapping[str, str] = {
    "oils": "oil",
    "fragrance": "fragrance",
    "pots": "pot",
    "colourants": "colour",
    "steps": "finishing step",
    "fall_back": "backup swirl",
    "additives": "additive",
    "embeds": "embed",
}
NAMES: Mapping[str, str] = {
    "oils": "Which oil?",
    "fragrance": "Which fragrance?",
    "pots": "Name of the pot",
    "colourants": "Which colour goes in?",
    "additives": "Which additive?",
    "embeds": "How much room do the embeds take?",
}
NO_LIMIT = "enter from certificate"
MORE = "+ more"
WHAT_MORE = "What else would you like to enter?"
WHERE_MORE = "What else belongs to this plan?"
NOT_YET = "Fix the lines marked ! first"
NOT_POURABLE = "This order of steps can't be poured."
UNDONE_ALL = "Nothing to undo"
CLOSE = "Close without saving?"
OVERWRITE = "This plan changed on disk. Overwrite it?"
WEIGHTS_FIRST = "Here goes a percentage; press w to enter weights"
SHARES_FIRST = "Here goes a weight; press w to enter shares"
WEIGHTS_NOW = "Oils by weight: they stand, whatever the mould. w: shares again"
SHARES_NOW = "Oils by share: sized to the mould. w: weights again"


def title_words(title: str, saved: bool) -> str:
    return f"Edit plan: {title}{'' if saved else ' (not saved)'}"


def to_fix(count: int) -> str:
    return f"{count} thing{'' if count == 1 else 's'} to fix (marked !)."


def new_mould(ml: float) -> str:
    return (
        f"New mould (now {numbers.ml(ml)}): type 30 x 9 x 8 cm, 12 x 3.5 x 3 in or 2 L. "
        "Colour doses scale too"
    )
