"""The set-out: everything weighed, labelled and within reach before lye meets oil."""

from __future__ import annotations

from dataclasses import dataclass

from soapbench.plan import Plan
from soapbench.recipe.amounts import Amounts
from soapbench.settings import USUAL, Settings
from soapbench.swirls import SwirlTable
from soapbench.words.quantities import mass, temperature, volume

GROUPS = ("Protect", "Mould", "Weigh", "Lye", "Colours", "Cups", "Tools", "Last")
"""In the order they are worked through: lye water cools while the rest is set out."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to set out; ``lot`` tells whether a lot number belongs to it."""

    id: str
    group: str
    words: str
    lot: bool = False
    expected_lot: str = ""


def items(
    plan: Plan, made: Amounts, table: SwirlTable, settings: Settings = USUAL
) -> tuple[Item, ...]:
    """The whole checklist, in the order it is worked through."""
    found = [
        Item("goggles", "Protect", "Goggles, gloves and long sleeves on; vinegar is no first aid"),
        Item("quiet", "Protect", "Children and animals out; water tap free to flush with"),
        Item("air", "Protect", "Room aired; no flame, spark or heater near any alcohol spray"),
        Item(
            "mould", "Mould", f"Mould lined, {volume(made.mould_ml, settings)} to the brim, level"
        ),
    ]
    for oil, written in zip(made.oils, plan.oils, strict=True):
        found.append(
            Item(
                f"oil {oil.name}",
                "Weigh",
                f"{mass(oil.g, settings, 0)}  {oil.name}",
                True,
                written.lot or "",
            )
        )
    for name, grams in (("NaOH", made.naoh_g), ("KOH", made.koh_g)):
        if grams > 0:
            found.append(
                Item(
                    name,
                    "Weigh",
                    f"{mass(grams, settings)}  {name} as weighed",
                    True,
                    plan.lye.lot or "",
                )
            )
    found += [
        Item("water", "Weigh", f"{mass(made.lye_water_g, settings)}  water for the lye"),
        Item(
            "lye water",
            "Lye",
            "Lye into water, never water into lye; may reach "
            f"{temperature(made.lye_peak_c, settings)}",
        ),
    ]
    for fragrance, scent in zip(made.fragrances, plan.fragrance, strict=True):
        found.append(
            Item(
                f"fragrance {fragrance.name}",
                "Weigh",
                f"{mass(fragrance.g, settings)}  {fragrance.name} (in all)",
                True,
                scent.lot or "",
            )
        )
    for pot, batter in zip(plan.pots, made.pots, strict=True):
        for colourant, dose in zip(pot.colourants, batter.colourants, strict=True):
            liquid = f" in {dose.liquid_ml:.0f} mL of the {dose.liquid}" if dose.liquid_ml else ""
            written_dose = colourant.dose.written if colourant.dose else "as you like"
            found.append(
                Item(
                    f"colour {pot.name}: {colourant.name}",
                    "Colours",
                    f"{written_dose} {colourant.name}{liquid}, for {pot.name}",
                    True,
                    colourant.lot or "",
                )
            )
        if pot is not plan.base:
            found.append(
                Item(
                    f"cup {pot.name}",
                    "Cups",
                    f"Cup {pot.name}: mark {volume(batter.pour_off_ml, settings)} "
                    f"({batter.pour_off_g:.0f} g)",
                )
            )
        if batter.fragrance_g:
            found.append(
                Item(
                    f"dose {pot.name}",
                    "Cups",
                    f"{mass(batter.fragrance_g, settings)} of {batter.fragrance} beside {pot.name}",
                )
            )
    tools = [name for name in plan.swirl.steps if table.kinds[name].role != "pour"]
    for tool in tools:
        found.append(Item(f"tool {tool}", "Tools", f"What the {tool} takes, within reach"))
    found += [
        Item(
            "temperature",
            "Last",
            f"Oils and lye water at {temperature(plan.conditions.batter, settings)}",
        ),
        Item("way out", "Tools", "The quicker way out is set out too: a spoon, a jug, a cover"),
    ]
    return tuple(sorted(found, key=lambda item: GROUPS.index(item.group)))
