"""The pour screen: the act, its time and the time to spare, large enough for two metres."""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING, TypeVar

from textual import events
from textual.app import ComposeResult
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Static

from soapbench.batter import Trace
from soapbench.desk.keys import OUTCOME_KEYS, Act, act_for, keymap, shown
from soapbench.desk.onebutton import HOW_IT_WENT, Gesture, Presses, act_of, pressed, waited
from soapbench.pour import same_pour
from soapbench.reading.safetext import clean
from soapbench.settings import USUAL, Settings
from soapbench.stages import LYE_IN, POUR_OFF
from soapbench.ui.barface import usual_ink
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.canvas import Canvas
from soapbench.ui.dialogs import Ask, KeysHelp, Words
from soapbench.ui.logwords import TAKE_OVER, keeping_words, take_over
from soapbench.ui.pour import layout
from soapbench.ui.pour.aloud import Aloud, moment
from soapbench.ui.pour.facts import Facts, awaited, facts
from soapbench.ui.pour.far import far_lines
from soapbench.ui.pour.keyline import keys_shown
from soapbench.ui.ways import LeaveSetOut
from soapbench.words import pouring as words
from soapbench.words.chances import clock
from soapbench.words.lines import Line, Piece

if TYPE_CHECKING:
    from collections.abc import Callable

    from soapbench.advice import Live
    from soapbench.desk.pourdesk import Desk
    from soapbench.log import Event
    from soapbench.pour import PourState

T = TypeVar("T")
TICK_S = 0.25


class PourScreen(BaseScreen[None]):
    """Walks the maker through the stages; every key is on disk before the screen says so."""

    AUTO_FOCUS = None

    class Advised(Message):
        """The model's answer, worked out on another thread."""

        def __init__(self, live: Live) -> None:
            self.live = live
            super().__init__()

    class Filled(Message):
        """The mould, drawn on another thread."""

        def __init__(self, lines: tuple[Line, ...]) -> None:
            self.lines = lines
            super().__init__()

    def __init__(self, desk: Desk, settings: Settings = USUAL) -> None:
        super().__init__()
        self.desk = desk
        self._settings = settings
        self._keys = keymap(settings.keys)
        self._hand = desk.plan.base.name
        self._asked_at = float("-inf")
        self._asking = self._ask_again = False
        self._drawn = -1.0
        self._drawn_words = ("", False)
        self._stale = ""
        self._trouble = ""
        self._said = ""
        self._said_at = 0.0
        self._mould: tuple[Line, ...] = ()
        self._mould_of: tuple[str | int, ...] | None = None
        self._far = desk.watching
        """Only what must be seen from across the room."""
        self._key_rows = 0
        self._clear = 0
        self._aloud = Aloud(settings.sound)
        self._button = Presses()
        self._foot_s: Callable[[], float] = monotonic
        """Seconds as a foot knows them: a rehearsal's clock runs faster."""

    # ---- layout

    def compose(self) -> ComposeResult:
        yield Canvas(id="canvas")
        yield Static(id="keys")

    def on_mount(self) -> None:
        self._follow_hand()
        if self.desk.left_out:
            self._say(f"Your own tables are not used: {clean(self.desk.left_out)} has a mistake")
        if self.desk.by_wall_clock and self.desk.state.stage:
            self._say("Computer was restarted; the clock now goes by the time of day")
        self._render_now()
        if self.desk.state.ended is None:
            self._ask_model()
        self.set_interval(TICK_S, self._tick)

    def on_unmount(self) -> None:
        self._aloud.close()

    def on_resize(self) -> None:
        self._key_rows = 0
        self._guarded(self._render_now)

    # ---- time

    def _tick(self) -> None:
        """Draw from the clock; a late tick only draws late."""
        self._button, gesture = waited(self._button, self._foot_s())
        self._meant(gesture)
        if self._guarded(self.desk.tend):
            self._follow_hand()
            self._ask_model()
        since = self.desk.now() - self._asked_at
        if not 0 <= since < self.desk.advise_every_s and self.desk.state.stage is not None:
            self._ask_model()
        if self._drawn != self._second() or self._drawn_words != self._told():
            self._guarded(self._render_now)

    def _second(self) -> float:
        """Every time on the screen moves on in the same instant."""
        return float(int(self.desk.now()))

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
        told = f"Something went wrong in soapbench; your pour goes on ({error!r})"
        self._trouble = clean(told, 120)
        self.app.met(error)

    def _ask_model(self) -> None:
        """Ask it now, or as soon as it has answered: one question at a time."""
        self._asked_at = self.desk.now()
        self._ask_again = self._asking
        if not self._asking:
            self._asking = True
            self._advise()

    def _answered(self) -> None:
        self._asking = False
        if self._ask_again:
            self._ask_model()

    @in_background("advice", exclusive=False)
    def _advise(self) -> None:
        self.post_message(self.Advised(self.desk.advise()))

    def on_pour_screen_advised(self, message: Advised) -> None:
        self._stale = ""
        self._answered()
        if self._guarded(lambda: self.desk.heed(message.live)):
            self.app.bell()
        self._guarded(self._render_now)

    def failed(self, error: BaseException) -> None:
        """The pour goes on; the screen says what is old."""
        self._answered()
        self._stale = f"Time left is out of date: {failure_words(error)[:60]}"
        self._guarded(self._render_now)

    # ---- keys

    def on_key(self, event: events.Key) -> None:
        if self.desk.watching and event.key == TAKE_OVER:
            event.stop()
            self._guarded(lambda: take_over(self.app, self.desk, self._taken_over))
        elif event.key == "escape":
            event.stop()
            self._guarded(self._leave)
        if self.asks and (outcome := OUTCOME_KEYS.get(event.key.lower())):
            event.stop()
            self._guarded(lambda: self._say(self.desk.tell_outcome(outcome).words))
            self._guarded(self._render_now)
            return
        act = act_for(self._keys, event.key)
        if act is None:
            return
        event.stop()
        event.prevent_default()
        if act.name == "done" and self._settings.pedal == "one button":
            self._button, gesture = pressed(self._button, self._foot_s())
            self._meant(gesture)
            return
        self._key(act)

    def _meant(self, gesture: Gesture | None) -> None:
        """Do what one button meant, and say what came of it."""
        if gesture is None:
            return
        if self.asks:
            self._guarded(lambda: self._say(self.desk.tell_outcome(HOW_IT_WENT[gesture]).words))
        elif (name := act_of(gesture, self._warned)) == "next trace":
            self._hand = self.desk.look_wanted or self._hand
            after = min(self.desk.state.pots[self._hand].trace + 1, Trace.SET_UP)
            self._key(next(a for a in self._keys.values() if a.name == f"trace{after + 1}"))
        else:
            self._key(next(a for a in self._keys.values() if a.name == name))
        if gesture is not Gesture.SHORT or self.asks:  # the next act is said by itself
            self._aloud.say(self._said)
        self._guarded(self._render_now)

    @property
    def _warned(self) -> bool:
        backup = self.facts().backup
        return backup is not None and backup.warns

    def _key(self, act: Act) -> None:
        if self.desk.watching and act.name not in ("help", "far", "pot_up", "pot_down"):
            self._say("View only: keys have no effect")
        else:
            self._trouble = ""
            self._guarded(lambda: self._do(act))
        self._guarded(self._render_now)

    def _taken_over(self, taken: bool) -> None:
        self._say("You're running this pour now" if taken else "Still running in the other window")
        self._far = self._far and not taken
        self._follow_hand()
        self._guarded(self._render_now)

    def _do(self, act: Act) -> None:
        desk, pot = self.desk, self._hand
        if act.note:
            desk.note(pot, act.note)
            self._say(f"{pot}: {act.note} noted")
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
            answer = desk.fragrance_in(pot)
            self._say(answer.words)
            if answer.typed_yes:
                self.app.push_screen(Words(f"{answer.words} Type yes"), self._second_dose)
        elif act.name == "blender":
            on = desk.state.blender_on is None
            desk.blender(pot)
            self._say("BLENDER ON: press it again when it stops" if on else "Blender off")
        elif act.name == "rescue":
            self._rescue()
        elif act.name == "undo" and desk.drop_question():
            self._say("Not marked")
            return
        elif act.name == "undo":
            undone = desk.undo()
            self._say(_undone(desk, undone) if undone else "Nothing to undo")
            self._follow_hand()
        elif act.name == "skip":
            stage = desk.state.stage
            if stage and stage.action == LYE_IN:
                self._say("The lye step can't be skipped. e ends the pour")
            elif stage:
                desk.stage_done(skipped=True)
                self._say(f"Skipped: {words.said(stage).sentence}")
                self._follow_hand()
        elif act.name == "far":
            self._far = not self._far
            return
        elif act.name == "words":
            self.app.push_screen(Words(f"Note for {pot}"), self._noted)
            return
        elif act.name == "help":
            self.app.push_screen(KeysHelp(self._keys))
            return
        elif act.name == "end":
            self._ask_end()
            return
        self._ask_model()

    def _done(self) -> None:
        desk = self.desk
        if not desk.state.begun:
            desk.lye_meets_oils()
            self._say("Clock started")
        elif stage := desk.state.stage:
            answer = desk.stage_done()
            self._say(answer.words or f"Done: {words.said(stage).sentence}")
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
            self._say("Working out plan B … press it again in a moment")
            return
        choice = live.rescue
        if choice is None or state.stage is None:
            self._say(words.NO_BACKUP)
            return
        self.desk.take(choice)
        self._say(f"Switched to {choice.name}")
        self._follow_hand()

    def _second_dose(self, typed: str | None) -> None:
        if (typed or "").strip().casefold() == "yes":
            self._guarded(lambda: self._say(self.desk.fragrance_in(self._hand, second=True).words))
            self._guarded(self._render_now)

    def _noted(self, text: str | None) -> None:
        if text:
            self._guarded(lambda: self.desk.note(self._hand, text))
            self._say(f"{self._hand}: noted")
            self._guarded(self._render_now)

    def _ask_end(self) -> None:
        if self.desk.state.ended is not None:
            self._to_summary()
        elif self.desk.state.begun:
            self.app.push_screen(
                Ask("End the pour here?", "y", "It is saved as not finished"), self._given_up
            )

    def _to_summary(self) -> None:
        from soapbench.ui.pour.summary import SummaryScreen

        self.app.switch_screen(SummaryScreen(self.desk))

    def _leave(self) -> None:
        """Back to the bench; a pour of one's own only when that is meant."""
        state = self.desk.state
        if state.ended is not None:
            self._to_summary()
        elif state.begun and not self.desk.watching:
            self.app.push_screen(Ask(words.LEAVE, "y", words.LEAVE_MORE), self._left)
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

    # ---- drawing

    def _say(self, words: str) -> None:
        self._said, self._said_at = clean(words, 400), self.desk.now()

    @property
    def lines(self) -> list[str]:
        """What is shown above the keys, as plain text."""
        return self.query_one(Canvas).lines

    def facts(self) -> Facts:
        """What is shown now, as one value."""
        return facts(
            self.desk, self._drawn, self._hand, self._keys, self._settings, self._told(),
            self._head(), self._mould, self.asks,
        )  # fmt: skip

    @property
    def keep_clear(self) -> int:
        """Rows that a question leaves in sight while a pour runs: the act and the clocks."""
        return self._clear if self.desk.state.stage is not None else 0

    @property
    def asks(self) -> bool:
        """Whether how it came out is asked now."""
        return self.desk.outcome_wanted

    def _head(self) -> str:
        """A line above all; empty for a pour of one's own."""
        if not self.desk.watching:
            return ""
        far = next(shown(key) for key, act in self._keys.items() if act.name == "far")
        return words.VIEW_ONLY.format(far=far)

    def _render_now(self) -> None:
        if not self.is_attached or not self.size.width:
            return
        self._drawn, self._drawn_words = self._second(), self._told()
        try:
            seen = self.facts()
            self._aloud.hear(moment(seen, self.desk, self._drawn))
            self._draw(seen)
        except Exception as error:  # noqa: BLE001 - what can be drawn is drawn all the same
            self._meet(error)
            self.query_one(Canvas).show(plain_lines(self.desk.state, self._drawn, self._trouble))

    def _draw(self, seen: Facts) -> None:
        width, height = self.size.width, self.size.height
        self.query_one("#keys").display = not self._far
        if self._far:
            self._clear = height // 2
            self.query_one(Canvas).show(far_lines(seen, width, height))
            self._refresh_question()
            return
        all_keys = keys_shown(self._keys, width, 99)
        rows = all_keys.plain.count("\n") + 1
        lines, room = layout.pour_lines(seen, width, height, rows)
        self._clear = room.clear
        if room.keys != self._key_rows:
            self._key_rows = room.keys
            keys = all_keys if room.keys == rows else keys_shown(self._keys, width, room.keys)
            self.query_one("#keys", Static).update(keys)
        self.query_one(Canvas).show(lines)
        self._fill_mould(room.chart)
        self._refresh_question()

    def _refresh_question(self) -> None:
        if not self.is_current and isinstance(self.app.screen, ModalScreen):
            self.app.screen.refresh()  # the clock runs on behind it

    def _fill_mould(self, rows: int) -> None:
        from soapbench.ui.pour.mould import filled_by

        if self.size.width < layout.MOULD_FROM or self.desk.live is None:
            return
        wanted: tuple[str | int, ...] = (*filled_by(self.desk.state), rows)
        if self._mould_of != wanted:
            self._mould_of = wanted
            self._draw_mould(rows)

    @in_background("mould")
    def _draw_mould(self, rows: int) -> None:
        from soapbench.ui.pour.mould import mould_lines

        ink = usual_ink(self.app)
        self.post_message(self.Filled(mould_lines(self.desk, layout.MOULD_WIDE, rows, ink)))

    def on_pour_screen_filled(self, message: Filled) -> None:
        self._mould = message.lines
        self._guarded(self._render_now)

    def _told(self) -> tuple[str, bool]:
        """What to say, and whether it is of something wrong."""
        if first := self._trouble or keeping_words(self.desk) or self._stale:
            return first, not self.desk.watching
        now = self.desk.now()
        if self._aloud.fault and not self.desk.state.begun:
            return clean(f"No voice: {self._aloud.fault}", 120), True
        return (self._said if now - self._said_at < 20 or not self.desk.state.begun else ""), False


def _undone(desk: Desk, event: Event) -> str:
    return words.undone_words(event.kind, desk.state.stage, event.pot)


def plain_lines(state: PourState, now: float, trouble: str) -> list[Line]:
    """The least of a pour, should the screen itself fail: the act, the clock, what went wrong."""
    act = words.said(state.stage).sentence if state.stage else ""
    told = (f"{clock(now)} since lye", f"{clock(now - state.stage_begun)}  {act}", trouble)
    return [(Piece(line, "strong"),) for line in told]
