"""Aftercare of one batch: spray timers, gel watch, unmould, cut, weighings; a key is an event."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.aftercare.due import What, curve, early_words, weighings
from soapbench.aftercare.practice import FINISHES
from soapbench.aftercare.resting import HEATS, Resting, after_cautions
from soapbench.bench.tables import cautions, packaged
from soapbench.log import Kind, Value
from soapbench.reading.safetext import clean
from soapbench.ui.aftercare.dialogs import Choose
from soapbench.ui.aftercare.keys import ACTS, GEL_CHOICES, undo_after
from soapbench.ui.aftercare.lines import body_text
from soapbench.ui.aftercare.plot import loss_lines
from soapbench.ui.aftercare.timers import countdown, heat_wait
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.bigtext import BigText
from soapbench.ui.dialogs import Ask, Words
from soapbench.ui.help import Page
from soapbench.ui.keyline import KeyLine
from soapbench.ui.logwords import TAKE_OVER, KeepingLine, take_over
from soapbench.ui.ways import LeaveAftercare
from soapbench.words import aftercare as words
from soapbench.words import afterpage as page
from soapbench.words.chances import clock
from soapbench.words.events import FINISHED, GEL_REACHED, undone
from soapbench.words.pouring import NOTHING_TO_UNDO, STILL_THEIRS
from soapbench.words.quantities import degrees
from soapbench.words.troubles import VIEW_ONLY

if TYPE_CHECKING:
    from soapbench.aftercare.practice import Practice
    from soapbench.desk.pourdesk import Desk

TICK_S = 0.25


class AftercareScreen(BaseScreen[None]):
    """What a poured batch needs now, and what it will need; the bench lists the others."""

    AUTO_FOCUS = "#body"
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(key, f"act('{key}')", show=False, id=f"aftercare.{key}") for key in ACTS),
        Binding(TAKE_OVER, "take_over", show=False, id="aftercare.take_over"),
        Binding("escape", "bench", show=False, id="aftercare.bench"),
    ]

    class Written(Message):
        """The report, in words: where it is, or why it is not."""

        def __init__(self, said: str) -> None:
            self.said = said
            super().__init__()

    def __init__(self, desk: Desk, practice: Practice) -> None:
        super().__init__()
        self.desk = desk
        self._practice = practice
        self._texts = cautions()
        self._shown: dict[str, str] = {}
        self._said = ""
        self._rung: set[str] = set()

    def compose(self) -> ComposeResult:
        yield Static(words.title(clean(self.desk.plan.title)), markup=False, classes="strong")
        with Horizontal(id="timer"):
            yield BigText(id="left")
            yield Static(id="timer_words", markup=False)
        with VerticalScroll(id="body"):
            yield Static(id="text")
        yield Static(id="said", markup=False)
        yield KeepingLine(self.desk)
        yield KeyLine()

    def on_mount(self) -> None:
        self.show()
        self.set_interval(TICK_S, self.show)

    def on_screen_resume(self) -> None:
        self.show()

    def on_resize(self) -> None:
        self._shown.clear()
        self.show()

    # ---- state

    @property
    def rests(self) -> Resting | None:
        """The batch as its events tell it now."""
        return self.desk.resting

    def heat_wait(self) -> float:
        return heat_wait(self.desk.facts, self._practice, self.desk.clock.read())

    # ---- drawing

    def show(self) -> None:
        """Draw from the clock and the log; what has not changed is left alone."""
        batch = self.rests
        if not self.is_mounted or batch is None:
            return
        self._show_timer(batch)
        keys = words.AFTER_CUT_KEYS if batch.cut is not None else words.BEFORE_CUT_KEYS
        self.query_one(KeyLine).show(keys)
        self._show_body(batch)
        self._put("said", clean(self._said))

    def _show_body(self, batch: Resting) -> None:
        """Worked out again when something happened, or a minute has passed."""
        now, wait = self.desk.clock.read().at, self.heat_wait()
        key = repr((batch, f"{now:%d %H:%M}", wait > 0, self.size))
        if self._shown.get("text") == key:
            return
        self._shown["text"] = key
        lines = [
            (heading, [degrees(line, self.app.settings) for line in said])
            for heading, said in page.sections(batch, self._practice, now)
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

    def _put(self, id: str, said: str) -> None:
        if self._shown.get(id) != said:
            self._shown[id] = said
            self.query_one(f"#{id}", Static).update(said)

    # ---- keys

    def action_bench(self) -> None:
        self.go(LeaveAftercare(self.desk))

    def action_take_over(self) -> None:
        if self.desk.watching:
            take_over(self.app, self.desk, self._taken_over)
            self.show()

    def action_act(self, key: str) -> None:
        if key == "i":
            self.app.push_screen(Page(page.sources_page(packaged("aftercare.toml"))))
        elif key in ("r", "l"):
            self._said = words.WRITING
            self._write_report(key == "l")
        elif self.desk.watching:
            self._said = VIEW_ONLY
        else:
            self._do(key)
        self.show()

    def _sprayed(self, heater_off: bool | None) -> None:
        if heater_off:
            self.desk.record(Kind.SPRAY)
            self._rung.clear()
            self._said = words.SPRAYED
        else:
            self._said = words.NOT_SPRAYED
        self.show()

    def _taken_over(self, taken: bool) -> None:
        self._said = words.TAKEN if taken else STILL_THEIRS
        self.show()

    def _do(self, key: str) -> None:
        record = self.desk.record
        match key:
            case "s":
                self.app.push_screen(Ask(words.HEATER_OFF, "y", words.FLAMMABLE), self._sprayed)
            case "f":
                self.app.push_screen(Choose(words.WHAT_HEATS, HEATS), self._forced)
            case "a" | "p":
                record(Kind.GEL_CHOSEN, gel=GEL_CHOICES[key])
                self._said = self._gel_said(GEL_CHOICES[key])
            case "1" | "2" | "3" | "4":
                reach = page.reach_of(key)
                record(Kind.GEL_SEEN, reach=reach)
                self._said = words.gel_noted(GEL_REACHED[reach])
            case "c" | "h":
                trouble = "cracking" if key == "c" else "overheating"
                record(Kind.GEL_SEEN, trouble=trouble)
                self._said = words.trouble(trouble)
            case "m":
                early = self._early(What.UNMOULD)
                record(Kind.UNMOULD)
                self._said = words.unmoulded(early)
            case "k":
                self.app.push_screen(Words(words.how_many_bars(self._early(What.CUT))), self._cut)
            case "w" | "o":
                self._weigh(key == "o")
            case "v":
                self._review()
            case "t":
                self._finish()
            case "d":
                self._put_away()
            case "x":
                self._said = self.desk.set_aside(not self.desk.state.set_aside).words
            case "n":
                self.app.push_screen(Words(words.NOTE), self._noted)
            case "u":
                self._undo()

    def _early(self, what: What) -> str:
        now = self.desk.clock.read().at.astimezone()
        return early_words(batch, what, self._practice, now) if (batch := self.rests) else ""

    @in_background("report")
    def _write_report(self, to_sell: bool) -> None:
        from soapbench.ui.aftercare.papers import written

        now = self.desk.clock.read().at
        said = written(self.app.bench.folder, self.desk.log, now, to_sell)
        self.post_message(self.Written(said))

    def on_aftercare_screen_written(self, message: Written) -> None:
        self._said = message.said
        self.show()

    def failed(self, error: BaseException) -> None:
        self._said = words.failed(failure_words(error))
        self.show()

    def _forced(self, heat: int | None) -> None:
        if heat is not None:
            self.desk.record(Kind.GEL_CHOSEN, gel="force", heat=HEATS[heat])
            self._said = self._gel_said("force")
            self.show()

    def _finish(self) -> None:
        """Date a finishing touch, or say that one with a date is done."""
        if (batch := self.rests) is None or batch.cut is None:
            self._said = words.CUT_FIRST
            return
        done = {act for act, _ in batch.finished}
        dated = {*batch.wished, *self._practice.finish_always} - done
        acts = [act for act in FINISHES if act not in done]
        asked = [FINISHED[act] if act in dated else words.date_to(act) for act in acts]

        def chosen(number: int | None) -> None:
            if number is None:
                return
            act = acts[number]
            kind = Kind.FINISH_DONE if act in dated else Kind.FINISH_WISHED
            self.desk.record(kind, act=act)
            self._said = asked[number].capitalize()
            self.show()

        if acts:
            self.app.push_screen(Choose(words.FINISHING, asked), chosen)
        else:
            self._said = words.FINISHED_ALL

    def _gel_said(self, gel: str) -> str:
        return words.gel_wanted(gel, self.heat_wait())

    def _cut(self, written: str | None) -> None:
        if written is None:
            return
        if not (written.isascii() and written.isdigit() and 1 <= int(written) <= 200):
            self._said = words.BARS_WRONG
        else:
            self.desk.record(Kind.CUT, bars=int(written))
            self._said = words.cut_into(int(written))
        self.show()

    def _weigh(self, other: bool) -> None:
        if (batch := self.rests) is None or batch.cut is None:
            self._said = words.WEIGH_FIRST
            return
        question = words.weigh_question(not batch.weighed, other)

        def weighed(written: str | None) -> None:
            if written is None:
                return
            weight, count = page.bars_weighed(written)
            g, wrong = page.grams(weight, self.desk.amounts.batter_g)
            if wrong:
                self._said = words.not_noted(clean(wrong, 120))
            else:
                values: dict[str, Value] = {"g": g}
                values |= {"other_bars": True} if other else {}
                values |= {"count": count} if count else {}
                self.desk.record(Kind.WEIGHING, None, None, **values)
                self._said = words.weighed(g)
            self.show()

        self.app.push_screen(Words(question), weighed)

    def _review(self) -> None:
        from soapbench.ui.aftercare.review import CutReviewScreen

        if (batch := self.rests) is None or batch.cut is None:
            self._said = words.REVIEW_FIRST
            return
        self.app.push_screen(CutReviewScreen(self.desk))

    def _put_away(self) -> None:
        def put(sure: bool | None) -> None:
            if sure:
                self.desk.record(Kind.CURED)
                self._said = words.CLOSED
                self.show()

        self.app.push_screen(Ask(words.CLOSE, "y", words.CLOSE_MORE), put)

    def _noted(self, text: str | None) -> None:
        if text:
            self.desk.note(None, text)
            self._said = words.NOTED
            self.show()

    def _undo(self) -> None:
        last = undo_after(self.desk)
        self._said = undone(last.kind) if last else NOTHING_TO_UNDO
