"""Lye: how dense it is, how much heat it takes up, and how hot it gets when it is made.

Density and heat capacity follow Laliberté's correlation for aqueous electrolytes (J. Chem. Eng.
Data 54, 2009, 1725-1760) with its published coefficients, copied from the data table of the
``thermo`` library 0.6.1 and not compared with the paper. Masses in g, temperatures in °C.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

H, C, O, NA, K = 1.0080, 12.011, 15.999, 22.990, 39.098  # noqa: E741
"""Atomic weights, g/mol: IUPAC abridged values of 2021, from memory, checked in the tests."""
WATER_HEAT_J_G_K = 4.1813
"""Heat capacity of water at 25 degC, from the CoolProp library."""


@dataclass(frozen=True, slots=True)
class Alkali:
    """An alkali as dissolved in water."""

    name: str
    molar_mass: float
    """g/mol."""
    density: tuple[float, float, float, float, float]
    """Laliberté's c0 to c4 for the apparent density, kg/m³; fitted up to 50 %."""
    heat: tuple[float, float, float, float, float, float]
    """Laliberté's a1 to a6 for the apparent heat capacity, J/g/K."""
    heats_of_solution: tuple[tuple[float, float], ...]
    """(mol of water per mol, kJ given off per mol), by rising water; linear between."""


# Heats of NaOH: the value at 4 mol of water read in a worked solution quoting Felder & Rousseau,
# table B.11; the others of that table from memory, not verified in their source.
NAOH = Alkali(
    "NaOH",
    NA + O + H,
    (319.020509469838, 528.592358475315, -0.102197896602724, 0.0003504207064155, 765.970470238438),
    (
        -0.922780764834469,
        -0.0412353462450485,
        1.8722524604359,
        -5.94223565147303,
        3.13007617842649,
        0.141040805508813,
    ),
    (
        (3, 28.87),
        (4, 34.43),
        (5, 37.74),
        (10, 42.51),
        (20, 42.84),
        (50, 42.51),
        (100, 42.34),
    ),
)
# Heat of KOH: at infinite dilution only, from memory; enthalpies of formation (the solid's from the
# chemicals library) agree. It overstates the heat at real strengths: the peak stays an upper bound.
KOH = Alkali(
    "KOH",
    K + O + H,
    (821.119043254761, 1043.20173374381, 0.112873330222752, 0.0012402363640738, 539.630388368877),
    (
        -0.612709529812129,
        -0.0454225316920391,
        1.87598005977999,
        -5.62731016809735,
        2.42547035549534,
        1.24500822569176,
    ),
    ((3, 57.6),),
)


def water_density(c: float) -> float:
    """Density of water at ``c`` degC, g/mL (Laliberté 2009)."""
    top = -2.8054253e-10 * c + 1.0556302e-7
    top = ((top * c - 4.6170461e-5) * c - 0.0079870401) * c + 16.945176
    return (top * c + 999.83952) / (1 + 0.01687985 * c) / 1000


def solution_density(parts: Mapping[Alkali, float], c: float) -> float:
    """Density of a solution at ``c`` degC, g/mL; ``parts`` are mass shares of the alkalis."""
    dissolved = sum(parts.values())
    volume = (1 - dissolved) / water_density(c)
    for alkali, share in parts.items():
        c0, c1, c2, c3, c4 = alkali.density
        apparent = (c0 * dissolved + c1) * math.exp(1e-6 * (c + c4) ** 2)
        volume += share / (apparent / (dissolved + c2 + c3 * c) / 1000)
    return 1 / volume


def solution_ml(alkalis: Mapping[Alkali, float], water_g: float, c: float) -> float:
    """Volume of the lye made of these g of pure alkali and of water, once at ``c`` degC, mL."""
    total = sum(alkalis.values()) + water_g
    return total / solution_density({a: g / total for a, g in alkalis.items()}, c)


def solution_heat(parts: Mapping[Alkali, float], c: float) -> float:
    """Heat capacity of a solution at ``c`` degC, J/g/K; extrapolated above 30 % NaOH."""
    dissolved = sum(parts.values())
    heat = (1 - dissolved) * WATER_HEAT_J_G_K
    for alkali, share in parts.items():
        a1, a2, a3, a4, a5, a6 = alkali.heat
        alpha = a2 * c + a3 * math.exp(0.01 * c) + a4 * dissolved
        heat += share * (a1 * math.exp(alpha) + a5 * dissolved**a6)
    return heat


def heat_of_solution(alkali: Alkali, water_per_mol: float) -> float:
    """Heat given off per mol dissolved in ``water_per_mol`` mol of water, kJ.

    The table's ends hold beyond it, which overstates the heat of lye stronger than 40 %.
    """
    table = alkali.heats_of_solution
    for (r0, h0), (r1, h1) in pairwise(table):
        if r0 <= water_per_mol <= r1:
            return h0 + (h1 - h0) * (water_per_mol - r0) / (r1 - r0)
    return table[0][1] if water_per_mol < table[0][0] else table[-1][1]


NEUTRALISING_J_MOL = 57_000.0
"""Heat of a strong acid's proton with lye, J/mol, rounded up from the 55.8 kJ of textbooks (from
memory, checked in the tests); a weak acid gives off less."""
MELTING_ICE_J_G = 333.4
"""Heat that ice takes up as it melts, J/g: handbooks, from memory, checked in the tests."""


def peak_c(
    alkalis: Mapping[Alkali, float],
    water_g: float,
    start_c: float,
    had_water_g: float = 0.0,
    ice_g: float = 0.0,
    acid_mol: float = 0.0,
) -> float:
    """Upper bound on the temperature of fresh lye, degC: no vessel, no loss, no boiling.

    A bound near or above 100 degC means "can boil and spit", not that it will get so hot.
    ``had_water_g``: of the water, what a ready-made solution was dissolved in long ago; ``ice_g``:
    what was ice at 0 degC; ``acid_mol``: of the alkali, what an acid in the water uses up.
    """
    total = sum(alkalis.values()) + water_g
    moles = {alkali: g / alkali.molar_mass for alkali, g in alkalis.items()}
    water = water_g / (2 * H + O) / sum(moles.values())
    had = had_water_g / (2 * H + O) / sum(moles.values())
    given = {alkali: _heat_of_stock(alkali, had) if had else 0.0 for alkali in moles}
    heat = sum(
        n * max(heat_of_solution(alkali, water) - given[alkali], 0.0) * 1000
        for alkali, n in moles.items()
    )
    heat += acid_mol * NEUTRALISING_J_MOL
    heat = (heat - ice_g * (MELTING_ICE_J_G + WATER_HEAT_J_G_K * start_c)) / total
    parts = {alkali: g / total for alkali, g in alkalis.items()}
    peak = start_c
    if heat < 0:
        return max(start_c + heat / solution_heat(parts, start_c), 0.0)
    for _ in range(20):  # the heat capacity is taken half way up, so the peak is a fixed point
        peak = start_c + heat / solution_heat(parts, (start_c + peak) / 2)
    return peak


def _heat_of_stock(alkali: Alkali, water_per_mol: float) -> float:
    """Heat given off when a solution was made, kJ per mol; a little less, so that what diluting it
    still gives off is an upper bound. Past its first row the table falls half again as fast as
    between its first two (ours: the curve only gets steeper)."""
    table = alkali.heats_of_solution
    if water_per_mol >= table[0][0] or len(table) < 2:
        return heat_of_solution(alkali, water_per_mol)
    (r0, h0), (r1, h1) = table[:2]
    return max(h0 - 1.5 * (h1 - h0) / (r1 - r0) * (r0 - water_per_mol), 0.0)
