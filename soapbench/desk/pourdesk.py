"""One pour at the station, without a screen: what the maker can do, and what the model says of it.

Every act answers with what became of it, in words for the maker.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from soapbench.batter import Trace
from soapbench.desk.pourlog import PourLog
from soapbench.log import Event, Kind, Outcome, Value
from soapbench.pour.bytaps import by_the_taps
from soapbench.pour.state import no_batter, not_there, same_pour
from soapbench.swirls.cooking import too_soon
from soapbench.words import answers as words
from soapbench.words.acts import NO_BATTER
from soapbench.words.troubles import VIEW_ONLY

if TYPE_CHECKING:
    from soapbench.advice.advise import Live
    from soapbench.advice.ways import SwirlChoice
    from soapbench.outlook.looks import Belief
    from soapbench.troubles import Trouble

SECOND_PRESS_S = (0.3, 15.0)
"""When a second press counts: later than a key bounces, before the first is forgotten (ours)."""
SILENCE_S, BLENDING_S = 10.0, 2.0
"""How often the model is asked again while nothing is keyed; while the blender runs (ours)."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of a key, and what to say of it."""

    logged: bool
    words: str
    typed_yes: bool = False
    """It is done only once the maker types yes."""


@dataclass
class Desk(PourLog):
    """A pour being done."""

    _cook_asked: str | None = field(default=None, init=False)
    """A cook keyed as done after moments, until its second press."""
    _asked: tuple[str, Trace, float] | None = field(default=None, init=False)
    """A tap that waits for its second press: pot, state, when it was first pressed."""

    # ---- acts

    def record(
        self, kind: Kind, pot: str | None = None, t: float | None = None, **values: Value
    ) -> Event | None:
        """Log one fact. Whatever was asked before is not wanted any more."""
        if kind is not Kind.WARNING_SHOWN:
            self._asked = None
        return super().record(kind, pot, t, **values)

    def lye_meets_oils(self) -> None:
        if not self.state.begun:
            self.record(Kind.LYE_MEETS_OILS)

    def stage_done(self, skipped: bool = False) -> Answer:
        """The stage in hand is done (or left out); after the last, the pour has ended.

        A cook keyed as done after moments counts with its second press.
        """
        stage = self.state.stage
        if stage is None:
            return Answer(False, "")
        asked, self._cook_asked = self._cook_asked, None
        why = too_soon(stage, self.now() - self.state.stage_begun)
        if why and not skipped and not self.watching and asked != stage.id:
            self._cook_asked = stage.id
            return Answer(False, why)
        if self.state.blender_on is not None:
            self.blender()
        kind = Kind.STAGE_SKIPPED if skipped else Kind.STAGE_DONE
        self.record(kind, stage.pots[0] if len(stage.pots) == 1 else None, stage=stage.id)
        if self.state.stage is None and self.state.ended is None:
            self.end(finished=True)
        return Answer(True, "")

    def end(self, finished: bool) -> None:
        if self.state.begun and self.state.ended is None:
            by_taps = by_the_taps(self.state, finished)
            self.record(Kind.POUR_ENDED, finished=finished, by_taps=by_taps.value)

    @property
    def outcome_wanted(self) -> bool:
        """Whether to ask how it came out: the pour is over, and nobody has told."""
        state = self.state
        return state.ended is not None and state.by_maker is None and not self.watching

    def tell_outcome(self, outcome: Outcome) -> Answer:
        """How it came out, at the end of the pour or again at the cut."""
        if self.state.ended is None:
            return Answer(False, words.NOT_OVER)
        return self._answered(
            Kind.OUTCOME, None, words.outcome_saved(outcome), outcome=outcome.value
        )

    def trace_seen(self, pot: str, state: Trace) -> Answer:
        """A state seen; one far from all that was foreseen counts with its second press."""
        if why := no_batter(self.state, pot):
            return Answer(False, why)
        believed = self.live.believed.get(pot) if self.live and not self.watching else None
        if believed and self._is_first_press(believed, pot, state):
            from soapbench.outlook.looks import before_foreseen

            early = before_foreseen(believed, state, self.now())
            return Answer(False, words.press_again(pot, state, early))
        return self._answered(Kind.TRACE_SEEN, pot, words.marked(pot, state), state=int(state))

    def _is_first_press(self, believed: Belief, pot: str, state: Trace) -> bool:
        """Whether this tap has to be pressed once more: it was not foreseen, nor asked about."""
        from soapbench.outlook.looks import unforeseen

        now, asked = self.now(), self._asked
        if not unforeseen(believed, state, now):
            return False
        bounces, forgotten = SECOND_PRESS_S
        since = now - asked[2] if asked and asked[:2] == (pot, state) else -1.0
        if bounces <= since <= forgotten:
            return False
        if not 0.0 <= since < bounces:
            self._asked = (pot, state, now)
        return True

    def drop_question(self) -> bool:
        """Forget a tap that waits for its second press; True if there was one."""
        asked, self._asked = self._asked, None
        return asked is not None and self.now() - asked[2] <= SECOND_PRESS_S[1]

    def look(self, pot: str) -> Answer:
        """Somebody looked into ``pot`` and found its trace as before."""
        if why := no_batter(self.state, pot):
            return Answer(False, why)
        return self._answered(Kind.LOOK, pot, words.still_at(pot, self.state.pots[pot].trace))

    @property
    def look_wanted(self) -> str | None:
        """The pot to be looked at now, if a look would tell something."""
        if self.live is None:
            return None
        from soapbench.outlook.looks import look_wanted

        asked = self.live.advice is not None and self.live.advice.asks
        return look_wanted(self.state, self.live.believed, self.now(), asked)

    def trouble(self, pot: str, trouble: Trouble) -> Answer:
        """Something goes wrong in ``pot``, or in the one vessel while it is not poured off; says
        what to do."""
        if not self.state.begun:
            return Answer(False, NO_BATTER)
        if pot in self.state.together:
            pot = self.state.base
        advice = words.to_do(pot, trouble)
        return self._answered(Kind.TROUBLE, pot, advice, trouble=trouble.value)

    def _answered(self, kind: Kind, pot: str | None, reply: str, **values: str | int) -> Answer:
        logged = self.record(kind, pot, t=None, **values) is not None
        return Answer(logged, reply if logged else VIEW_ONLY)

    def fragrance_in(self, pot: str, second: bool = False) -> Answer:
        """The pot's fragrance goes in now. Once it is in, only a ``second`` dose that the maker
        has asked for in so many words is logged."""
        state = self.state.pots[pot]
        if state.fragrance is None:
            return Answer(False, words.no_fragrance(pot))
        if why := not_there(self.state, pot):
            return Answer(False, why)
        if state.where == "mould":
            return Answer(False, words.in_the_mould(pot))
        if state.fragrance_in is not None and not second:
            ago = self.now() - state.fragrance_in
            return Answer(False, words.second_dose_asked(pot, ago), typed_yes=True)
        if state.fragrance_in is not None:
            return self._answered(Kind.FRAGRANCE_IN, pot, words.second_dose(pot), second=True)
        return self._answered(Kind.FRAGRANCE_IN, pot, words.fragrance_in(pot))

    def blender(self, pot: str | None = None) -> None:
        """Stick blender on, or off again: the burst is logged with its length.

        Before anything is poured off all pots are one batter; afterwards it is in ``pot`` alone.
        """
        since = self.state.blender_on
        if since is None:
            self.record(Kind.BLENDER_ON, pot if self.state.split else None)
        else:
            seconds = max(self.now() - since, 0.1)
            self.record(Kind.BLEND_BURST, self.state.blending, seconds=seconds)

    def note(self, pot: str | None, text: str) -> None:
        self.record(Kind.NOTE, pot, text=text)

    def take(self, choice: SwirlChoice) -> None:
        more = {"moves": list(choice.moves)} if choice.moves else {}
        self.record(
            Kind.RESCUE_TAKEN, None, None, steps=list(choice.steps), chance=choice.chance, **more
        )
        if self.state.rescued and self.state.stage is None:
            self.end(finished=True)  # nothing is left to do: left as it is

    def undo(self) -> Event | None:
        """Take back the last act that can be, the start too; says which.

        A start taken back stands again with the next undo, its clock having run on: nobody who
        presses once too often loses the time since lye.
        """
        if back := self._start_taken_back():
            self.record(Kind.UNDO, of=back.id)
            return back
        for event in reversed(self.facts):
            if event.kind is not Kind.WARNING_SHOWN:
                self.record(Kind.UNDO, event.pot, of=event.id)
                return event
        return None

    def _start_taken_back(self) -> Event | None:
        """The undo of the start, if nothing was keyed since."""
        last = self.log.events[-1] if self.log.events else None
        if self.state.begun or last is None or last.kind is not Kind.UNDO:
            return None
        of = last.values.get("of")
        start = any(e.id == of and e.kind is Kind.LYE_MEETS_OILS for e in self.log.events)
        return last if start else None

    def set_aside(self, aside: bool) -> Answer:
        """Whether this batch is to teach nothing; back again with False."""
        reply = words.SET_ASIDE if aside else words.COUNTS_AGAIN
        return self._answered(Kind.SET_ASIDE, None, reply, aside=aside)

    def drop(self) -> None:
        """It was no pour: its end and its start are taken back, and nothing follows from it."""
        for event in [*self.facts.of(Kind.POUR_ENDED), *self.facts.of(Kind.LYE_MEETS_OILS)]:
            self.record(Kind.UNDO, of=event.id)

    # ---- model

    @property
    def advise_every_s(self) -> float:
        """How often to ask again while nothing is keyed: silence tells something too, and a
        blender that runs uses up time by the second."""
        return BLENDING_S if self.state.blender_on is not None else SILENCE_S

    @property
    def overdue_s(self) -> float:
        """By how long the stage in hand has gone on past what nine of ten take; 0: it has not."""
        stage, began = self.state.stage, self.state.hands_began
        if stage is None or began is None or stage.blend_to is not None:
            return 0.0
        from soapbench.pace import Pace

        pace = self._known.pace if self._known else Pace()
        longest = pace.slow(stage.action, stage.median_s, stage.spread)
        return max(0.0, self.now() - began - longest)

    def advise(self) -> Live:
        """What the model says now. Pure in the state: may run on another thread."""
        from soapbench.advice.advise import live_advice

        now = self.now()
        return live_advice(
            self.batch, self.plan, self.amounts, self.known, self.state, now, self.live
        )

    def heed(self, live: Live) -> bool:
        """Take in advice worked out elsewhere; True when it warns for the first time.

        The warning is logged, so that how often warnings were right can be told.
        """
        if self.live and live.now < self.live.now:
            return False  # worked out before what is shown, and slower to come
        new = bool(live.warning) and not (self.live and self.live.warning)
        if self.live and same_pour(self.live.state, live.state):
            from soapbench.outlook.looks import counted_down

            passed = live.now - self.live.now
            live = replace(live, outlook=counted_down(self.live.outlook, live.outlook, passed))
        self.live = live
        if new and not self.watching:
            self.record(
                Kind.WARNING_SHOWN,
                chance=round(live.outlook.chance, 4),
                text=live.warning,
                rescue=live.rescue.name if live.rescue else "",
            )
        return new
