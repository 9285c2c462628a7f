"""A pour under way as one value: where each pot and each stage stands.

Nothing of it is kept: ``events`` works it out from the plan and the log's events.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from soapbench.batter import Blend, Tap, Trace, standing
from soapbench.figures import LONGEST_POUR_S
from soapbench.log import Outcome
from soapbench.plan import Plan
from soapbench.swirls.stage import Stage
from soapbench.swirls.stages import stages
from soapbench.swirls.table import SwirlTable
from soapbench.troubles import Trouble
from soapbench.words.acts import (
    COOK,
    COOKED_NO_TRACE,
    IN_BASE_POT,
    NO_BATTER,
    NOT_POURED_OFF,
    POUR_OFF,
    POUR_OVER,
)


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
        marks = (Blend(t, 0.0, 1.0, state) for state, t in first.items())
        return (*self.blends, *sorted(marks, key=lambda mark: mark.t))


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
    by_maker: Outcome | None = None
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
    def last_s(self) -> float:
        """When it ended; else when the stage last done was, s."""
        return (
            self.ended if self.ended is not None else max((d.done for d in self.done), default=0.0)
        )

    @property
    def outcome(self) -> Outcome | None:
        """How it came out: as told, else as the taps let expect; None until it has ended."""
        return self.by_maker or self.by_taps if self.ended is not None else None

    @property
    def came_to_something(self) -> bool:
        """Whether it was finished, or is told to have come out at least in part."""
        return bool(self.finished) or self.outcome is not Outcome.NO

    def left_alone(self, now: float) -> bool:
        """Whether nobody pours this any more although it has not ended: no batter lasts so long."""
        return self.begun and self.ended is None and now > LONGEST_POUR_S

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
        ready = awaited(self, stage) if stage else [None]
        if any(t is None for t in ready):
            return None
        return max([self.stage_begun, *(t for t in ready if t is not None)])

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
    in_oils = any(f.in_oils for f in plan.fragrance)
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
        return COOKED_NO_TRACE
    return not_there(state, pot)


def not_there(state: PourState, pot: str) -> str:
    """Why ``pot`` holds nothing of its own now; empty when it does."""
    if not state.begun:
        return NO_BATTER
    if state.ended is not None:
        return POUR_OVER
    if pot != state.base and pot in state.together:
        return NOT_POURED_OFF.format(pot=pot, base=state.base)
    if state.pots[pot].where == "base":
        return IN_BASE_POT.format(pot=pot, base=state.base)
    return ""


def awaited(state: PourState, stage: Stage) -> list[float | None]:
    """When each trace state that a stage has to wait for was first seen; None: not yet."""
    times: list[float | None] = []
    for name, earliest in stage.waits:
        pot = state.pots[name]
        reached = (tap.t for tap in pot.taps if tap.state >= earliest)
        times.append(next(reached, 0.0 if pot.together >= earliest else None))
    return times


def blended_with(state: PourState, pot: str | None) -> list[str]:
    """What a burst reaches: the pot named and all that stands in one vessel with it; with none
    named, every pot."""
    if pot is None or pot not in state.pots:
        return list(state.pots)
    return list(state.together) if pot in state.together else [pot]


def litres_of(pots: Iterable[str], ml: Mapping[str, float]) -> float:
    """Batter of ``pots`` together, litres."""
    return sum(ml[name] for name in pots) / 1000 or 1.0


def same_pour(one: PourState, other: PourState) -> bool:
    """Whether two states differ in nothing but their notes."""
    return replace(one, notes=()) == replace(other, notes=())
