"""What vanillin does to colours: soap browns over the weeks of its cure, the more of it there is.

Common practice, no source: a fragrance of a few percent vanillin turns soap tan, one of ten and
more chocolate; dark colours hide it, white does not. How brown by how much is ours.
"""

from __future__ import annotations

import math

from soapbench.plan import Plan
from soapbench.recipe.amounts import Amounts

HALF_WAY = 0.0009
"""Vanillin as a share of the batter that browns it half as far as it goes: a fragrance with 5 % of
it at 3 % of the oils."""
BROWNEST = (0.20, 0.075, 0.022)
"""Part of each channel's linear light that is left in the end: white becomes chocolate."""
SHOWS_FROM = 0.12
"""Loss of luminance from which a pot's browning is told."""


def vanillin_shares(plan: Plan, amounts: Amounts) -> dict[str, float]:
    """Share of each pot's batter that is vanillin, for pots that have any."""
    shares = {}
    for pot in amounts.pots:
        fragrance = plan.fragrance_of(pot.name)
        if fragrance and fragrance.vanillin and pot.g > 0:
            shares[pot.name] = fragrance.vanillin * pot.fragrance_g / pot.g
    return shares


def after_cure(look: str, vanillin: float) -> str:
    """The colour '#rrggbb' once it has cured with that share of vanillin in its batter."""
    so_far = 1 - 0.5 ** (vanillin / HALF_WAY)
    light = (_decoded(value) for value in bytes.fromhex(look[1:]))
    left = (c * part**so_far for c, part in zip(light, BROWNEST, strict=True))
    return "#" + bytes(_coded(value) for value in left).hex()


def looks_after_cure(plan: Plan, amounts: Amounts) -> dict[str, str]:
    """The colour of every pot that browns, by its name; empty where no vanillin is given."""
    shares = vanillin_shares(plan, amounts)
    return {name: after_cure(plan.pot(name).colour, share) for name, share in shares.items()}


def shows(before: str, after: str) -> bool:
    """Whether a maker will see it."""
    return luminance(before) - luminance(after) > SHOWS_FROM


def luminance(look: str) -> float:
    """Relative luminance of an sRGB colour, 0 to 1 (WCAG 2.2; IEC 61966-2-1)."""
    red, green, blue = (_decoded(value) for value in bytes.fromhex(look[1:]))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _decoded(value: int) -> float:
    coded = value / 255
    return coded / 12.92 if coded <= 0.04045 else math.pow((coded + 0.055) / 1.055, 2.4)


def _coded(light: float) -> int:
    coded = 12.92 * light if light <= 0.0031308 else 1.055 * math.pow(light, 1 / 2.4) - 0.055
    return round(max(0.0, min(coded, 1.0)) * 255)
