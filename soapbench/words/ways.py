"""What could be done otherwise: changes of a plan, and moves of a pour under way."""

from __future__ import annotations

from collections.abc import Sequence

from soapbench.reading.safetext import counted
from soapbench.words import numbers

FRAGRANCE_LATER = "fragrance just before each pot is poured"
LESS_BLENDING = "blend only to stable emulsion"
BASE_ONLY = "fragrance in the base only"
LEAVE_IT = "leave it as it is"
REST_UNSCENTED = "no fragrance in the rest"
LOW_AND_CLOSE, HANGER_NOW = "drops low and close", "hanger now"


def first_into(pot: str) -> str:
    return f"fragrance into {pot} first"


def cool_to(c: float) -> str:
    return f"cool to {numbers.written_celsius(c)}"


def more_water(lye: float) -> str:
    return f"more water (lye {numbers.fine_share(lye)})"


def half_fragrance(loads: Sequence[float]) -> str:
    return f"half the fragrance ({', '.join(map(numbers.fine_share, loads))})"


def fewer_accents(count: int) -> str:
    """One less than the plan has."""
    return f"{counted(count, 'accent')} instead of {count + 1}"


def no_colour(pots: Sequence[str]) -> str:
    return f"no colour in {' and '.join(pots)}"


def in_one_cup(pots: Sequence[str]) -> str:
    return f"{' and '.join(pots)} in one cup"
