"""What one batch's log teaches: a history for the model, timed stages, how the chance came out.

Worked out from the log alone, and plain enough for an index that can be thrown away.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from math import isfinite
from sys import intern
from typing import Any

from soapbench.advice.known import mix_of
from soapbench.aftercare import resting
from soapbench.aftercare.cutreview import Verdict, reaches, verdict_of
from soapbench.aftercare.resting import AFTER_KINDS, Resting
from soapbench.aftercare.soapkind import salt_of
from soapbench.batter import (
    BatchHistory,
    Blend,
    FragranceWord,
    Mix,
    PotHistory,
    Reputation,
    Tap,
    Trace,
)
from soapbench.figures import LONGEST_POUR_S, Figures
from soapbench.log import Kind, Outcome, Standing, outcome_of
from soapbench.outlook.finishing import Outlook
from soapbench.pace import Timed, plausible
from soapbench.plan import Plan
from soapbench.plan.reader import read_poured
from soapbench.pour.events import state_of
from soapbench.pour.history import history, timed
from soapbench.pour.state import PourState
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.sinking import Drop, drops_of
from soapbench.swirls.table import SwirlTable


@dataclass(frozen=True, slots=True)
class Ended:
    """A pour that has ended: the chance it was given before, and what came of it."""

    batch: str
    steps: tuple[str, ...]
    """Of the plan."""
    poured: tuple[str, ...]
    """As it was finished."""
    fragrances: tuple[str, ...]
    chance: float | None
    """Foreseen before lye met oils; None: not known."""
    as_planned: bool
    """Came out as planned with the plan's own steps, nothing left out."""
    finished: bool
    verdict: str = ""
    """The maker's word at the cut, one of ``cutreview.VERDICTS``; empty until then."""
    next_time: str = ""
    """The maker's words on what to pour next time."""
    next_swirl: tuple[str, ...] = ()
    """Swirl steps the maker would pour with it next time; empty: not said."""
    came: Outcome | None = None
    """How the way it was finished came out, as told, else by the taps; None: not known."""
    warned: bool = False
    """The tool warned while it was poured."""
    followed: bool = False
    """The maker went over to another way once warned."""
    thickened: bool | None = None
    """Whether some pot was tapped thick before the end, as warned of; None: nobody tapped."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """All one log teaches. ``ended`` None: the pour has not ended, or the maker set it aside."""

    history: BatchHistory
    timed: tuple[Timed, ...]
    ended: Ended | None
    resting: Resting | None = None
    """The batch after its pour; None until it has ended."""
    drops: tuple[Drop, ...] = ()
    """Colours dropped into the base, and how far they came by the cut review."""


def foreseen_figures(amounts: Amounts, plan: Plan, outlook: Outlook | None) -> Figures:
    """What a log's header keeps of the figures shown before the pour; ``outlook`` None: only what
    the scales tell."""
    weighed = Figures(
        mix=mix_of(plan, amounts),
        water_share=round(amounts.all_water_g / amounts.batter_g, 5),
        pot_ml={name: round(ml, 2) for name, ml in pot_ml(amounts).items()},
        salt=salt_of(amounts),
        heats=tuple(a.name for a in amounts.additives if a.facts.heats),
    )
    if outlook is None:
        return weighed
    return replace(
        weighed,
        chance=round(outlook.chance, 4),
        minutes=round(outlook.minutes, 2),
        stage_s={s.stage.id: round(s.lasts_s.p50, 1) for s in outlook.stages},
        stage_at_s={s.stage.id: round(s.begins_s.p50, 1) for s in outlook.stages},
        room_s={name: round(q.p50, 1) for name, q in outlook.time_left_from_fragrance_s.items()},
    )


def lesson(
    batch: str,
    tables: Mapping[str, Any],
    foreseen: Figures,
    facts: Standing,
    swirls: SwirlTable,
) -> Lesson | None:
    """The lesson of one log; None when lye never met oils or its header cannot be used.

    ``tables`` is the plan in the header. Raises ValueError (pydantic's) for a plan no longer valid.
    """
    mix, ml = foreseen.mix, foreseen.pot_ml
    lye = facts.first(Kind.LYE_MEETS_OILS)
    if not mix or not ml or lye is None:
        return None
    plan = _plan(tables)
    if set(ml) != {pot.name for pot in plan.pots} or any(
        name not in swirls.kinds for name in plan.swirl.steps
    ):
        return None
    state = state_of(plan, ml, swirls, facts)
    pouring = [e.t for e in facts[facts.index(lye) :] if e.kind not in AFTER_KINDS]
    # A note weeks later is of the bars, not of the batter.
    times = [t for t in pouring if state.ended is None or t <= state.ended]
    watched = min(times) >= 0 and max(times) <= LONGEST_POUR_S
    rests = resting.resting_of(batch, plan, foreseen, facts, state.steps, swirls)
    course = history(batch, plan, mix, state, max(times))
    if state.set_aside:
        return Lesson(replace(course, pots=()), (), None, rests)
    ended = _came_out(batch, plan, foreseen, state, facts)
    if not watched:  # left and ended days later, or its clocks were wrong: nobody saw the batter
        return Lesson(replace(course, pots=()), (), ended, rests)
    drops = drops_of(plan, state, swirls, reaches(facts))
    return Lesson(course, handwork(state), ended, rests, drops)


def late_taps(facts: Standing) -> list[float]:
    """How late each tap of a rehearsal came, s: all that rehearsals teach. Below 0: too early."""
    judged = facts.last(Kind.TAPS_JUDGED)
    listed = judged.values.get("late_s") if judged else None
    if not isinstance(listed, list):
        return []
    return [float(late) for late in listed if isinstance(late, int | float) and isfinite(late)]


def _came_out(
    batch: str, plan: Plan, foreseen: Figures, state: PourState, facts: Standing
) -> Ended | None:
    if state.ended is None:
        return None
    verdict = verdict_of(facts) or Verdict("")
    skipped = any(d.skipped and d.stage.step for d in state.done)
    as_planned = state.outcome is Outcome.AS_PLANNED
    warning, taken = facts.first(Kind.WARNING_SHOWN), facts.first(Kind.RESCUE_TAKEN)
    taps = [tap.state for pot in state.pots.values() for tap in pot.taps]
    return Ended(
        batch=batch,
        steps=tuple(plan.swirl.steps),
        poured=state.steps,
        fragrances=tuple(f.name for f in plan.fragrance),
        chance=foreseen.chance,
        as_planned=as_planned and not state.rescued and not skipped,
        finished=bool(state.finished),
        verdict=verdict.verdict,
        next_time=verdict.next_time,
        next_swirl=verdict.next_swirl,
        came=state.outcome,
        warned=warning is not None,
        followed=warning is not None and taken is not None and taken.t >= warning.t,
        thickened=max(taps) >= Trace.THICK if taps else None,
    )


def handwork(state: PourState) -> tuple[Timed, ...]:
    """The stages that the maker's pace is learned from: none of a pour most of whose stages took
    impossibly long or short, for it was keyed in afterwards or left lying about."""
    times = timed(state)
    sound = tuple(filter(plausible, times))
    return sound if 2 * len(sound) > len(times) else ()


def _plan(tables: Mapping[str, Any]) -> Plan:
    """The plan of a header: one that was poured before is not checked again."""
    try:
        text = json.dumps(tables)
    except (TypeError, ValueError):
        return read_poured(dict(tables))  # holds what no plan does, and is refused
    return _plan_in(text)


@lru_cache(maxsize=256)
def _plan_in(text: str) -> Plan:
    return read_poured(json.loads(text))


def as_data(taught: Lesson) -> list[Any]:
    """A lesson as plain values that JSON holds; by place, for an index holds thousands.

    ``msgspec`` would read them straight into these values in an eighth of the time (4 for 33 ms,
    200 lessons): to be taken up with the locks, if benches of thousands are felt to be slow.
    """
    watched, came = taught.history, taught.ended
    pots = [
        [
            pot.name,
            pot.until,
            pot.fragrance,
            pot.fragrance_in,
            [[b.t, b.seconds, b.litres, b.to] for b in pot.blends],
            [[tap.t, tap.state.value] for tap in pot.taps],
            pot.together.value,
            pot.keyed,
        ]
        for pot in watched.pots
    ]
    return [
        watched.batch,
        [watched.mix.batter_c, watched.mix.concentration, watched.mix.saturated, watched.mix.hurry],
        pots,
        [[f.name, f.reputation.value, f.lot, f.load] for f in watched.fragrances],
        [[stage.action, stage.table_s, stage.took_s, stage.spread] for stage in taught.timed],
        [getattr(came, field.name) for field in fields(came)] if came else None,
        resting.as_data(taught.resting) if taught.resting else None,
        [[drop.pot, drop.trace, drop.reached] for drop in taught.drops],
    ]


def from_data(data: Sequence[Any]) -> Lesson:
    """A lesson from ``as_data``'s values. Raises LookupError, TypeError, ValueError or
    AttributeError for anything else.
    """
    batch, mix, pots, words, stages, came, rests, drops = data
    pots_watched = tuple(
        PotHistory(
            intern(name),
            until,
            intern(fragrance) if fragrance else fragrance,
            fragrance_in,
            tuple([Blend(t, s, litres, _state(to)) for t, s, litres, to in blends]),
            tuple([Tap(t, _TRACES[state]) for t, state in taps]),
            _TRACES[together],
            keyed,
        )
        for name, until, fragrance, fragrance_in, blends, taps, together, keyed in pots
    )
    fragrances = tuple(
        [FragranceWord(name, Reputation(sold), *rest) for name, sold, *rest in words]
    )
    return Lesson(
        BatchHistory(batch, Mix(*mix), pots_watched, fragrances),
        tuple([Timed(intern(action), *rest) for action, *rest in stages]),
        _ended(came) if came else None,
        resting.from_data(rests) if rests else None,
        tuple([Drop(pot, trace, tuple(reached)) for pot, trace, reached in drops]),
    )


_TRACES = tuple(Trace)


def _state(value: int | None) -> Trace | None:
    return None if value is None else _TRACES[value]


def _ended(values: Iterable[Any]) -> Ended:
    plain: Any = [tuple(value) if isinstance(value, list) else value for value in values]
    came = Ended(*plain)
    return replace(came, came=outcome_of(came.came))
