"""The cut review on screen: one key an answer, by part of the loaf or bar by bar; the verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.aftercare.cutreview import review
from soapbench.reading.safetext import clean
from soapbench.ui.aftercare import reviewtext
from soapbench.ui.aftercare.reviewacts import CutReviewActs
from soapbench.ui.basescreen import failure_words, in_background
from soapbench.ui.keyline import KeyLine
from soapbench.words import review as words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from soapbench.desk.pourdesk import Desk


class CutReviewScreen(CutReviewActs):
    """How the bars came out. An answer moves on to the next question."""

    class Foreseen(Message):
        def __init__(self, reaches: Mapping[tuple[str, str], str]) -> None:
            self.reaches = reaches
            super().__init__()

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._foreseen: Mapping[tuple[str, str], str] = {}

    def compose(self) -> ComposeResult:
        yield Static(words.title(clean(self.desk.plan.title)), markup=False, classes="strong")
        yield Static(id="parts")
        with VerticalScroll(id="body", can_focus=False):
            yield Static(id="questions")
        yield Static(id="shares")
        yield Static(id="verdict", markup=False)
        yield Static(id="said", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        self._draw()
        self._foresee()

    @in_background("foreseen")
    def _foresee(self) -> None:
        """How far each colour was foreseen to come; without it the review goes on as well."""
        from soapbench.barface.words import foreseen_showing, reaches_foreseen

        desk = self.desk
        shown = foreseen_showing(desk.plan, desk.amounts, desk.known, desk.foreseen.face)
        if shown is not None:
            self.post_message(self.Foreseen(reaches_foreseen(desk.plan, shown)))

    def on_cut_review_screen_foreseen(self, message: Foreseen) -> None:
        self._foreseen = message.reaches
        self._draw()

    def failed(self, error: BaseException) -> None:
        self.tell(failure_words(error))

    # ---- drawing

    def _draw(self) -> None:
        answers = review(self.desk.facts)
        self.query_one("#parts", Static).update(
            reviewtext.parts_text(answers, self._parts, self._part, len(self._questions))
        )
        self.query_one("#questions", Static).update(
            reviewtext.questions_text(
                answers, self._questions, self._part, self._at, self._foreseen, self.size.width
            )
        )
        self.query_one("#shares", Static).update(
            reviewtext.shares_text(self.desk, answers, self._part)
        )
        body = self.query_one("#body", VerticalScroll)
        if body.size.height:  # none before the first layout
            body.scroll_to(y=max(0, self._at - body.size.height + 3), animate=False)
        self.query_one("#verdict", Static).update(
            reviewtext.verdict_words(self.desk.state, answers)
        )
        self.query_one("#said", Static).update(clean(self._said))

    def on_resize(self) -> None:
        self._draw()
