"""Quantities as a maker likes to read them; inside the program they stay g, mL, cm and °C.

Lye is always shown by mass: a spoon of it says nothing about how much alkali it holds.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from soapbench.reading.kitchen import kitchen, kitchen_parts
from soapbench.reading.units import (
    CM_PER_IN,
    G_PER_LB,
    KITCHEN_METRIC,
    KITCHEN_US,
    ML_PER_CUP,
    Measure,
    QuantityError,
    read,
)
from soapbench.settings import Settings
from soapbench.words import numbers

G_PER_OZ = G_PER_LB / 16
ML_PER_FL_OZ = ML_PER_CUP / 8


def mass(g: float, settings: Settings, decimals: int = 1) -> str:
    """ "143.2 g", or "5.05 oz (143.2 g)"."""
    grams = numbers.g(g, decimals)
    return grams if settings.units == "metric" else f"{g / G_PER_OZ:,.2f} oz ({grams})"


def volume(ml: float, settings: Settings) -> str:
    """ "950 mL", "32.1 fl oz (950 mL)", with spoons and cups where the maker likes them."""
    text = numbers.ml(ml)
    if settings.units == "US":
        text = f"{ml / ML_PER_FL_OZ:,.1f} fl oz ({text})"
    spoons = spoonfuls(ml, settings)
    return f"{text}, {spoons}" if spoons else text


def spoonfuls(ml: float, settings: Settings) -> str:
    """ "4 cups + 1 tsp"; empty where the maker wants none or a spoon is too large for it."""
    if settings.kitchen == "none":
        return ""
    measures = _measures(settings)
    return kitchen(ml, measures) if ml >= measures[-1][1] / 8 else ""


def kitchen_splits(mls: Sequence[float], settings: Settings) -> tuple[str, ...]:
    """Each part of a whole in spoons and cups that add up; empty where none are wanted."""
    if settings.kitchen == "none":
        return ("",) * len(mls)
    return kitchen_parts(mls, _measures(settings))


def _measures(settings: Settings) -> tuple[tuple[str, float], ...]:
    return KITCHEN_US if settings.kitchen == "US" else KITCHEN_METRIC


def temperature(c: float, settings: Settings) -> str:
    """ "38 °C" or "100 °F"."""
    return numbers.celsius(c) if settings.temperature == "°C" else numbers.fahrenheit(c)


def degrees(text: str, settings: Settings) -> str:
    """``text`` with its temperatures as the maker reads them: "26 °C", in old logs "26 degC", and
    both ends of "80 to 95 °C" and "35–40 °C"."""
    return _DEGREES.sub(lambda match: _in_degrees(match, settings), text)


def _in_degrees(match: re.Match[str], settings: Settings) -> str:
    low, between, high = match.groups()
    top = temperature(float(high), settings)
    if low is None:
        return top
    first = temperature(float(low), settings).removesuffix(f" {settings.temperature}")
    return f"{first}{between}{top}"


_NUMBER = r"-?\d+(?:\.\d+)?"
_DEGREES = re.compile(rf"(?:({_NUMBER})( to |–))?({_NUMBER}) (?:degC|°C)")


def length(cm: float, settings: Settings) -> str:
    """ "25 cm" or "9.84 in"."""
    return f"{cm:g} cm" if settings.units == "metric" else f"{cm / CM_PER_IN:.3g} in"


def unit_of(measure: Measure, settings: Settings) -> str:
    """The unit a maker means by a bare number in a field of the app."""
    match measure:
        case Measure.SHARE:
            return "%"
        case Measure.TEMPERATURE:
            return settings.temperature
        case Measure.MASS:
            return "g" if settings.units == "metric" else "oz"
        case Measure.LENGTH:
            return "cm" if settings.units == "metric" else "in"
        case Measure.VOLUME:
            return "mL" if settings.units == "metric" else "cup"
        case _:
            return measure.unit


def with_unit(typed: str, measure: Measure, settings: Settings) -> str:
    """What was typed into a field, a bare number given the unit the maker means."""
    text = typed.strip()
    try:
        read(f"{text} {unit_of(measure, settings)}", measure)
    except QuantityError:
        return text
    return f"{text} {unit_of(measure, settings)}"


def times(written: str, factor: float) -> str:
    """A quantity as a maker wrote it, so many times over, in the same unit: "1.5 tsp".

    Raises QuantityError where it is no number with a unit.
    """
    try:
        measure, whole = Measure.VOLUME, read(written, Measure.VOLUME)
    except QuantityError:
        measure, whole = Measure.MASS, read(written, Measure.MASS)
    unit = written.strip().lstrip("0123456789.,/+-¼½¾⅓⅔⅛ ").strip()
    number = whole * factor / read(f"1 {unit}", measure)
    return f"{float(f'{number:.3g}'):g} {unit}"
