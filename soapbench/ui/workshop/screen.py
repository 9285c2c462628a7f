"""The plan workshop: a page of values, and what they come to as they change."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual import events
from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.message import Message
from textual.timer import Timer
from textual.widgets import Static

from soapbench.desk import draft, planchanges
from soapbench.desk.draft import ChangedOnDisk, Draft
from soapbench.desk.draftanswer import Answer, answer_text, trial_words, work_out
from soapbench.desk.planlayout import ADD, Keys, rows, value_at
from soapbench.logfile.tomlfile import parse_text
from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean
from soapbench.reading.units import QuantityError
from soapbench.ui.barface import BarFace, usual_ink
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.dialogs import Ask, Words
from soapbench.ui.editor import Editor
from soapbench.ui.grid import Grid
from soapbench.ui.ways import ToBench, ToPlan
from soapbench.ui.workshop.questions import question

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from soapbench.bench.learned import Memory
    from soapbench.fragrances.shelf import Scent

SETTLED_S = 0.15
"""Nothing is worked out until the page has been left alone this long."""
WIDE = 100
KEYS = (
    "Enter change   Del take out   = up to 100 %   m other mould   f swap fragrance\n"
    "v cut face   u undo   s save   p save, then plan sheet   Esc bench"
)


class WorkshopScreen(BaseScreen[None]):
    """One plan being made. Its text is the only truth; every key gives a new text."""

    AUTO_FOCUS = "#page"

    class WorkedOut(Message):
        """A draft's answer, from another thread."""

        def __init__(self, answer: Answer, memory: Memory, shelf: Mapping[str, Scent]) -> None:
            self.answer, self.memory, self.shelf = answer, memory, shelf
            super().__init__()

    def __init__(self, first: Draft) -> None:
        super().__init__()
        self.draft = first
        self.answer: Answer | None = None
        self._memory: Memory | None = None
        self._shelf: Mapping[str, Scent] = {}
        self._before: float | None = None
        self._timer: Timer | None = None

    def compose(self) -> ComposeResult:
        yield Static(id="title", markup=False, classes="strong")
        with Container(id="both"):
            yield Grid(id="page")
            with VerticalScroll(id="answer", can_focus=False):
                yield Static("Working it out …", id="told", markup=False)
                yield BarFace(id="face")
        yield Static(id="said", markup=False)
        yield Static(KEYS, id="keys", markup=False, classes="quiet")

    def on_mount(self) -> None:
        self._show()
        self._work_out()

    def on_resize(self) -> None:
        self.query_one("#both").set_class(self.size.width >= WIDE, "wide")
        self._show_answer()

    # ---- the page

    @property
    def tables(self) -> dict[str, Any]:
        """The draft's tables; empty while its text is no TOML."""
        try:
            return parse_text(self.draft.text, "the draft")
        except FileFaults:
            return {}

    def _show(self) -> None:
        faults = self.answer.faults if self.answer else ()
        self.query_one("#page", Grid).fill(rows(self.tables, faults, self.app.settings))
        title = clean(str(self.tables.get("title", "no title")), 60)
        mark = "   not saved" if self.draft.changed else ""
        self.query_one("#title", Static).update(f"Workshop   {title}{mark}")

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
        words = f"This could not be worked out. {failure_words(error)}"
        self.query_one("#told", Static).update(words)

    def _show_answer(self) -> None:
        if self.answer is not None:
            wide = self.query_one("#both").has_class("wide")
            told = answer_text(self.answer, self._before, self.app.settings, wide)
            self.query_one("#told", Static).update(told)

    # ---- keys

    def on_key(self, event: events.Key) -> None:
        cell = self.query_one("#page", Grid).cell
        keys: Keys = cell.keys if cell else ()
        acts: dict[str, Callable[[], object]] = {
            "enter": lambda: self._ask(keys),
            "delete": lambda: self.take(planchanges.removed(self.draft.text, keys)),
            "backspace": lambda: self.take(planchanges.removed(self.draft.text, keys)),
            "equals_sign": lambda: self.take(planchanges.made_whole(self.draft.text, keys)),
            "m": self._ask_mould,
            "f": self._swap,
            "v": self._view,
            "u": self._undo,
            "s": lambda: self._save(),
            "p": lambda: self._save(to_sheet=True),
            "escape": self._leave,
        }
        if event.key in acts:
            event.stop()
            event.prevent_default()
            acts[event.key]()

    def _undo(self) -> None:
        if not self.draft.past:
            self.say("Nothing to take back")
            return
        self.draft = self.draft.undone()
        self._changed()

    def _remembered(self) -> Memory | None:
        """What the bench knows; waited for, so that the keys that follow find their question."""
        if self._memory is None:
            try:
                self._memory, self._shelf = self.app.memory(), self.app.shelf()
            except FileFaults as refused:
                self.say(failure_words(refused))
        return self._memory

    def _swap(self) -> None:
        """To the fragrance's name, asked at once."""
        grid = self.query_one("#page", Grid)
        for keys in (("fragrance", "name"), ("fragrance", 0, "name"), ("fragrance", ADD)):
            if grid.go_to(keys):
                self._ask(keys)
                return

    def _ask(self, keys: Keys) -> None:
        memory = self._remembered()
        if memory is None or not keys:
            return
        known, settings, text, shelf = memory.known, self.app.settings, self.draft.text, self._shelf
        asked = question(keys, self.tables, known, shelf, settings)
        said = None if keys[-1] == ADD else value_at(self.tables, keys)
        start = ", ".join(map(str, said)) if isinstance(said, list) else str(said or "")
        before = self.answer.chance if self.answer else None

        def put(typed: str) -> str:
            made = planchanges.put(text, keys, typed, shelf, settings)
            return _with_usual(made, keys, known)

        def trial(typed: str) -> str:
            return trial_words(work_out(put(typed), known, whole=False), before)

        def given(typed: str | None) -> None:
            if typed is not None and (typed != start or not typed) and self.draft.text == text:
                self.take(put(typed))
                if keys[-1] == ADD and keys[0] != "swirl":
                    row = planchanges.newest(self.draft.text, keys[:-1])
                    grid = self.query_one("#page", Grid)
                    any(grid.go_to((*row, key)) for key in ("share", "mass", "load", "dose"))

        self.app.push_screen(Editor(asked, start, trial), given)

    def _view(self) -> None:
        """The cut face, full screen."""
        from soapbench.barface.words import showings
        from soapbench.ui.face import FaceScreen

        sheet, memory = self.answer.sheet if self.answer else None, self._memory
        if sheet is None or sheet.outlook is None or memory is None:
            self.say("First put right what is marked !")
            return
        plan, made, known = sheet.plan, sheet.amounts, memory.known
        self.app.push_screen(
            FaceScreen(plan.title, lambda: showings(plan, known, made), known.sinking.words)
        )

    def _ask_mould(self) -> None:
        sheet = self.answer.sheet if self.answer else None
        if sheet is None:
            self.say("First put right what is marked !")
            return
        ml = sheet.amounts.mould_ml

        def given(said: str | None) -> None:
            if said:
                try:
                    self.take(planchanges.other_mould(self.draft.text, said, ml, self.app.settings))
                except QuantityError as fault:
                    self.say(f"! {fault.wrong}; {fault.right}")

        question_words = f"Another mould, now {ml:.0f} mL: 30 x 9 x 8 cm, or 2 L. Doses go with it"
        self.app.push_screen(Words(question_words), given)

    # ---- keeping it

    def _save(self, to_sheet: bool = False, over: bool = False) -> None:
        plans = self.app.bench.folder / "plans"
        try:
            self.draft = draft.saved(self.draft, plans, str(self.tables.get("title", "")), over)
        except ChangedOnDisk:
            self.app.push_screen(
                Ask("Another program has changed this file. Write over it?", "y"),
                lambda sure: self._save(to_sheet, over=True) if sure else None,
            )
            return
        except OSError as error:
            self.say(f"NOT SAVED: {error.strerror}")
            return
        self._show()
        self.say(f"Saved as {self.draft.path}")
        if to_sheet and self.draft.path is not None:
            self.go(ToPlan(self.draft.path))

    def _leave(self) -> None:
        if not self.draft.changed or (self.draft.path is None and not self.draft.past):
            self.go(ToBench())
            return
        self.app.push_screen(
            Ask("Leave without saving?", "y", "s saves it first"),
            lambda sure: self.go(ToBench()) if sure else None,
        )


def _with_usual(text: str, keys: Keys, known: Any) -> str:
    """What goes along with a name just given: a colour's look and liquid, an oil's lot."""
    if keys[0] == "oils" and keys[-1] == "name":
        return planchanges.with_oil_lot(text, keys[:-1], known.oils)
    if "colourants" not in keys or keys[-1] not in ("name", ADD):
        return text
    row = planchanges.newest(text, keys[:-1]) if keys[-1] == ADD else keys[:-1]
    return planchanges.with_colourant(text, row, known.colourants)
