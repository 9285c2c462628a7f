"""The oils of a batch and the alkali they share: whose superfat is what, and what is held back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from soapbench.plan import Plan
from soapbench.recipe.additives import AdditiveAmount
from soapbench.recipe.lye import KOH
from soapbench.recipe.oilamounts import HeldBack, OilAmount, main_liquid, summed
from soapbench.recipe.pots import ColourantAmount
from soapbench.recipe.superfat import Superfat, superfat_of


@dataclass(frozen=True, slots=True)
class Fats:
    """The oils of a batch and the alkali they share: whose superfat is what."""

    oils: Sequence[OilAmount]
    dispersed: Mapping[str, OilAmount]
    """Oils that colours are dispersed in, by name."""
    koh_g: float
    """The lye, as pure KOH that would do its work."""
    additives: Sequence[AdditiveAmount] = ()
    """Acids among them use up alkali: those in single pots only there."""

    def used(
        self, doses: Sequence[ColourantAmount], on_top: bool
    ) -> dict[str, tuple[OilAmount, float]]:
        """Oil for colours: on top of the recipe, or held back from it."""
        return summed(
            (self.dispersed[d.oil], d.liquid_g) for d in doses if d.oil and d.on_top is on_top
        )

    def of_batch(self, doses: Sequence[ColourantAmount]) -> Superfat:
        extra = self.used(doses, on_top=True).values()
        fats = [oil.fat(oil.g) for oil in self.oils] + [oil.fat(g) for oil, g in extra]
        return superfat_of(fats, self.koh_g - _as_koh(self.additives))

    def of_pot(
        self,
        held: Mapping[str, float],
        part: float,
        colours: Sequence[ColourantAmount],
        own: Sequence[AdditiveAmount],
    ) -> Superfat:
        """Of ``part`` of the main batter with these colours and additives of its own.

        ``held``: g of oil not in the main batter.
        """
        main = [o.fat(part * max(o.g - held.get(o.name, 0.0), 0.0)) for o in self.oils]
        coloured = [self.dispersed[c.oil].fat(c.liquid_g) for c in colours if c.oil]
        common = self.koh_g - _as_koh(a for a in self.additives if not a.pots)
        return superfat_of([*main, *coloured], part * common - _as_koh(own))


def _as_koh(additives: Iterable[AdditiveAmount]) -> float:
    """Alkali these acids use up, as pure KOH."""
    return sum(a.acid_mol for a in additives) * KOH.molar_mass


def held_back(
    plan: Plan, oils: Sequence[OilAmount], held: Mapping[str, tuple[OilAmount, float]]
) -> tuple[HeldBack, ...]:
    oils_held = [HeldBack(name, g, "colours") for name, (_, g) in held.items()]
    if (cook := plan.hot_process) is not None:
        oil = cook.oil or main_liquid(oils).name
        oils_held.append(HeldBack(oil, cook.kept_back * sum(o.g for o in oils), "after the cook"))
    return tuple(oils_held)
