"""Aftercare of one batch: spray timers, gel watch, unmould, cut, weighings; a key is an event."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.aftercare import page as page
from soapbench.aftercare.due import curve, weighings
from soapbench.aftercare.resting import Resting, after_cautions
from soapbench.bench.tables import cautions
from soapbench.reading.safetext import clean
from soapbench.ui.aftercare.acts import AFTER, ALWAYS, BEFORE, AftercareActs
from soapbench.ui.aftercare.lines import body_text
from soapbench.ui.aftercare.plot import loss_lines
from soapbench.ui.aftercare.timers import countdown
from soapbench.ui.basescreen import failure_words, in_background
from soapbench.ui.bigtext import BigText
from soapbench.ui.keyline import KeyLine
from soapbench.ui.logwords import KeepingLine
from soapbench.words import aftercare as words
from soapbench.words.chances import clock
from soapbench.words.quantities import degrees

if TYPE_CHECKING:
    from soapbench.aftercare.practice import Practice
    from soapbench.desk.pourdesk import Desk

TICK_S = 0.25


class AftercareScreen(AftercareActs):
    """What a poured batch needs now, and what it will need; the bench lists the others."""

    AUTO_FOCUS = "#body"

    class Written(Message):
        """The report, in words: where it is, or why it is not."""

        def __init__(self, words: str) -> None:
            self.words = words
            super().__init__()

    def __init__(self, desk: Desk, practice: Practice) -> None:
        super().__init__(desk, practice)
        self._texts = cautions()
        self._shown: dict[str, str] = {}
        self._when = BEFORE
        """Which keys are shown."""

    def compose(self) -> ComposeResult:
        yield Static(words.title(clean(self.desk.plan.title)), markup=False, classes="strong")
        with Horizontal(id="timer"):
            yield BigText(id="left")
            yield Static(id="timer_words", markup=False)
        with VerticalScroll(id="body"):
            yield Static(id="text")
        yield Static(id="said", markup=False)
        yield KeepingLine(self.desk)
        yield KeyLine([("up down", "scroll")], self._is_shown)

    def on_mount(self) -> None:
        self.show()
        self.set_interval(TICK_S, self.show)

    def on_screen_resume(self) -> None:
        self.show()

    def on_resize(self) -> None:
        self._shown.clear()
        self.show()

    # ---- drawing

    def show(self) -> None:
        """Draw from the clock and the log; what has not changed is left alone."""
        batch = self.rests
        if not self.is_mounted or batch is None:
            return
        self._show_timer(batch)
        self._show_keys(BEFORE if batch.cut is None else AFTER)
        self._show_body(batch)
        self._put("said", clean(self._said))

    def _show_keys(self, when: str) -> None:
        if self._when != when:
            self._when = when
            self.refresh_bindings()

    def _is_shown(self, key: Binding) -> bool:
        return key.id is not None and key.id.startswith((self._when, ALWAYS))

    def _show_body(self, batch: Resting) -> None:
        """Worked out again when something happened, or a minute has passed."""
        now, wait = self.desk.clock.read().at, self.heat_wait()
        key = repr((batch, f"{now:%d %H:%M}", wait > 0, self.size))
        if self._shown.get("text") == key:
            return
        self._shown["text"] = key
        lines = [
            (heading, [degrees(line, self.app.settings) for line in rows])
            for heading, rows in page.sections(batch, self._practice, now)
        ]
        minded = [
            degrees(caution.text, self.app.settings)
            for caution in after_cautions(batch, wait, self._texts)
        ]
        body = body_text(lines, self._plot(batch), minded, self.size.width - 3)
        self.query_one("#text", Static).update(body)

    def _show_timer(self, batch: Resting) -> None:
        facts, now = self.desk.facts, self.desk.clock.read()
        running = countdown(batch, facts, self._practice, now)
        self.query_one("#timer").display = running is not None
        if running is None:
            return
        left, what = running
        self.query_one("#left", BigText).show(clock(max(left, 0.0)))
        self._put("timer_words", what)
        if left <= 0 and what not in self._rung:
            self._rung.add(what)
            self.app.bell()

    def _plot(self, batch: Resting) -> list[str]:
        if len(batch.weighed) < 2:
            return []
        wide = min(max(self.size.width - 6, 24), 90)
        return loss_lines(weighings(batch), curve(batch), wide, 8 if self.size.height > 30 else 6)

    def _put(self, id: str, words: str) -> None:
        if self._shown.get(id) != words:
            self._shown[id] = words
            self.query_one(f"#{id}", Static).update(words)

    # ---- the report

    @in_background("report")
    def _write_report(self, to_sell: bool) -> None:
        from soapbench.ui.aftercare.papers import written

        now = self.desk.clock.read().at
        words = written(self.app.bench.folder, self.desk.log, now, to_sell)
        self.post_message(self.Written(words))

    def on_aftercare_screen_written(self, message: Written) -> None:
        self.tell(message.words)

    def failed(self, error: BaseException) -> None:
        self.tell(words.failed(failure_words(error)))
