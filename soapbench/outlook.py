"""Whether a pour can be finished: its remaining stages run through joint draws of the batter.

P(as planned) is the share of draws in which every stage starts after its earliest and ends before
its latest trace state; P(in part) that of the others in which each still ended before the state up
to which it comes out in part, a tool or a top left out at the worst. The hands wait where a stage
must not start yet; each draw is one batter and one run of the stages, in s since lye met oils.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from soapbench.batter import Blend, Trace
from soapbench.pace import Pace
from soapbench.pour import PotState
from soapbench.stages import Need, Stage
from soapbench.thickening.draws import Draws, milestone_times
from soapbench.worth import Become, Risk, worth

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Quantiles:
    """10th, 50th and 90th percentile."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class StageOutlook:
    """One stage as foreseen: when, how long, how often its batter is still right for it."""

    stage: Stage
    begins_s: Quantiles
    ends_s: Quantiles
    lasts_s: Quantiles
    """Handwork alone, waiting left out."""
    chance: float
    """P(its batter is still right at its end)."""
    chance_in_part: float
    """P(not that, but still good enough for it to come out in part)."""
    room_s: float
    """Median time from now until its batter is past its latest state; inf where it has none."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """A pour, or what is left of one, as foreseen at ``now``."""

    chance: float
    """P(as planned)."""
    chance_in_part: float
    """P(in part)."""
    worth: float
    """Mean worth of it as the maker's wish."""
    minutes: float
    """Median time from now to the end of the last stage."""
    to_spare_s: float
    """Median, over draws, of the least time by which a stage ends before its latest state; below
    0: late. inf: nothing can be late."""
    stages: tuple[StageOutlook, ...]
    tightest: StageOutlook | None
    """The stage whose batter is least likely to be right; None when nothing can fail."""
    scented_s: Mapping[str, Quantiles]
    """When each pot's fragrance goes in, s since lye met oils."""
    room_from_scent_s: Mapping[str, Quantiles]
    """Per pot: from its fragrance going in until thick trace; scentless: from lye meeting oils."""
    room_s: Mapping[str, Quantiles]
    """Per pot: from ``now`` until thick trace, at least 0, its fragrance going in as foreseen."""
    window_s: Mapping[str, Quantiles]
    """Per pot still needed: when it leaves the state its next need allows, s since lye met oils."""


@dataclass(frozen=True, slots=True)
class Finish:
    """How a way to finish is foreseen to come out, in short."""

    chance: float
    """P(as planned)."""
    chance_in_part: float
    minutes: float
    """Median time from now to the end of the last stage."""


Kept = dict[tuple[str | None, bytes | float | None, tuple[Blend, ...]], Array]
"""Milestone times by fragrance, when it went in and bursts: good for one value of the draws."""


LEAST_SPENT_S = 1e-3
"""Time on a stage below which it has just begun."""


class _Batters:
    """Milestone times of every pot in every draw, kept while the stages change the pots."""

    def __init__(self, draws: Draws, pots: Mapping[str, PotState], kept: Kept | None) -> None:
        self._draws = draws
        self._pots = dict(pots)
        self._scented: dict[str, float | Array | None] = {
            name: pot.fragrance_in for name, pot in pots.items()
        }
        self._kept: Kept = {} if kept is None else kept

    def scent(self, pot: str, at: Array) -> None:
        self._scented[pot] = at

    def blend(self, pots: Sequence[str], burst: Blend) -> None:
        for name in pots:
            pot = self._pots[name]
            self._pots[name] = PotState(
                name, fragrance=pot.fragrance, blends=(*pot.blends, burst), where=pot.where
            )

    def times(self, name: str) -> Array:
        """Milestones of one pot, shape (draws, 4), s; column j is Trace(j + 1)."""
        pot, scented = self._pots[name], self._scented[name]
        # A time in each draw is the same in every run that comes to it by the same stages.
        when = scented.tobytes() if isinstance(scented, np.ndarray) else scented
        fragrance = None if scented is None else pot.fragrance
        key = (fragrance, when, pot.blends)
        if key not in self._kept:
            self._kept[key] = milestone_times(self._draws, fragrance, scented, pot.blends)
        return self._kept[key]

    def first(self, need: Need, state: Trace) -> Array:
        """When the first of the pots in ``need`` reaches ``state``."""
        times = [_column(self.times(pot), state) for pot in need.pots]
        return np.minimum.reduce(times) if len(times) > 1 else times[0]

    def last(self, need: Need, state: Trace) -> Array:
        """When the last of the pots in ``need`` reaches ``state``."""
        times = [_column(self.times(pot), state) for pot in need.pots]
        return np.maximum.reduce(times) if len(times) > 1 else times[0]

    def limits(self, stage: Stage, drawn: bool) -> tuple[Array, Array]:
        """Until when ``stage`` comes out as planned, and in part; inf where it always does."""
        planned = in_part = np.full(self._draws.n, np.inf)
        for need in stage.needs:
            if need.pots:
                latest, part = need.limits(drawn)
                if latest < Trace.SET_UP:
                    planned = np.minimum(planned, self.first(need, Trace(latest + 1)))
                if part < Trace.SET_UP:
                    in_part = np.minimum(in_part, self.first(need, Trace(part + 1)))
        return planned, in_part


@dataclass(frozen=True, slots=True)
class _Ran:
    """One stage in every draw: arrays over draws, s since lye met oils."""

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
class _Run:
    """Stages run in every draw: arrays over draws, s since lye met oils."""

    batters: _Batters
    scented: dict[str, float | Array]
    clock: Array
    planned: Flags
    in_part: Flags
    """At least in part."""
    stages: list[_Ran]


def outlook(
    stages: Sequence[Stage],
    pots: Mapping[str, PotState],
    draws: Draws,
    pace: Pace,
    now: float = 0.0,
    begun: float | None = None,
    kept: Kept | None = None,
    risk: Risk = Risk.USUAL,
) -> Outlook:
    """Run ``stages`` from ``now`` on, in every draw. ``begun``: when the first of them began.

    ``kept``: what runs of the same draws share.
    """
    ran = _run(stages, pots, draws, pace, now, begun, kept)
    begins = _quantiles([stage.start for stage in ran.stages])
    ends = _quantiles([stage.end for stage in ran.stages])
    lasts = _quantiles([stage.lasts for stage in ran.stages])
    seen = tuple(
        StageOutlook(
            stage=stage.stage,
            begins_s=begins[i],
            ends_s=ends[i],
            lasts_s=lasts[i],
            chance=(right := float(np.mean(stage.end < stage.latest))),
            chance_in_part=float(np.mean(stage.end < stage.in_part)) - right,
            room_s=float(np.median(stage.latest)) - now,
        )
        for i, stage in enumerate(ran.stages)
    )
    worst = min(seen, key=lambda stage: stage.chance, default=None)
    thick = {name: _column(ran.batters.times(name), Trace.THICK) for name in pots}
    scented = {name: np.broadcast_to(at, draws.n) for name, at in ran.scented.items()}
    from_scent = [np.maximum(at - ran.scented.get(name, 0.0), 0.0) for name, at in thick.items()]
    from_now = [np.maximum(at - now, 0.0) for at in thick.values()]
    windows = _windows(ran, pots)
    found = _finish(ran, now)
    return Outlook(
        chance=found.chance,
        chance_in_part=found.chance_in_part,
        worth=worth(Become.WISH, found.chance, found.chance_in_part, risk),
        minutes=found.minutes,
        to_spare_s=_to_spare(ran),
        stages=seen,
        tightest=worst if worst and worst.chance < 1 else None,
        scented_s=dict(zip(scented, _quantiles(list(scented.values())), strict=True)),
        room_from_scent_s=dict(zip(thick, _quantiles(from_scent), strict=True)),
        room_s=dict(zip(thick, _quantiles(from_now), strict=True)),
        window_s=dict(zip(windows, _quantiles(list(windows.values())), strict=True)),
    )


def _to_spare(ran: _Run) -> float:
    spare = [stage.latest - stage.end for stage in ran.stages]
    return float(np.median(np.minimum.reduce(spare))) if spare else float("inf")


def _windows(ran: _Run, pots: Mapping[str, PotState]) -> dict[str, Array]:
    """When each pot that is still needed leaves the state its next need allows."""
    drawn = _wire([stage.stage for stage in ran.stages])
    found: dict[str, Array] = {}
    for i, stage in enumerate(ran.stages):
        for need in stage.stage.needs:
            latest, _ = need.limits(drawn=i < drawn)
            if latest < Trace.SET_UP:
                for pot in need.pots:
                    if pot not in found:
                        found[pot] = _column(ran.batters.times(pot), Trace(latest + 1))
    return {pot: found[pot] for pot in pots if pot in found}


def finish(
    stages: Sequence[Stage],
    pots: Mapping[str, PotState],
    draws: Draws,
    pace: Pace,
    now: float = 0.0,
    begun: float | None = None,
    kept: Kept | None = None,
) -> Finish:
    """Chances and median minutes alone, as ``outlook`` gives them, for comparing many ways."""
    return _finish(_run(stages, pots, draws, pace, now, begun, kept), now)


def _finish(ran: _Run, now: float) -> Finish:
    planned = float(np.mean(ran.planned))
    in_part = float(np.mean(ran.in_part)) - planned
    return Finish(planned, in_part, float(np.median(ran.clock) - now) / 60)


def traces(
    stages: Sequence[Stage], pots: Mapping[str, PotState], draws: Draws, pace: Pace
) -> tuple[Mapping[str, float], ...]:
    """Per stage, from the first on: the median trace state of each pot halfway through it."""
    ran = _run(stages, pots, draws, pace, 0.0, None)
    return tuple(
        {
            name: float(
                np.median(trace_at(ran.batters.times(name), 0.5 * (stage.start + stage.end)))
            )
            for name in pots
        }
        for stage in ran.stages
    )


def trace_at(times: Array, t: Array | float) -> Array:
    """Trace state of each batter at ``t``: 0 when lye meets oils, 1 at light trace, 4 from set up.

    ``times`` (n, 4): when it reaches light … set up, s. Between two of them the time decides.
    """
    passed, before = np.zeros(len(times)), np.zeros(len(times))
    for reached in times.T:
        passed += np.clip((t - before) / np.maximum(reached - before, 1e-9), 0.0, 1.0)
        before = reached
    return passed


def _run(
    stages: Sequence[Stage],
    pots: Mapping[str, PotState],
    draws: Draws,
    pace: Pace,
    now: float,
    begun: float | None,
    kept: Kept | None = None,
) -> _Run:
    n = draws.n
    scented = {name: p.fragrance_in for name, p in pots.items() if p.fragrance_in is not None}
    all_true = np.ones(n, dtype=bool)
    ran = _Run(_Batters(draws, pots, kept), dict(scented), np.full(n, now), all_true, all_true, [])
    wire = _wire(stages)
    alone = drawn = all_true  # in part without the wire, and with it
    for i, stage in enumerate(stages):
        in_hand = i == 0 and begun is not None
        spent = max(0.0, now - begun) if in_hand and begun is not None else 0.0
        start = ran.clock
        for need in stage.needs:
            if need.earliest > Trace.EMULSION and need.pots:
                start = np.maximum(start, ran.batters.last(need, need.earliest))
        median, spread = pace.duration(stage.action, stage.median_s, stage.spread)
        lasts = _durations(stage, median, spread, spent, n)
        end = start + lasts
        for pot in stage.scents:
            if pots[pot].fragrance_in is None:
                ran.scented[pot] = start - spent
                ran.batters.scent(pot, start - spent)
        if stage.blend_s > 0 and not _blended_already(stage, pots, begun if in_hand else None):
            ran.batters.blend(stage.pots, Blend(float(np.median(start)), stage.blend_s))
        latest, in_part = ran.batters.limits(stage, drawn=i < wire)
        ran.planned = ran.planned & (end < latest)
        if stage.draws_down:
            drawn = drawn & (end < in_part)
        elif not stage.can_be_left_out:
            drawn = drawn & (end < in_part)
            if i < wire and any(need.drawn for need in stage.needs):
                _, in_part_alone = ran.batters.limits(stage, drawn=False)
                alone = alone & (end < in_part_alone)
            else:
                alone = alone & (end < in_part)
        ran.stages.append(_Ran(stage, start, end, lasts, latest, in_part))
        ran.clock = end
    ran.in_part = alone | drawn if wire >= 0 else alone
    return ran


def _wire(stages: Sequence[Stage]) -> int:
    """The place of the last wire among ``stages``; -1: none."""
    return max((i for i, stage in enumerate(stages) if stage.draws_down), default=-1)


def _blended_already(stage: Stage, pots: Mapping[str, PotState], begun: float | None) -> bool:
    """Whether the blending meant within the stage in hand has been keyed in."""
    return begun is not None and any(
        blend.within(begun) for pot in stage.pots for blend in pots[pot].blends
    )


def _column(times: Array, state: Trace) -> Array:
    """When ``state`` is reached, of milestone times that end with set up."""
    return times[:, state - len(Trace)]


def _quantiles(values: Sequence[Array]) -> list[Quantiles]:
    """Of each of them; asked for all at once, which costs half."""
    if not values:
        return []
    found = np.quantile(np.stack(values), (0.1, 0.5, 0.9), axis=1).T
    return [Quantiles(*map(float, row)) for row in found]


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
