"""A rehearsal: one simulated batter, what it looks like, and whether a stage came right with it.

The batter is one draw from what this maker's bench believes of the plan. It is hidden; the maker
sees only what it looks like, and judges trace as in a real pour.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from soapbench.advice.known import Known, mix_of
from soapbench.batter import BatchHistory, Mix, Trace
from soapbench.plan import Plan
from soapbench.pour.history import history
from soapbench.pour.state import PourState, opening
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.swirls.stage import Stage
from soapbench.thickening.draws import Draws, milestone_times, seconds_to
from soapbench.thickening.in_hand import live

LOOKS = (
    ("thin, like milk", "runs like cream"),
    ("leaves a line for a moment", "its line sinks slowly"),
    ("holds a line", "its line stands proud"),
    ("like pudding", "keeps a peak"),
    ("stands up", "stands up"),
)
"""What each trace state looks like, early in it and late (ours)."""
LATE_FROM = 0.6
"""Part of the time between two milestones after which a batter looks late in its state (ours)."""


@dataclass(frozen=True)
class Batter:
    """One simulated batter. ``draws`` holds a single draw."""

    plan: Plan
    mix: Mix
    draws: Draws


@dataclass(frozen=True, slots=True)
class Look:
    """What a pot's batter really is, and what can be seen of it."""

    trace: Trace
    words: str


def draw_batter(plan: Plan, amounts: Amounts, known: Known, seed: int) -> Batter:
    """One batter of ``plan`` as this bench believes batters to be; the same for the same seed."""
    mix = mix_of(plan, amounts)
    start = opening(plan, pot_ml(amounts), known.swirls)
    draws = live(known.fit, history("", plan, mix, start, 0.0), 0.0, n=1000, seed=seed)
    which = np.array([np.random.default_rng(seed).integers(1000)])
    return Batter(plan, mix, draws.picked(which))


def milestones(batter: Batter, state: PourState, now: float) -> dict[str, tuple[float, ...]]:
    """When each pot reaches stable emulsion … set up, left alone, s since lye met oils."""
    watched: BatchHistory = history("", batter.plan, batter.mix, state, now)
    stage = state.stage
    reached = {}
    for pot in watched.pots:
        scented = pot.fragrance_in
        if scented is None and stage is not None and pot.name in stage.fragrance_into:
            scented = state.stage_begun  # as the log will take it once this stage is done
        fragrance = None if scented is None else pot.fragrance
        times = milestone_times(batter.draws, fragrance, scented, pot.blends)
        reached[pot.name] = tuple(float(t) for t in times[0])
    return reached


def blending_s(stage: Stage, batter: Batter, state: PourState, now: float) -> float:
    """Seconds of the stick blender that ``stage`` takes of this batter from ``now`` on."""
    if stage.blend_to is None:
        return stage.blend_s
    start, times = np.full(1, now), [0.0]
    for pot in (state.pots[name] for name in stage.pots):
        how = (pot.fragrance, pot.fragrance_in, pot.blends, start, stage.litres)
        times.append(float(seconds_to(batter.draws, stage.blend_to, *how)[0]))
    return max(times)


def looks_like(batter: Batter, state: PourState, now: float) -> dict[str, Look]:
    """What each pot is and looks like at ``now``."""
    return {name: _look(times, now) for name, times in milestones(batter, state, now).items()}


def _trace(times: Sequence[float], t: float) -> Trace:
    """The state at ``t``; what is not a stable emulsion yet goes for one."""
    return Trace(sum(reached <= t for reached in times[Trace.LIGHT :]))


def _look(times: Sequence[float], now: float) -> Look:
    trace = _trace(times, now)
    ends = (*times, math.inf)
    since, until = ends[trace], ends[trace + 1]
    late = math.isfinite(until) and now - since >= LATE_FROM * (until - since)
    return Look(trace, LOOKS[trace][late])


# ---------------------------------------------------------------- was each stage right


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a stage was not right: which pot, its state, and whether it came too early or late."""

    pot: str
    trace: Trace
    early: bool
    in_part: bool = False
    """It still came out in part."""


def fault_of(
    stage: Stage,
    begun: float,
    done: float,
    times: Mapping[str, Sequence[float]],
    drawn: bool = False,
) -> Fault | None:
    """What was worst with a stage done from ``begun`` to ``done``; None: its batter was right.

    ``drawn``: a wire is drawn through afterwards.
    """

    def at(pot: str, t: float) -> Trace:
        return _trace(times[pot], t)

    worst = None
    for need in stage.needs:
        latest, in_part = need.limits(drawn)
        for pot in need.pots:
            if at(pot, begun) < need.earliest:
                return Fault(pot, at(pot, begun), early=True)
            if (state := at(pot, done)) > in_part:
                return Fault(pot, state, early=False)
            if state > latest:
                worst = worst or Fault(pot, state, early=False, in_part=True)
    return worst
