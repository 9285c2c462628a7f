"""How much alkali and water a recipe takes. Masses in g."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from soapbench.plan import Plan
from soapbench.plan.tables import Lye
from soapbench.recipe.lye import KOH, NAOH, Alkali
from soapbench.words.numbers import written_share


@dataclass(frozen=True, slots=True)
class Alkalis:
    """Alkali and all its water, for some amount of oils."""

    pure: Mapping[Alkali, float]
    weighed: Mapping[Alkali, float]
    """Purity counted in; of a ready-made solution the alkali in it."""
    water: float
    """All of it, whatever brings it."""
    stock_g: float = 0.0
    """Of the ready-made solution."""

    @property
    def stock_water_g(self) -> float:
        return self.stock_g - sum(self.pure.values()) if self.stock_g else 0.0

    @property
    def as_koh(self) -> float:
        """Pure KOH that would do the same work."""
        return sum(g / alkali.molar_mass for alkali, g in self.pure.items()) * KOH.molar_mass


def taken_up(oils: Iterable[tuple[float, tuple[float, float]]]) -> float:
    """Alkali that oils take up at the middle of every range, mol.

    ``oils`` are masses, g, and ranges of saponification values, mg KOH/g.
    """
    return sum(g * sum(values) / 2 for g, values in oils) / 1000 / KOH.molar_mass


def alkalis_for(lye: Lye, oils_mol: float, acid_mol: float = 0.0) -> Alkalis:
    """For oils that take up so much, less the superfat, and for what acids use up besides."""
    mol = oils_mol * (1 - lye.superfat) + acid_mol
    shares = {NAOH: 1 - lye.potassium, KOH: lye.potassium}
    pure = {a: mol * share * a.molar_mass for a, share in shares.items() if share > 0}
    water = sum(pure.values()) * (1 / lye.strength - 1)
    if lye.stock is not None:
        return Alkalis(pure, pure, water, sum(pure.values()) / lye.stock)
    weighed = {alkali: g / purity_of(lye, alkali) for alkali, g in pure.items()}
    return Alkalis(pure, weighed, water)


def alkali_words(plan: Plan, alkali: Alkali) -> str:
    """ "NaOH (98 % pure)"; of a ready-made solution "NaOH solution of 50 %"."""
    if plan.lye.stock is not None:
        return f"{alkali.name} solution of {written_share(plan.lye.stock)}"
    return f"{alkali.name} ({written_share(purity_of(plan.lye, alkali))} pure)"


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
