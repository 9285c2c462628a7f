"""Times, chances and what a batter has room for, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

from soapbench.reading.safetext import counted
from soapbench.words import numbers

DAY_S = 86400.0
LONG = ((2 * 365 * DAY_S, "year", 365.25 * DAY_S), (70 * DAY_S, "month", 30.44 * DAY_S),
        (14 * DAY_S, "week", 7 * DAY_S), (2 * DAY_S, "day", DAY_S))  # fmt: skip
"""From how long on a time is told in what (ours), and how long one of it is."""


def about_words(seconds: float) -> str:
    """A stretch of time as one says it: "20 s", "5 min", "2 h 10 min", "3 days", "10 months"."""
    for least, name, one in LONG:
        if seconds >= least:
            return counted(round(seconds / one), name)
    if seconds < 60:
        return f"{max(5, round(seconds / 5) * 5)} s"
    hours, rest = divmod(round(seconds / 60), 60)
    if hours >= 10 or not rest:
        return f"{round(seconds / 3600)} h"
    return f"{hours} h {rest} min" if hours else f"{rest} min"


def clock(seconds: float) -> str:
    """Minutes and seconds, "1:40"; hours when there are any; from a day on no seconds, "10
    months"; "–" for what has no end."""
    if not math.isfinite(seconds):
        return "–"
    if seconds >= DAY_S:
        return about_words(seconds)
    whole = int(max(0.0, seconds) + 0.5)
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def percent(chance: float) -> str:
    """A chance, never said to be certain either way."""
    if chance > 0.99:
        return ">99 %"
    return "<1 %" if chance < 0.01 else numbers.share(chance)


class Chances(Protocol):
    """Whatever comes out as planned, in part or not at all."""

    @property
    def chance(self) -> float: ...
    @property
    def chance_in_part(self) -> float: ...


def chances_words(of: Chances) -> str:
    """ "62 % as planned, 21 % in part"; what is less than worth a word is left out."""
    words = f"{percent(of.chance)} as planned"
    if of.chance_in_part >= 0.015:
        words += f", {percent(of.chance_in_part)} in part"
    return words


class Counted(Chances, Protocol):
    """Chances of a pour of which it is known what still counts."""

    @property
    def in_part(self) -> bool: ...
    @property
    def saves(self) -> bool: ...


def counted_chance(of: Counted) -> str:
    """The chance of what still counts: as planned, or in part once that is all there is."""
    if not of.in_part:
        return percent(of.chance)
    chance = percent(of.chance + of.chance_in_part)
    return chance if of.saves else f"{chance} in part"


LIES_ON_TOP = "It will lie on top: pour low and close to it"
THEN_DRAW = ", then draw the hanger deep and at once"
SINKS_HALFWAY = "It will sink halfway: pour high and thin"
DRAW_DEEP = "Draw it deep and at once: it draws down what lies on top"
"""How to pour or draw where the batter below has thickened: common practice, no source."""


def separating(pots: Sequence[str]) -> str:
    return f"{' and '.join(pots)} separating"


def faster_since(times: float) -> str:
    return f"thickening {numbers.times(times)} faster since the fragrance"


UNKNOWN = "unknown"
"""A fragrance of which no supplier says how it behaves."""


def needs_words(step: str, needs_s: float, room_s: float) -> str:
    """ "hanger swirl. You need 1:40, the batter gives 1:10"."""
    return f"{step}. You need {clock(needs_s)}, the batter gives {clock(room_s)}"


def rests_on(batches: int, reputation: str, others: int = 0) -> str:
    """What a fragrance's figures rest on, in words. ``others``: batches of another maker's."""
    if batches == 0 and others:
        return f"another maker's {counted(others, 'batch', 'batches')} with it"
    if batches == 0 and reputation == UNKNOWN:
        return "a guess: nobody has said how this fragrance behaves"
    if batches == 0:
        return f'the supplier\'s word alone ("{reputation}")'
    return f"your {counted(batches, 'batch', 'batches')} with it"


def new_bottle(fragrance: str, lot: str) -> str:
    return f"New bottle: {fragrance} {lot} may be faster or slower."


def which_bottle(fragrance: str) -> str:
    return f"Which bottle of {fragrance}? Not named, so it counts as new."


def may_seize(fragrance: str, chance: float, seized: int, batches: int) -> str:
    """What that rests on, and what to have ready (common practice, no source)."""
    how = f"may seize, 1 pour in {round(1 / chance)}"
    if seized:
        how = f"seized in {seized} of your {counted(batches, 'batch', 'batches')}"
    return f"{fragrance} {how}: mould ready."
