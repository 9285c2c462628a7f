"""How a rehearsal went: stage by stage, tap by tap, and when the moment to switch was."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from soapbench.advice.advise import judged
from soapbench.advice.known import Known
from soapbench.advice.moment import Moment
from soapbench.advice.ways import NEAR, SwirlChoice
from soapbench.batter import MILESTONES, Trace
from soapbench.log import Event, Kind, standing
from soapbench.outlook.chart import PourChart, poured_chart
from soapbench.outlook.finishing import Quantiles, finish
from soapbench.outlook.worth import Become
from soapbench.plan import Plan
from soapbench.pour.events import after, state_of
from soapbench.pour.state import DoneStage, PourState
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.rehearsal.lateness import Cost, cost_of_late
from soapbench.rehearsal.rehearsal import Batter, Fault, fault_of, milestones
from soapbench.swirls.stage import Stage

SOON_S = 5.0
"""A tap this near to the truth is as good as right (ours)."""
HANDS = 200
"""Times the hands are run through one batter, for the chance given that batter."""
MOMENTS = 120
"""Moments of a pour at which the right one to switch is looked for."""


@dataclass(frozen=True, slots=True)
class Played:
    """One stage as played; ``fault`` None: its batter was right, or it was left out."""

    stage: Stage
    took_s: float
    skipped: bool
    fault: Fault | None


@dataclass(frozen=True, slots=True)
class Judged:
    """One trace state as the maker judged it."""

    pot: str
    state: Trace
    tapped_s: float
    really_s: float
    cost: Cost | None = None
    """What its lateness would have cost; None: nothing."""

    @property
    def late_s(self) -> float:
        """Seconds after the batter really came to it; below 0: too early."""
        return self.tapped_s - self.really_s


@dataclass(frozen=True, slots=True)
class Switch:
    """When the right moment was to go over to a quicker way. Times in s since lye met oils."""

    below_s: float | None
    """When another way became worth more with this very batter; None: none ever did."""
    last_s: float | None
    """Last moment at which another swirl was still worth more than saved soap; None: none was."""
    last_way: str
    warned_s: float | None
    taken_s: float | None
    taken_way: str
    chance_when_taken: float | None
    """Of the way left, with this very batter."""


@dataclass(frozen=True, slots=True)
class Report:
    """How a rehearsal went. ``finished``: to the end, and no stage's batter was quite wrong."""

    finished: bool
    ended_s: float
    steps: tuple[str, ...]
    stages: tuple[Played, ...]
    taps: tuple[Judged, ...]
    untapped: int
    """Milestones reached while their pot still mattered, and never tapped."""
    switch: Switch
    chart: PourChart
    """The pour as played, against the windows this very batter left."""

    @property
    def in_part(self) -> bool:
        """It was finished, but not all of it came out as planned."""
        return self.finished and any(s.fault or s.skipped for s in self.stages)

    @property
    def typical_late_s(self) -> float | None:
        """Median of how late taps were; None: no taps."""
        return median(tap.late_s for tap in self.taps) if self.taps else None

    @property
    def worst(self) -> Judged | None:
        return max(self.taps, key=lambda tap: abs(tap.late_s), default=None)


def report(
    batter: Batter, amounts: Amounts, known: Known, events: Iterable[Event], now: float
) -> Report:
    """How the pour in ``events`` went with this batter; ``now`` is its end where it has not ended.

    Takes up to about a second: the pour is gone through again, moment by moment.
    """
    listed = list(events)
    state = state_of(batter.plan, pot_ml(amounts), known.swirls, standing(listed))
    end = now if state.ended is None else state.ended
    times = milestones(batter, state, end)
    wire = max((i for i, d in enumerate(state.done) if _drew_down(d, known, times)), default=-1)
    stages = tuple(_played(done, known, times, drawn=i < wire) for i, done in enumerate(state.done))
    taps, untapped = judged_taps(state, times, end)
    taps = tuple(_costing(tap, batter.plan, amounts, known, listed) for tap in taps)
    right = all(
        played.fault is None or played.fault.in_part or played.stage.can_be_left_out
        for played in stages
    )
    return Report(
        finished=state.finished is True and right,
        ended_s=end,
        steps=state.steps,
        stages=stages,
        taps=taps,
        untapped=untapped,
        switch=_switch(batter, amounts, known, listed, end),
        chart=poured_chart(batter.plan.pots, state, _reached(times), end),
    )


def _reached(times: Mapping[str, Sequence[float]]) -> dict[str, dict[Trace, Quantiles]]:
    """When each pot really came to each state: known, so the windows have no width."""
    return {
        pot: {state: Quantiles(t, t, t) for state, t in zip(MILESTONES, listed, strict=True)}
        for pot, listed in times.items()
    }


def _drew_down(done: DoneStage, known: Known, times: Mapping[str, Sequence[float]]) -> bool:
    """Whether a wire was drawn while that could still draw down what lay on top."""
    if not done.stage.draws_down or done.skipped:
        return False
    fault = _played(done, known, times, drawn=False).fault
    return fault is None or fault.in_part


def _played(
    done: DoneStage, known: Known, times: Mapping[str, Sequence[float]], drawn: bool
) -> Played:
    # Time beyond what the handwork takes is waiting: nobody keys in when hands begin.
    took = done.done - done.begun
    usual, _ = known.pace.duration(done.stage.action, done.stage.median_s, done.stage.spread)
    began = max(done.begun, done.done - usual)
    fault = None if done.skipped else fault_of(done.stage, began, done.done, times, drawn)
    return Played(done.stage, took, done.skipped, fault)


def judged_taps(
    state: PourState, times: Mapping[str, Sequence[float]], end: float
) -> tuple[tuple[Judged, ...], int]:
    """Trace states as tapped, and how many that mattered never were. ``times``: the truth."""
    mattered: dict[str, float] = {}
    for done in state.done:
        for need in done.stage.needs:
            mattered.update(dict.fromkeys(need.pots, done.done))
    taps, untapped = [], 0
    for pot in state.pots.values():
        for milestone in MILESTONES[Trace.LIGHT :]:
            really = times[pot.name][milestone]
            first = next((tap.t for tap in pot.taps if tap.state is milestone), None)
            if first is not None:
                taps.append(Judged(pot.name, milestone, first, really))
            elif pot.together < milestone and really < min(mattered.get(pot.name, 0.0), end):
                untapped += 1
    return tuple(sorted(taps, key=lambda tap: tap.tapped_s)), untapped


def _costing(
    tap: Judged, plan: Plan, amounts: Amounts, known: Known, events: Sequence[Event]
) -> Judged:
    if tap.late_s <= SOON_S:
        return tap
    cost = cost_of_late(plan, amounts, known, events, tap.pot, tap.state, tap.really_s)
    return replace(tap, cost=cost)


# ---------------------------------------------------------------- the right moment to switch


def _switch(
    batter: Batter, amounts: Amounts, known: Known, events: Sequence[Event], end: float
) -> Switch:
    facts = standing(events)
    warning, taken = facts.first(Kind.WARNING_SHOWN), facts.first(Kind.RESCUE_TAKEN)
    warned = warning.t if warning else None
    until = end if taken is None else taken.t
    draws = batter.draws.picked(np.zeros(HANDS, dtype=np.intp))
    ml = pot_ml(amounts)
    played = list(_moments(batter, amounts, known, events, until))

    def chance(t: float, state: PourState) -> float:
        return finish(state.ahead, state.pots, draws, known.pace, t, state.hands_began).chance

    def ways(t: float, state: PourState) -> list[SwirlChoice]:
        return judged(Moment(batter.plan, ml, known, state, draws, t))

    below = next((t for t, state in played if _better(ways(t, state), state)), None)
    left = chance(*played[-1]) if taken is not None and played else None
    last, way = None, ""
    if below is not None or taken is not None:
        after = [(t, state) for t, state in played if below is None or t >= below]
        if taken is not None and played:
            after += _hesitating(batter, *played[-1])
        for t, state in reversed(after):
            if way := _swirl_left(ways(t, state), state):
                last = t
                break
    return Switch(
        below_s=below,
        last_s=last,
        last_way=way,
        warned_s=warned,
        taken_s=None if taken is None else taken.t,
        taken_way=_way(taken),
        chance_when_taken=left,
    )


def _better(ways: Sequence[SwirlChoice], state: PourState) -> bool:
    """Whether another way than the one it is on is clearly worth more."""
    going_on = next(way for way in ways if way.key == (state.steps, ()))
    return ways[0].worth > going_on.worth + NEAR


def _swirl_left(ways: Sequence[SwirlChoice], state: PourState) -> str:
    """A swirl that could still be finished instead; empty: none, or only soap without one."""
    left = (
        way.name
        for way in ways
        if way.steps and way.steps != state.steps and way.become is not Become.SAVED
        if way.worth > Become.SAVED.worth
    )
    return next(left, "")


def _way(taken: Event | None) -> str:
    steps = taken.values.get("steps") if taken else None
    return " + ".join(map(str, steps)) if isinstance(steps, list) else ""


def _moments(
    batter: Batter, amounts: Amounts, known: Known, events: Sequence[Event], until: float
) -> Iterator[tuple[float, PourState]]:
    """The pour as it stood at moments spread over it, while there was a stage in hand."""
    ml, step = pot_ml(amounts), max(5.0, until / MOMENTS)
    begun = next((i for i, e in enumerate(events) if e.kind is Kind.LYE_MEETS_OILS), None)
    if begun is None:
        return
    taken, state = begun, None
    for n in range(math.ceil(until / step)):
        t = n * step
        upto = taken
        while upto < len(events) and events[upto].t <= t:
            upto += 1
        new = events[taken:upto]
        if state is None or any(e.kind is Kind.UNDO for e in new):
            state = state_of(batter.plan, ml, known.swirls, standing(events[:upto]))
        else:
            for event in new:
                state = after(state, event, batter.plan, ml, known.swirls)
        taken = upto
        if state.stage is not None:
            yield t, state


def _hesitating(batter: Batter, t: float, state: PourState) -> Iterator[tuple[float, PourState]]:
    """The same state later and later, as if nothing more had been done, until all has set up."""
    last = max(times[-1] for times in milestones(batter, state, t).values())
    for wait in np.geomspace(5.0, max(last - t, 10.0), MOMENTS // 2):
        yield t + float(wait), state
