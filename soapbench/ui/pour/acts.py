"""What each key of the pour does: to the log first, then to the words that say so."""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING, ClassVar, TypeVar

from textual.binding import Binding, BindingType

from soapbench.batter import Trace
from soapbench.desk.keys import (
    ACTS,
    LEAVE,
    NAMED,
    OUTCOME_KEYS,
    POUR,
    TAKE_OVER,
    Act,
    came_out,
    keymap,
)
from soapbench.desk.onebutton import HOW_IT_WENT, Gesture, Presses, act_of, pressed
from soapbench.pour.state import same_pour
from soapbench.reading.safetext import clean
from soapbench.settings import USUAL, Settings
from soapbench.ui.basescreen import BaseScreen, failure_words
from soapbench.ui.dialogs import Ask, KeysHelp, Words
from soapbench.ui.logwords import take_over
from soapbench.ui.pour.aloud import Aloud
from soapbench.ui.pour.facts import Facts, awaited
from soapbench.ui.ways import LeaveSetOut
from soapbench.words import pouring as words
from soapbench.words.acts import LYE_IN, POUR_OFF
from soapbench.words.answers import undone_words
from soapbench.words.quantities import degrees
from soapbench.words.troubles import VIEW_ONLY

if TYPE_CHECKING:
    from collections.abc import Callable

    from soapbench.desk.pourdesk import Desk
    from soapbench.log import Event

T = TypeVar("T")
WHILE_WATCHING = ("help", "far", "pot_up", "pot_down")
"""What can be done to a pour that runs in another window."""


class PourActs(BaseScreen[None]):
    """A pour and its keys; how it is drawn and when the model is asked is ``PourScreen``'s."""

    takes_early_keys = True
    BINDINGS: ClassVar[list[BindingType]] = [
        # Of two on one key the first that holds now: what is asked goes before any act.
        *(
            Binding(key, f"came_out('{key}')", show=False, id=POUR + came_out(key))
            for key in OUTCOME_KEYS
        ),
        Binding(TAKE_OVER, "take_over", show=False, id=f"{POUR}take_over"),
        *(
            Binding(act.key, f"act('{act.name}')", act.short or act.words, id=POUR + act.name)
            for act in ACTS
        ),
        Binding(LEAVE, "leave", "bench", id=f"{POUR}leave"),
    ]

    def __init__(self, desk: Desk, settings: Settings = USUAL) -> None:
        super().__init__()
        self.desk = desk
        self._settings = settings
        self._keys = keymap(settings.keys)
        self._hand = desk.plan.base.name
        self._trouble = ""
        self._said = ""
        self._said_at = 0.0
        self._far = desk.watching
        """Only what must be seen from across the room."""
        self._aloud = Aloud(settings.sound)
        self._button = Presses()
        self._foot_s: Callable[[], float] = monotonic
        """Seconds as a foot knows them: a rehearsal's clock runs faster."""

    def facts(self) -> Facts:
        """What is shown now, as one value."""
        raise NotImplementedError

    def _render_now(self) -> None:
        raise NotImplementedError

    def _ask_model(self) -> None:
        raise NotImplementedError

    @property
    def asks(self) -> bool:
        """Whether how it came out is asked now."""
        return self.desk.outcome_wanted

    def _say(self, words: str) -> None:
        self._said_at = self.desk.now()
        self._said = degrees(clean(words, 400), self._settings)

    def _guarded(self, act: Callable[[], T]) -> T | None:
        """Do ``act``. A fault of this program is told and the pour goes on: the one place for it.

        The log is durable whatever the screen does, and a pot in hand cannot wait for a repair.
        """
        try:
            return act()
        except Exception as error:  # noqa: BLE001 - whatever it is, it must not end the pour
            self._meet(error)
            return None

    def _meet(self, error: Exception) -> None:
        trouble = words.GOES_ON.format(why=failure_words(error))
        self._trouble = clean(trouble, 120)
        self.app.met(error)

    # ---- keys

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Which keys act now; None: one that is known, but not while somebody else pours."""
        if action == "came_out":
            return self.asks
        if action == "take_over":
            return self.desk.watching
        if action == "act" and self.desk.watching and parameters[0] not in WHILE_WATCHING:
            return None
        return True

    def without_effect(self) -> None:
        self._say(VIEW_ONLY)
        self._guarded(self._render_now)

    def action_came_out(self, key: str) -> None:
        self._guarded(lambda: self._say(self.desk.tell_outcome(OUTCOME_KEYS[key]).words))
        self._guarded(self._render_now)

    def action_take_over(self) -> None:
        self._guarded(lambda: take_over(self.app, self.desk, self._taken_over))

    def action_leave(self) -> None:
        self._guarded(self._leave)

    def action_act(self, name: str) -> None:
        if name == "done" and self._one_button:
            self._button, gesture = pressed(self._button, self._foot_s())
            self._meant(gesture)
        else:
            self._key(NAMED[name])

    def _meant(self, gesture: Gesture | None) -> None:
        """Do what one button meant, and say what came of it."""
        if gesture is None:
            return
        self._trouble = ""
        answers = self.asks
        if answers:
            self._guarded(lambda: self._say(self.desk.tell_outcome(HOW_IT_WENT[gesture]).words))
        elif (name := act_of(gesture, self._warned)) == "next trace":
            self._hand = self.desk.look_wanted or self._hand
            after = min(self.desk.state.pots[self._hand].trace + 1, Trace.SET_UP)
            self._guarded(lambda: self._do(NAMED[f"trace{after + 1}"]))
        else:
            self._guarded(lambda: self._do(NAMED[name]))
        if gesture is not Gesture.SHORT or answers:  # the next act is said by itself
            self._aloud.first(self._said)
        self._guarded(self._render_now)

    @property
    def _one_button(self) -> bool:
        return self._settings.pedal == "one button"

    @property
    def _warned(self) -> bool:
        backup = self.facts().backup
        return backup is not None and backup.warns

    def _key(self, act: Act) -> None:
        self._trouble = ""
        self._guarded(lambda: self._do(act))
        self._guarded(self._render_now)

    def _taken_over(self, taken: bool) -> None:
        self._say(words.TAKEN if taken else words.STILL_THEIRS)
        self._far = self._far and not taken
        self._key_rows = 0
        self._follow_hand()
        self._guarded(self._render_now)

    def _do(self, act: Act) -> None:
        desk, pot = self.desk, self._hand
        if act.note:
            desk.note(pot, act.note)
            self._say(words.NOTED.format(pot=pot, note=act.note))
            return  # a note changes nothing that the model knows
        elif act.trouble:
            self._say(desk.trouble(pot, act.trouble).words)
        elif act.name == "done":
            self._done()
        elif act.name.startswith("trace"):
            self._say(desk.trace_seen(pot, Trace(int(act.name[-1]) - 1)).words)
        elif act.name == "look":
            self._say(desk.look(pot).words)
        elif act.name in ("pot_up", "pot_down"):
            names = list(desk.state.pots)
            step = -1 if act.name == "pot_up" else 1
            self._hand = names[(names.index(pot) + step) % len(names)]
            return
        elif act.name == "fragrance":
            self._fragrance_in(pot)
        elif act.name == "blender":
            on = desk.state.blender_on is None
            desk.blender(pot)
            self._say(words.BLENDER_ON if on else words.BLENDER_OFF)
        elif act.name == "rescue":
            self._rescue()
        elif act.name == "undo" and desk.drop_question():
            self._say(words.NOT_MARKED)
            return
        elif act.name == "undo":
            undone = desk.undo()
            self._say(_undone(desk, undone) if undone else words.NOTHING_TO_UNDO)
            self._follow_hand()
        elif act.name == "skip":
            self._skip()
        elif act.name == "far":
            self._far = not self._far
            return
        elif act.name == "words":
            self.app.push_screen(Words(words.NOTE_FOR.format(pot=pot)), self._noted)
            return
        elif act.name == "help":
            self.app.push_screen(KeysHelp(self._keys))
            return
        elif act.name == "end":
            self._ask_end()
            return
        self._ask_model()

    def _fragrance_in(self, pot: str) -> None:
        answer = self.desk.fragrance_in(pot)
        self._say(answer.words)
        if answer.typed_yes:
            asked = words.TYPE_YES.format(why=answer.words)
            self.app.push_screen(Words(asked), self._second_dose)

    def _skip(self) -> None:
        stage = self.desk.state.stage
        if stage and stage.action == LYE_IN:
            self._say(words.LYE_STAYS)
        elif stage:
            self.desk.stage_done(skipped=True)
            self._say(words.SKIPPED.format(act=words.saying(stage).sentence))
            self._follow_hand()

    def _done(self) -> None:
        desk = self.desk
        if not desk.state.begun:
            desk.lye_meets_oils()
            self._say(words.CLOCK_STARTED)
        elif stage := desk.state.stage:
            answer = desk.stage_done()
            self._say(answer.words or words.DONE.format(act=words.saying(stage).sentence))
        elif desk.state.ended is not None:
            self._to_summary()
            return
        else:  # the end itself was taken back
            desk.end(finished=True)
        self._follow_hand()

    def _rescue(self) -> None:
        live, state = self.desk.live, self.desk.state
        if live is None or (live.rescue and not same_pour(live.state, state)):
            # What was right before the last key may leave a pot unpoured now.
            self._say(words.PLAN_B)
            return
        choice = live.rescue
        if choice is None or state.stage is None:
            self._say(words.NO_BACKUP)
            return
        self.desk.take(choice)
        self._say(words.SWITCHED.format(way=choice.name))
        self._follow_hand()

    def _second_dose(self, typed: str | None) -> None:
        if (typed or "").strip().casefold() == "yes":
            self._guarded(lambda: self._say(self.desk.fragrance_in(self._hand, second=True).words))
            self._guarded(self._render_now)

    def _noted(self, text: str | None) -> None:
        if text:
            self._guarded(lambda: self.desk.note(self._hand, text))
            self._say(words.NOTE_KEPT.format(pot=self._hand))
            self._guarded(self._render_now)

    def _ask_end(self) -> None:
        if self.desk.state.ended is not None:
            self._to_summary()
        elif self.desk.state.begun:
            self.app.push_screen(Ask(words.END, words.END_MORE), self._given_up)

    def _to_summary(self) -> None:
        from soapbench.ui.pour.summary import SummaryScreen

        self.app.switch_screen(SummaryScreen(self.desk))

    def _leave(self) -> None:
        """Back to the bench; a pour of one's own only when that is meant."""
        state = self.desk.state
        if state.ended is not None:
            self._to_summary()
        elif state.begun and not self.desk.watching:
            self.app.push_screen(Ask(words.LEAVE, words.LEAVE_MORE), self._left)
        else:
            self._left(True)

    def _left(self, sure: bool | None) -> None:
        if sure:
            self.go(LeaveSetOut(self.desk))

    def _given_up(self, sure: bool | None) -> None:
        if sure:
            self._guarded(lambda: self.desk.end(finished=False))
            self._guarded(self._render_now)

    def _follow_hand(self) -> None:
        """The pot in hand is the stage's own, until the maker chooses another."""
        stage = self.desk.state.stage
        if (wait := awaited(self.desk.state)) is not None:
            self._hand = wait[0]
        elif stage and len(stage.pots) == 1:
            # until it is poured off there is only the big pot to look at
            self._hand = self.desk.state.base if stage.action == POUR_OFF else stage.pots[0]


def _undone(desk: Desk, event: Event) -> str:
    return undone_words(event.kind, desk.state.stage, event.pot)
