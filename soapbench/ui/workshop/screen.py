"""The plan workshop: a page of values, and what they come to as they change."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.message import Message
from textual.timer import Timer
from textual.widgets import Static

from soapbench.desk.draft import Draft
from soapbench.desk.draftanswer import Answer, answer_text, work_out
from soapbench.desk.planlayout import Beside, rows
from soapbench.reading.safetext import clean
from soapbench.ui.barface import BarFace, usual_ink
from soapbench.ui.basescreen import failure_words, in_background
from soapbench.ui.grid import Grid
from soapbench.ui.keyline import KeyLine
from soapbench.ui.workshop.acts import WorkshopActs
from soapbench.words import workshop as words
from soapbench.words.troubles import not_worked_out

if TYPE_CHECKING:
    from collections.abc import Mapping

    from soapbench.bench.learned import Memory
    from soapbench.fragrances.shelf import ShelfFragrance

SETTLED_S = 0.15
"""Nothing is worked out until the page has been left alone this long."""
WIDE = 100


class WorkshopScreen(WorkshopActs):
    """A draft as a page of values, beside it what they come to."""

    AUTO_FOCUS = "#page"

    class WorkedOut(Message):
        """A draft's answer, from another thread."""

        def __init__(
            self, answer: Answer, memory: Memory, shelf: Mapping[str, ShelfFragrance]
        ) -> None:
            self.answer, self.memory, self.shelf = answer, memory, shelf
            super().__init__()

    def __init__(self, first: Draft) -> None:
        super().__init__(first)
        self._before: float | None = None
        self._timer: Timer | None = None

    def compose(self) -> ComposeResult:
        yield Static(id="title", markup=False, classes="strong")
        with Container(id="both"):
            yield Grid(id="page")
            with VerticalScroll(id="answer", can_focus=False):
                yield Static(words.WORKING, id="told", markup=False)
                yield BarFace(id="face")
        yield Static(id="said", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        self._show()
        self._work_out()

    def on_resize(self) -> None:
        self.query_one("#both").set_class(self.size.width >= WIDE, "wide")
        self._show_answer()

    # ---- the page

    def _show(self) -> None:
        answer = self.answer
        amounts = answer.sheet.amounts if answer and answer.sheet else None
        beside = Beside(
            [oil.g for oil in amounts.oils]
            if amounts and answer and answer.text == self.draft.text
            else (),
            answer.colours if answer else {},
        )
        faults = answer.faults if answer else ()
        self.query_one("#page", Grid).fill(rows(self.tables, faults, self.app.settings, beside))
        title = clean(str(self.tables.get("title", words.NO_TITLE)), 50)
        saved = not self.draft.changed
        self.query_one("#title", Static).update(words.title_words(title, saved))

    def take(self, text: str) -> None:
        """Take a new text for the draft, show it, and work it out once the keys rest."""
        if text == self.draft.text:
            return
        if self.answer and self.answer.chance is not None:
            self._before = self.answer.chance
        self.draft = self.draft.to(text)
        self._changed()

    def _changed(self) -> None:
        self.say("")
        self._show()
        if self._timer is not None:
            self._timer.stop()
        self._timer = self.set_timer(SETTLED_S, self._work_out)

    # ---- working it out

    def _work_out(self) -> None:
        self._worker(self.draft.text)

    @in_background("answer")
    def _worker(self, text: str) -> None:
        memory, shelf = self.app.memory(), self.app.shelf()
        answer = work_out(text, memory.known)
        self.post_message(self.WorkedOut(answer, memory, shelf))

    def on_workshop_screen_worked_out(self, message: WorkedOut) -> None:
        self._memory, self._shelf = message.memory, message.shelf
        if message.answer.text != self.draft.text:
            return  # an answer to an earlier text; the next one is on its way
        self.answer = message.answer
        self._show()
        self._show_answer()
        face = self.query_one("#face", BarFace)
        face.show(message.answer.design, ink=usual_ink(self.app))

    def failed(self, error: BaseException) -> None:
        """The page stays, the answer says it is old."""
        words = not_worked_out(failure_words(error))
        self.query_one("#told", Static).update(words)

    def _show_answer(self) -> None:
        if self.answer is not None:
            wide = self.query_one("#both").has_class("wide")
            text = answer_text(self.answer, self._before, self.app.settings, wide)
            self.query_one("#told", Static).update(text)
