"""The kinds of values in a plan: how each is read from text with units, and written back.

They stand in the annotations of its tables, where pydantic and ``plan.reader`` find them: each
knows by pydantic's own hook what it makes of the kind of value it stands on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, NoReturn, Protocol, TypeVar, get_type_hints

from soapbench.batter import Trace
from soapbench.reading.faults import Wrong
from soapbench.reading.safetext import clean
from soapbench.reading.units import Amount, Measure, read, read_amount
from soapbench.words.signs import LOOK

if TYPE_CHECKING:
    from pydantic_core import CoreSchema

Handler = Callable[[Any], "CoreSchema"]
"""What pydantic makes of the kind of value that a marker stands on."""
LONGEST_NAME = 60
MOST_POTS = 12


def wrong(what: str, right: str, key: str = "") -> NoReturn:
    """Refuse a value: what is wrong, what would be right, and the key below this one."""
    raise Wrong(what, right, key)


@dataclass(frozen=True, slots=True)
class AsText:
    """A value that a plan holds as text."""

    read: Callable[[object], Any]
    """Raises Wrong for what it cannot be."""
    write: Callable[[Any], str]
    measure: Measure | None = None
    """Of a number, where it may be one; None: it is none of one kind."""

    def __get_pydantic_core_schema__(self, kind: Any, handler: Handler) -> CoreSchema:
        from pydantic_core import core_schema

        return core_schema.no_info_plain_validator_function(self.read)


@dataclass(frozen=True, slots=True)
class Quantity(AsText):
    """A quantity between ``least`` and ``most``, both allowed, in the measure's own unit."""

    measure: Measure
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Size:
    """How many characters or entries there may be."""

    least: int
    most: int

    def __get_pydantic_core_schema__(self, kind: Any, handler: Handler) -> CoreSchema:
        """Raises TypeError for a kind that has no length."""
        schema: Any = handler(kind)
        if schema["type"] not in ("str", "tuple", "list"):
            raise TypeError(f"no size can be checked of {kind}")
        schema |= {"min_length": self.least, "max_length": self.most}
        return schema  # type: ignore[no-any-return]


@dataclass(frozen=True, slots=True)
class OneOrSeveral:
    """A single table may stand for a list of one."""

    def __get_pydantic_core_schema__(self, kind: Any, handler: Handler) -> CoreSchema:
        from pydantic_core import core_schema

        return core_schema.no_info_before_validator_function(_several, handler(kind))


def _several(written: object) -> object:
    return [written] if isinstance(written, Mapping) else written


@dataclass(frozen=True, slots=True)
class Sound:
    """A value that must hold by itself."""

    check: Callable[[Any], Any]
    """Gives the value back, or raises Wrong."""

    def __get_pydantic_core_schema__(self, kind: Any, handler: Handler) -> CoreSchema:
        from pydantic_core import core_schema

        return core_schema.no_info_after_validator_function(self.check, handler(kind))


class Around(Protocol):
    """What is known when a value is looked at."""

    @property
    def data(self) -> Mapping[str, Any]:
        """Fields of the same table that stand before it and are sound."""

    @property
    def context(self) -> Mapping[str, Any] | None: ...


@dataclass(frozen=True, slots=True)
class Fitting:
    """A value that must go with what is around it."""

    check: Callable[[Any, Around], Any]

    def __get_pydantic_core_schema__(self, kind: Any, handler: Handler) -> CoreSchema:
        from pydantic_core import core_schema

        return core_schema.with_info_after_validator_function(self.check, handler(kind))


Table = TypeVar("Table", bound=type)


def no_other_keys(table: Table) -> Table:
    """A plan's table: an unknown key in it is a fault, for pydantic too."""
    table.__pydantic_config__ = {"extra": "forbid"}  # type: ignore[attr-defined]
    return table


def kinds_of(table: type) -> dict[str, Any]:
    """The keys of a plan's table, each with its annotation."""
    return get_type_hints(table, include_extras=True)


def _quantity(measure: Measure, least: float, most: float) -> Quantity:
    """A quantity between ``least`` and ``most``, both allowed."""

    def reader(written: object) -> float:
        value = read(written, measure)
        if not least <= value <= most:
            wrong(
                f"{written} is out of range",
                f"{measure.words} from {_shown(least, measure)} to {_shown(most, measure)}",
            )
        return value

    return Quantity(reader, lambda value: _shown(value, measure), measure, least, most)


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
    if not LOOK.fullmatch(text):
        wrong(f'"{clean(text)[:40]}" is no colour here', 'write it as "#8a2020": red, green, blue')
    return text.lower()


SAPONIFICATION_VALUES = (20, 400)
"""mg KOH/g."""
DENSITIES = (0.5, 2)
"""g/mL."""
SHARES = (1e-4, 1)


def _dose(written: object) -> Amount:
    amount = read_amount(written)
    if not 0 < (amount.g or amount.ml or 0) <= 5000:
        wrong(
            f"{written} is out of range", "a dose greater than zero, for all the batter of its pot"
        )
    return amount


def _to(state: Trace) -> str:
    return f"to {state.words}"


BLENDED_TO = {_to(state): state for state in (Trace.EMULSION, Trace.LIGHT)}
"""States a stick blender brings a batter to, by how a plan has them; by hand from there."""
LONGEST_BLENDING = 1800.0


def _blending(written: object) -> float | Trace:
    state = BLENDED_TO.get(" ".join(written.split())) if isinstance(written, str) else None
    if state is not None:
        return state
    ways = " or ".join(f'"{words}"' for words in BLENDED_TO)
    try:
        seconds = read(written, Measure.TIME)
    except Wrong as fault:
        wrong(fault.wrong, f'{ways}, or how long: "20 s"')
    if not 0 <= seconds <= LONGEST_BLENDING:
        wrong(f"{written} is out of range", f"{ways}, or seconds from 0 to {LONGEST_BLENDING:g}")
    return seconds


def _blending_written(value: float | Trace) -> str:
    if isinstance(value, Trace):
        return _to(value)
    return _shown(value, Measure.TIME)


def _addition(written: object) -> Amount:
    if isinstance(written, str) and written.strip().endswith(("%", "percent")):
        share = read(written, Measure.SHARE)
        if not 0 < share <= 2:
            wrong(f"{written} is out of range", "a share of the oils' mass, above 0 and to 200 %")
        return Amount(share=share, written=written)
    amount = read_amount(written)
    if not 0 < (amount.g or amount.ml or 0) <= 100_000:
        wrong(f"{written} is out of range", 'a dose greater than zero, "20 g" or "3 %" of the oils')
    return amount


Mass = Annotated[float, _quantity(Measure.MASS, 0.1, 200_000)]
Volume = Annotated[float, _quantity(Measure.VOLUME, 20, 200_000)]
EmbedVolume = Annotated[float, _quantity(Measure.VOLUME, 1, 200_000)]
Length = Annotated[float, _quantity(Measure.LENGTH, 1, 300)]
Temperature = Annotated[float, _quantity(Measure.TEMPERATURE, 0, 110)]
Share = Annotated[float, _quantity(Measure.SHARE, *SHARES)]
Part = Annotated[float, _quantity(Measure.SHARE, 0, 1)]
Superfat = Annotated[float, _quantity(Measure.SHARE, -0.10, 0.60)]
Strength = Annotated[float, _quantity(Measure.SHARE, 0.15, 0.52)]
Time = Annotated[float, _quantity(Measure.TIME, 0, 1800)]
"""Least and most of each: what lies beyond is a slip of the pen (ours)."""
Blending = Annotated[float | Trace, AsText(_blending, _blending_written, Measure.TIME)]
Saponification = Annotated[float, _quantity(Measure.SAPONIFICATION, *SAPONIFICATION_VALUES)]
Density = Annotated[float, _quantity(Measure.DENSITY, *DENSITIES)]
Fill = Annotated[float, _quantity(Measure.SHARE, 0.05, 1.5)]
Text = Annotated[str, Sound(_one_line)]
Look = Annotated[str, Sound(_colour)]
Dose = Annotated[Amount, AsText(_dose, lambda amount: amount.written)]
Addition = Annotated[Amount, AsText(_addition, lambda amount: amount.written)]
Stock = Strength
