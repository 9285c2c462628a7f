"""Whether a pour can be finished: its remaining stages run through joint draws of the batter.

P(as planned) is the share of draws in which every stage starts after its earliest and ends before
its latest trace state; P(in part) that of the others in which each still ended before the state up
to which it comes out in part, a tool or a top left out at the worst. The hands wait where a stage
must not start yet; each draw is one batter and one run of the stages, in s since lye met oils.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from soapbench.batter import Trace
from soapbench.outlook.batters import Array, Flags, column, median, never, share, trace_at
from soapbench.outlook.running import Kept, Ran, Run, last_wire, run
from soapbench.outlook.worth import Become, worth
from soapbench.pace import Pace
from soapbench.pour.state import PotState
from soapbench.settings import Risk
from soapbench.swirls.stage import Stage
from soapbench.thickening.draws import Draws


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
    """Median time from now until its batter is past its latest state, that for in part where the
    outlook counts in part; inf where it has none."""


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
    in_part: bool
    """What is to spare counts up to where it still comes out in part: soap that is to be saved is
    saved then too, and what cannot come out as planned any more need not hurry for it."""
    saves: bool
    """It is poured so as to be saved, no more."""
    stages: tuple[StageOutlook, ...]
    tightest: StageOutlook | None
    """The stage whose batter is least likely to be right; None when nothing can fail."""
    fragrance_in_s: Mapping[str, Quantiles]
    """When each pot's fragrance goes in, s since lye met oils."""
    time_left_from_fragrance_s: Mapping[str, Quantiles]
    """Per pot: from its fragrance going in until thick trace; scentless: from lye meeting oils."""
    room_s: Mapping[str, Quantiles]
    """Per pot: from ``now`` until thick trace, at least 0, its fragrance going in as foreseen."""
    window_s: Mapping[str, Quantiles]
    """Per pot still needed: when it leaves the state its next need allows, s since lye met oils."""


LOST = 0.01
"""A chance below this is as good as none (ours)."""


@dataclass(frozen=True, slots=True)
class Finish:
    """How a way to finish is foreseen to come out, in short."""

    chance: float
    """P(as planned)."""
    chance_in_part: float
    minutes: float
    """Median time from now to the end of the last stage."""


ENOUGH = 1000
"""Draws that are enough for a tenth and a ninth decile that are shown to the second."""


def outlook(
    stages: Sequence[Stage],
    pots: Mapping[str, PotState],
    draws: Draws,
    pace: Pace,
    now: float = 0.0,
    begun: float | None = None,
    kept: Kept | None = None,
    risk: Risk = Risk.USUAL,
    become: Become = Become.WISH,
) -> Outlook:
    """Run ``stages`` from ``now`` on, in every draw. ``begun``: when the first of them began.

    ``kept``: what runs of the same draws share; ``become``: what the pour becomes by them.
    """
    ran = run(stages, pots, draws, pace, now, begun, kept)
    ending = _finish(ran, now)
    in_part = become is Become.SAVED or ending.chance < LOST <= ending.chance_in_part
    foreseen = _stages(ran.stages, in_part, now)
    worst = min(foreseen, key=lambda stage: _comes(stage, in_part), default=None)
    thick = {name: column(ran.batters.times(name), Trace.THICK) for name in pots}
    scented = {name: np.broadcast_to(at, draws.n) for name, at in ran.scented.items()}
    from_fragrance = [
        np.maximum(at - ran.scented.get(name, 0.0), 0.0) for name, at in thick.items()
    ]
    from_now = [np.maximum(at - now, 0.0) for at in thick.values()]
    windows = _windows(ran, pots, in_part)
    quantiles = iter(_quantiles([*scented.values(), *from_fragrance, *from_now, *windows.values()]))
    return Outlook(
        chance=ending.chance,
        chance_in_part=ending.chance_in_part,
        worth=worth(become, ending.chance, ending.chance_in_part, risk),
        minutes=ending.minutes,
        to_spare_s=_to_spare(ran, in_part),
        in_part=in_part,
        saves=become is Become.SAVED,
        stages=foreseen,
        tightest=worst if worst and _comes(worst, in_part) < 1 else None,
        fragrance_in_s={name: next(quantiles) for name in scented},
        time_left_from_fragrance_s={name: next(quantiles) for name in thick},
        room_s={name: next(quantiles) for name in thick},
        window_s={name: next(quantiles) for name in windows},
    )


def _stages(ran: Sequence[Ran], in_part: bool, now: float) -> tuple[StageOutlook, ...]:
    """Each stage as foreseen at ``now``."""
    begins, ends, lasts = _quantiles_of_stages(ran)
    limits = {
        i: limit for i, stage in enumerate(ran) if (limit := _limit(stage, in_part)) is not None
    }
    latest = _quantiles(list(limits.values()))
    room = {i: q.p50 for i, q in zip(limits, latest, strict=True)}
    return tuple(
        StageOutlook(
            stage=stage.stage,
            begins_s=begins[i],
            ends_s=ends[i],
            lasts_s=lasts[i],
            chance=(right := share(stage.end < stage.latest)),
            chance_in_part=share(stage.end < stage.in_part) - right,
            room_s=room.get(i, np.inf) - now,
        )
        for i, stage in enumerate(ran)
    )


def _comes(stage: StageOutlook, in_part: bool) -> float:
    """The chance that a stage comes out as planned, or ``in_part`` at least."""
    if not in_part:
        return stage.chance
    return 1.0 if stage.stage.can_be_left_out else stage.chance + stage.chance_in_part


def _limit(ran: Ran, in_part: bool) -> Array | None:
    """Until when a stage is not too late; None: it never is. In part a tool is left out."""
    limit = ran.in_part if in_part else ran.latest
    if limit is never(len(limit)) or (in_part and ran.stage.can_be_left_out):
        return None
    return limit


def _to_spare(ran: Run, in_part: bool) -> float:
    limits = [(stage.end, _limit(stage, in_part)) for stage in ran.stages]
    spare = [limit - end for end, limit in limits if limit is not None]
    return median(reduce(np.minimum, spare)) if spare else float("inf")


def _windows(ran: Run, pots: Mapping[str, PotState], in_part: bool) -> dict[str, Array]:
    """When each pot that is still needed leaves the state its next need allows."""
    drawn = last_wire([stage.stage for stage in ran.stages])
    windows: dict[str, Array] = {}
    for i, stage in enumerate(ran.stages):
        if in_part and stage.stage.can_be_left_out:
            continue
        for need in stage.stage.needs:
            latest = need.limits(drawn=i < drawn)[in_part]
            if latest < Trace.SET_UP:
                for pot in need.pots:
                    if pot not in windows:
                        windows[pot] = column(ran.batters.times(pot), Trace(latest + 1))
    return {pot: windows[pot] for pot in pots if pot in windows}


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
    return _finish(run(stages, pots, draws, pace, now, begun, kept), now)


@dataclass(frozen=True, slots=True)
class Each:
    """A way run in every draw, draw by draw: (n,) arrays, s since lye met oils."""

    planned: Flags
    in_part: Flags
    """At least in part."""
    ends: tuple[Array, ...]
    """Of each stage."""
    thickest: Callable[[float], Array]
    """Trace state of the thickest pot at a time, as ``trace_at`` has it."""


def each(
    stages: Sequence[Stage],
    pots: Mapping[str, PotState],
    draws: Draws,
    pace: Pace,
    now: float = 0.0,
    begun: float | None = None,
    kept: Kept | None = None,
) -> Each:
    """Every draw of a way, for telling what a look would tell."""
    ran = run(stages, pots, draws, pace, now, begun, kept)

    def thickest(t: float) -> Array:
        states = [trace_at(ran.batters.times(name), t) for name in pots]
        return reduce(np.maximum, states)

    return Each(ran.planned, ran.in_part, tuple(s.end for s in ran.stages), thickest)


def _finish(ran: Run, now: float) -> Finish:
    planned = share(ran.planned)
    in_part = share(ran.in_part) - planned
    return Finish(planned, in_part, (median(ran.clock) - now) / 60)


def traces(
    stages: Sequence[Stage], pots: Mapping[str, PotState], draws: Draws, pace: Pace
) -> tuple[Mapping[str, float], ...]:
    """Per stage, from the first on: the median trace state of each pot halfway through it."""
    ran = run(stages, pots, draws, pace, 0.0, None)
    return tuple(
        {
            name: float(
                np.median(trace_at(ran.batters.times(name), 0.5 * (stage.start + stage.end)))
            )
            for name in pots
        }
        for stage in ran.stages
    )


def _quantiles_of_stages(
    ran: Sequence[Ran],
) -> tuple[list[Quantiles], list[Quantiles], list[Quantiles]]:
    """Of when they begin, when they end and how long they last; most begin as another ends."""
    each = {id(a): a for stage in ran for a in (stage.start, stage.end, stage.lasts)}
    of = dict(zip(each, _quantiles(list(each.values())), strict=True))
    return (
        [of[id(stage.start)] for stage in ran],
        [of[id(stage.end)] for stage in ran],
        [of[id(stage.lasts)] for stage in ran],
    )


def _quantiles(values: Sequence[Array]) -> list[Quantiles]:
    """Of each of them, by at most a thousand or so of its draws."""
    if not values:
        return []
    step = max(1, len(values[0]) // ENOUGH)
    ordered = np.sort(np.stack([value[::step] for value in values]), axis=1)
    place = np.array([0.1, 0.5, 0.9]) * (ordered.shape[1] - 1)
    below = place.astype(np.intp)
    above = np.minimum(below + 1, ordered.shape[1] - 1)
    part = place - below
    rows = ordered[:, below] * (1.0 - part) + ordered[:, above] * part
    return [Quantiles(*row) for row in rows.tolist()]
