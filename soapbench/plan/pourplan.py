"""A whole plan, and what must hold between its tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from enum import Enum
from typing import Annotated, Any, get_args

from soapbench.plan.moulds import Filled, Mould, sound_pots
from soapbench.plan.tables import (
    BASE,
    EACH_POT,
    INTO,
    PLACES,
    WITH_OILS,
    Additive,
    Conditions,
    Embed,
    Fragrance,
    HotProcess,
    Lye,
    Oil,
    Pot,
    Swirl,
)
from soapbench.plan.values import (
    MOST_POTS,
    Around,
    AsText,
    Fitting,
    OneOrSeveral,
    Size,
    Text,
    kinds_of,
    no_other_keys,
    wrong,
)
from soapbench.reading.faults import nearest
from soapbench.reading.safetext import clean
from soapbench.words.numbers import written_share

SHARES_TOLERANCE = 0.002
"""Shares written with one decimal ("33.3 %" three times) may miss 100 % by this much."""
ASSUMABLE = ("lye.purity", "conditions.batter", "conditions.room")
"""Values that are taken as usual, and said so, where a plan does not give them."""
LEAST_PURITY = {"NaOH": 0.85, "KOH": 0.80}
"""What is sold is purer (common practice, no source): below, a figure is a slip of the pen."""
USUAL_PURITY = {"NaOH": "97 to 99 %", "KOH": "85 to 92 %"}
"""Common practice, no source."""


def _oils_add_up(oils: tuple[Oil, ...], around: Around) -> tuple[Oil, ...]:
    known = (around.context or {}).get("oils")
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


def _purity_of_what_is_sold(lye: Lye, around: Around) -> Lye:
    if (around.context or {}).get("poured"):  # a log is read as it was poured, slips and all
        return lye
    for key, alkali, purity in (
        ("purity", lye.main, lye.purity),
        ("koh_purity", "KOH", lye.koh_purity),
    ):
        if purity is not None and purity < LEAST_PURITY[alkali]:
            meant = f" Was {written_share(purity * 100)} meant?" if 0.8 <= purity * 100 <= 1 else ""
            wrong(
                f"{alkali} of {written_share(purity)} is not what is sold",
                f"its label says; usual is {USUAL_PURITY[alkali]}.{meant}",
                key,
            )
    return lye


def _pots_add_up(pots: tuple[Pot, ...], around: Around) -> tuple[Pot, ...]:
    _no_twins((pot.name for pot in pots), "pot")
    _whole((pot.share for pot in pots), "the pots' shares")
    oils = [oil.name for oil in around.data.get("oils", ())]
    known = (around.context or {}).get("oils")
    for i, pot in enumerate(pots):
        for j, colourant in enumerate(pot.colourants):
            where = oils if colourant.oil_from == "recipe" else {*oils, *(known or ())}
            if colourant.oil and oils and (known is not None or colourant.oil_from == "recipe"):
                _one_of(colourant.oil, where, colourant.oil_from, f"{i}.colourants.{j}.oil")
    return pots


def _kept_from_the_recipe(cook: HotProcess | None, around: Around) -> HotProcess | None:
    oils = [oil.name for oil in around.data.get("oils", ())]
    if cook and cook.oil and oils:
        _one_of(cook.oil, oils, "recipe", "oil")
    return cook


def _where_it_goes(additives: tuple[Additive, ...], around: Around) -> tuple[Additive, ...]:
    pots = [pot.name for pot in around.data.get("pots", ())]
    for i, additive in enumerate(additives if pots else ()):
        into = additive.goes_in or ()
        for name in (into,) if isinstance(into, str) else into:
            allowed = [*pots, *PLACES] if isinstance(into, str) else pots
            if name not in allowed:
                right = nearest(name, allowed)
                wrong(f'"{clean(name)}" is no pot and no place here', right, f"{i}.goes_in")
    return additives


def _one_of(oil: str, oils: Iterable[str], of: str, key: str) -> None:
    if oil not in (names := list(oils)):
        which = "of the recipe " if of == "recipe" else ""
        wrong(f'no oil {which}is called "{clean(oil)}"', nearest(oil, names), key)


def _into_pots(fragrances: tuple[Fragrance, ...], around: Around) -> tuple[Fragrance, ...]:
    if "pots" not in around.data:
        return fragrances
    names = [pot.name for pot in around.data["pots"]]
    base = base_of(around.data["pots"]).name
    taken: set[str] = set()
    for i, fragrance in enumerate(fragrances):
        into = scented_pots(fragrance, names, base)
        for pot in into:
            if pot not in names:
                wrong(
                    f'no pot is called "{clean(pot)}"',
                    nearest(pot, [*names, *INTO]),
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


def _into_moulds(mould: Mould, around: Around) -> Mould:
    if "pots" in around.data and mould.by_pots:
        sound_pots(mould, [pot.name for pot in around.data["pots"]])
    return mould


def _where_embeds_lie(embeds: tuple[Embed, ...], around: Around) -> tuple[Embed, ...]:
    there = len(around.data["mould"].all) if "mould" in around.data else 0
    for i, embed in enumerate(embeds if there else ()):
        if embed.mould is not None and int(embed.mould) > there:
            counted = "there is one mould" if there == 1 else f"there are {there} moulds"
            wrong(counted, f'mould = "{there}", or leave it out', f"{i}.mould")
    return embeds


def _known_steps(swirl: Swirl, around: Around) -> Swirl:
    known = (around.context or {}).get("swirls")
    if known is not None:
        for key, names in (("steps", swirl.steps), ("fall_back", swirl.fall_back)):
            for i, name in enumerate(names):
                if name not in known:
                    wrong(f'no swirl is called "{name}"', nearest(name, known), f"{key}.{i}")
    return swirl


def _one_temperature(conditions: Conditions, around: Around) -> Conditions:
    if conditions.oils is not None and "conditions.batter" not in around.data.get("assumed", ()):
        wrong(
            "the batter has a temperature, and oils and lye have theirs",
            "keep batter, or oils and lye",
            "batter",
        )
    return conditions


@no_other_keys
@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole pour plan. ``plan.reader`` makes one of the tables of a file."""

    title: Text
    oils: Annotated[tuple[Oil, ...], Size(1, 30), Fitting(_oils_add_up)]
    lye: Annotated[Lye, Fitting(_purity_of_what_is_sold)] = field(default_factory=Lye)
    assumed: tuple[Text, ...] = ()
    """Which of ``ASSUMABLE`` the maker did not give."""
    conditions: Annotated[Conditions, Fitting(_one_temperature)] = field(default_factory=Conditions)
    pots: Annotated[tuple[Pot, ...], Size(1, MOST_POTS), Fitting(_pots_add_up)]
    mould: Annotated[Mould, Fitting(_into_moulds)]
    """After the pots, which it may name."""
    fragrance: Annotated[
        tuple[Fragrance, ...], Size(0, MOST_POTS), OneOrSeveral(), Fitting(_into_pots)
    ] = ()
    """None, one, or several that go into different pots."""
    swirl: Annotated[Swirl, Fitting(_known_steps)] = field(default_factory=Swirl)
    additives: Annotated[tuple[Additive, ...], Size(0, 20), Fitting(_where_it_goes)] = ()
    embeds: Annotated[tuple[Embed, ...], Size(0, 20), Fitting(_where_embeds_lie)] = ()
    hot_process: Annotated[HotProcess, Fitting(_kept_from_the_recipe)] | None = None

    @property
    def base(self) -> Pot:
        return base_of(self.pots)

    @property
    def accents(self) -> tuple[Pot, ...]:
        return tuple(pot for pot in self.pots if pot is not self.base)

    @property
    def sunk(self) -> tuple[Pot, ...]:
        """Pots that are poured into other batter: all but the base of each mould."""
        bases = {self.base_of(filled.pots) for filled in self.filled}
        return tuple(pot for pot in self.pots if pot.name not in bases)

    def base_of(self, pots: Sequence[str]) -> str:
        """The base among ``pots``, which go into one mould: the plan's, else the largest."""
        return base_of(pot for pot in self.pots if pot.name in pots).name

    @property
    def filled(self) -> tuple[Filled, ...]:
        """Which pots go into which moulds."""
        return self.mould.filled([pot.name for pot in self.pots])

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
        """The plan as TOML-ready tables with units in the text; its reader takes them back."""
        return _as_written(self)


def _as_written(table: Any) -> dict[str, Any]:
    kinds = kinds_of(type(table))
    values = {key.name: getattr(table, key.name) for key in fields(table)}
    return {
        name: _written(value, kinds[name]) for name, value in values.items() if value is not None
    }


def _written(value: Any, kind: Any) -> Any:
    for part in (kind, *get_args(kind)):  # a kind, or one that may be left out
        for mark in getattr(part, "__metadata__", ()):
            if isinstance(mark, AsText):
                return mark.write(value)
    if is_dataclass(value):
        return _as_written(value)
    if isinstance(value, tuple):
        return [_written(entry, None) for entry in value]
    return value.value if isinstance(value, Enum) else value


def as_given(tables: Mapping[str, Any]) -> dict[str, Any]:
    """The tables of a plan as its maker gave them: without what was assumed."""
    named = tables.get("assumed")
    assumed = named if isinstance(named, list) else []
    given: dict[str, Any] = {}
    for name, value in tables.items():
        if isinstance(value, Mapping):
            value = {key: v for key, v in value.items() if f"{name}.{key}" not in assumed}
            if not value:
                continue
        given[name] = value
    given.pop("assumed", None)
    return given


def base_of(pots: Iterable[Pot]) -> Pot:
    """The pot called "base", else the largest (the first of equals)."""
    listed = list(pots)
    named = [pot for pot in listed if pot.name.casefold() == "base"]
    return named[0] if named else max(listed, key=lambda pot: pot.share)


def scented_pots(fragrance: Fragrance, pots: list[str], base: str) -> tuple[str, ...]:
    """Names of the pots a fragrance ends up in; with the oils it reaches them all."""
    into = fragrance.goes_into
    if not isinstance(into, str):
        return into
    if into in (EACH_POT, WITH_OILS):
        return tuple(pots)
    return (base,) if into == BASE else (into,)


def _no_twins(names: Iterable[str], what: str) -> None:
    before: set[str] = set()
    for i, name in enumerate(names):
        if name.casefold() in before:
            wrong(f'a second {what} is called "{name}"', "give each a name of its own", f"{i}.name")
        before.add(name.casefold())


def _whole(shares: Iterable[float], what: str) -> None:
    total = sum(shares)
    if abs(total - 1) > SHARES_TOLERANCE:
        wrong(f"{what} add up to {written_share(total)}", "shares must add up to 100 %")
