"""What the screens say of the maker's own oils, colours, fragrances, swirls and additives."""

from __future__ import annotations

from collections.abc import Mapping

YOUR_OWN = "Your own: "
MOVE_STAYS = "This one can only be edited, not removed"
SAVED = "Saved"


def name_of(kind: str, new: bool) -> str:
    return f"Name of a new {kind}" if new else f"Name of the {kind}"


def there_already(name: str) -> str:
    return f"{name} is there already"


def like_which(name: str, kind: str) -> str:
    return f"{name}: like which {kind}?"


def needs(name: str, what: str) -> str:
    return f"Not saved: {name} needs its {what}"


def new_one(kind: str) -> str:
    return f"+ {kind}"


FORMS: Mapping[str, tuple[str, str]] = {
    "fragrances": ("fragrances", "fragrance"),
    "oils": ("oils", "oil"),
    "colourants": ("colours", "colour"),
    "additives": ("additives", "additive"),
    "swirls": ("swirls", "swirl"),
}
"""Heading of each list and what one of it is called, by its file."""
LOT = ("lot", "Lot number of the one in use")
LABEL = ("name on a label", "Its name on a label (INCI), from its sheet")
A_NOTE = ("note", "A note")
SAP = ("SAP value", "SAP value from its certificate, mg KOH per g: 190, or a range 184-196")
SATURATED = ("saturated", "Saturated fat, in percent")
DENSITY_20 = ("density", "Density at 20 °C, g/mL")
DENSITY = ("density", "Density, g/mL, from its sheet")
COLOUR = ("colour", "Colour: pick one or type a name")
MIXED_WITH = ("mixed with", "Mixed with")
LEVEL_ML = ("a level mL weighs", "Weight of a level mL of it, in g")
LIMIT = ("limit", "Maximum in the finished soap, from its certificate")
DESCRIBED = ("described as", "How does the supplier say it behaves?")
VANILLIN = ("vanillin", "Vanillin, from its certificate (it browns soap)")
ALLERGENS = ("allergens", "Allergens, from its certificate: Linalool 2.1 %, Limonene 0.4 %")
WHAT_IT_IS = ("what it is", "What it is, in a few words")
LEAST_POTS = ("least pots", "How many pots does it take at least?")
GOES_IN = ("goes in", "Where does it usually go?")
WATER = ("water", "How much of it is water, in percent")
NO_SHARE_RIGHT = "write Linalool 2.1 %"
FIRST_LINES: Mapping[str, str] = {
    "oils": "# Your own oils, from their certificates; they override those of soapbench.\n",
    "colourants": "# Your own colours; they override those of soapbench.\n",
    "additives": "# Your own additives; they override those of soapbench.\n",
    "fragrances": "# Your own fragrances; limits are those of their own certificates, for soap.\n",
    "swirls": "# Your own swirls, each begun like one of soapbench's; your times, your limits.\n",
}
"""How each of these files begins when it is made."""


def how_long(act: str) -> tuple[str, str]:
    return act, f"{act}: how long for a litre, 40 s or 2 min"


def with_which(act: str) -> tuple[str, str]:
    return "with", f"{act}: with which pots?"


def how_thick(act: str) -> tuple[str, str]:
    return "up to", f"{act}: how thick may the batter in hand be at most?"


def out_of_range(typed: str) -> str:
    return f'"{typed}" is out of range'


def from_to(low: str, high: str) -> str:
    return f"from {low} to {high}"


def no_share(part: str) -> str:
    return f'"{part}" has no share'
