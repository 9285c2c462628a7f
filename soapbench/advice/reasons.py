"""Reasons: the stage finishing hangs on, why a swirl is in danger, how to pour what is in hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from soapbench.batter import Trace
from soapbench.troubles import Trouble
from soapbench.words import chances as words

if TYPE_CHECKING:  # a plan sheet is shown before any model is loaded
    from soapbench.outlook.finishing import Outlook, Quantiles, StageOutlook
    from soapbench.pour.state import PotState, PourState
    from soapbench.swirls.stage import Stage

SURE = 0.98
"""Above this chance no stage is named as the tightest: nothing hangs on it (ours)."""
FASTER = 1.3
"""From so many times on it is said that a batter thickens faster (ours)."""


def how(stage: Stage, state: PourState) -> str:
    """How to do ``stage`` by what was tapped; empty while it is done as usual."""
    below = max(
        (state.pots[p].trace for need in stage.needs if need.drawn for p in need.pots),
        default=Trace.EMULSION,
    )
    if below >= Trace.MEDIUM:
        drawn = any(ahead.draws_down for ahead in state.ahead)
        return words.LIES_ON_TOP + (words.THEN_DRAW if drawn else "")
    if below is Trace.LIGHT:
        return words.SINKS_HALFWAY
    if (
        stage.draws_down
        and state.pots
        and any(state.pots[pot].trace >= Trace.MEDIUM for pot in stage.pots)
    ):
        return words.DRAW_DEEP
    return ""


def why(
    ahead: Outlook,
    acceleration: Mapping[str, Quantiles],
    pots: Mapping[str, PotState] | None = None,
) -> str:
    """Why a swirl is in danger: how fast it thickens, what the tightest stage needs and has."""
    if split := [name for name, pot in (pots or {}).items() if pot.trouble is Trouble.SEPARATING]:
        return words.separating(split)
    reasons = []
    fastest = max((q.p50 for q in acceleration.values()), default=1.0)
    if fastest >= FASTER:
        reasons.append(words.faster_since(fastest))
    if ahead.tightest is not None:
        reasons.append(needs(ahead.tightest, ahead.stages[0].begins_s.p50))
    return "; ".join(reasons)


def tightest_of(ahead: Outlook) -> StageOutlook | None:
    """The stage that finishing hangs on; None where it hardly hangs on any."""
    return ahead.tightest if ahead.chance < SURE else None


def needs(tight: StageOutlook, now: float = 0.0) -> str:
    """What a stage needs and has, from ``now`` on, in words."""
    name = tight.stage.step or tight.stage.words.lower()
    return words.needs_words(name, tight.ends_s.p50 - now, tight.room_s)
