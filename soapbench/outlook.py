"""Whether a pour can be finished: its remaining stages run through joint draws of the batter.

P(finish) is the share of draws in which every stage starts after its earliest and ends before its
latest trace state. The hands wait where a stage must not start yet; each draw is one batter and
one run of the stages, in seconds since lye met oils.
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
from soapbench.thickening.draws import Draws, milestone_times, seconds_to

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
    room_s: float
    """Median time from now until its batter is past its latest state; inf where it has none."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """A pour, or what is left of one, as foreseen at ``now``."""

    chance: float
    """P(finish)."""
    minutes: float
    """Median time from now to the end of the last stage."""
    stages: tuple[StageOutlook, ...]
    tightest: StageOutlook | None
    """The stage whose batter is least likely to be right; None when nothing can fail."""
    scented_s: Mapping[str, Quantiles]
    """When each pot's fragrance goes in, s since lye met oils."""
    room_from_scent_s: Mapping[str, Quantiles]
    """Per pot: from its fragrance going in until thick trace; scentless: from lye meeting oils."""
    room_s: Mapping[str, Quantiles]
    """Per pot: from ``now`` until thick trace, at least 0, its fragrance going in as foreseen."""


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
        times = [self.times(pot)[:, state] for pot in need.pots]
        return np.minimum.reduce(times) if len(times) > 1 else times[0]

    def last(self, need: Need, state: Trace) -> Array:
        """When the last of the pots in ``need`` reaches ``state``."""
        times = [self.times(pot)[:, state] for pot in need.pots]
        return np.maximum.reduce(times) if len(times) > 1 else times[0]


@dataclass(slots=True)
class _Run:
    """Stages run in every draw: arrays over draws, s since lye met oils."""

    batters: _Batters
    scented: dict[str, float | Array]
    clock: Array
    fine: Flags
    stages: list[tuple[Stage, Array, Array, Array, Flags, Array]]
    """Stage, start, end, handwork, whether its batter was right at the end, when it stops being."""


def outlook(
    stages: Sequence[Stage],
    pots: Mapping[str, PotState],
    draws: Draws,
    pace: Pace,
    now: float = 0.0,
    begun: float | None = None,
    kept: Kept | None = None,
) -> Outlook:
    """Run ``stages`` from ``now`` on, in every draw. ``begun``: when the first of them began.

    ``kept``: what runs of the same draws share.
    """
    ran = _run(stages, pots, draws, pace, now, begun, kept)
    begins = _quantiles([start for _, start, _, _, _, _ in ran.stages])
    ends = _quantiles([end for _, _, end, _, _, _ in ran.stages])
    lasts = _quantiles([took for _, _, _, took, _, _ in ran.stages])
    seen = tuple(
        StageOutlook(
            stage=stage,
            begins_s=begins[i],
            ends_s=ends[i],
            lasts_s=lasts[i],
            chance=float(np.mean(right)),
            room_s=float(np.median(limit)) - now,
        )
        for i, (stage, _, _, _, right, limit) in enumerate(ran.stages)
    )
    worst = min(seen, key=lambda stage: stage.chance, default=None)
    thick = {name: ran.batters.times(name)[:, Trace.THICK] for name in pots}
    scented = {name: np.broadcast_to(at, draws.n) for name, at in ran.scented.items()}
    from_scent = [np.maximum(at - ran.scented.get(name, 0.0), 0.0) for name, at in thick.items()]
    from_now = [np.maximum(at - now, 0.0) for at in thick.values()]
    return Outlook(
        chance=float(np.mean(ran.fine)),
        minutes=float(np.median(ran.clock) - now) / 60,
        stages=seen,
        tightest=worst if worst and worst.chance < 1 else None,
        scented_s=dict(zip(scented, _quantiles(list(scented.values())), strict=True)),
        room_from_scent_s=dict(zip(thick, _quantiles(from_scent), strict=True)),
        room_s=dict(zip(thick, _quantiles(from_now), strict=True)),
    )


def finish(
    stages: Sequence[Stage],
    pots: Mapping[str, PotState],
    draws: Draws,
    pace: Pace,
    now: float = 0.0,
    begun: float | None = None,
    kept: Kept | None = None,
) -> tuple[float, float]:
    """P(finish) and median minutes alone, as ``outlook`` gives them, for comparing many ways."""
    ran = _run(stages, pots, draws, pace, now, begun, kept)
    return float(np.mean(ran.fine)), float(np.median(ran.clock) - now) / 60


def traces(
    stages: Sequence[Stage], pots: Mapping[str, PotState], draws: Draws, pace: Pace
) -> tuple[Mapping[str, float], ...]:
    """Per stage, from the first on: the median trace state of each pot halfway through it."""
    ran = _run(stages, pots, draws, pace, 0.0, None)
    return tuple(
        {
            name: float(np.median(trace_at(ran.batters.times(name), 0.5 * (start + end))))
            for name in pots
        }
        for _, start, end, *_ in ran.stages
    )


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
    ran = _Run(
        _Batters(draws, pots, kept), dict(scented), np.full(n, now), np.ones(n, dtype=bool), []
    )
    for i, stage in enumerate(stages):
        in_hand = i == 0 and begun is not None
        spent = max(0.0, now - begun) if in_hand and begun is not None else 0.0
        start = ran.clock
        for need in stage.needs:
            if need.earliest > Trace.EMULSION and need.pots:
                start = np.maximum(start, ran.batters.last(need, need.earliest))
        median, spread = pace.duration(stage.action, stage.median_s, stage.spread)
        lasts = _durations(stage, median, spread, spent, n)
        keyed = in_hand and _blended_already(stage, pots, begun)
        if stage.blend_to is not None:
            lasts = lasts + ran.batters.seconds_to(stage, start, 0.0 if keyed else spent)
        end = start + lasts
        for pot in stage.scents:
            if pots[pot].fragrance_in is None:
                ran.scented[pot] = start - spent
                ran.batters.scent(pot, start - spent)
        if stage.blend_to is not None:
            at, until = float(np.median(start)), float(np.median(end))
            ran.batters.blend(stage.pots, Blend(at, until - at, stage.litres, stage.blend_to))
        elif stage.blend_s > 0 and not keyed:
            at = float(np.median(start))
            ran.batters.blend(stage.pots, Blend(at, stage.blend_s, stage.litres))
        limit: Array = np.full(n, np.inf)
        for need in stage.needs:
            if need.latest < Trace.SET_UP and need.pots:
                limit = np.minimum(limit, ran.batters.first(need, Trace(need.latest + 1)))
        right = end < limit
        ran.fine &= right
        ran.stages.append((stage, start, end, lasts, right, limit))
        ran.clock = end
    return ran


def _blended_already(stage: Stage, pots: Mapping[str, PotState], begun: float | None) -> bool:
    """Whether the blending meant within the stage in hand has been keyed in."""
    return begun is not None and any(
        blend.within(begun) for pot in stage.pots for blend in pots[pot].blends
    )


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
