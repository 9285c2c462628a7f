"""How much alkali and water a recipe takes. Masses in g."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from soapbench.plan.tables import Lye
from soapbench.recipe.lye import KOH, NAOH, Alkali


@dataclass(frozen=True, slots=True)
class Alkalis:
    """Alkali and all its water, for some amount of oils."""

    pure: Mapping[Alkali, float]
    weighed: Mapping[Alkali, float]
    """Purity counted in."""
    water: float

    def times(self, oils_g: float) -> Alkalis:
        return Alkalis(
            {alkali: g * oils_g for alkali, g in self.pure.items()},
            {alkali: g * oils_g for alkali, g in self.weighed.items()},
            self.water * oils_g,
        )

    @property
    def as_koh(self) -> float:
        """Pure KOH that would do the same work."""
        return sum(g / alkali.molar_mass for alkali, g in self.pure.items()) * KOH.molar_mass


def alkalis_for(lye: Lye, oils: Iterable[tuple[float, tuple[float, float]]]) -> Alkalis:
    """For the middle of every oil's range less the superfat, for one g of oils.

    ``oils`` are shares and ranges of saponification values, mg KOH/g.
    """
    need = sum(share * sum(values) / 2 for share, values in oils) / 1000 / KOH.molar_mass
    by_koh = {"NaOH": 0.0, "KOH": 1.0, "both": lye.koh_share or 0.0}[lye.alkali]
    moles = {NAOH: need * (1 - by_koh), KOH: need * by_koh}
    pure = {a: n * a.molar_mass * (1 - lye.superfat) for a, n in moles.items() if n > 0}
    weighed = {alkali: g / purity_of(lye, alkali) for alkali, g in pure.items()}
    return Alkalis(pure, weighed, sum(pure.values()) * (1 / lye.strength - 1))


def purity_of(lye: Lye, alkali: Alkali) -> float:
    """Purity of an alkali as weighed.

    The KOH beside NaOH of unknown purity counts as pure: so it did in logs of the first release,
    and a plan read today has it filled in.
    """
    if alkali is NAOH:
        return lye.purity
    if lye.alkali == "both":
        return lye.koh_purity or 1.0
    return lye.koh_purity or lye.purity
