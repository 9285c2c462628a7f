"""What lye made of the oils: soaps by their own names and glycerin, as some labels list them.

Three molecules of alkali and one of fat become three of soap and one of glycerin, and nothing is
lost: soap and glycerin weigh what fat and alkali did. Oil that lye does not reach stays oil.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from soapbench.reading.entries import Labelled
from soapbench.recipe.amounts import Amounts
from soapbench.recipe.lye import KOH, NAOH

GLYCERIN_G_MOL = 92.094
"""C3H8O3, of IUPAC's atomic weights."""
GLYCERIN = "Glycerin"
ALKALIS = {"Sodium": NAOH, "Potassium": KOH}


def made_of(
    oils: Iterable[tuple[str, float, float]], reached: float, potassium: float = 0.0
) -> tuple[dict[tuple[str, str], float], float]:
    """Grams of each soap by alkali and oil, and of glycerin.

    ``oils``: name, g, saponification value in mg KOH/g; ``reached``: the part of them that lye
    turns to soap; ``potassium``: the part of that done by KOH.
    """
    soaps: dict[tuple[str, str], float] = {}
    glycerin = 0.0
    for name, g, value in oils:
        mol = reached * g * value / 1000 / KOH.molar_mass
        glycerin += mol / 3 * GLYCERIN_G_MOL
        for alkali, part in (("Sodium", 1 - potassium), ("Potassium", potassium)):
            if part > 0:
                fat = reached * g + mol * (ALKALIS[alkali].molar_mass - GLYCERIN_G_MOL / 3)
                soaps[alkali, name] = soaps.get((alkali, name), 0.0) + part * fat
    return soaps, glycerin


def soap_line(
    amounts: Amounts, potassium: float, labels: Mapping[str, Labelled], rest: Mapping[str, float]
) -> str:
    """Ingredients by what they have become, heaviest first. ``rest``: g of all that is neither oil
    nor alkali, by labelling name, in the order that equals keep."""
    used = (*amounts.oils, *amounts.extra_oils)
    oils = [(oil.name, oil.g, sum(oil.saponification) / 2) for oil in used]
    reached = min(max(1 - amounts.superfat.mid, 0.0), 1.0)
    soaps, glycerin = made_of(oils, reached, potassium)
    grams: dict[str, float] = dict(rest)

    def add(name: str, g: float) -> None:
        grams[name] = grams.get(name, 0.0) + g

    for (alkali, oil), g in soaps.items():
        stem = labels[oil].soap if oil in labels else ""
        add(f"{alkali} {stem}" if stem else f"{alkali} soap of {oil}", g)
    add(GLYCERIN, glycerin)
    for oil, g, _ in oils if reached < 1 else ():
        add((labels[oil].name if oil in labels else "") or oil, (1 - reached) * g)
    return ", ".join(sorted(grams, key=lambda name: -grams[name]))
