"""Quantities as makers write them ("1.2 kg", "2 tsp", "75 °F", "33 %"), read with pint.

Inside the program everything is in one unit a kind: g, mL, cm, degC, s, and fractions.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from soapbench.reading.faults import Wrong

if TYPE_CHECKING:
    import pint

# Exact definitions: NIST Handbook 44, appendix C (US gallon 231 in³, avoirdupois pound),
# from memory and checked against pint's own registry in the tests.
CM_PER_IN = 2.54
G_PER_LB = 453.59237
ML_PER_CUP = 236.5882365
"""US cup, a sixteenth of a gallon."""
KITCHEN_US = (("cup", ML_PER_CUP), ("tbsp", ML_PER_CUP / 16), ("tsp", ML_PER_CUP / 48))
KITCHEN_METRIC = (("cup", 250.0), ("tbsp", 15.0), ("tsp", 5.0))
# Pint's full registry takes 150 ms to load; a maker needs these few units only.
DEFINITIONS = f"""
kilo- = 1e3 = k-
centi- = 1e-2 = c-
milli- = 1e-3 = m-
meter = [length] = m = metre
gram = [mass] = g
second = [time] = s = sec
minute = 60 * second = min
hour = 60 * minute = h = hr
kelvin = [temperature]; offset: 0 = K
degree_Celsius = kelvin; offset: 273.15 = °C = celsius = degC
degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = °F = fahrenheit = degF
[volume] = [length] ** 3
liter = 1e-3 * meter ** 3 = l = L = litre
inch = {CM_PER_IN} * centimeter = in
foot = 12 * inch = ft
cup = {ML_PER_CUP} * milliliter
pint = 2 * cup = pt
quart = 2 * pint = qt
gallon = 4 * quart = gal
fluid_ounce = cup / 8 = fl_oz = floz
tablespoon = cup / 16 = tbsp
teaspoon = tablespoon / 3 = tsp
metric_cup = {KITCHEN_METRIC[0][1]} * milliliter
metric_tablespoon = {KITCHEN_METRIC[1][1]} * milliliter = metric_tbsp
metric_teaspoon = {KITCHEN_METRIC[2][1]} * milliliter = metric_tsp
drop = 0.05 * milliliter
pound = {G_PER_LB} * gram = lb
ounce = pound / 16 = oz
percent = 0.01 = %
ppm = 1e-6
"""


class Measure(Enum):
    """A kind of quantity: its words, the unit used inside, and how a maker might write one."""

    MASS = ("a mass", "g", "450 g")
    VOLUME = ("a volume", "mL", "1.2 L")
    LENGTH = ("a length", "cm", "25 cm")
    TEMPERATURE = ("a temperature", "°C", "24 °C")
    SHARE = ("a share", "", "33 %")
    TIME = ("a time", "s", "25 s")
    SAPONIFICATION = ("an SAP value", "mg/g", "190 mg/g")
    DENSITY = ("a density", "g/mL", "0.95 g/mL")

    @property
    def words(self) -> str:
        return self.value[0]

    @property
    def unit(self) -> str:
        return self.value[1]

    @property
    def example(self) -> str:
        return self.value[2]


@dataclass(frozen=True, slots=True)
class Amount:
    """A dose by mass, by volume or as a share of the oils: exactly one of them is set."""

    g: float | None = None
    ml: float | None = None
    written: str = ""
    """As the maker wrote it."""
    share: float | None = None


class QuantityError(Wrong):
    """A quantity that cannot be read."""


# What most plans are written in, as pint has it (the tests compare them): pint takes longer to
# load than all the rest of a plan to read, so it is asked for every other unit only.
PLAIN: dict[Measure, dict[str, float]] = {
    Measure.MASS: {"g": 1.0, "kg": 1000.0},
    Measure.VOLUME: {"mL": 1.0, "L": 1000.0, **dict(KITCHEN_US)},
    Measure.LENGTH: {"cm": 1.0},
    Measure.TEMPERATURE: {"degC": 1.0},
    Measure.SHARE: {"percent": 0.01},
    Measure.TIME: {"s": 1.0, "min": 60.0},
    Measure.SAPONIFICATION: {"mg/g": 1.0},
    Measure.DENSITY: {"g/mL": 1.0},
}


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    registry.load_definitions(DEFINITIONS.strip().splitlines())
    return registry


_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_QUANTITY = re.compile(
    rf"\s*(?:({_NUMBER})(?!\s*/)\s+)?(?:({_NUMBER})\s*(?:/\s*(\d+))?)\s*(\S.*?)?\s*"
)
# Only a unit or one over another reaches pint: its parser would evaluate anything else.
_UNIT = re.compile(r"[A-Za-z_]{1,24}(?:/[A-Za-z_]{1,24})?")
_VULGAR = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8"}


def _split(text: str) -> tuple[float, str]:
    """The number and the unit of ``text``; whole and fraction ("1 1/2 tsp") are added."""
    for sign, fraction in _VULGAR.items():
        text = text.replace(sign, fraction)
    if len(text) > 100:
        raise QuantityError("far too long for a quantity", 'write a number and a unit, "450 g"')
    match = _QUANTITY.fullmatch(text)
    if not match:
        raise QuantityError(f'"{text.strip()}" is not a number with a unit', 'write "450 g"')
    whole, number, below, unit = match.groups()
    if below is not None and int(below) == 0:
        raise QuantityError("division by zero", 'write "1/2 tsp"')
    try:
        value = Fraction(number) / int(below or 1) + Fraction(whole or 0)
        return float(value), unit or ""
    except (OverflowError, ValueError):
        raise QuantityError("too large", 'write "450 g"') from None


def read(written: object, measure: Measure) -> float:
    """The quantity ``written`` in the unit of ``measure`` (g, mL, cm, degC, fraction, s).

    Raises QuantityError when it is no string, has no unit, or its unit measures something else.
    """
    right = f'write {measure.words} with its unit, "{measure.example}"'
    if isinstance(written, bool) or not isinstance(written, str):
        if isinstance(written, int | float):
            shown = f"{written:g}" if abs(written) < 1e15 else "this number"
            raise QuantityError(f"{shown} has no unit", right)
        raise QuantityError(f"{measure.words} is expected here", right)
    return _read(written, measure, right)


@lru_cache(maxsize=4096)  # pint takes 0.3 ms for each, and a maker writes the same ones again
def _read(written: str, measure: Measure, right: str) -> float:
    value, unit = _split(written)
    if not unit:
        raise QuantityError(f'"{written.strip()}" has no unit', right)
    unit = _spelt(unit, measure)
    if not _UNIT.fullmatch(unit):
        raise QuantityError(f'"{unit[:40]}" is not a unit known here', right)
    size = PLAIN.get(measure, {}).get(unit)
    result = _by_pint(value, unit, measure, right) if size is None else value * size
    if not math.isfinite(result):
        raise QuantityError(f'"{written.strip()}" is beyond any number', right)
    return result


def _by_pint(value: float, unit: str, measure: Measure, right: str) -> float:
    import pint

    try:
        quantity = _registry().Quantity(value, unit)
        return float(quantity.to(_spelt(measure.unit, measure) or "dimensionless").magnitude)
    except pint.DimensionalityError:
        raise QuantityError(f'"{unit}" does not measure {measure.words}', right) from None
    except pint.PintError:  # unknown, or degrees with a prefix or under a stroke
        raise QuantityError(f'"{unit}" is not a unit known here', right) from None


def _spelt(unit: str, measure: Measure) -> str:
    """Pint's spelling of a unit; "C" and "F" alone mean degrees to a maker."""
    unit = " ".join(unit.split()).replace("° ", "°").replace("°", "deg").replace(" / ", "/")
    if measure is Measure.TEMPERATURE and unit in ("C", "F"):
        return f"deg{unit}"
    return {"%": "percent", "ml": "mL"}.get(unit, unit.replace(" ", "_"))


def read_amount(written: object) -> Amount:
    """A dose by mass or by volume. Raises QuantityError."""
    try:
        if type(written) is str:
            return _read_amount(written)
        return Amount(ml=read(written, Measure.VOLUME), written=str(written))
    except QuantityError as fault:
        raise QuantityError(fault.wrong, 'write a dose with its unit, "1 tsp" or "4 g"') from None


@lru_cache(maxsize=1024)  # what is no volume is refused by pint first, every time
def _read_amount(written: str) -> Amount:
    if _spelt(_split(written)[1], Measure.MASS) in PLAIN[Measure.MASS]:
        return Amount(g=read(written, Measure.MASS), written=written)
    try:
        return Amount(ml=read(written, Measure.VOLUME), written=written)
    except QuantityError as fault:
        if "does not measure" not in fault.wrong:
            raise
    return Amount(g=read(written, Measure.MASS), written=written)
