"""Times, chances and what a batter has room for, in words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Protocol

from soapbench.batter import Trace
from soapbench.reading.safetext import counted
from soapbench.troubles import Trouble
from soapbench.words import numbers

if TYPE_CHECKING:
    from soapbench.outlook import Outlook, Quantiles, StageOutlook
    from soapbench.pour import PotState, PourState
    from soapbench.stages import Stage


def clock(seconds: float) -> str:
    """Minutes and seconds, "1:40"; hours when there are any; "–" for what has no end."""
    if not math.isfinite(seconds):
        return "–"
    whole = int(max(0.0, seconds) + 0.5)
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def percent(chance: float) -> str:
    """A chance, never said to be certain either way."""
    if chance > 0.99:
        return ">99 %"
    return "<1 %" if chance < 0.01 else numbers.share(chance)


def counted_chance(ahead: Outlook) -> str:
    """The chance of what still counts: as planned, or in part once that is all there is."""
    if not ahead.in_part:
        return percent(ahead.chance)
    said = percent(ahead.chance + ahead.chance_in_part)
    return said if ahead.saves else f"{said} in part"


class Chances(Protocol):
    """Whatever comes out as planned, in part or not at all."""

    @property
    def chance(self) -> float: ...
    @property
    def chance_in_part(self) -> float: ...


def chances_words(of: Chances) -> str:
    """ "62 % as planned, 21 % in part"; what is less than worth a word is left out."""
    said = f"{percent(of.chance)} as planned"
    if of.chance_in_part >= 0.015:
        said += f", {percent(of.chance_in_part)} in part"
    return said


def how(stage: Stage, state: PourState) -> str:
    """How to do ``stage`` by what was tapped; empty while it is done as usual."""
    seen = max(
        (state.pots[p].trace for need in stage.needs if need.drawn for p in need.pots),
        default=Trace.EMULSION,
    )
    drawn = any(ahead.draws_down for ahead in state.ahead)
    if seen >= Trace.MEDIUM:
        said = "It will lie on top: pour low and close to it"
        return f"{said}, then draw the hanger deep and at once" if drawn else said
    if seen is Trace.LIGHT:
        return "It will sink halfway: pour high and thin"
    if (
        stage.draws_down
        and state.pots
        and any(state.pots[pot].trace >= Trace.MEDIUM for pot in stage.pots)
    ):
        return "Draw it deep and at once: it draws down what lies on top"
    return ""


def why(
    ahead: Outlook,
    acceleration: Mapping[str, Quantiles],
    pots: Mapping[str, PotState] | None = None,
) -> str:
    """Why a swirl is in danger: how fast it thickens, what the tightest stage needs and has."""
    if split := [name for name, pot in (pots or {}).items() if pot.trouble is Trouble.SEPARATING]:
        return f"{' and '.join(split)} separating"
    said = []
    fastest = max((q.p50 for q in acceleration.values()), default=1.0)
    if fastest >= 1.3:
        said.append(f"thickening {numbers.times(fastest)} faster since the fragrance")
    if ahead.tightest is not None:
        said.append(needs_words(ahead.tightest, ahead))
    return "; ".join(said)


UNKNOWN = "unknown"
"""A fragrance of which no supplier says how it behaves."""
SURE = 0.98
"""Above this chance no stage is named as the tightest: nothing hangs on it (ours)."""


def tightest_of(ahead: Outlook) -> StageOutlook | None:
    """The stage that finishing hangs on; None where it hardly hangs on any."""
    return ahead.tightest if ahead.chance < SURE else None


def needs_words(tight: StageOutlook, ahead: Outlook, now: float | None = None) -> str:
    """ "hanger swirl. You need 1:40, the batter gives 1:10", both from now."""
    start = ahead.stages[0].begins_s.p50 if now is None else now
    name = tight.stage.step or tight.stage.words.lower()
    return (
        f"{name}. You need {clock(tight.ends_s.p50 - start)}, the batter gives "
        f"{clock(tight.room_s)}"
    )


def rests_on(batches: int, reputation: str, told: int = 0) -> str:
    """What a fragrance's figures rest on, in words. ``told``: batches of another maker's."""
    if batches == 0 and told:
        return f"another maker's {counted(told, 'batch', 'batches')} with it"
    if batches == 0 and reputation == UNKNOWN:
        return "a guess: nobody has said how this fragrance behaves"
    if batches == 0:
        return f'the supplier\'s word alone ("{reputation}")'
    return f"your {counted(batches, 'batch', 'batches')} with it"
