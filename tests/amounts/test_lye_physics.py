"""Lye against the thermo library, published tables and a measured mixture."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soapbench.recipe.lye import (
    KOH,
    NAOH,
    Alkali,
    heat_of_solution,
    peak_c,
    solution_density,
    solution_heat,
    solution_ml,
    water_density,
)

CAS = {NAOH: "1310-73-2", KOH: "1310-58-3"}


@pytest.mark.parametrize("c", [5, 20, 35, 60, 95])
@pytest.mark.parametrize("share", [0.02, 0.1, 0.25, 0.33, 0.4, 0.5])
@pytest.mark.parametrize("alkali", CAS, ids=lambda alkali: alkali.name)
def test_against_thermo(alkali: Alkali, share: float, c: float) -> None:
    """The same correlation in another implementation (thermo 0.6.1)."""
    from thermo.electrochem import Laliberte_density, Laliberte_heat_capacity

    density = Laliberte_density(c + 273.15, [share], [CAS[alkali]]) / 1000
    assert solution_density({alkali: share}, c) == pytest.approx(density, rel=1e-6)
    heat = Laliberte_heat_capacity(c + 273.15, [share], [CAS[alkali]]) / 1000
    # Water is held at its value at 25 degC here; it changes by 1 % to 95 degC.
    assert solution_heat({alkali: share}, c) == pytest.approx(heat, rel=0.01)


def test_both_alkalis_in_one_lye_against_thermo() -> None:
    from thermo.electrochem import Laliberte_density

    both = Laliberte_density(303.15, [0.25, 0.08], [CAS[NAOH], CAS[KOH]]) / 1000
    assert solution_density({NAOH: 0.25, KOH: 0.08}, 30) == pytest.approx(both, rel=1e-6)


# advancedthermo.com, densities of aqueous NaOH: (mol/kg water, degC) -> g/cm³, measured.
MOLAL = {
    (1, 25): 1.03911,
    (2, 25): 1.07787,
    (4, 25): 1.14776,
    (6, 25): 1.20866,
    (6, 40): 1.20013,
    (6, 55): 1.19121,
    (6, 85): 1.17227,
}


@pytest.mark.parametrize("point", MOLAL, ids=str)
def test_density_against_measurements(point: tuple[float, float]) -> None:
    molality, c = point
    share = molality * NAOH.molar_mass / (1000 + molality * NAOH.molar_mass)
    assert solution_density({NAOH: share}, c) == pytest.approx(MOLAL[point], rel=0.005)


# Perry's Chemical Engineers' Handbook, chapter 2, NaOH at 20 degC, from memory.
PERRY = {0.1: 1.1089, 0.2: 1.2191, 0.3: 1.3279, 0.4: 1.4300, 0.5: 1.5253}


@pytest.mark.parametrize("share", PERRY)
def test_density_against_the_handbook(share: float) -> None:
    tolerance = 0.01 if share <= 0.4 else 0.015
    assert solution_density({NAOH: share}, 20) == pytest.approx(PERRY[share], rel=tolerance)


def test_water() -> None:
    """IAPWS-95: 999.84, 997.05 and 988.03 kg/m³ at 0, 25 and 50 degC."""
    for c, expected in ((0, 0.99984), (25, 0.99705), (50, 0.98803)):
        assert water_density(c) == pytest.approx(expected, abs=2e-5)


def test_volume_is_mass_over_density() -> None:
    assert solution_ml({NAOH: 33}, 67, 20) == pytest.approx(100 / 1.3566, rel=0.001)


def test_measured_mixture_warms_as_it_should() -> None:
    """Textbook coffee-cup calorimeter: 6.50 g NaOH in 100.0 g water, 21.6 to 37.8 degC."""
    assert peak_c({NAOH: 6.50}, 100.0, 21.6) == pytest.approx(37.8, abs=1)


def test_heat_at_four_moles_of_water() -> None:
    """Felder & Rousseau, table B.11, as quoted in a worked solution: 34.43 kJ/mol."""
    assert heat_of_solution(NAOH, 4.0) == 34.43


IONS = {NAOH: (-240.1, "1310-73-2"), KOH: (-252.4, "1310-58-3")}
"""Enthalpy of formation of the dissolved cation, kJ/mol, CRC handbook, from memory; CAS number."""
HYDROXIDE = -230.0


@pytest.mark.parametrize("alkali", IONS, ids=lambda alkali: alkali.name)
def test_heat_of_a_dilute_solution_by_enthalpies_of_formation(alkali: Alkali) -> None:
    """Of the solid by the chemicals library: NaOH -425.8 (44.3 given off), KOH -424.6 (57.8)."""
    from chemicals import Hfs

    cation, cas = IONS[alkali]
    given_off = Hfs(cas) / 1000 - (cation + HYDROXIDE)
    assert heat_of_solution(alkali, 100) == pytest.approx(given_off, rel=0.05)


@given(st.floats(0.15, 0.52), st.floats(5, 35))
def test_peak_rises_with_strength_and_start(share: float, start: float) -> None:
    """At real strengths the heat of a dilute solution overstates it: the peak stays below that."""
    peak = peak_c({NAOH: share}, 1 - share, start)
    assert start < peak < peak_c({NAOH: share}, 1 - share, start + 1)
    assert peak > peak_c({NAOH: share * 0.95}, 1 - share * 0.95, start)
    dilute = 44_500 * share / NAOH.molar_mass / solution_heat({NAOH: share}, start)
    assert peak < start + dilute
