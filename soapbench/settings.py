"""How a maker likes things shown, said and keyed: one frozen value, read from the settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from enum import StrEnum
from types import MappingProxyType
from typing import Any, Literal, cast, get_args

from soapbench.reading.entries import Entry
from soapbench.reading.faults import Fault

Units = Literal["metric", "US"]
Degrees = Literal["°C", "°F"]
DEGREES: Mapping[str, Degrees] = {"degC": "°C", "degF": "°F", "C": "°C", "F": "°F"}
"""Other ways to write them: files of the first releases, and keyboards without the sign."""
Kitchen = Literal["none", "US", "metric"]
Sound = Literal["bell", "voice", "silent"]
Pedal = Literal["keys", "one button"]
THEMES = ("dusk", "linen", "slate")
"""Dark, light and high contrast."""


class Risk(StrEnum):
    """The maker's answer to ``QUESTION``."""

    BOLD = "bold"
    USUAL = "usual"
    CAREFUL = "careful"

    @property
    def ruin(self) -> float:
        """Worth of a ruined batch."""
        return {Risk.BOLD: 0.0, Risk.USUAL: -0.5, Risk.CAREFUL: -1.0}[self]

    @property
    def words(self) -> str:
        return {
            Risk.BOLD: "no worse: try for the swirl",
            Risk.USUAL: "worse: switch when it gets tight",
            Risk.CAREFUL: "much worse: switch early",
        }[self]


QUESTION = "How bad is a spoilt batch, compared with a plainer one?"


@dataclass(frozen=True, slots=True)
class Settings:
    """A maker's likes. What it leaves alone is as everybody has it."""

    units: Units = "metric"
    """Masses and lengths; grams stay beside ounces, since a scale reads finer in them."""
    temperature: Degrees = "°C"
    kitchen: Kitchen = "none"
    """Spoons and cups beside mL; never for lye."""
    sound: Sound = "bell"
    """A voice rings too, where something is wrong."""
    theme: str = THEMES[0]
    risk: Risk = Risk.USUAL
    """How bad a spoilt batch is against a plainer one."""
    pedal: Pedal = "keys"
    """One button: the key that ends a step does all, pressed, pressed twice or held."""
    keys: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    """Own keys of the pour, by the name of what they do."""


NO_MORE = ("warn_below",)
"""Settings of the first release that nothing goes by any more: read quietly."""
USUAL = Settings()
"""As everybody has it."""


def settings_of(
    tables: Mapping[str, Any], acts: frozenset[str]
) -> tuple[Settings, tuple[Fault, ...]]:
    """Settings from the tables of the settings file, and what in them was left out as faulty.

    ``acts``: names of what a key can be given to. A faulty value is as if it were not there.
    """
    faults: list[Fault] = []
    degrees = tables.get("temperature")
    if isinstance(degrees, str) and degrees in DEGREES:
        tables = {**tables, "temperature": DEGREES[degrees]}
    entry = Entry("", tables, faults, {})
    entry.keys(*(f.name for f in fields(Settings)), *NO_MORE)
    settings = Settings(
        units=cast(Units, entry.word("units", get_args(Units), USUAL.units)),
        temperature=cast(Degrees, entry.word("temperature", get_args(Degrees), USUAL.temperature)),
        kitchen=cast(Kitchen, entry.word("kitchen", get_args(Kitchen), USUAL.kitchen)),
        sound=cast(Sound, entry.word("sound", get_args(Sound), USUAL.sound)),
        theme=entry.word("theme", THEMES, USUAL.theme),
        pedal=cast(Pedal, entry.word("pedal", get_args(Pedal), USUAL.pedal)),
        risk=Risk(entry.word("risk", tuple(Risk), USUAL.risk)),
        keys=_keys(entry, acts),
    )
    return settings, tuple(faults)


def _keys(entry: Entry, acts: frozenset[str]) -> Mapping[str, str]:
    table = entry.group("keys")
    if table is None:
        return MappingProxyType({})
    table.keys(*sorted(acts))
    given = {name: table.text(name) for name in table.table if name in acts}
    keys: dict[str, str] = {}
    for name, key in given.items():
        if not key.strip() or len(key) > 30:
            table.fault(name, "no key", 'the name of a key, "f", "space", "page_down"')
        elif key in ESCAPES:
            table.fault(name, f'"{key}" is kept for leaving', "another key")
        elif key in keys.values():
            table.fault(name, f'"{key}" is given to two things', "a key of its own")
        else:
            keys[name] = key
    return MappingProxyType(keys)


ESCAPES = ("escape", "ctrl+q", "ctrl+c")
"""Keys no act may take: they are the way out."""
