"""What a screen shows of a plan sheet. Nothing slow is imported here: it is there at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from soapbench.outlook.chart import Act, PourChart, Row

HEADINGS = (
    "PROBLEMS",
    "SWIRLS",
    "WHAT WOULD HELP",
    "WEIGH OUT",
    "POTS",
    "STEPS",
    "SAFETY AND NOTES",
)


@dataclass(frozen=True, slots=True)
class Bar:
    """One way to pour, with its chances side by side with the others."""

    name: str
    chance: float
    in_part: float
    minutes: float
    own: bool
    """The plan's own."""
    better: bool = False
    """The one advised in its place."""


@dataclass(frozen=True, slots=True)
class Front:
    """The sheet as a screen shows it: small enough to be kept for the next start."""

    title: str
    facts: str
    """Swirl, pots, volume, temperature."""
    chance: str
    """In as few signs as can be, "27%"; empty while it is being worked out."""
    planned: float
    """P(as planned), 0 to 1."""
    in_part: float
    says: tuple[str, ...]
    """What the chance is, what it rests on, what is tightest: a paragraph each."""
    stops: tuple[str, ...]
    """Problems of lye or limit, which stand in place of the chance."""
    danger: bool
    chart: PourChart | None
    bars: tuple[Bar, ...]
    helps: tuple[tuple[str, float], ...]
    """Changes that would help, and the chance with each."""
    problems: tuple[str, ...]
    minded: tuple[str, ...]
    """Cautions."""
    lines: tuple[str, ...] = field(default=())
    """Amounts, stages and all else in words."""


def front_of(kept: Mapping[str, Any]) -> Front:
    """A front from the tables it was kept as. Raises what a table of another form raises."""
    chart = kept["chart"]
    drawn = None
    if chart is not None:
        drawn = PourChart(
            begins=chart["begins"],
            ends=chart["ends"],
            now=None,
            acts=tuple(Act(**act) for act in chart["acts"]),
            rows=tuple(Row(**{**row, "taps": ()}) for row in chart["rows"]),
            legend=tuple((letter, words) for letter, words in chart["legend"]),
        )
    return Front(
        **{
            **kept,
            "chart": drawn,
            "bars": tuple(Bar(**bar) for bar in kept["bars"]),
            "helps": tuple((words, chance) for words, chance in kept["helps"]),
            **{
                name: tuple(kept[name]) for name in ("says", "stops", "problems", "minded", "lines")
            },
        }
    )
