"""The tables of a pour plan, each checked by itself."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Literal, cast, get_args

from soapbench.batter import FragranceWord, Reputation, Trace
from soapbench.plan.moulds import PotNames
from soapbench.plan.values import (
    LONGEST_NAME,
    Addition,
    AsText,
    Blending,
    Density,
    Dose,
    EmbedVolume,
    Look,
    Mass,
    Part,
    Saponification,
    Share,
    Size,
    Sound,
    Stock,
    Strength,
    Superfat,
    Temperature,
    Text,
    no_other_keys,
    wrong,
)
from soapbench.reading.faults import nearest
from soapbench.reading.safetext import clean

MouldNumber = Literal["1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12"]
Gel = Literal["prevent", "allow", "force"]
Liquid = Literal["oil", "water", "none"]
"""What a colour is dispersed in."""
GELS: tuple[str, ...] = get_args(Gel)
LIQUIDS: tuple[str, ...] = get_args(Liquid)
When = Literal["together", "just before pouring"]
"""All pots have their fragrance once coloured, or each just before it is first poured."""
TOGETHER, JUST_BEFORE = cast(tuple[When, ...], get_args(When))
INTO = EACH_POT, BASE, WITH_OILS = ("each pot", "base", "oils")
"""Where a fragrance can go beside pots by their names."""
PLACES = LYE_WATER, OILS, EMULSION = ("lye water", "oils", "emulsion")
"""Where an additive can go beside single pots."""
UNCOLOURED = "#e8dfc8"
"""Soap without colour is cream."""
USUAL_STRENGTH = 0.33
"""Pure alkali / (pure alkali + water), where a plan does not say."""


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Oil:
    """An oil of the recipe, by share or by mass; all of them one way."""

    name: Text
    share: Share | None = None
    mass: Mass | None = None
    saponification: Saponification | None = None
    """From its certificate, mg KOH/g; None: the oil table's range."""
    saturated: Part | None = None
    """Saturated share of its fatty acids; None: the oil table's, else the usual mean."""
    lot: Text | None = None

    def __post_init__(self) -> None:
        if (self.share is None) == (self.mass is None):
            wrong("it needs a share or a mass, one of them", 'share = "45 %" or mass = "450 g"')


def _ratio(text: str) -> float:
    match = re.fullmatch(r"\s*(\d{1,3}(?:\.\d{1,6})?)\s*:\s*1\s*", text)
    return float(match.group(1)) if match else 0.0


def _ratio_written(text: str) -> str:
    if not 0.9 <= _ratio(text) <= 5.7:
        wrong(f'"{clean(text)}" is no water : lye ratio', 'write "2 : 1", from 0.9 to 5.7')
    return text


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Lye:
    """Alkali and water. Concentration counts pure alkali: alkali / (alkali + water)."""

    alkali: Literal["NaOH", "KOH", "both"] = "NaOH"
    koh_share: Share | None = None
    """With both alkalis: the share of the oils that KOH turns to soap."""
    purity: Share = 1.0
    """Of the alkali as weighed; with both, the NaOH's. KOH's is never taken as 100 %."""
    koh_purity: Share | None = None
    """Purity of the KOH where both are used; ``purity`` is then the NaOH's."""
    superfat: Superfat = 0.05
    concentration: Strength | None = None
    water_to_lye: Annotated[str, Size(0, 20), Sound(_ratio_written)] | None = None
    """Water : lye ratio by mass, "2 : 1"; instead of the concentration."""
    stock: Stock | None = None
    """NaOH in a ready-made solution, by mass; its water is counted. None: dry alkali."""
    lot: Text | None = None

    def __post_init__(self) -> None:
        if self.stock is not None and self.alkali != "NaOH":
            wrong("a ready-made solution goes with NaOH alone", 'alkali = "NaOH", or no stock')
        if self.concentration is not None and self.water_to_lye is not None:
            wrong("it has both a concentration and a water : lye ratio", "keep one of the two")
        if (self.alkali == "both") != (self.koh_share is not None):
            wrong("koh_share goes with both alkalis", 'alkali = "both" and koh_share = "5 %"')

    @property
    def strength(self) -> float:
        """Pure alkali / (pure alkali + water)."""
        if self.water_to_lye is not None:
            return 1 / (1 + _ratio(self.water_to_lye))
        return USUAL_STRENGTH if self.concentration is None else self.concentration

    @property
    def main(self) -> str:
        """The alkali that ``purity`` is of: with both, NaOH."""
        return "KOH" if self.alkali == "KOH" else "NaOH"

    @property
    def potassium(self) -> float:
        """Share of the oils that KOH turns to soap, 0 to 1; NaOH does the rest."""
        return {"NaOH": 0.0, "KOH": 1.0, "both": self.koh_share or 0.0}[self.alkali]


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """How the batter is made; left out, a usual room is assumed and said so."""

    batter: Temperature = 30.0
    """Oils and lye water when they meet, degC."""
    room: Temperature = 20.0
    oils: Temperature | None = None
    lye: Temperature | None = None
    """Oils and lye water apart, degC, in place of ``batter``."""
    blend: Blending = Trace.EMULSION
    """What the stick blender brings the batter to; or seconds of it."""
    gel: Gel = "allow"

    def __post_init__(self) -> None:
        if (self.oils is None) != (self.lye is None):
            missing = "oils" if self.oils is None else "lye"
            wrong(
                "only one of oils and lye has a temperature",
                f'{missing} = "30 °C" too, or one for both: batter = "30 °C"',
            )


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Colourant:
    """A colourant of one pot; the dose is for the whole pot."""

    name: Text
    dose: Dose | None = None
    disperse_in: Liquid = "none"
    liquid: Dose | None = None
    """How much oil or water it is dispersed in; water is taken from the recipe's own."""
    oil_from: Literal["extra", "recipe"] = "extra"
    """Whether that oil is added on top of the recipe, or held back from it before the lye."""
    oil: Text | None = None
    """Which oil; None: the recipe's largest liquid one."""
    look: Look | None = None
    lot: Text | None = None


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Pot:
    """A pot of batter: its share of the whole and what colours it."""

    name: Text
    share: Share
    colourants: Annotated[tuple[Colourant, ...], Size(0, 12)] = ()
    look: Look | None = None
    """What it will look like; left out, its first colourant's look."""

    @property
    def colour(self) -> str:
        """Its look as #rrggbb; uncoloured soap is cream."""
        looks = [c.look for c in self.colourants if c.look]
        return self.look or (looks[0] if looks else UNCOLOURED)


def _reputation(written: object) -> Reputation:
    if not isinstance(written, str):
        wrong("text is expected here", 'write it in quotes, "…"')
    if written not in list(Reputation):
        wrong(
            f'"{clean(written)[:40]}" is not a word known here', nearest(written, list(Reputation))
        )
    return Reputation(written)


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Fragrance:
    """A fragrance: how much, its own limit, where it goes, what is said of it."""

    name: Text
    load: Share
    """Share of the oils' mass, or of the scented pots' part of it."""
    limit: Share | None = None
    """Most it may be of the finished product, from its own certificate; there is no default."""
    goes_into: Annotated[str, Size(0, LONGEST_NAME)] | PotNames = EACH_POT
    """Pots that are listed have it in the order they are listed in; else the base has it last."""
    when: When = TOGETHER
    reputation: Annotated[Reputation, AsText(_reputation, str)] = Reputation.UNKNOWN
    density: Density = 0.97
    vanillin: Part | None = None
    """Share of the fragrance; it browns soap. None: not known."""
    lot: Text | None = None

    @property
    def word(self) -> FragranceWord:
        return FragranceWord(self.name, self.reputation, self.lot, self.load)

    @property
    def late(self) -> bool:
        """Whether each pot has it only just before it is first poured."""
        return self.when == JUST_BEFORE

    @property
    def in_oils(self) -> bool:
        """Whether it goes in before lye meets oils."""
        return self.goes_into == WITH_OILS


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Additive:
    """What goes in beside oils, lye, colours and fragrance."""

    name: Text
    dose: Addition
    """For the whole batch, by mass, by volume or as a share of the oils' mass."""
    goes_in: Annotated[str, Size(1, LONGEST_NAME)] | PotNames | None = None
    """ "lye water", "oils", "emulsion", a pot or a list of pots; None: where it usually goes."""
    lot: Text | None = None

    @property
    def pots(self) -> tuple[str, ...]:
        """The pots it goes into by itself; none where it goes into all of the batter."""
        if self.goes_in is None or self.goes_in in PLACES:
            return ()
        return (self.goes_in,) if isinstance(self.goes_in, str) else self.goes_in

    @property
    def share_of_oils(self) -> float | None:
        """Its dose as a share of the oils' mass; None: it is given otherwise."""
        return self.dose.share


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Embed:
    """Finished soap set into the batter."""

    volume: EmbedVolume
    name: Text | None = None
    look: Look | None = None
    """Its colour; None: that of soap without colour."""
    mould: MouldNumber | None = None
    """Which mould it lies in, counted from 1; None: every mould has its part of them."""

    @property
    def colour(self) -> str:
        return self.look or UNCOLOURED


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class HotProcess:
    """What is done otherwise where the batter is cooked."""

    kept_back: Share
    """Share of the oils' mass that goes in after the cook."""
    oil: Text | None = None
    """Which oil; None: the recipe's largest liquid one."""


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Swirl:
    """The swirl as steps: one pour, then tools and top; and what the maker would fall back to."""

    steps: Annotated[tuple[Text, ...], Size(1, 6)] = ("plain pour",)
    fall_back: Annotated[tuple[Text, ...], Size(0, 12)] = ()
