"""What each event does to a pour: its state folded from the log, or taken forward by one event.

A restart, an undo and an unbroken pour all come to the same state. An event that makes no sense
where it stands changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from soapbench.batter import Blend, Tap, Trace
from soapbench.log import Event, Kind, Outcome, Standing, outcome_of
from soapbench.plan import Plan
from soapbench.pour.state import (
    DoneStage,
    Note,
    PotState,
    PourState,
    TroubleSeen,
    awaited,
    blended_with,
    litres_of,
    opening,
)
from soapbench.swirls.cooking import cook_first
from soapbench.swirls.moves import moved
from soapbench.swirls.pouring import SET_IN, pouring_stages
from soapbench.swirls.stage import Stage
from soapbench.swirls.table import SwirlTable
from soapbench.troubles import NOT_TRACE, Trouble, trouble_of
from soapbench.words.acts import COOK

T = TypeVar("T")
MOST_OF_A_KIND = 1000
"""Notes, taps, looks or bursts of one pour that are counted, the last of them; no pour has a tenth
of it. A log that somebody made to be long must not hold up everything that reads it."""
BEFORE_LYE = (Kind.LYE_MEETS_OILS, Kind.WEIGHED_OUT, Kind.NOTE, Kind.SET_ASIDE)
"""What can have happened before lye meets oils."""


def state_of(plan: Plan, ml: Mapping[str, float], table: SwirlTable, facts: Standing) -> PourState:
    """The pour after ``facts``. ``ml``: each pot's batter, mL."""
    state = opening(plan, ml, table)
    for event in facts:
        state = after(state, event, plan, ml, table)
    return state


def after(
    state: PourState, event: Event, plan: Plan, ml: Mapping[str, float], table: SwirlTable
) -> PourState:
    """The state after one more event; an event that makes no sense here changes nothing."""
    t, pot = event.t, event.pot or ""
    if not state.begun and event.kind not in BEFORE_LYE:
        return state  # keyed after a start that was taken back
    match event.kind:
        case Kind.LYE_MEETS_OILS:
            return replace(state, begun=True, stage_begun=t)
        case Kind.STAGE_DONE | Kind.STAGE_SKIPPED:
            return _stage_done(state, event)
        case Kind.FRAGRANCE_IN if pot in state.pots:
            return _scented(state, pot, t)
        case Kind.TRACE_SEEN if pot in state.pots:
            return _tapped(state, pot, t, event.values.get("state"))
        case Kind.LOOK if pot in state.pots:
            return _looked(state, pot, t)
        case Kind.TROUBLE:
            return _trouble(state, event, trouble_of(event.values.get("trouble")))
        case Kind.BLENDER_ON:
            litres = litres_of(blended_with(state, event.pot), ml)
            return replace(state, blender_on=t, blending=event.pot, blending_l=litres)
        case Kind.BLEND_BURST:
            return _blended(replace(state, blender_on=None), event, ml)
        case Kind.NOTE:
            note = Note(t, event.pot, str(event.values.get("text", "")))
            state = replace(state, notes=_more(state.notes, note))
            return _trouble(state, event, trouble_of(note.text))
        case Kind.RESCUE_TAKEN:
            return _rescued(state, event, plan, ml, table)
        case Kind.POUR_ENDED:
            finished = event.values.get("finished") is True
            # The first release asked nothing: what it called finished came out as planned.
            usual = Outcome.AS_PLANNED if finished else Outcome.NO
            by_taps = outcome_of(event.values.get("by_taps")) or usual
            return replace(state, ended=t, finished=finished, by_taps=by_taps, by_maker=None)
        case Kind.OUTCOME:
            return replace(
                state, by_maker=outcome_of(event.values.get("outcome")) or state.by_maker
            )
        case Kind.SET_ASIDE:
            return replace(state, set_aside=event.values.get("aside") is not False)
        case Kind.WEIGHED_OUT:
            item = str(event.values.get("item", ""))
            return replace(state, weighed={**state.weighed, item: str(event.values.get("lot", ""))})
        case _:
            return state


def _with_pot(state: PourState, *pots: PotState) -> PourState:
    if not pots:
        return state
    return replace(state, pots={**state.pots, **{pot.name: pot for pot in pots}})


def _scented(state: PourState, pot: str, t: float) -> PourState:
    """The pot's fragrance is in: its stage, if that was still to come, is not asked for again."""
    was = state.pots[pot]
    if was.fragrance_in is not None:
        return _with_pot(state, replace(was, second_dose=t))
    state = _with_pot(state, replace(was, fragrance_in=t))
    over = [
        stage
        for stage in state.ahead[1:]
        if stage.fragrance_into
        and all(state.pots[p].fragrance_in is not None for p in stage.fragrance_into)
    ]
    return replace(
        state,
        done=(*state.done, *(DoneStage(stage, t, t) for stage in over)),
        ahead=tuple(stage for stage in state.ahead if stage not in over),
    )


def _stage_done(state: PourState, event: Event) -> PourState:
    ahead = state.ahead
    if ahead and ahead[0].action == SET_IN and event.values.get("stage") != ahead[0].id:
        ahead = ahead[1:]  # an older log knows no embeds once the swirl has become another
    stage = ahead[0] if ahead else None
    if stage is None or event.values.get("stage") != stage.id:
        return state
    skipped = event.kind is Kind.STAGE_SKIPPED
    begun = _handwork_began(state, stage, event.t)
    done = (*state.done, DoneStage(stage, begun, event.t, skipped))
    state = replace(state, done=done, ahead=ahead[1:], stage_begun=event.t)
    if skipped:
        return state
    # What nobody keyed in is taken to have happened as meant, when its stage began.
    late = [state.pots[p] for p in stage.fragrance_into if state.pots[p].fragrance_in is None]
    state = _with_pot(state, *(replace(pot, fragrance_in=begun) for pot in late))
    pots = [state.pots[p] for p in stage.pots]
    meant = _meant(stage, begun, event.t, pots)
    if meant is not None:
        state = _with_pot(state, *(replace(pot, blends=(*pot.blends, meant)) for pot in pots))
    if stage.puts:
        moved = [replace(state.pots[p], where=stage.puts, left_pot=event.t) for p in stage.pots]
        if stage.puts == "mould" and any(pot.where == "base" for pot in state.pots.values()):
            # What was poured into the base's pot goes into the mould with it.
            moved += [replace(p, where="mould") for p in state.pots.values() if p.where == "base"]
        state = _with_pot(state, *moved)
    return state


def _meant(stage: Stage, begun: float, done: float, pots: Sequence[PotState]) -> Blend | None:
    """The blending a stage was meant to hold, as far as it was not keyed."""
    keyed = any(blend.within(begun) for pot in pots for blend in pot.blends)
    if stage.blend_to is not None:
        to = max([stage.blend_to, *(pot.trace for pot in pots)])
        return Blend(done if keyed else begun, 0.0 if keyed else done - begun, stage.litres, to)
    if stage.blend_s and not keyed:
        return Blend(begun, min(stage.blend_s, done - begun), stage.litres)
    return None


def _handwork_began(state: PourState, stage: Stage, done: float) -> float:
    """When hands began on a stage: not before the trace state it had to wait for was seen."""
    tapped = (t for t in awaited(state, stage) if t is not None and t < done)
    return max([state.stage_begun, *tapped])


def _tapped(state: PourState, pot: str, t: float, value: object) -> PourState:
    """The tap is the pot's in hand; what still stands in one vessel with it looks the same."""
    if not isinstance(value, int) or not Trace.EMULSION <= value <= Trace.SET_UP or not state.begun:
        return state
    state, trace = _looked(state, pot, t, again=False), Trace(value)
    was = state.pots[pot]
    if trace < was.together:  # a correction: what was seen in the one vessel does not hold
        was = replace(was, together=Trace.EMULSION, together_t=None)
    others = [state.pots[name] for name in _beside(state, pot)]
    return _with_pot(
        state,
        replace(
            was, trace=trace, taps=_more(was.taps, Tap(t, trace)), trouble=_mended(was.trouble)
        ),
        *(
            replace(p, trace=trace, together=trace, together_t=t, trouble=_mended(p.trouble))
            for p in others
        ),
    )


def _more(before: tuple[T, ...], new: T) -> tuple[T, ...]:
    """With one more, the first of so many that no pour has them making place for it."""
    return (*before[-MOST_OF_A_KIND:], new)


def _beside(state: PourState, pot: str) -> tuple[str, ...]:
    """Other pots whose batter stands in one vessel with ``pot``'s."""
    together = state.together
    return tuple(name for name in together if name != pot) if pot in together else ()


def _looked(state: PourState, pot: str, t: float, again: bool = True) -> PourState:
    """``pot`` was looked at; ``again``: and found as before."""
    if not state.begun:
        return state
    looks = _more(state.pots[pot].looks, t) if again else state.pots[pot].looks
    return _with_pot(
        state,
        replace(state.pots[pot], looks=looks, looked=t),
        *(replace(state.pots[name], looked=t) for name in _beside(state, pot)),
    )


def _trouble(state: PourState, event: Event, trouble: Trouble | None) -> PourState:
    """Seizing counts as set up; what only looked like trace takes the pot back to its emulsion."""
    if trouble is None or not state.begun:
        return state
    happened = TroubleSeen(event.t, event.pot, trouble)
    state = replace(state, troubles=_more(state.troubles, happened))
    pot = event.pot
    if pot is None or pot not in state.pots:
        return state
    if trouble is Trouble.SEIZING:
        state = _tapped(state, pot, event.t, int(Trace.SET_UP))
    pots = [state.pots[name] for name in (pot, *_beside(state, pot))]
    if trouble in NOT_TRACE:
        pots = [_never_seen(was) for was in pots]
    return _with_pot(state, *(replace(was, trouble=trouble) for was in pots))


def _never_seen(pot: PotState) -> PotState:
    """The pot as if nothing of its trace had been seen: what had been was none."""
    blends = (b if b.to is None else replace(b, to=Trace.EMULSION) for b in pot.blends)
    return replace(
        pot, trace=Trace.EMULSION, taps=(), looks=(), blends=tuple(blends),
        together=Trace.EMULSION, together_t=None,
    )  # fmt: skip


def _blended(state: PourState, event: Event, ml: Mapping[str, float]) -> PourState:
    """A burst in the pot it names, and in all that ``blended_with`` it."""
    seconds = event.values.get("seconds")
    if not isinstance(seconds, int | float) or not 0 < seconds < 3600:
        return state
    names = blended_with(state, event.pot)
    reached = [p for p in (state.pots[name] for name in names) if len(p.blends) < MOST_OF_A_KIND]
    burst = Blend(event.t - seconds, float(seconds), litres_of(names, ml))
    return _with_pot(
        state,
        *(replace(p, blends=(*p.blends, burst), trouble=_mended(p.trouble)) for p in reached),
    )


def _mended(trouble: Trouble | None) -> Trouble | None:
    """What is left of a trouble once the batter was blended or a trace state seen again."""
    return None if trouble in NOT_TRACE else trouble


def _rescued(
    state: PourState, event: Event, plan: Plan, ml: Mapping[str, float], table: SwirlTable
) -> PourState:
    steps = event.values.get("steps")
    if not isinstance(steps, list) or not all(
        isinstance(step, str) and step in table.kinds for step in steps
    ):
        return state
    moves = event.values.get("moves")
    if tuple(steps) == state.steps and moves:
        ahead = state.ahead
    else:
        ahead = ahead_with(state, steps, plan, ml, table)
    for move in moves if isinstance(moves, list) else ():
        ahead = moved(ahead, str(move)) or ahead
    if not steps and any(pot.where == "pot" for pot in state.pots.values()):
        return state  # what is still in its pot cannot be left as it is
    same = ahead[:1] == state.ahead[:1]
    return replace(
        state,
        steps=tuple(steps),
        ahead=ahead,
        stage_begun=state.stage_begun if same else event.t,
        rescued=True,
        moves=(*state.moves, *map(str, moves if isinstance(moves, list) else ())),
    )


def ahead_with(
    state: PourState, steps: Sequence[str], plan: Plan, ml: Mapping[str, float], table: SwirlTable
) -> tuple[Stage, ...]:
    """All that is left to do when the swirl becomes ``steps`` from where the batter now is.

    Pour-offs, colours and fragrance still to do come first, of pots not poured out yet; what is
    to be cooked is cooked before them.
    """
    kinds = [table.kinds[name] for name in steps]
    before = [
        stage
        for stage in state.ahead
        if not stage.step and all(state.pots[pot].where == "pot" for pot in stage.pots)
    ]
    if any(kind.cooked for kind in kinds) and not any(
        stage.action == COOK for stage in (*before, *(d.stage for d in state.done))
    ):
        scraped = (*state.in_base, *state.in_mould)
        before = cook_first(before, scraped, plan, ml, table)
        return (*before, *pouring_stages(kinds, plan, ml, table))
    pouring = pouring_stages(kinds, plan, ml, table, state.in_mould, state.in_base)
    done = {d.stage.id for d in state.done if not d.stage.puts}
    # A mould done before is not worked again, nor are embeds that lie in it laid in twice.
    over = [s for s in pouring if s.id in done and (s.action == SET_IN or plan.mould.by_pots)]
    return (*before, *(stage for stage in pouring if stage not in over))
