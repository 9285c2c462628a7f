"""Stages run through joint draws of the batter: when each begins and ends, and when it is too late.

The hands wait where a stage must not start yet; each draw is one batter and one run of the stages,
in s since lye met oils. All arrays are over draws.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from soapbench.batter import Blend, Trace
from soapbench.pace import Pace
from soapbench.pour.state import PotState
from soapbench.swirls.stages import Need, Stage
from soapbench.thickening.draws import Draws, milestone_times, seconds_to

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(slots=True)
class Kept:
    """What runs from the same state through the same draws share."""

    times: dict[tuple[str | None, bytes | float | None, tuple[Blend, ...]], Array] = field(
        default_factory=dict
    )
    """Milestone times by fragrance, when it went in and bursts."""
    ends: dict[tuple[int, ...], Array] = field(default_factory=dict)
    """When the first of some batters passes a state, by the state and which times these are."""
    lasts: dict[tuple[str, tuple[str, ...], float, float, float], Array] = field(
        default_factory=dict
    )
    """Handwork by its kind, pots, usual time and spread, and what is spent of it."""
    begun: dict[tuple[float, float | None], Node] = field(default_factory=dict)
    """Nothing done yet, by when that is, and since when the first stage is in hand."""


LEAST_SPENT_S = 1e-3
"""Time on a stage below which it has just begun."""


class Batters:
    """Milestone times of every pot in every draw, kept while the stages change the pots."""

    def __init__(self, draws: Draws, pots: Mapping[str, PotState], kept: Kept | None) -> None:
        self._draws = draws
        self._pots = {
            name: PotState(name, fragrance=pot.fragrance, blends=pot.course, where=pot.where)
            for name, pot in pots.items()
        }
        self._scented: dict[str, float | Array | None] = {
            name: pot.fragrance_in for name, pot in pots.items()
        }
        self._kept = kept or Kept()
        self._times: dict[str, Array] = {}

    def copy(self) -> Batters:
        """Another that changes apart from this one."""
        other = copy(self)
        other._pots, other._scented, other._times = (
            dict(self._pots),
            dict(self._scented),
            dict(self._times),
        )
        return other

    def add_fragrance(self, pot: str, at: Array) -> None:
        self._scented[pot] = at
        self._times.pop(pot, None)

    def blend(self, pots: Sequence[str], burst: Blend) -> None:
        for name in pots:
            self._times.pop(name, None)
            pot = self._pots[name]
            self._pots[name] = PotState(
                name, fragrance=pot.fragrance, blends=(*pot.blends, burst), where=pot.where
            )

    def seconds_to(self, stage: Stage, start: Array, spent: float) -> Array:
        """Blending that ``stage`` still takes from ``start`` on, (draws,) s, the slowest of its
        pots counting; ``spent`` of it is done but not keyed."""
        found = np.zeros(self._draws.n)
        for name in stage.pots:
            pot, scented = self._pots[name], self._scented[name]
            if stage.blend_to is not None:
                how = (stage.blend_to, pot.fragrance, scented, pot.blends, start, stage.litres)
                found = np.maximum(found, seconds_to(self._draws, *how))
        return np.maximum(found - spent, 0.0)

    def times(self, name: str) -> Array:
        """Milestones of one pot, shape (draws, 5), s; column j is Trace(j)."""
        if name in self._times:
            return self._times[name]
        pot, scented = self._pots[name], self._scented[name]
        # A time in each draw is the same in every run that comes to it by the same stages.
        when = scented.tobytes() if isinstance(scented, np.ndarray) else scented
        fragrance = None if scented is None else pot.fragrance
        key = (fragrance, when, pot.blends)
        times = self._kept.times.get(key)
        if times is None:
            times = milestone_times(self._draws, fragrance, scented, pot.blends)
            times = self._kept.times[key] = np.asfortranarray(times)  # its columns are asked for
        self._times[name] = times
        return times

    def last(self, need: Need, state: Trace) -> Array:
        """When the last of the pots in ``need`` reaches ``state``."""
        times = [column(self.times(pot), state) for pot in need.pots]
        return np.maximum.reduce(times) if len(times) > 1 else times[0]

    def limits(self, stage: Stage, drawn: bool) -> tuple[Array, Array]:
        """Until when ``stage`` comes out as planned, and in part; inf where it always does."""
        planned: list[Array] = []
        in_part: list[Array] = []
        for need in stage.needs:
            for state, found in zip(need.limits(drawn), (planned, in_part), strict=True):
                if state < Trace.SET_UP and need.pots:
                    found.append(self._first_past(need.pots, state))
        return self._earliest(planned), self._earliest(in_part)

    def _first_past(self, pots: Sequence[str], state: Trace) -> Array:
        """When the first of ``pots`` passes ``state``."""
        times = [self.times(pot) for pot in pots]
        key = (state, *map(id, times))  # what is kept stays, so that no other comes by its id
        found = self._kept.ends.get(key)
        if found is None:
            columns = [column(each, Trace(state + 1)) for each in times]
            found = self._kept.ends[key] = self._earliest(columns)
        return found

    def _earliest(self, times: Sequence[Array]) -> Array:
        if not times:
            return never(self._draws.n)
        return times[0] if len(times) == 1 else np.minimum.reduce(times)


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


def trace_at(times: Array, t: Array | float) -> Array:
    """Trace state of each batter at ``t``: 0 at stable emulsion, 1 at light trace, 4 from set up.

    ``times`` (n, 5): when it reaches stable emulsion … set up, s. Between two of them the time
    decides.
    """
    passed, before = np.zeros(len(times)), times[:, 0]
    for reached in times.T[1:]:
        passed += np.clip((t - before) / np.maximum(reached - before, 1e-9), 0.0, 1.0)
        before = reached
    return passed


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
    usual, spread = pace.duration(stage.action, stage.median_s, stage.spread)
    work = (stage.action, stage.pots, usual, spread, spent)
    lasts = kept.lasts.get(work)
    if lasts is None:
        lasts = kept.lasts[work] = _durations(stage, usual, spread, spent, len(start))
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


def median(values: Array) -> float:
    """As numpy has it, in a third of its time."""
    middle = len(values) // 2
    part = np.partition(values, middle)
    if len(values) % 2:
        return float(part[middle])
    return 0.5 * float(part[:middle].max() + part[middle])


@lru_cache(maxsize=8)
def never(n: int) -> Array:
    """Of what is never too late; always the same array for as many draws."""
    found = np.full(n, np.inf)
    found.setflags(write=False)
    return found


def last_wire(stages: Sequence[Stage]) -> int:
    """The place of the last wire among ``stages``; -1: none."""
    return max((i for i, stage in enumerate(stages) if stage.draws_down), default=-1)


def _blended_already(stage: Stage, pots: Mapping[str, PotState], begun: float | None) -> bool:
    """Whether the blending meant within the stage in hand has been keyed in."""
    return begun is not None and any(
        blend.within(begun) for pot in stage.pots for blend in pots[pot].blends
    )


def column(times: Array, state: Trace) -> Array:
    """When ``state`` is reached, of milestone times that end with set up."""
    return times[:, state - len(Trace)]


@lru_cache(maxsize=256)
def _normals(key: str, n: int) -> Array:
    """The same standard normals for the same work in every alternative, so that alternatives
    differ by what differs in them and not by luck."""
    rng = np.random.default_rng(zlib.crc32(key.encode()))
    made = rng.standard_normal(n)
    made.setflags(write=False)
    return made


@lru_cache(maxsize=256)
def _ranked(key: str, n: int) -> tuple[Array, NDArray[np.intp]]:
    """The normals of ``key`` in order, and the rank of each."""
    z = _normals(key, n)
    order = np.argsort(z, kind="stable")
    ranks = np.empty(n, dtype=np.intp)
    ranks[order] = np.arange(n)
    return z[order], ranks


def _durations(stage: Stage, median: float, spread: float, spent: float, n: int) -> Array:
    """Time a stage still takes, given that it has taken ``spent`` already and is not done."""
    key = f"{stage.action}/{','.join(stage.pots)}"
    z = _normals(key, n)
    if spent <= LEAST_SPENT_S:
        return np.asarray(median * np.exp(spread * z))
    done = np.log(spent / median) / spread
    ordered, ranks = _ranked(key, n)
    beyond = ordered[np.searchsorted(ordered, done) :]
    # Longer than nearly every such stage: as long again, give or take, as hands that were held up.
    if len(beyond) < 20:
        return np.asarray(0.25 * max(spent, median) * np.exp(0.5 * z))
    picked = beyond[(ranks * len(beyond)) // n]
    return np.asarray(median * np.exp(spread * picked) - spent)
