"""The pour screen: stage, its time and the room left in digits that read from two metres away."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widgets import Static

from soapbench.batter import Trace
from soapbench.desk.keys import Act, act_for, keymap
from soapbench.pour import same_pour
from soapbench.reading.safetext import clean
from soapbench.stages import LYE_IN, POUR_OFF
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.bigtext import BigText
from soapbench.ui.dialogs import Ask, KeysHelp, Words
from soapbench.ui.keyline import key_text
from soapbench.ui.logwords import TAKE_OVER, keeping_words, take_over
from soapbench.ui.pour import view
from soapbench.ui.pour.pottext import pot_text
from soapbench.words.chances import clock

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from soapbench.advice import Live
    from soapbench.desk.pourdesk import Desk

T = TypeVar("T")
TICK_S = 0.25
ADVISE_EVERY_S = 10.0
"""Not seeing the next trace state is information: the model is asked again this often."""


class PourScreen(BaseScreen[None]):
    """Walks the maker through the stages; every key is on disk before the screen says so."""

    AUTO_FOCUS = None
    VERTICAL_BREAKPOINTS = [(0, "-short"), (30, "-tall")]  # noqa: RUF012  as Textual types it

    class Advised(Message):
        """The model's answer, worked out on another thread."""

        def __init__(self, live: Live) -> None:
            self.live = live
            super().__init__()

    def __init__(self, desk: Desk, own_keys: Mapping[str, str] | None = None) -> None:
        super().__init__()
        self.desk = desk
        self._keys = keymap(own_keys)
        self._hand = desk.plan.base.name
        self._looks = {pot.name: pot.colour for pot in desk.plan.pots}
        self._asked_at = float("-inf")
        self._asking = self._ask_again = False
        self._drawn = -1.0
        self._stale = ""
        self._trouble = ""
        self._said = ""
        self._said_at = 0.0
        self._shown: dict[str, object] = {}

    # ---- layout

    def compose(self) -> ComposeResult:
        with Horizontal(id="head"):
            yield Static(id="title", markup=False)
            yield Static(id="chance", markup=False)
        yield Static(id="stage", markup=False)
        with Horizontal(id="digits"):
            with Vertical(id="stage_side"):
                yield BigText(id="stage_time")
                yield Static(id="stage_about", markup=False)
            with Vertical(id="room_side"):
                yield BigText(id="room")
                yield Static(id="room_of", markup=False)
        pots = Static(id="pots")
        pots.styles.height = len(self._looks)
        yield pots
        yield Static(id="next", markup=False)
        yield Static(id="warning", markup=False)
        yield Static(id="said", markup=False)
        yield Static(id="keys")

    def on_mount(self) -> None:
        self._follow_hand()
        if self.desk.left_out:
            self._say(f"Your own tables are left out: {clean(self.desk.left_out)} has a fault")
        if self.desk.by_wall_clock and self.desk.state.stage:
            self._say("The machine was restarted: time since lye is by its wall clock")
        self._render_now()
        self.set_interval(TICK_S, self._tick)

    def on_resize(self) -> None:
        keys = key_text(view.key_words(self._keys), self.app.size.width - 2)
        self.query_one("#keys", Static).update(keys)

    # ---- time

    def _tick(self) -> None:
        """Draw from the clock; a late tick only draws late."""
        if self._guarded(self.desk.tend):
            self._follow_hand()
            self._ask_model()
        waited = self.desk.now() - self._asked_at
        if not 0 <= waited < ADVISE_EVERY_S and self.desk.state.stage is not None:
            self._ask_model()
        if self._drawn != self._second():
            self._guarded(self._render_now)
        else:
            self._guarded(lambda: self._put("said", self._saved_or_said(self.desk.now())))

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
            self._trouble = clean(f"Fault in the program, the pour goes on: {error!r}", 120)
            self.app.met(error)
            return None

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
        act = act_for(self._keys, event.key)
        if act is None:
            return
        event.stop()
        event.prevent_default()
        if self.desk.watching and act.name not in ("help", "pot_up", "pot_down"):
            self._say("Watching only: nothing is keyed in here")
        else:
            self._trouble = ""
            self._guarded(lambda: self._do(act))
        self._guarded(self._render_now)

    def _taken_over(self, taken: bool) -> None:
        self._say("You pour this now" if taken else "It is still held by another window")
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
            went_in = desk.fragrance_in(pot)
            self._say(f"Fragrance into {pot}" if went_in else f"{pot} takes no fragrance now")
        elif act.name == "blender":
            on = desk.state.blender_on is None
            desk.blender(pot)
            self._say("Blender on; press again when it stops" if on else "Blender off")
        elif act.name == "rescue":
            self._rescue()
        elif act.name == "undo" and desk.drop_question():
            self._say("Not marked")
            return
        elif act.name == "undo":
            undone = desk.undo()
            self._say(f"Taken back: {undone.kind.value}" if undone else "Nothing to take back")
            self._follow_hand()
        elif act.name == "skip":
            stage = desk.state.stage
            if stage and stage.action == LYE_IN:
                self._say("Lye cannot be left out; e ends the pour")
            elif stage:
                desk.stage_done(skipped=True)
                self._say(f"Left out: {stage.words}")
                self._follow_hand()
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
            self._say("Lye in oils: the clock runs")
        elif stage := desk.state.stage:
            desk.stage_done()
            self._say(f"Done: {stage.words}")
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
            self._say("The way out is being worked out; once more in a moment")
            return
        choice = live.rescue
        if choice is None or state.stage is None:
            self._say("No quicker way is better just now")
            return
        self.desk.take(choice)
        self._say(f"Now: {choice.name}")
        self._follow_hand()

    def _noted(self, text: str | None) -> None:
        if text:
            self._guarded(lambda: self.desk.note(self._hand, text))
            self._say(f"Noted for {self._hand}")
            self._guarded(self._render_now)

    def _ask_end(self) -> None:
        if self.desk.state.ended is not None:
            self._to_summary()
        elif self.desk.state.begun:
            self.app.push_screen(
                Ask("End this pour here?", "y", "it did not become the swirl"), self._given_up
            )

    def _to_summary(self) -> None:
        from soapbench.ui.pour.summary import SummaryScreen

        self.app.switch_screen(SummaryScreen(self.desk))

    def _given_up(self, sure: bool | None) -> None:
        if sure:
            self._guarded(lambda: self.desk.end(finished=False))
            self._guarded(self._render_now)

    def _follow_hand(self) -> None:
        """The pot in hand is the stage's own, until the maker chooses another."""
        stage = self.desk.state.stage
        if stage and len(stage.pots) == 1:
            pouring_off = (
                stage.action == POUR_OFF
            )  # until then there is only the big pot to look at
            self._hand = self.desk.state.base if pouring_off else stage.pots[0]

    # ---- drawing

    def _say(self, words: str) -> None:
        self._said, self._said_at = clean(words), self.desk.now()

    def _put(self, id: str, content: str | Text, grows: bool = False) -> None:
        """Update a line only when it changed; lay the screen out again only where it ``grows``."""
        if self._shown.get(id) != content:
            self._shown[id] = content
            self.query_one(f"#{id}", Static).update(content, layout=grows)

    def _render_now(self) -> None:
        if not self.is_attached:
            return
        desk = self.desk
        now = self._drawn = self._second()
        state, live = desk.state, desk.live
        self._put("said", self._saved_or_said(now))  # first: it tells of a fault below, too
        self._put("title", f"{clean(desk.plan.title)}   {clock(now if state.begun else 0)}")
        watching = "watching   " if desk.watching else ""
        self._put("chance", f"{watching}to finish {view.chance_words(live)}")
        count = view.stage_count(state) if state.ended is None else ""
        self._put("stage", f"{view.stage_words(state)}   {count}")
        self.query_one("#stage_time", BigText).show(view.stage_time(state, now))
        self._put("stage_about", view.stage_about(state, live))
        urgent = view.urgent_pot(live, state, now)
        room = clock(view.room_now(live, urgent, now)) if live and urgent else "–"
        self.query_one("#room", BigText).show(room)
        self._put("room_of", f"room left: {clean(urgent)}" if urgent else "room left")
        lines = view.pot_lines(state, self._looks, live, now, self._hand)
        self._put("pots", pot_text(lines, wide=self.size.width >= 100))
        self._put("next", f"Next  {view.next_words(state)}" if view.next_words(state) else "")
        self._put("warning", view.warning_words(state, live, self._keys), grows=True)
        self.query_one("#warning").set_class(bool(live and live.warning), "danger")

    def _saved_or_said(self, now: float) -> str:
        if first := self._trouble or keeping_words(self.desk) or self._stale:
            return first
        return self._said if now - self._said_at < 20 or not self.desk.state.begun else ""
