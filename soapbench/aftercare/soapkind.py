"""What a soap is, as far as cutting and curing go: usual, brittle, salty, castile or cooked.

By common practice: much coconut, palm kernel or babassu shatters when it is cut late, much salt
even sooner; nearly all olive stays soft for days. From which share on, the table of aftercare says.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from soapbench.plan import Plan
from soapbench.recipe.amounts import Amounts
from soapbench.words import curing as words

LAURIC = ("coconut", "palm kernel", "babassu")
"""Words in the name of an oil that makes soap hard and brittle."""
OLIVE = ("olive",)
SALT = "salt"
"""In the table of additives."""


class Soap(StrEnum):
    """Kinds that are cut and cured differently."""

    USUAL = "usual"
    BRITTLE = "brittle"
    SALTY = "salty"
    CASTILE = "castile"
    COOKED = "cooked"


SOAP_WORDS = {
    Soap.USUAL: "",
    Soap.BRITTLE: words.BRITTLE,
    Soap.SALTY: words.SALTY,
    Soap.CASTILE: words.CASTILE,
    Soap.COOKED: words.COOKED,
}
"""Why a soap of this kind has times of its own."""


@dataclass(frozen=True, slots=True)
class Makeup:
    """What decides the kind, as shares of the oils' mass."""

    lauric: float = 0.0
    olive: float = 0.0
    salt: float = 0.0


def makeup(plan: Plan, salt: float | None = None) -> Makeup:
    """Of a plan, by its oils' names. ``salt``: as weighed, where that is known; else where the
    plan gives it as a share of the oils."""
    parts = {oil.name.casefold(): oil.share or oil.mass or 0.0 for oil in plan.oils}
    whole = sum(parts.values()) or 1.0

    def share(words: tuple[str, ...]) -> float:
        return sum(g for name, g in parts.items() if any(w in name for w in words)) / whole

    return Makeup(share(LAURIC), share(OLIVE), _salt(plan) if salt is None else salt)


def _salt(plan: Plan) -> float:
    share = 0.0
    for additive in plan.additives:
        if SALT in additive.name.casefold().split():
            share += additive.share_of_oils or 0.0
    return share


def salt_of(amounts: Amounts) -> float | None:
    """Salt against the oils' mass, as weighed; None where there is none."""
    salt_g = sum(a.g for a in amounts.additives if a.facts.name == SALT)
    return round(salt_g / amounts.oils_g, 4) if salt_g > 0 else None
