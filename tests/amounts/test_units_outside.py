"""Units against the full registry of pint and against published definitions."""

from __future__ import annotations

import subprocess
import sys

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soapbench.reading.kitchen import kitchen
from soapbench.reading.units import KITCHEN_US, PLAIN, Measure, read, read_amount
from tests.fakes import SAMPLES

PINT = pint.get_application_registry()
TO = {Measure.MASS: "g", Measure.VOLUME: "mL", Measure.LENGTH: "cm", Measure.TIME: "s"}
UNITS = [
    (Measure.MASS, "g", "gram"), (Measure.MASS, "kg", "kilogram"), (Measure.MASS, "lb", "pound"),
    (Measure.MASS, "oz", "ounce"), (Measure.VOLUME, "mL", "milliliter"),
    (Measure.VOLUME, "L", "liter"), (Measure.VOLUME, "cup", "cup"),
    (Measure.VOLUME, "tbsp", "tablespoon"), (Measure.VOLUME, "tsp", "teaspoon"),
    (Measure.VOLUME, "fl oz", "fluid_ounce"), (Measure.VOLUME, "pt", "pint"),
    (Measure.VOLUME, "qt", "quart"), (Measure.VOLUME, "gal", "gallon"),
    (Measure.LENGTH, "cm", "centimeter"), (Measure.LENGTH, "mm", "millimeter"),
    (Measure.LENGTH, "in", "inch"), (Measure.LENGTH, "ft", "foot"),
    (Measure.TIME, "min", "minute"), (Measure.TIME, "h", "hour"),
]  # fmt: skip


@pytest.mark.parametrize(("measure", "unit", "name"), UNITS, ids=[u[1] for u in UNITS])
@given(value=st.integers(1, 10_000))
def test_unit_against_pints_own(measure: Measure, unit: str, name: str, value: int) -> None:
    expected = PINT.Quantity(value / 8, name).to(TO[measure]).magnitude
    assert read(f"{value / 8} {unit}", measure) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("measure", "unit"), [(m, unit) for m, units in PLAIN.items() for unit in units]
)
@given(hundredths=st.integers(0, 10_000_000))
def test_a_unit_read_without_pint_is_pints_own(
    measure: Measure, unit: str, hundredths: int
) -> None:
    value = hundredths / 100
    expected = PINT.Quantity(value, unit).to(measure.unit or "dimensionless").magnitude
    assert read(f"{value!r} {unit}", measure) == pytest.approx(expected, rel=1e-14, abs=1e-14)


def test_a_plan_in_plain_units_is_read_without_pint() -> None:
    code = (
        "import sys; from pathlib import Path\n"
        "from soapbench.bench.planfile import weigh_out\n"
        f"weigh_out(Path({str(SAMPLES / 'harbour_at_dusk.toml')!r}), Path('none'))\n"
        "print('\\n'.join(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "pint"} & set(done.stdout.split())


@given(st.integers(0, 1000))
def test_temperature_against_pints_own(tenths: int) -> None:
    expected = PINT.Quantity(32 + tenths / 10, "degF").to("degC").magnitude
    assert read(f"{32 + tenths / 10} degF", Measure.TEMPERATURE) == pytest.approx(expected)


# NIST Handbook 44, appendix C: the US gallon is 231 cubic inches; 16 cups, 256 tablespoons,
# 768 teaspoons, 128 fluid ounces. 1 inch is 2.54 cm, 1 lb 453.59237 g.
GALLON_ML = 231 * 2.54**3
DEFINED = {
    "16 cup": GALLON_ML,
    "256 tbsp": GALLON_ML,
    "768 tsp": GALLON_ML,
    "128 fl oz": GALLON_ML,
    "1 cup": 236.5882365,
    "1/3 tbsp": 4.92892159375,
    "1 1/2 tsp": 1.5 * 4.92892159375,
    "½ cup": 118.29411825,
}


@pytest.mark.parametrize("written", DEFINED)
def test_volume_as_defined(written: str) -> None:
    assert read(written, Measure.VOLUME) == pytest.approx(DEFINED[written], rel=1e-12)
    assert read_amount(written).ml == pytest.approx(DEFINED[written], rel=1e-12)


def test_mass_as_defined() -> None:
    assert read("1 lb", Measure.MASS) == pytest.approx(453.59237, rel=1e-12)
    assert read_amount("2 oz").g == pytest.approx(2 * 453.59237 / 16, rel=1e-12)


def test_kitchen_measures_are_the_defined_ones() -> None:
    for (name, ml), per_gallon in zip(KITCHEN_US, (16, 256, 768), strict=True):
        assert ml == pytest.approx(GALLON_ML / per_gallon, rel=1e-12), name
    assert kitchen(GALLON_ML / 16 * 2.5) == "2 cups + 8 tbsp"
