"""What a log's header keeps of the figures shown before the pour: the value, its reader and writer.

The reader keeps what can be true, whatever stands in the file: one hostile log must not spoil the
fit of all, and an old log lacks what was not kept then.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from soapbench.batter import Mix
from soapbench.reading.entries import between

LONGEST_POUR_S = 86400.0
"""A log that says a pour went on for longer says nothing about its batter (ours)."""
MIX = {"batter_c": (0.0, 110.0), "concentration": (0.1, 0.6), "saturated": (0.0, 1.0)}
"""Least and most a recipe can have."""
HURRY = (0.05, 50.0)
"""Times faster with additives, least and most."""
MOST_TRACE = 4.0
MOST_THINNER = 4.0


@dataclass(frozen=True, slots=True)
class FaceFigures:
    """What a cut face foreseen was drawn from, so that it can be drawn again as it was."""

    traces: Mapping[str, Mapping[str, float]]
    """By stage id, then by pot: its trace state halfway through, 0 to 4."""
    thinner: float = 0.0
    """As ``sinking.Sinking`` has it."""


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures shown before a pour. What is None or left out was not kept, or could not be true."""

    mix: Mix | None = None
    water_share: float | None = None
    """Of the batter as poured; what can dry off at most."""
    pot_ml: Mapping[str, float] = field(default_factory=dict)
    """Batter by pot, mL."""
    chance: float | None = None
    """To come out as planned."""
    minutes: float | None = None
    """The whole pour, from lye to its last stage."""
    stage_s: Mapping[str, float] = field(default_factory=dict)
    """How long each stage takes, by its id, s."""
    stage_at_s: Mapping[str, float] = field(default_factory=dict)
    """When each stage begins, by its id, s since lye met oils."""
    room_s: Mapping[str, float] = field(default_factory=dict)
    """By pot: from its fragrance going in until thick trace, s."""
    face: FaceFigures | None = None
    salt: float | None = None
    """Against the oils' mass; None: there is none in it."""
    heats: tuple[str, ...] = ()
    """Additives by which the loaf heats itself."""
    in_spite_of: tuple[str, ...] = ()
    """Ids of the stops it was poured in spite of, by a typed word."""


def as_table(figures: Figures) -> dict[str, Any]:
    """``figures`` as the table ``[foreseen]`` of a header."""
    table = {key: value for key, value in asdict(figures).items() if value not in (None, ())}
    return {key: list(v) if isinstance(v, tuple) else v for key, v in table.items()}


def figures_of(table: Mapping[str, Any]) -> Figures:
    """The figures in a header's table ``[foreseen]``; never raises."""
    return Figures(
        mix=_mix(table.get("mix")),
        water_share=_number(table, "water_share", 1.0),
        pot_ml=_numbers(table.get("pot_ml"), 1e-3, 1e6, all_or_none=True),
        chance=_number(table, "chance", 1.0),
        minutes=_number(table, "minutes", LONGEST_POUR_S / 60.0),
        stage_s=_numbers(table.get("stage_s"), 0.0, LONGEST_POUR_S),
        stage_at_s=_numbers(table.get("stage_at_s"), 0.0, LONGEST_POUR_S),
        room_s=_numbers(table.get("room_s"), 0.0, LONGEST_POUR_S),
        face=_face(table.get("face")),
        salt=_number(table, "salt", 10.0),
        heats=_ids(table.get("heats")),
        in_spite_of=_ids(table.get("in_spite_of")),
    )


def _number(table: Mapping[str, Any], name: str, most: float) -> float | None:
    return float(table[name]) if between(table.get(name), 0.0, most) else None


def _numbers(
    kept: object, least: float, most: float, all_or_none: bool = False
) -> dict[str, float]:
    if not isinstance(kept, Mapping):
        return {}
    sound = {str(k): float(v) for k, v in kept.items() if between(v, least, most)}
    return {} if all_or_none and len(sound) < len(kept) else sound


def _mix(kept: object) -> Mix | None:
    if not isinstance(kept, Mapping):
        return None
    if not all(between(kept.get(name), *ends) for name, ends in MIX.items()):
        return None
    hurry = kept.get("hurry")  # logs of the first release know of none
    known = {name: float(kept[name]) for name in MIX}
    return Mix(**known, hurry=float(hurry) if hurry and between(hurry, *HURRY) else 1.0)


def _face(kept: object) -> FaceFigures | None:
    if not isinstance(kept, Mapping) or not isinstance(kept.get("traces"), Mapping):
        return None
    traces = {str(id_): _numbers(pots, 0.0, MOST_TRACE) for id_, pots in kept["traces"].items()}
    thinner = kept.get("thinner")
    sound = between(thinner, -MOST_THINNER, MOST_THINNER)
    return FaceFigures(traces, float(thinner) if sound and thinner is not None else 0.0)


def _ids(kept: object) -> tuple[str, ...]:
    return tuple(str(id_)[:60] for id_ in kept[:20]) if isinstance(kept, list) else ()
