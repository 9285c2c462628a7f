"""How far the chances foreseen before pours could be believed: the tool's own score.

A pour counts as come true when it was finished as planned. One that took the quicker way does not,
though it might have been finished without: a warning that was heeded cannot be checked. ``record``
says in plain words what became of the pours and of the tool's advice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import Any

from soapbench.lessons import Ended
from soapbench.log import Outcome as Came
from soapbench.reading.safetext import counted

LEVEL = 0.8
"""Of the intervals, as everywhere here."""
EDGES = (0.0, 0.2, 0.5, 0.7, 0.9, 1.0)
"""Ends of the bins of chance (ours); the pours given about 80 % are those from 70 to 90 %."""


@dataclass(frozen=True, slots=True)
class Bin:
    """Pours that were given about the same chance, and how many were finished as planned."""

    low: float
    high: float
    pours: int
    as_planned: int
    given: float | None
    """Mean of the chances they were given; None: no pours."""
    interval: tuple[float, float]
    """Wilson's, for the share finished as planned in the long run; (0, 1) with no pours."""


@dataclass(frozen=True, slots=True)
class Score:
    """Every pour that was given a chance and has ended."""

    pours: int
    as_planned: int
    bins: tuple[Bin, ...]
    brier: float | None
    """Mean squared miss of the chances (Brier 1950): 0 is perfect; None: no pours."""
    brier_of_share: float | None
    """What always giving the share that came true would have scored; lower than it is skill."""


def score(outcomes: Iterable[Ended]) -> Score:
    """The score of the chances in ``outcomes``; those without one are left out."""
    outcomes_with_chance = [(o.chance, o.as_planned) for o in outcomes if o.chance is not None]
    bins = tuple(
        _bin(
            low,
            high,
            [(c, came) for c, came in outcomes_with_chance if low <= c < high or c == high == 1.0],
        )
        for low, high in pairwise(EDGES)
    )
    came = sum(true for _, true in outcomes_with_chance)
    if not outcomes_with_chance:
        return Score(0, 0, bins, None, None)
    share = came / len(outcomes_with_chance)
    brier = sum((chance - true) ** 2 for chance, true in outcomes_with_chance) / len(
        outcomes_with_chance
    )
    return Score(len(outcomes_with_chance), came, bins, brier, share * (1 - share))


def _bin(low: float, high: float, outcomes: list[tuple[float, bool]]) -> Bin:
    came = sum(true for _, true in outcomes)
    given = sum(chance for chance, _ in outcomes) / len(outcomes) if outcomes else None
    return Bin(low, high, len(outcomes), came, given, wilson(came, len(outcomes)))


def wilson(came: int, of: int, level: float = LEVEL) -> tuple[float, float]:
    """Wilson's score interval (1927) for a share of which ``came`` out of ``of`` came true.

    It stays within 0 and 1 and does not shrink to nothing when all or none of a few came true.
    """
    if of == 0:
        return 0.0, 1.0
    z = NormalDist().inv_cdf(0.5 + level / 2)
    share, wide = came / of, z * z / of
    centre = (share + wide / 2) / (1 + wide)
    half = z / (1 + wide) * math.sqrt(share * (1 - share) / of + wide / (4 * of))
    return max(0.0, centre - half), min(1.0, centre + half)


@dataclass(frozen=True, slots=True)
class Record:
    """What became of every pour on the bench, and of the tool's advice in them.

    A warning was right where it was not followed and the swirl did not come out as planned, or
    where it was followed and the batter was tapped thick before the end; it was needless where it
    was not followed and all came out as planned, or was followed and the batter stayed thinner.
    """

    pours: int
    as_planned: int
    in_part: int
    ruined: int
    warned: int
    followed: int
    right: int
    needless: int

    @property
    def open(self) -> int:
        """Warnings of which nobody can tell."""
        return self.warned - self.right - self.needless


def record(outcomes: Iterable[Ended]) -> Record:
    """The record of ``outcomes``; switched to another way counts by how that came out, and as
    planned only with the plan's own swirl."""
    known = [o for o in outcomes if o.came is not None]
    warned = [o for o in known if o.warned]
    judged = [_was_right(o) for o in warned]
    ruined = sum(o.came is Came.NO for o in known)
    planned = sum(o.as_planned for o in known)
    return Record(
        pours=len(known),
        as_planned=planned,
        in_part=len(known) - planned - ruined,
        ruined=ruined,
        warned=len(warned),
        followed=sum(o.followed for o in warned),
        right=sum(verdict is True for verdict in judged),
        needless=sum(verdict is False for verdict in judged),
    )


def _was_right(outcome: Ended) -> bool | None:
    return outcome.thickened if outcome.followed else not outcome.as_planned


def record_words(kept: Record) -> list[str]:
    """The record in plain words, a sentence a line."""
    if not kept.pours:
        return ["No pour has ended yet."]
    lines = [f"{_came(kept, 'in part or another way')}."]
    if not kept.warned:
        return [*lines, "None of them needed a warning."]
    lines.append(
        f"We warned in {kept.warned}: you switched in {kept.followed}; "
        f"{kept.right} of the warnings were right, {kept.needless} needless"
        + (f", {kept.open} nobody can tell." if kept.open else ".")
    )
    return lines


def short_record(kept: Record) -> str:
    """The record in a line; empty before the first pour has ended. The book tells the rest."""
    if not kept.pours:
        return ""
    line = _came(kept, "in part")
    if kept.warned:
        warned = _counts({"right": kept.right, "needless": kept.needless})
        line += f"; {counted(kept.warned, 'warning')}: {warned}"
    return line


def _came(kept: Record, in_part: str) -> str:
    """ "7 pours: 2 as planned, 4 in part, 1 ruined"."""
    came = {"as planned": kept.as_planned, in_part: kept.in_part, "ruined": kept.ruined}
    return f"{counted(kept.pours, 'pour')}: {_counts(came)}"


def _counts(counts: Mapping[str, int]) -> str:
    """ "5 as planned, 1 in part"; what never was is not said."""
    return ", ".join(f"{count} {what}" for what, count in counts.items() if count) or "not known"


def record_json(kept: Record) -> dict[str, int]:
    """The record as plain values."""
    return asdict(kept)


def as_json(result: Score) -> dict[str, Any]:
    """The score as plain values; chances and shares 0 to 1."""
    return {
        "pours": result.pours,
        "as_planned": result.as_planned,
        "brier": None if result.brier is None else round(result.brier, 4),
        "brier_of_share": None
        if result.brier_of_share is None
        else round(result.brier_of_share, 4),
        "interval": f"Wilson, {LEVEL * 100:.0f} %",
        "bins": [
            {
                "from": b.low,
                "to": b.high,
                "pours": b.pours,
                "as_planned": b.as_planned,
                "given": None if b.given is None else round(b.given, 4),
                "low": round(b.interval[0], 4),
                "high": round(b.interval[1], 4),
            }
            for b in result.bins
        ],
    }
