"""How a rehearsal went: stage by stage, tap by tap, and when the moment to switch was."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np

from soapbench.advice import Known, rescues
from soapbench.batter import MILESTONES, Trace
from soapbench.log import Event, Kind, standing
from soapbench.outlook import Quantiles, finish
from soapbench.plan import Plan
from soapbench.pour import DoneStage, PourState, ahead_with, state_of
from soapbench.pourchart import PourChart, poured_chart
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.rehearsal.rehearsal import Batter, Fault, fault_of, milestones
from soapbench.stages import Stage
from soapbench.thickening.draws import Draws

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

    @property
    def late_s(self) -> float:
        """Seconds after the batter really came to it; below 0: too early."""
        return self.tapped_s - self.really_s


@dataclass(frozen=True, slots=True)
class Switch:
    """When the right moment was to go over to a quicker way. Times in s since lye met oils."""

    below_s: float | None
    """When the chance with this very batter fell below the line; None: it never did."""
    last_s: float | None
    """Last moment at which a quicker swirl would still have been finished; None: there was none."""
    last_way: str
    warned_s: float | None
    taken_s: float | None
    taken_way: str
    chance_when_taken: float | None
    """Of the way left, with this very batter."""


@dataclass(frozen=True, slots=True)
class Report:
    """How a rehearsal went. ``finished``: to the end, and every stage's batter was right."""

    finished: bool
    ended_s: float
    steps: tuple[str, ...]
    stages: tuple[Played, ...]
    taps: tuple[Judged, ...]
    untapped: int
    """Milestones reached while their pot still mattered, and never tapped."""
    switch: Switch
    warn_below: float
    chart: PourChart
    """The pour as played, against the windows this very batter left."""

    @property
    def typical_late_s(self) -> float | None:
        """Median of how late taps were; None: no taps."""
        return median(tap.late_s for tap in self.taps) if self.taps else None

    @property
    def worst(self) -> Judged | None:
        return max(self.taps, key=lambda tap: abs(tap.late_s), default=None)


def report(
    batter: Batter, made: Amounts, known: Known, events: Iterable[Event], now: float
) -> Report:
    """How the pour in ``events`` went with this batter; ``now`` is its end where it has not ended.

    Takes up to about a second: the pour is gone through again, moment by moment.
    """
    listed = list(events)
    state = state_of(batter.plan, pot_ml(made), known.swirls, listed)
    end = now if state.ended is None else state.ended
    times = milestones(batter, state, end)
    stages = tuple(_played(done, known, times) for done in state.done)
    taps, untapped = _judged(state, times, end)
    right = all(stage.fault is None for stage in stages)
    return Report(
        finished=state.finished is True and right,
        ended_s=end,
        steps=state.steps,
        stages=stages,
        taps=taps,
        untapped=untapped,
        switch=_switch(batter, made, known, listed, end),
        warn_below=known.warn_below,
        chart=poured_chart(batter.plan.pots, state, _reached(times), end),
    )


def _reached(times: Mapping[str, Sequence[float]]) -> dict[str, dict[Trace, Quantiles]]:
    """When each pot really came to each state: known, so the windows have no width."""
    return {
        pot: {state: Quantiles(t, t, t) for state, t in zip(MILESTONES, listed, strict=True)}
        for pot, listed in times.items()
    }


def _played(done: DoneStage, known: Known, times: Mapping[str, Sequence[float]]) -> Played:
    # Time beyond what the handwork takes is waiting: nobody keys in when hands begin.
    took = done.done - done.begun
    usual, _ = known.pace.duration(done.stage.action, done.stage.median_s, done.stage.spread)
    began = max(done.begun, done.done - usual)
    fault = None if done.skipped else fault_of(done.stage, began, done.done, times)
    return Played(done.stage, took, done.skipped, fault)


def _judged(
    state: PourState, times: Mapping[str, Sequence[float]], end: float
) -> tuple[tuple[Judged, ...], int]:
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


# ---------------------------------------------------------------- the right moment to switch


def _switch(
    batter: Batter, made: Amounts, known: Known, events: Sequence[Event], end: float
) -> Switch:
    facts = standing(events)
    warned = next((e.t for e in facts if e.kind is Kind.WARNING_SHOWN), None)
    taken = next((e for e in facts if e.kind is Kind.RESCUE_TAKEN), None)
    until = end if taken is None else taken.t
    draws = batter.draws.picked(np.zeros(HANDS, dtype=np.intp))
    played = list(_moments(batter, made, known, events, until))

    def chance(t: float, state: PourState) -> float:
        return finish(state.ahead, state.pots, draws, known.pace, t, state.hands_began)[0]

    below = next((t for t, state in played if chance(t, state) < known.warn_below), None)
    left = chance(*played[-1]) if taken is not None and played else None
    last, way = None, ""
    if below is not None or taken is not None:
        after = [(t, state) for t, state in played if below is None or t >= below]
        if taken is not None and played:
            after += _hesitating(batter, *played[-1])
        for t, state in reversed(after):
            if way := _way_left(batter.plan, made, known, draws, t, state):
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


def _way_left(
    plan: Plan, made: Amounts, known: Known, draws: Draws, t: float, state: PourState
) -> str:
    """A swirl that could still be finished from here; empty: none, or only soap without one."""
    ml = pot_ml(made)
    for steps in rescues(plan, ml, known, state):
        # One step alone is never less likely than the same with a tool or a top after it.
        if len(steps) != 1:
            continue
        kind = known.swirls.kinds[steps[0]]
        if kind.cooked or kind.most_pots < len(plan.pots):
            continue
        ahead = ahead_with(state, steps, plan, ml, known.swirls)
        begun = state.hands_began if ahead[:1] == state.ahead[:1] else None
        if finish(ahead, state.pots, draws, known.pace, t, begun)[0] >= known.warn_below:
            return kind.name
    return ""


def _way(taken: Event | None) -> str:
    steps = taken.values.get("steps") if taken else None
    return " + ".join(map(str, steps)) if isinstance(steps, list) else ""


def _moments(
    batter: Batter, made: Amounts, known: Known, events: Sequence[Event], until: float
) -> Iterator[tuple[float, PourState]]:
    """The pour as it stood at moments spread over it, while there was a stage in hand."""
    ml, step = pot_ml(made), max(5.0, until / MOMENTS)
    begun = next((i for i, e in enumerate(events) if e.kind is Kind.LYE_MEETS_OILS), None)
    if begun is None:
        return
    taken, state = begun, None
    for n in range(math.ceil(until / step)):
        t = n * step
        upto = taken
        while upto < len(events) and events[upto].t <= t:
            upto += 1
        if state is None or upto > taken:
            taken = upto
            state = state_of(batter.plan, ml, known.swirls, events[:taken])
        if state.stage is not None:
            yield t, state


def _hesitating(batter: Batter, t: float, state: PourState) -> Iterator[tuple[float, PourState]]:
    """The same state later and later, as if nothing more had been done, until all has set up."""
    last = max(times[-1] for times in milestones(batter, state, t).values())
    for wait in np.geomspace(5.0, max(last - t, 10.0), MOMENTS // 2):
        yield t + float(wait), state
