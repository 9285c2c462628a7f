"""The pour screen: the act, its time and the time to spare, large enough for two metres."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Static

from soapbench.desk.keys import NAMED, shown
from soapbench.desk.onebutton import waited
from soapbench.reading.safetext import clean
from soapbench.settings import USUAL, Settings
from soapbench.ui.barface import usual_ink
from soapbench.ui.basescreen import failure_words, in_background
from soapbench.ui.canvas import Canvas
from soapbench.ui.keyline import key_text, shown_bindings
from soapbench.ui.logwords import keeping_words
from soapbench.ui.pour import layout
from soapbench.ui.pour.acts import PourActs
from soapbench.ui.pour.aloud import moment
from soapbench.ui.pour.facts import Facts, facts
from soapbench.ui.pour.far import far_lines
from soapbench.ui.pour.keyline import keys_shown
from soapbench.words import pouring as words
from soapbench.words.chances import clock
from soapbench.words.lines import Line, Piece

if TYPE_CHECKING:
    from soapbench.advice.advise import Live
    from soapbench.desk.pourdesk import Desk
    from soapbench.pour.state import PourState

TICK_S = 0.25


class PourScreen(PourActs):
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
        super().__init__(desk, settings)
        self._asked_at = float("-inf")
        self._asking = self._ask_again = False
        self._drawn = -1.0
        self._drawn_words = ("", False)
        self._stale = ""
        self._mould: tuple[Line, ...] = ()
        self._mould_of: tuple[str | int, ...] | None = None
        self._key_rows = 0
        self._all_keys = Text()
        self._clear = 0

    # ---- layout

    def compose(self) -> ComposeResult:
        yield Canvas(id="canvas")
        yield Static(id="keys")

    def on_mount(self) -> None:
        self._follow_hand()
        if self.desk.left_out:
            self._say(words.TABLES_FAULTY.format(file=clean(self.desk.left_out)))
        if self.desk.by_wall_clock and self.desk.state.stage:
            behind = words.CLOCK_BEHIND if self.desk.clock_behind else ""
            self._say(words.RESTARTED + behind)
        self._render_now()
        if self.desk.state.ended is None:
            self._ask_model()
        self.set_interval(TICK_S, self._tick)

    def on_unmount(self) -> None:
        self._aloud.close()

    def on_click(self, event: events.Click) -> None:
        """A tap on the big letters shows all of it again: a tablet has no keys."""
        if self._far and self.is_active:
            self._far = False
            self._guarded(self._render_now)

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
        if self._drawn != self._second() or self._drawn_words != self._notice():
            self._guarded(self._render_now)

    def _second(self) -> float:
        """Every time on the screen moves on in the same instant."""
        return float(int(self.desk.now()))

    def _ask_model(self) -> None:
        """Ask it now, or as soon as it has answered: one question at a time."""
        if self.desk.state.left_alone(self.desk.now()):
            return  # the model knows nothing of batter that was left for days
        self._asked_at = self.desk.now()
        self._ask_again = self._asking
        if not self._asking:
            self._asking = True
            self.call_after_refresh(self._advise)  # what a key changed is on the screen first

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
        self._stale = words.OUT_OF_DATE.format(why=failure_words(error)[:60])
        self._guarded(self._render_now)

    # ---- drawing

    @property
    def lines(self) -> list[str]:
        """What is shown above the keys, as plain text."""
        return self.query_one(Canvas).lines

    def facts(self) -> Facts:
        """What is shown now, as one value."""
        return facts(
            self.desk, self._drawn, self._hand, self._keys, self._settings, self._notice(),
            self._head(), self._mould, self.asks,
        )  # fmt: skip

    @property
    def keep_clear(self) -> int:
        """Rows that a question leaves in sight while a pour runs: the act and the clocks."""
        return self._clear if self.desk.state.stage is not None else 0

    def _head(self) -> str:
        """A line above all; empty for a pour of one's own."""
        if not self.desk.watching:
            return ""
        far = next(shown(key) for key, act in self._keys.items() if act.name == "far")
        return keeping_words(self.desk) + words.VIEW_KEYS.format(far=far)

    def _sight(self) -> str:
        """What is to be seen in the pot to be looked at, said aloud; a maker sees it for real."""
        return ""

    def _render_now(self) -> None:
        if not self.is_attached or not self.size.width:
            return
        self._drawn, self._drawn_words = self._second(), self._notice()
        try:
            facts = self.facts()
            held, sight = self._one_button, self._sight()
            self._aloud.hear(moment(facts, self.desk, self._drawn, held, sight, self.asks))
            self._draw(facts)
        except Exception as error:  # noqa: BLE001 - what can be drawn is drawn all the same
            self._meet(error)
            self.query_one(Canvas).show(plain_lines(self.desk.state, self._drawn, self._trouble))

    def _draw(self, facts: Facts) -> None:
        width, height = self.size.width, self.size.height
        self.query_one("#keys").display = not self._far
        if self._far:
            self._clear = height // 2
            self.query_one(Canvas).show(far_lines(facts, width, height))
            self._refresh_question()
            return
        if not self._all_keys.plain or not self._key_rows:
            self._all_keys = self._keys_shown(width, 99)
        rows = self._all_keys.plain.count("\n") + 1
        lines, room = layout.pour_lines(facts, width, height, rows)
        self._clear = room.clear
        if room.keys != self._key_rows:
            self._key_rows = room.keys
            self.query_one("#keys", Static).update(self._keys_shown(width, room.keys))
        self.query_one(Canvas).show(lines)
        self._fill_mould(room.chart)
        self._refresh_question()

    def _keys_shown(self, width: int, rows: int) -> Text:
        if self._one_button and not self.desk.watching:
            key = {act.name: key for key, act in self._keys.items()}
            line = [(key["done"], words.ONE_BUTTON), (key["help"], NAMED["help"].short)]
            return key_text(line, width)
        return keys_shown(shown_bindings(self), width, rows)

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

    def _notice(self) -> tuple[str, bool]:
        """What to say, and whether it is of something wrong."""
        kept = "" if self.desk.watching else keeping_words(self.desk)  # while watching, the head
        if first := self._trouble or kept or self._stale:
            return first, True
        now = self.desk.now()
        if self._aloud.fault and not self.desk.state.begun:
            return clean(words.NO_VOICE.format(why=self._aloud.fault), 120), True
        return (self._said if now - self._said_at < 20 or not self.desk.state.begun else ""), False


def plain_lines(state: PourState, now: float, trouble: str) -> list[Line]:
    """The least of a pour, should the screen itself fail: the act, the clock, what went wrong."""
    act = words.saying(state.stage).sentence if state.stage else ""
    lines = (
        words.SINCE_LYE.format(time=clock(now)),
        f"{clock(now - state.stage_begun)}  {act}",
        trouble,
    )
    return [(Piece(line, "strong"),) for line in lines]
