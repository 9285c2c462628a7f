"""How a pour can have come out by what was tapped: what is taken until the maker tells."""

from __future__ import annotations

from soapbench.batter import Trace
from soapbench.log import Outcome
from soapbench.pour.state import DoneStage, PotState, PourState


def by_the_taps(state: PourState, finished: bool) -> Outcome:
    """As planned, unless a stage of the swirl was left out or came later than its batter allowed.

    ``finished``: it came to the end of its stages.
    """
    came = [Outcome.AS_PLANNED if finished else Outcome.NO]
    wires = [i for i, d in enumerate(state.done) if d.stage.draws_down and not d.skipped]
    for i, done in enumerate(state.done):
        if done.stage.step:
            came.append(_stage_came(done, state, drawn=any(i < wire for wire in wires)))
    return max(came, key=list(Outcome).index)


def _stage_came(done: DoneStage, state: PourState, drawn: bool) -> Outcome:
    worst = Outcome.IN_PART if done.stage.can_be_left_out else Outcome.NO
    if done.skipped:
        return worst
    came = Outcome.AS_PLANNED
    for need in done.stage.needs:
        planned, in_part = need.limits(drawn)
        thickest = max(
            (_last_tapped(state.pots[pot], done.done) for pot in need.pots), default=planned
        )
        if thickest > in_part:
            return worst
        if thickest > planned:
            came = Outcome.IN_PART
    return came


def _last_tapped(pot: PotState, until: float) -> Trace:
    """The state it was last seen in by ``until``."""
    states = [tap.state for tap in pot.taps if tap.t <= until]
    return states[-1] if states else Trace.EMULSION
