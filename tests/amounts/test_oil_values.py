"""Oil values against atomic weights, formulae and the fatty-acid boxes of the same documents."""

from __future__ import annotations

from collections.abc import Mapping

import periodictable
import pytest

from soapbench.bench import tables
from soapbench.recipe.lye import KOH, C, H, O
from soapbench.recipe.oils import (
    FATTY_ACIDS,
    NAOH_PER_KOH,
    OilFacts,
    oil_table,
    usual_density,
)

OILS = {oil.name: oil for oil in tables.oils().values()}
BOXED = sorted(name for name, oil in OILS.items() if oil.fatty_acids)

# Formulae of simple triglycerides (any organic chemistry handbook).
TRIGLYCERIDES = {
    "8:0": "C27H50O6",
    "10:0": "C33H62O6",
    "12:0": "C39H74O6",
    "14:0": "C45H86O6",
    "16:0": "C51H98O6",
    "16:1": "C51H92O6",
    "18:0": "C57H110O6",
    "18:1": "C57H104O6",
    "18:2": "C57H98O6",
    "18:3": "C57H92O6",
    "18:1-OH": "C57H104O9",
    "20:0": "C63H122O6",
    "22:0": "C69H134O6",
}


def molar_mass(formula: str) -> float:
    """By periodictable, whose atomic weights are IUPAC's."""
    return float(periodictable.formula(formula).mass)


def test_naoh_does_the_work_of_koh_by_their_molar_masses() -> None:
    assert pytest.approx(molar_mass("NaOH") / molar_mass("KOH"), abs=2e-5) == NAOH_PER_KOH


def fatty_acid_mass(name: str) -> float:
    """Molar mass of a fatty acid, g/mol."""
    carbons, hydrogens, oxygens, _ = FATTY_ACIDS[name]
    return carbons * C + hydrogens * H + oxygens * O


def saponification_of(fatty_acids: Mapping[str, float]) -> float:
    """Saponification value of pure triglycerides of these fatty acids, mg KOH/g.

    Takes mass shares in any unit. The mean molar mass is the harmonic one: shares are by mass,
    alkali is taken up by the mole.
    """
    mean = sum(fatty_acids.values()) / sum(
        share / fatty_acid_mass(name) for name, share in fatty_acids.items()
    )
    glycerol, water = 3 * C + 8 * H + 3 * O, 2 * H + O
    return 3000 * KOH.molar_mass / (3 * mean + glycerol - 3 * water)


@pytest.mark.parametrize("acid", TRIGLYCERIDES)
def test_simple_triglyceride(acid: str) -> None:
    """3 mol of KOH to a mol of fat, molar masses by periodictable."""
    expected = 3000 * molar_mass("KOH") / molar_mass(TRIGLYCERIDES[acid])
    assert saponification_of({acid: 1.0}) == pytest.approx(expected, abs=0.05)
    in_naoh = 3000 * molar_mass("NaOH") / molar_mass(TRIGLYCERIDES[acid])
    assert saponification_of({acid: 1.0}) * NAOH_PER_KOH == pytest.approx(in_naoh, abs=0.05)


@pytest.mark.parametrize("acid", FATTY_ACIDS)
def test_fatty_acid_mass(acid: str) -> None:
    carbons, hydrogens, oxygens, bonds = FATTY_ACIDS[acid]
    assert fatty_acid_mass(acid) == pytest.approx(
        molar_mass(f"C{carbons}H{hydrogens}O{oxygens}"), abs=0.02
    )
    # General formula of a monocarboxylic acid: CnH(2n-2b)O2, one O more for the hydroxyl.
    assert (hydrogens, oxygens) == (2 * carbons - 2 * bonds, 3 if acid.endswith("OH") else 2)


def test_mixture_takes_the_harmonic_mean() -> None:
    """Equal masses of tristearin and tricaprylin: moles of alkali add up, molar masses do not.

    Fatty acids of a g of each fat first, by formulae; then the fats' own values by mass.
    """
    fats = {"18:0": "C57H110O6", "8:0": "C27H50O6"}
    acids = {"18:0": "C18H36O2", "8:0": "C8H16O2"}
    by_mass = {a: 3 * molar_mass(acids[a]) / molar_mass(fats[a]) for a in fats}
    expected = sum(3000 * molar_mass("KOH") / molar_mass(f) / 2 for f in fats.values())
    assert saponification_of(by_mass) == pytest.approx(expected, abs=0.05)


def envelope(oil: OilFacts) -> tuple[float, float]:
    """Least and most saponification value that the box of fatty acids allows, by linear programme.

    The value rises with mol of acid per g, which is linear in the mass shares.
    """
    from scipy.optimize import linprog

    names = [name for name, _ in oil.fatty_acids]
    moles = [1 / fatty_acid_mass(name) for name in names]
    ends = []
    for sign in (1, -1):
        best = linprog(
            [sign * m for m in moles],
            A_eq=[[1.0] * len(names)],
            b_eq=[100.0],
            bounds=[(acid.low, acid.high) for _, acid in oil.fatty_acids],
        )
        assert best.success, f"{oil.name}: the box holds no mixture that makes 100 %"
        ends.append(saponification_of(dict(zip(names, best.x, strict=True))))
    return ends[0], ends[1]


def test_nineteen_documented_boxes_are_there() -> None:
    assert len(set(BOXED) - {"almond", "cocoa butter"}) == 19


@pytest.mark.parametrize("name", BOXED)
def test_range_agrees_with_the_fatty_acids_of_its_document(name: str) -> None:
    """Two columns of one standard, measured by different methods, must have a value in common."""
    oil = OILS[name]
    least, most = envelope(oil)
    assert least <= oil.saponification.high
    assert most >= oil.saponification.low
    if name != "babassu":  # the standard's two columns differ there
        mid = saponification_of({acid: r.mid for acid, r in oil.fatty_acids})
        assert oil.saponification.low <= mid <= oil.saponification.high


@pytest.mark.parametrize("name", BOXED)
def test_iodine_range_agrees_with_the_double_bonds(name: str) -> None:
    """IV = sum of % x 253.81 x double bonds / M (I2 253.81 g/mol; Wang et al., Pharm. Technol. 37,
    2013, appendix), at the middle of the box, within a tenth of the range given."""
    oil = OILS[name]
    assert oil.iodine is not None
    total = sum(r.mid for _, r in oil.fatty_acids)
    iodine = sum(
        r.mid / total * 100 * 253.81 * FATTY_ACIDS[acid][3] / fatty_acid_mass(acid)
        for acid, r in oil.fatty_acids
    )
    assert oil.iodine.low * 0.9 <= iodine <= oil.iodine.high * 1.1


@pytest.mark.parametrize("name", sorted(OILS))
def test_density_is_near_that_of_food_fat(name: str) -> None:
    """CoolProp INCOMP::FoodFat: 917, 909, 901 kg/m³ at 20, 40, 60 degC. Castor is denser by its
    hydroxyl groups."""
    for c, expected in ((20, 0.917), (40, 0.909), (60, 0.901)):
        assert OILS[name].density_at(c) == pytest.approx(
            expected, rel=0.055 if name == "castor" else 0.025
        )


def test_density_is_against_water() -> None:
    """Coconut 0.908 to 0.921 at 40/20 degC; water at 20 degC is 0.99821 g/mL (IAPWS-95)."""
    assert OILS["coconut"].density_at(40) == pytest.approx(0.9145 * 0.99821, abs=1e-4)


def test_expansion_lies_between_fat_and_its_methyl_esters() -> None:
    """FoodFat (partly solid) 0.0004, methyl oleate (chemicals/thermo) 0.00072 g/mL/K."""
    per_kelvin = (usual_density(20) - usual_density(60)) / 40
    assert 0.0004 <= per_kelvin <= 0.00073


FAULTY = {
    "nothing but a number": ({"olive": 190}, "olive"),
    "no saponification": ({"olive": {"source": "s", "verified": "v"}}, "olive.saponification"),
    "range upside down": (
        {"o": {"source": "s", "verified": "v", "saponification": {"mg_koh_g": [196, 184]}}},
        "o.saponification.mg_koh_g",
    ),
    "not a number": (
        {"o": {"source": "s", "verified": "v", "saponification": {"mg_koh_g": float("nan")}}},
        "o.saponification.mg_koh_g",
    ),
    "NaOH value in a KOH column": (
        {"o": {"source": "s", "verified": "v", "saponification": {"mg_koh_g": 0.135}}},
        "o.saponification.mg_koh_g",
    ),
    "no source": ({"o": {"verified": "v", "saponification": {"mg_koh_g": 190}}},
                  "o.saponification.source"),
    "unknown key": (
        {"o": {"source": "s", "verified": "v", "saponification": {"mg_koh_g": 190}, "iodin": {}}},
        "o.iodin",
    ),
    "unknown acid": (
        {
            "o": {
                "source": "s",
                "verified": "v",
                "saponification": {"mg_koh_g": 190},
                "fatty_acids": {"percent": {"19:0": 100}},
            }
        },
        "o.fatty_acids.percent.19:0",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", FAULTY)
def test_faulty_entry_is_left_out_and_told(case: str) -> None:
    written, key = FAULTY[case]
    oils, faults = oil_table(written)
    assert oils == {}
    assert key in [fault.key for fault in faults]
    assert all(fault.wrong and fault.right for fault in faults)
