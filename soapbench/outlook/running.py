"""Stages run through joint draws of the batter: when each begins and ends, and when it is too late.

The hands wait where a stage must not start yet; each draw is one batter and one run of the stages,
in s since lye met oils. All arrays are over draws.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from soapbench.batter import Blend, Trace
from soapbench.outlook.batters import Array, Batters, Flags, KeptTimes, median, never
from soapbench.outlook.hands import still_takes
from soapbench.pace import Pace
from soapbench.pour.state import PotState
from soapbench.swirls.stage import Stage
from soapbench.thickening.draws import Draws


@dataclass(slots=True)
class Kept(KeptTimes):
    """What runs from the same state through the same draws share."""

    lasts: dict[tuple[str, tuple[str, ...], float, float, float], Array] = field(
        default_factory=dict
    )
    """Handwork by its kind, pots, time and spread by the table, and what is spent of it."""
    begun: dict[tuple[float, float | None], Node] = field(default_factory=dict)
    """Nothing done yet, by when that is, and since when the first stage is in hand."""


@dataclass(frozen=True, slots=True)
class Ran:
    """One stage in every draw."""

    stage: Stage
    start: Array
    end: Array
    lasts: Array
    """Handwork alone."""
    latest: Array
    """When its batter stops being right for it."""
    in_part: Array
    """When it stops being good enough for it to come out in part."""


@dataclass(slots=True)
class Run:
    """Stages run in every draw: arrays over draws, s since lye met oils."""

    batters: Batters
    scented: dict[str, float | Array]
    clock: Array
    planned: Flags
    alone: Flags
    """At least in part, without a wire drawn through afterwards."""
    drawn: Flags
    """The same with it."""
    stages: list[Ran] = field(default_factory=list)

    @property
    def in_part(self) -> Flags:
        """At least in part."""
        wire = any(ran.stage.draws_down for ran in self.stages)
        return self.alone | self.drawn if wire else self.alone

    def copy(self) -> Run:
        """Another that goes on apart from this one."""
        batters, scented, done = self.batters.copy(), dict(self.scented), list(self.stages)
        return Run(batters, scented, self.clock, self.planned, self.alone, self.drawn, done)


@dataclass(slots=True)
class Node:
    """How far a run has come, and what it was gone on with."""

    ran: Run
    further: dict[tuple[Stage, bool], Node] = field(default_factory=dict)
    """By the next stage, and whether a wire is drawn through after it."""


def run(
    stages: Sequence[Stage],
    pots: Mapping[str, PotState],
    draws: Draws,
    pace: Pace,
    now: float,
    begun: float | None,
    kept: Kept | None = None,
) -> Run:
    """``stages`` from ``now`` on. What begins by the same stages is run once: ways to finish are
    alike for long. Not to be changed by who gets it."""
    kept = kept or Kept()
    node = kept.begun.get((now, begun))
    if node is None:
        fine = np.ones(draws.n, dtype=bool)
        scented = {n: p.fragrance_in for n, p in pots.items() if p.fragrance_in is not None}
        batters = Batters(draws, pots, kept)
        node = Node(Run(batters, dict(scented), np.full(draws.n, now), fine, fine, fine))
        kept.begun[now, begun] = node
    wire = last_wire(stages)
    for i, stage in enumerate(stages):
        drawn = bool(stage.step) and i < wire
        further = node.further.get((stage, drawn))
        if further is None:
            ran = node.ran.copy()
            _work(ran, stage, pots, pace, now, begun if i == 0 else None, drawn, kept)
            further = node.further[stage, drawn] = Node(ran)
        node = further
    return node.ran


def _work(
    ran: Run,
    stage: Stage,
    pots: Mapping[str, PotState],
    pace: Pace,
    now: float,
    begun: float | None,
    drawn: bool,
    kept: Kept,
) -> None:
    """One more stage of ``ran``. ``begun``: when it began, of the one in hand; ``drawn``: a wire
    is drawn through afterwards."""
    spent = max(0.0, now - begun) if begun is not None else 0.0
    start, batters = ran.clock, ran.batters
    for need in stage.needs:
        if need.earliest > Trace.EMULSION and need.pots:
            start = np.maximum(start, batters.last(need, need.earliest))
    work = (stage.action, stage.pots, stage.median_s, stage.spread, spent)
    lasts = kept.lasts.get(work)
    if lasts is None:
        usual, spread = pace.duration(stage.action, stage.median_s, stage.spread)
        lasts = kept.lasts[work] = still_takes(stage, usual, spread, spent, len(start))
    keyed = _blended_already(stage, pots, begun)
    if stage.blend_to is not None:
        lasts = lasts + batters.seconds_to(stage, start, 0.0 if keyed else spent)
    end = start + lasts
    for pot in stage.fragrance_into:
        if pots[pot].fragrance_in is None:
            ran.scented[pot] = start - spent
            batters.add_fragrance(pot, start - spent)
    if stage.blend_to is not None:
        at, until = median(start), median(end)
        batters.blend(stage.pots, Blend(at, until - at, stage.litres, stage.blend_to))
    elif stage.blend_s > 0 and not keyed:
        batters.blend(stage.pots, Blend(median(start), stage.blend_s, stage.litres))
    latest, in_part = batters.limits(stage, drawn)
    ran.stages.append(Ran(stage, start, end, lasts, latest, in_part))
    ran.clock = end
    if not stage.needs:
        return
    endless = never(len(end))
    if latest is not endless:
        ran.planned = ran.planned & (end < latest)
    if in_part is endless:
        return
    in_time = end < in_part
    if stage.draws_down:
        ran.drawn = ran.drawn & in_time
    elif not stage.can_be_left_out:
        ran.drawn = ran.drawn & in_time
        if drawn and any(need.drawn for need in stage.needs):
            in_time = end < batters.limits(stage, drawn=False)[1]
        ran.alone = ran.alone & in_time


def last_wire(stages: Sequence[Stage]) -> int:
    """The place of the last wire among ``stages``; -1: none."""
    return max((i for i, stage in enumerate(stages) if stage.draws_down), default=-1)


def _blended_already(stage: Stage, pots: Mapping[str, PotState], begun: float | None) -> bool:
    """Whether the blending meant within the stage in hand has been keyed in."""
    return begun is not None and any(
        blend.within(begun) for pot in stage.pots for blend in pots[pot].blends
    )
