"""What the workshop says: headings, labels, questions, and how swirls and amounts are spoken of."""

from __future__ import annotations

import re
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
    "pots": "for",
    "mould": "in mould",
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
    "goes_into": "Goes into: each pot, the base, the oils, or pots in their order (rust, gold)",
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
    "pots": "Which pots go into this mould: base, foam (empty: moulds are filled in turn)",
    "mould": "Which mould does it lie in?",
    "steps 0": "How is it poured?",
    "steps": "Finishing step",
    "fall_back": "Backup swirl if time runs short",
}
SHOWN: Mapping[str, str] = {
    "together": "all at the same time",
    "none": "nothing",
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
    "mould": "mould",
}
NAMES: Mapping[str, str] = {
    "oils": "Which oil?",
    "fragrance": "Which fragrance?",
    "pots": "Name of the pot",
    "colourants": "Which colour goes in?",
    "additives": "Which additive?",
    "embeds": "How much room do the embeds take?",
}
IN_TURN = "in turn"
NO_LIMIT = "enter from certificate"
MORE = "+ more"
WHAT_MORE = "What else would you like to enter?"
WHERE_MORE = "What else belongs to this plan?"
NOT_YET = "Fix the lines marked ! first"
NOT_POURABLE = "This order of steps can't be poured."
UNDONE_ALL = "Nothing to undo"
CLOSE, KEEP_EDITING = "Close without saving?", "or any other key: keep editing"
WORKING, NO_TITLE = "Working it out …", "no title"
ANOTHER_PLAN = "Another plan"
NO_COLOUR, NO_STEPS, SECOND_FRAGRANCE = "colour –", "plain pour", "second fragrance"
UNKNOWN_OIL = (
    "Not among the oils here: + more takes its SAP value,\n"
    "or enter it once for all plans (f on the bench)"
)
STOP = "STOP  not to be poured like this"
NO_LIMIT_YET, OVER, WEIGH_OUT = "no limit entered", "  OVER", "Weigh out: "
MOULD_RIGHT = "write 30 x 9 x 8 cm, or 2 L"
SEVERAL_MOULDS = ("there are several moulds", "change the size of each by itself")
"""What is wrong, and what would be right."""
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


def saved_as(path: object) -> str:
    return f"Saved as {path}"


def copy_of(title: str) -> str:
    return f"{title} (copy)"


def oil_line(low: float, high: float, saturated: float | None, lot: str) -> str:
    """ "184 to 196 mg KOH/g, 15 % saturated, lot A17"."""
    line = f"{numbers.span(low, high)} mg KOH/g"
    line += f", {numbers.share(saturated)} saturated" if saturated is not None else ""
    return f"{line}, lot {lot}" if lot else line


def mixed_with(what: str) -> str:
    return "dry" if what == "none" else f"mixed with {what}"


def goes_into(what: str) -> str:
    return f"goes into the {what}"


def no_mould(typed: str) -> str:
    return f'"{typed}" is no mould'


def chance(words: str) -> str:
    return f"Chance {words}"


def was(now: str, before: str) -> str:
    return f"{now} (was {before})"


def going_by(what: str) -> str:
    return f", going by {what}"


def tightest(words: str) -> str:
    return f"Tightest: {words}"


def pourable(pots: str, after_fragrance: bool) -> str:
    return f"Pourable{' after fragrance' if after_fragrance else ''}: {pots}"


def batter(volume: str, fill: float) -> str:
    return f"Batter: {volume}, fills {numbers.share(fill)} of the mould"


def fragrance(mass: str, share: float, limit: float | None, over: bool) -> str:
    """ "Fragrance: 18.7 g = 2.50 % of the finished bar; limit 9.5 %"."""
    limit_words = NO_LIMIT_YET if limit is None else f"limit {numbers.written_share(limit)}"
    line = f"Fragrance: {mass} = {numbers.share(share, 2)} of the finished bar; {limit_words}"
    return line + OVER if over else line


def with_change(chance: str, change: str) -> str:
    return f"{chance:>5} with {change}"


def label_of(key: str) -> str:
    """What a key of a plan's file is called."""
    return LABELS.get(key) or ADDS.get(key) or key.replace("_", " ")


def plainly(text: str) -> str:
    """What is told of a file, as it is told of a form: no key of the file, nothing in its spelling.

    ' add "koh_share" ' becomes "enter the KOH share", ' share = "45 %" ' "share 45 %".
    """
    text = re.sub(r'\badd "(\w+)"', lambda m: f"enter the {label_of(m[1])}", text)
    text = re.sub(r'\b(?:\w+\.)*([a-z_]+) = "([^"]*)"', lambda m: f"{label_of(m[1])} {m[2]}", text)
    return re.sub(r"\b[a-z]+_[a-z_]+\b", lambda m: label_of(m[0]), text)
