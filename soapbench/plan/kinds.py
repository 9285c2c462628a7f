"""The kinds of values in a plan: how each is read from text with units, and written back."""

from __future__ import annotations

from typing import Annotated, NoReturn

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, PlainSerializer
from pydantic_core import PydanticCustomError

from soapbench.reading.units import Amount, Measure, QuantityError, read, read_amount
from soapbench.words.signs import LOOK
from soapbench.words.text import clean

LONGEST_NAME = 60


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
    if not LOOK.fullmatch(text):
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
