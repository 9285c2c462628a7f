"""A pour under way: its whole state, worked out from the plan and the log's events.

Nothing here is kept between events: ``state_of`` folds the log again each time, so a restart, an
undo and an unbroken pour all come to the same state.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TypeVar

from soapbench.batter import Blend, Tap, Trace, standing
from soapbench.log import Event, Kind, Standing
from soapbench.moves import moved
from soapbench.plan import Plan
from soapbench.stages import BEFORE_COOK, COOK, POUR_OFF, Stage, cook_stage, pouring_stages, stages
from soapbench.swirls import SwirlTable
from soapbench.troubles import NOT_TRACE, Trouble, trouble_of


class Outcome(StrEnum):
    """How the swirl came out: told at the end of a pour, and again at the cut."""

    AS_PLANNED = "as planned"
    IN_PART = "in part"
    NO = "no"


def outcome_of(said: object) -> Outcome | None:
    """The outcome a log names; None for anything else."""
    return Outcome(said) if isinstance(said, str) and said in tuple(Outcome) else None


@dataclass(frozen=True, slots=True)
class PotState:
    """One pot: what is in it, what was seen of it, where its batter is."""

    name: str
    trace: Trace = Trace.EMULSION
    taps: tuple[Tap, ...] = ()
    """Its own; before it was poured off, those of the batter it was in are another pot's."""
    together: Trace = Trace.EMULSION
    """What the batter it was in was last seen at before it was poured off, ``together_t`` when."""
    together_t: float | None = None
    fragrance: str | None = None
    fragrance_in: float | None = None
    """When its fragrance went in, the first dose if there were two, s."""
    second_dose: float | None = None
    """When the maker put it in once more, knowing so, s."""
    blends: tuple[Blend, ...] = ()
    where: str = "pot"
    """"pot", "mould", or "base" (poured into the base's pot)."""
    left_pot: float | None = None
    """When its batter was poured out of it."""
    looks: tuple[float, ...] = ()
    """When somebody looked and found its trace as before, s; its own, as ``taps`` are."""
    looked: float | None = None
    """When its batter was last looked at, whatever was seen, s; None: never."""
    trouble: Trouble | None = None
    """What last went wrong with it, while that stands."""

    @property
    def course(self) -> tuple[Blend, ...]:
        """Its bursts, and by when it was at each state it was seen in: a tap is a floor. What
        milestone times go by."""
        before = [] if self.together_t is None else [Tap(self.together_t, self.together)]
        first, _ = standing([*before, *self.taps])
        seen = (Blend(t, 0.0, 1.0, state) for state, t in first.items())
        return (*self.blends, *sorted(seen, key=lambda mark: mark.t))


@dataclass(frozen=True, slots=True)
class DoneStage:
    """A stage that is over: from when to when, s since lye met oils."""

    stage: Stage
    begun: float
    done: float
    skipped: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    t: float
    pot: str | None
    text: str


@dataclass(frozen=True, slots=True)
class TroubleSeen:
    t: float
    pot: str | None
    trouble: Trouble


@dataclass(frozen=True, slots=True)
class PourState:
    """Where a pour stands after its events so far."""

    steps: tuple[str, ...]
    done: tuple[DoneStage, ...]
    ahead: tuple[Stage, ...]
    """Stages not done yet; the first is in hand once lye has met oils."""
    pots: Mapping[str, PotState]
    begun: bool = False
    stage_begun: float = 0.0
    """When the stage in hand began, s."""
    base: str = ""
    """The pot the others are poured off from."""
    blender_on: float | None = None
    """Since when the blender runs, s; None: it is off."""
    blending: str | None = None
    """The pot the blender runs in; None: in all of them, not yet poured apart."""
    blending_l: float = 1.0
    """Litres it runs in."""
    notes: tuple[Note, ...] = ()
    ended: float | None = None
    finished: bool | None = None
    """Whether the pour came to the end of its stages; None until it has ended."""
    by_taps: Outcome | None = None
    """The outcome that the taps alone let expect, once ended."""
    told: Outcome | None = None
    """The outcome as the maker last told it, at the end or at the cut."""
    troubles: tuple[TroubleSeen, ...] = ()
    set_aside: bool = False
    """The maker wants nothing learned from this batch."""
    rescued: bool = False
    moves: tuple[str, ...] = ()
    """What was left out or put together to keep the swirl."""
    weighed: Mapping[str, str] = field(default_factory=dict)
    """What was set out and ticked, with its lot where given."""

    @property
    def stage(self) -> Stage | None:
        """The stage in hand; None before lye meets oils and after the last."""
        return self.ahead[0] if self.begun and self.ahead and self.ended is None else None

    @property
    def outcome(self) -> Outcome | None:
        """How it came out: as told, else as the taps let expect; None until it has ended."""
        return self.told or self.by_taps if self.ended is not None else None

    @property
    def last_look(self) -> Mapping[str, float]:
        """When each pot's batter was last tapped or looked at, s; left out: never."""
        return {name: pot.looked for name, pot in self.pots.items() if pot.looked is not None}

    @property
    def cooked(self) -> bool:
        """Whether it has been through a cook: soap, and no batter that could be at a trace."""
        return any(done.stage.action == COOK and not done.skipped for done in self.done)

    @property
    def hands_began(self) -> float | None:
        """When hands began on the stage in hand; None while it waits for what was not seen yet."""
        stage = self.stage
        seen = _awaited(self, stage) if stage else [None]
        if any(t is None for t in seen):
            return None
        return max([self.stage_begun, *(t for t in seen if t is not None)])

    @property
    def together(self) -> tuple[str, ...]:
        """Pots whose batter still stands in one vessel: the base's, and those to be poured off."""
        apart = {
            pot
            for done in self.done
            if done.stage.action == POUR_OFF and not done.skipped
            for pot in done.stage.pots
        }
        return tuple(
            name for name, pot in self.pots.items() if name not in apart and pot.where == "pot"
        )

    @property
    def split(self) -> bool:
        """Whether any pot has been poured off."""
        return any(done.stage.action == POUR_OFF and not done.skipped for done in self.done)

    @property
    def in_mould(self) -> tuple[str, ...]:
        return tuple(name for name, pot in self.pots.items() if pot.where == "mould")

    @property
    def in_base(self) -> tuple[str, ...]:
        return tuple(name for name, pot in self.pots.items() if pot.where == "base")


def opening(plan: Plan, ml: Mapping[str, float], table: SwirlTable) -> PourState:
    """A pour of which nothing has happened yet."""
    in_oils = any(f.goes_into == "oils" for f in plan.fragrance)
    pots = {}
    for pot in plan.pots:
        fragrance = plan.fragrance_of(pot.name)
        pots[pot.name] = PotState(
            pot.name,
            fragrance=fragrance.name if fragrance else None,
            fragrance_in=0.0 if fragrance and in_oils else None,
        )
    return PourState(
        tuple(plan.swirl.steps), (), stages(plan, ml, table), pots, base=plan.base.name
    )


def no_batter(state: PourState, pot: str) -> str:
    """Why no trace state can be seen in ``pot`` now; empty when its batter is there to look at."""
    if state.begun and state.ended is None and state.cooked:
        return "Cooked soap has no trace"
    return not_there(state, pot)


def not_there(state: PourState, pot: str) -> str:
    """Why ``pot`` holds nothing of its own now; empty when it does."""
    if not state.begun:
        return "No batter yet: press it once the lye is in the oils"
    if state.ended is not None:
        return "The pour is over"
    if pot != state.base and pot in state.together:
        return f"{pot} is not poured off yet: mark {state.base}"
    if state.pots[pot].where == "base":
        return f"{pot} is in the pot of {state.base}: mark {state.base}"
    return ""


MOST_OF_A_KIND = 1000
"""Notes, taps, looks or bursts of one pour that are counted, the last of them; no pour has a tenth
of it. A log that somebody made to be long must not hold up everything that reads it."""
T = TypeVar("T")
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
            return replace(state, ended=t, finished=finished, by_taps=by_taps, told=None)
        case Kind.OUTCOME:
            return replace(state, told=outcome_of(event.values.get("outcome")) or state.told)
        case Kind.SET_ASIDE:
            return replace(state, set_aside=event.values.get("aside") is not False)
        case Kind.WEIGHED_OUT:
            item = str(event.values.get("item", ""))
            return replace(state, weighed={**state.weighed, item: str(event.values.get("lot", ""))})
        case _:
            return state


def _with_pot(state: PourState, *pots: PotState) -> PourState:
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
    stage = state.ahead[0] if state.ahead else None
    if stage is None or event.values.get("stage") != stage.id:
        return state
    skipped = event.kind is Kind.STAGE_SKIPPED
    begun = _handwork_began(state, stage, event.t)
    done = (*state.done, DoneStage(stage, begun, event.t, skipped))
    state = replace(state, done=done, ahead=state.ahead[1:], stage_begun=event.t)
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


def _awaited(state: PourState, stage: Stage) -> list[float | None]:
    """When each trace state that a stage has to wait for was first seen; None: not yet."""
    found: list[float | None] = []
    for name, earliest in stage.waits:
        pot = state.pots[name]
        seen = (tap.t for tap in pot.taps if tap.state >= earliest)
        found.append(next(seen, 0.0 if pot.together >= earliest else None))
    return found


def _handwork_began(state: PourState, stage: Stage, done: float) -> float:
    """When hands began on a stage: not before the trace state it had to wait for was seen."""
    seen = (t for t in _awaited(state, stage) if t is not None and t < done)
    return max([state.stage_begun, *seen])


def _tapped(state: PourState, pot: str, t: float, seen: object) -> PourState:
    """The tap is the pot's in hand; what still stands in one vessel with it looks the same."""
    if not isinstance(seen, int) or not Trace.EMULSION <= seen <= Trace.SET_UP or not state.begun:
        return state
    state, trace = _looked(state, pot, t, again=False), Trace(seen)
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


def _more(seen: tuple[T, ...], new: T) -> tuple[T, ...]:
    """With one more, the first of so many that no pour has them making place for it."""
    return (*seen[-MOST_OF_A_KIND:], new)


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
    seen = TroubleSeen(event.t, event.pot, trouble)
    state = replace(state, troubles=_more(state.troubles, seen))
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


def blended_with(state: PourState, pot: str | None) -> list[str]:
    """What a burst reaches: the pot named and all that stands in one vessel with it; with none
    named, every pot."""
    if pot is None or pot not in state.pots:
        return list(state.pots)
    return list(state.together) if pot in state.together else [pot]


def litres_of(pots: Iterable[str], ml: Mapping[str, float]) -> float:
    """Batter of ``pots`` together, litres."""
    return sum(ml[name] for name in pots) / 1000 or 1.0


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
        early = [s for s in before if s.action in BEFORE_COOK]
        before = [*early, cook_stage(plan, ml, table), *(s for s in before if s not in early)]
    return (*before, *pouring_stages(kinds, plan, ml, state.in_mould, state.in_base))


def same_pour(one: PourState, other: PourState) -> bool:
    """Whether two states differ in nothing but their notes."""
    return replace(one, notes=()) == replace(other, notes=())
