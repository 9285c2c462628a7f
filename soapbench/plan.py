"""The pour plan: what a maker means to pour, as frozen values.

Field names are the keys of the plan file; every quantity is in the unit of ``units.Measure``
(g, mL, cm, degC, s, fractions). ``Plan.as_written`` gives the same tables back as text with
units, so a resolved plan can be read again by the same reader.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Annotated, Any, Literal, NoReturn

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from soapbench.batter import FragranceWord, Reputation
from soapbench.reading.faults import nearest
from soapbench.reading.units import Amount, Measure, QuantityError, read, read_amount
from soapbench.words.text import clean

LONGEST_NAME = 60
SHARES_TOLERANCE = 0.002
"""Shares written with one decimal ("33.3 %" three times) may miss 100 % by this much."""


def wrong(what: str, right: str, key: str = "") -> NoReturn:
    """Refuse a value: what is wrong, what would be right, and the key below this one."""
    raise PydanticCustomError(
        "fault", "{wrong}; {right}", {"wrong": what, "right": right, "key": key}
    )


def _reads(measure: Measure, least: float, most: float) -> BeforeValidator:
    """Reads a quantity between ``least`` and ``most``, both allowed."""

    def reader(written: object) -> float:
        try:
            value = read(written, measure)
        except QuantityError as error:
            wrong(error.wrong, error.right)
        if not least <= value <= most:
            wrong(
                f"{written} is out of range",
                f"{measure.words} from {_shown(least, measure)} to {_shown(most, measure)}",
            )
        return value

    return BeforeValidator(reader)


def _writes(measure: Measure) -> PlainSerializer:
    return PlainSerializer(lambda value: _shown(value, measure))


def _shown(value: float, measure: Measure) -> str:
    if measure is Measure.SHARE:
        return f"{value * 100:.10g} %"
    return f"{value:.10g} {measure.unit}"


def _one_line(text: str) -> str:
    if not text.strip():
        wrong("it is empty", "write a few words")
    if len(text) > LONGEST_NAME:
        wrong(f"it has {len(text)} characters", f"at most {LONGEST_NAME}")
    if clean(text) != text:
        wrong("it holds control or invisible characters", "plain text on one line")
    return text


def _colour(text: str) -> str:
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        wrong(f'"{clean(text)[:40]}" is no colour', 'write red, green and blue as "#4a5a6a"')
    return text.lower()


def _dose(written: object) -> Amount:
    if isinstance(written, Amount):
        return written
    try:
        amount = read_amount(written)
    except QuantityError as error:
        wrong(error.wrong, error.right)
    if not 0 < (amount.g or amount.ml or 0) <= 5000:
        wrong(f"{written} is out of range", "a dose above nought, in all the batter of its pot")
    return amount


Mass = Annotated[float, _reads(Measure.MASS, 0.1, 200_000), _writes(Measure.MASS)]
Volume = Annotated[float, _reads(Measure.VOLUME, 20, 200_000), _writes(Measure.VOLUME)]
Length = Annotated[float, _reads(Measure.LENGTH, 1, 300), _writes(Measure.LENGTH)]
Temperature = Annotated[float, _reads(Measure.TEMPERATURE, 0, 110), _writes(Measure.TEMPERATURE)]
Share = Annotated[float, _reads(Measure.SHARE, 1e-4, 1), _writes(Measure.SHARE)]
Part = Annotated[float, _reads(Measure.SHARE, 0, 1), _writes(Measure.SHARE)]
Superfat = Annotated[float, _reads(Measure.SHARE, -0.10, 0.60), _writes(Measure.SHARE)]
Strength = Annotated[float, _reads(Measure.SHARE, 0.15, 0.52), _writes(Measure.SHARE)]
Time = Annotated[float, _reads(Measure.TIME, 0, 1800), _writes(Measure.TIME)]
Saponification = Annotated[
    float, _reads(Measure.SAPONIFICATION, 20, 400), _writes(Measure.SAPONIFICATION)
]
Density = Annotated[float, _reads(Measure.DENSITY, 0.5, 2), _writes(Measure.DENSITY)]
Fill = Annotated[float, _reads(Measure.SHARE, 0.05, 1.5), _writes(Measure.SHARE)]
Text = Annotated[str, AfterValidator(_one_line)]
Look = Annotated[str, AfterValidator(_colour)]
Dose = Annotated[Amount, BeforeValidator(_dose), PlainSerializer(lambda amount: amount.written)]


class Table(BaseModel):
    """A table of the plan file: unknown keys are faults, nothing is guessed from other types."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, arbitrary_types_allowed=True, allow_inf_nan=False
    )


class Mould(Table):
    """The mould, by its inner sizes or by its volume, and how full it is to be."""

    length: Length | None = None
    width: Length | None = None
    depth: Length | None = None
    volume: Volume | None = None
    fill: Fill = 0.92

    @model_validator(mode="after")
    def _sized(self) -> Mould:
        sizes = [self.length, self.width, self.depth]
        if self.volume is None and None in sizes:
            wrong("its size is not known", 'give length, width and depth, or volume = "1.5 L"')
        if self.volume is not None and any(sizes):
            wrong("it has both sizes and a volume", "keep one of the two")
        return self

    @property
    def volume_ml(self) -> float:
        """Volume to the brim, mL."""
        if self.volume is not None:
            return self.volume
        return (self.length or 0) * (self.width or 0) * (self.depth or 0)


class Oil(Table):
    """An oil of the recipe, by share or by mass; all of them one way."""

    name: Text
    share: Share | None = None
    mass: Mass | None = None
    saponification: Saponification | None = None
    """From its certificate, mg KOH/g; None: the oil table's range."""
    saturated: Part | None = None
    """Saturated share of its fatty acids; None: the oil table's, else the usual mean."""
    lot: Text | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Oil:
        if (self.share is None) == (self.mass is None):
            wrong("it needs a share or a mass, one of them", 'share = "45 %" or mass = "450 g"')
        return self


class Lye(Table):
    """Alkali and water. Concentration counts pure alkali: alkali / (alkali + water)."""

    alkali: Literal["NaOH", "KOH", "both"] = "NaOH"
    koh_share: Share | None = None
    """With both alkalis: the share of the oils that KOH turns to soap."""
    purity: Share = 1.0
    koh_purity: Share | None = None
    """Purity of the KOH where both are used; ``purity`` is then the NaOH's."""
    superfat: Superfat = 0.05
    concentration: Strength | None = None
    water_to_lye: Annotated[str, Field(max_length=20)] | None = None
    """Water : lye ratio by mass, "2 : 1"; instead of the concentration."""
    lot: Text | None = None

    @field_validator("water_to_lye")
    @classmethod
    def _ratio(cls, text: str | None) -> str | None:
        if text is not None and not 0.9 <= _ratio(text) <= 5.7:
            wrong(f'"{clean(text)}" is no water : lye ratio', 'write "2 : 1", from 0.9 to 5.7')
        return text

    @model_validator(mode="after")
    def _whole(self) -> Lye:
        if self.concentration is not None and self.water_to_lye is not None:
            wrong("it has both a concentration and a water : lye ratio", "keep one of the two")
        if (self.alkali == "both") != (self.koh_share is not None):
            wrong("koh_share goes with both alkalis", 'alkali = "both" and koh_share = "5 %"')
        return self

    @property
    def strength(self) -> float:
        """Pure alkali / (pure alkali + water); 0.33 where the plan does not say."""
        if self.water_to_lye is not None:
            return 1 / (1 + _ratio(self.water_to_lye))
        return 0.33 if self.concentration is None else self.concentration


def _ratio(text: str) -> float:
    match = re.fullmatch(r"\s*(\d{1,3}(?:\.\d{1,6})?)\s*:\s*1\s*", text)
    return float(match.group(1)) if match else 0.0


class Conditions(Table):
    """How the batter is made; left out, a usual room is assumed and said so."""

    batter: Temperature = 30.0
    """Oils and lye water when they meet, degC."""
    room: Temperature = 20.0
    blend: Time = 25.0
    """Stick-blending meant for the emulsion, s."""
    gel: Literal["prevent", "allow", "force"] = "allow"


class Colourant(Table):
    """A colourant of one pot; the dose is for the whole pot."""

    name: Text
    dose: Dose | None = None
    disperse_in: Literal["oil", "water", "none"] = "none"
    liquid: Dose | None = None
    """Oil or water it is dispersed in; taken from the recipe's own, never added to it."""
    look: Look | None = None
    lot: Text | None = None


class Pot(Table):
    """A pot of batter: its share of the whole and what colours it."""

    name: Text
    share: Share
    colourants: tuple[Colourant, ...] = ()
    look: Look | None = None
    """What it will look like; left out, its first colourant's look."""

    @property
    def colour(self) -> str:
        """Its look as #rrggbb; uncoloured soap is cream."""
        looks = [c.look for c in self.colourants if c.look]
        return self.look or (looks[0] if looks else "#e8dfc8")


class Fragrance(Table):
    """A fragrance: how much, its own limit, where it goes, what is said of it."""

    name: Text
    load: Share
    """Share of the oils' mass, or of the scented pots' part of it."""
    limit: Share | None = None
    """Most it may be of the finished product, from its own certificate; there is no default."""
    goes_into: Annotated[str, Field(max_length=LONGEST_NAME)] | tuple[Text, ...] = "each pot"
    when: Literal["together", "just before pouring"] = "together"
    """All pots once coloured, or each just before it is first poured."""
    reputation: Reputation = Reputation.UNKNOWN
    density: Density = 0.97
    lot: Text | None = None

    @field_validator("reputation", mode="before")
    @classmethod
    def _known(cls, written: object) -> object:
        if isinstance(written, str) and written not in list(Reputation):
            wrong(f'"{clean(written)[:40]}" is no reputation', nearest(written, list(Reputation)))
        return Reputation(written) if isinstance(written, str) else written

    @property
    def word(self) -> FragranceWord:
        return FragranceWord(self.name, self.reputation, self.lot)


class Swirl(Table):
    """The swirl as steps: one pour, then tools and top; and what the maker would fall back to."""

    steps: Annotated[tuple[Text, ...], Field(min_length=1, max_length=6)] = ("plain pour",)
    fall_back: tuple[Text, ...] = ()


def _as_tuple(written: object) -> object:
    """TOML arrays are lists; plans hold tuples, so that nothing in them can change."""
    return tuple(written) if isinstance(written, list) else written


def _tuple_of_tables(written: object) -> object:
    return (written,) if isinstance(written, dict) else _as_tuple(written)


class Plan(Table):
    """A whole pour plan. Validate with ``context={"oils": names, "swirls": names}``."""

    title: Text
    mould: Mould
    oils: Annotated[tuple[Oil, ...], Field(min_length=1, max_length=30)]
    lye: Lye = Lye()
    conditions: Conditions = Conditions()
    pots: Annotated[tuple[Pot, ...], Field(min_length=1, max_length=12)]
    fragrance: tuple[Fragrance, ...] = ()
    """None, one, or several that go into different pots."""
    swirl: Swirl = Swirl()

    @field_validator("oils")
    @classmethod
    def _oils_add_up(cls, oils: tuple[Oil, ...], info: ValidationInfo) -> tuple[Oil, ...]:
        known = (info.context or {}).get("oils")
        for i, oil in enumerate(oils):
            if known is not None and oil.saponification is None and oil.name not in known:
                wrong(
                    f'no oil is called "{oil.name}"',
                    nearest(oil.name, known) + ' Or give saponification = "190 mg/g", '
                    "from its certificate.",
                    f"{i}.name",
                )
        _no_twins((oil.name for oil in oils), "oil")
        if len({oil.share is None for oil in oils}) == 2:
            wrong("some oils have a share and some a mass", "give every oil the same way")
        if oils[0].share is not None:
            _whole((oil.share or 0 for oil in oils), "the oils' shares")
        return oils

    @field_validator("pots")
    @classmethod
    def _pots_add_up(cls, pots: tuple[Pot, ...]) -> tuple[Pot, ...]:
        _no_twins((pot.name for pot in pots), "pot")
        _whole((pot.share for pot in pots), "the pots' shares")
        return pots

    @field_validator("fragrance", mode="before")
    @classmethod
    def _one_or_several(cls, written: object) -> object:
        return _tuple_of_tables(written)

    @field_validator("fragrance")
    @classmethod
    def _into_pots(
        cls, fragrances: tuple[Fragrance, ...], info: ValidationInfo
    ) -> tuple[Fragrance, ...]:
        if "pots" not in info.data:
            return fragrances
        names = [pot.name for pot in info.data["pots"]]
        base = base_of(info.data["pots"]).name
        taken: set[str] = set()
        for i, fragrance in enumerate(fragrances):
            into = scented_pots(fragrance, names, base)
            for pot in into:
                if pot not in names:
                    wrong(
                        f'no pot is called "{clean(pot)}"',
                        nearest(pot, [*names, "each pot", "base", "oils"]),
                        f"{i}.goes_into",
                    )
                if pot in taken:
                    wrong(
                        f'pot "{pot}" would get two fragrances',
                        "blend them beforehand, or give each its own pots",
                        f"{i}.goes_into",
                    )
            taken.update(into)
        return fragrances

    @field_validator("swirl")
    @classmethod
    def _known_steps(cls, swirl: Swirl, info: ValidationInfo) -> Swirl:
        known = (info.context or {}).get("swirls")
        if known is not None:
            for key, names in (("steps", swirl.steps), ("fall_back", swirl.fall_back)):
                for i, name in enumerate(names):
                    if name not in known:
                        wrong(f'no swirl is called "{name}"', nearest(name, known), f"{key}.{i}")
        return swirl

    @property
    def base(self) -> Pot:
        return base_of(self.pots)

    @property
    def accents(self) -> tuple[Pot, ...]:
        return tuple(pot for pot in self.pots if pot is not self.base)

    def pot(self, name: str) -> Pot:
        return next(pot for pot in self.pots if pot.name == name)

    def fragrance_of(self, pot: str) -> Fragrance | None:
        """The fragrance that goes into ``pot``, or None."""
        names = [p.name for p in self.pots]
        for fragrance in self.fragrance:
            if pot in scented_pots(fragrance, names, self.base.name):
                return fragrance
        return None

    def as_written(self) -> dict[str, Any]:
        """The plan as TOML-ready tables with units in the text; ``Plan.read`` takes them back."""
        return self.model_dump(mode="json", exclude_none=True)

    @classmethod
    def read(cls, tables: dict[str, Any], context: dict[str, Any] | None = None) -> Plan:
        """A plan from TOML tables. Raises pydantic's ValidationError with every fault in it."""
        return cls.model_validate(_tuples(tables), context=context)


def _tuples(written: Any) -> Any:
    if isinstance(written, dict):
        return {key: _tuples(value) for key, value in written.items()}
    if isinstance(written, list):
        return tuple(_tuples(value) for value in written)
    return written


def base_of(pots: Iterable[Pot]) -> Pot:
    """The pot called "base", else the largest (the first of equals)."""
    listed = list(pots)
    named = [pot for pot in listed if pot.name.casefold() == "base"]
    return named[0] if named else max(listed, key=lambda pot: pot.share)


def scented_pots(fragrance: Fragrance, pots: list[str], base: str) -> tuple[str, ...]:
    """Names of the pots a fragrance ends up in; oils scent them all."""
    into = fragrance.goes_into
    if not isinstance(into, str):
        return into
    if into in ("each pot", "oils"):
        return tuple(pots)
    return (base,) if into == "base" else (into,)


def _no_twins(names: Iterable[str], what: str) -> None:
    seen: set[str] = set()
    for i, name in enumerate(names):
        if name.casefold() in seen:
            wrong(f'a second {what} is called "{name}"', "give each a name of its own", f"{i}.name")
        seen.add(name.casefold())


def _whole(shares: Iterable[float], what: str) -> None:
    total = sum(shares)
    if abs(total - 1) > SHARES_TOLERANCE:
        wrong(f"{what} add up to {total * 100:.4g} %", "they must make 100 %")
