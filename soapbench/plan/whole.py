"""A whole plan, and what must hold between its tables."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any

from pydantic import Field, ValidationInfo, field_validator

from soapbench.plan.kinds import Table, Text, wrong
from soapbench.plan.tables import Conditions, Fragrance, Lye, Mould, Oil, Pot, Swirl
from soapbench.reading.faults import nearest
from soapbench.words.text import clean

SHARES_TOLERANCE = 0.002
"""Shares written with one decimal ("33.3 %" three times) may miss 100 % by this much."""


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
