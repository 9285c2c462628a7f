"""The plan sheet on screen: can this swirl be finished, with what amounts, minding what."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.bench.keptsheets import SheetShelf
from soapbench.desk.prefetch import sheet_width
from soapbench.logfile.patience import glanced
from soapbench.reading.faults import FileFaults
from soapbench.sheet.screenlines import Front
from soapbench.ui.barface import usual_ink
from soapbench.ui.basescreen import failure_words, in_background
from soapbench.ui.canvas import Canvas
from soapbench.ui.keyline import KeyLine
from soapbench.ui.later import let_draw
from soapbench.ui.planacts import PlanActs
from soapbench.ui.planpage import (
    FACE_FROM,
    FACE_WIDE,
    faults_text,
    front_text,
    labelled_face,
    page_lines,
)
from soapbench.ui.ways import CarryOn, ToBench
from soapbench.words import plansheet as words
from soapbench.words.days import when_words
from soapbench.words.lines import Line
from soapbench.words.troubles import not_worked_out

if TYPE_CHECKING:
    from soapbench.bench.summary import Row
    from soapbench.desk.prefetch import Ahead
    from soapbench.sheet.plansheet import PlanSheet
    from soapbench.sheet.weighing import Weighed


ON_FRONT = ("set_out", "practise", "cut_face", "amounts", "edit", "again", "bench")
ON_AMOUNTS = ("front", "print", "set_out", "back")
"""Names of the keys that are shown; all act on either."""


class PlanScreen(PlanActs):
    """One plan, read and worked out on another thread so that the screen is there at once."""

    AUTO_FOCUS = "#body"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "act('set_out')", words.KEYS["set_out"], id="plan.set_out"),
        Binding("h", "act('practise')", words.KEYS["practise"], id="plan.practise"),
        Binding("v", "act('cut_face')", words.KEYS["cut_face"], id="plan.cut_face"),
        Binding("w", "turn(True)", words.KEYS["amounts"], id="plan.amounts"),
        Binding("w", "turn(False)", words.KEYS["front"], id="plan.front"),
        Binding("p", "act('print')", words.KEYS["print"], id="plan.print"),
        Binding("e", "edit", words.KEYS["edit"], id="plan.edit"),
        Binding("r", "again", words.KEYS["again"], id="plan.again"),
        Binding("c", "act('carry_on')", show=False, id="plan.carry_on"),
        *(Binding(str(n), f"change({n})", show=False, id=f"plan.{n}") for n in range(1, 10)),
        Binding("escape", "turn(False)", words.KEYS["back"], id="plan.back"),
        Binding("escape", "bench", words.KEYS["bench"], id="plan.bench"),
    ]

    class Kept(Message):
        """A helper has put the sheet on the shelf; this process still works it out itself."""

        def __init__(self, key: str, width: int) -> None:
            self.key, self.width = key, width
            super().__init__()

    class WeighedOut(Message):
        """The amounts and what to mind; what can be foreseen comes later."""

        def __init__(self, ready: Weighed, front: Front, width: int) -> None:
            self.ready, self.front, self.width = ready, front, width
            super().__init__()

    class Ready(Message):
        def __init__(
            self, sheet: PlanSheet, front: Front, width: int, begun: Row | None, key: str | None
        ) -> None:
            self.sheet, self.front, self.width, self.begun = sheet, front, width, begun
            self.key = key
            super().__init__()

    class Cut(Message):
        """The cut face, drawn on another thread."""

        def __init__(self, lines: tuple[Line, ...]) -> None:
            self.lines = lines
            super().__init__()

    def __init__(self, path: Path, rehearse: bool = False, ahead: Ahead | None = None) -> None:
        super().__init__(path)
        self._ahead = ahead
        self._to_rehearse = rehearse
        self._weighed: Weighed | None = None
        """As much of the sheet as is there at once."""
        self._front: Front | None = None
        """What is shown: of the last time, until the sheet has been worked out."""
        self._working = True
        self._pressed = ""
        """What a key pressed meanwhile stands for; it is done then."""
        self._begun: Path | None = None
        """The log of a pour of this plan that has not ended."""
        self._amounts = False
        """Amounts and all in words are shown, and not the front."""
        self._face: tuple[Line, ...] = ()

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="body"):
            yield Canvas(id="page")
            yield Static(words.READING, id="text", markup=False)
        yield Static(id="said", markup=False, classes="strong")
        yield KeyLine([], self._is_shown)

    def on_mount(self) -> None:
        self.say(self.app.notice)
        self.app.notice = ""
        self._show_kept(glanced(self._key))
        self._work_out(at_once=self._front is None)

    def _show_kept(self, key: str | None) -> None:
        """The sheet as it was last time, at once, when nothing it was made from has changed."""
        if front := glanced(lambda: self._sheets.find(key)):
            self._show_front(front)

    @property
    def _sheets(self) -> SheetShelf:
        return SheetShelf(self.app.bench.folder)

    @property
    def _width(self) -> int:
        return sheet_width(self.app.size.width)

    def _key(self) -> str | None:
        return self._sheets.key(self._path, self._width, self.app.settings)

    @in_background("sheet")
    def _work_out(self, at_once: bool) -> None:
        """First what needs no model, and what it shows; then the whole sheet."""
        ahead, self._ahead = self._ahead, None
        if at_once and ahead and (kept := ahead.key()):
            self.post_message(self.Kept(kept, ahead.width))
            at_once = False
        if not at_once:
            let_draw()
        from soapbench.bench.planfile import weigh_out
        from soapbench.sheet.front import front

        key = self._key()  # before reading: what is edited meanwhile is another sheet
        ready = weigh_out(self._path, self.app.bench.folder / "tables")
        width, settings = self._width, self.app.settings
        self.post_message(self.WeighedOut(ready, front(ready, width, settings), width))
        let_draw()
        from soapbench.sheet.plansheet import foreseen_sheet

        known = self.app.memory().known
        unfinished = self.app.bench.unfinished()
        begun = next((row for row in unfinished if row.title == ready.plan.title), None)
        sheet = foreseen_sheet(ready, known)
        self.post_message(self.Ready(sheet, front(sheet, width, settings), width, begun, key))
        from soapbench.sheet.plansheet import with_together

        whole = with_together(sheet, known)
        if whole.together:
            self.post_message(self.Ready(whole, front(whole, width, settings), width, begun, key))

    def on_plan_screen_kept(self, message: Kept) -> None:
        if message.width == self._width and self._working:
            self._show_kept(message.key)

    def on_plan_screen_weighed_out(self, message: WeighedOut) -> None:
        self._weighed = message.ready
        if self._front is None:
            self._show_front(message.front)
            self._refit(message.width)

    def on_plan_screen_ready(self, message: Ready) -> None:
        self.sheet = message.sheet
        self._working = False
        if message.begun:
            self._begun = self.app.bench.path(message.begun)
            now = self.app.clock.read().at.astimezone()
            began = datetime.fromisoformat(message.begun.started)
            self.say(words.still_running(when_words(began, now)))
        self._show_front(message.front)
        self._refit(message.width)
        if (shown := self._front) and message.width == self._width:
            glanced(lambda: self._sheets.keep(message.key, shown))
        if (
            self.app.size.width >= FACE_FROM
            and not self._face
            and message.sheet.outlook is not None
        ):
            self._work_out_face(message.sheet)
        if self._pressed:
            self.action_act(self._pressed)
        if self._to_rehearse:
            self._to_rehearse = False
            self._ask_speed()

    def failed(self, error: BaseException) -> None:
        self._working, self._pressed = False, ""
        self.sheet = self._weighed = self._front = None
        if isinstance(error, FileFaults):
            self._show(faults_text(error))
        else:
            self._show(Text(not_worked_out(failure_words(error))))

    def _show_front(self, front: Front) -> None:
        if front == self._front:
            return
        self._front = front
        self._show(front_text(front))

    def _show(self, text: Text) -> None:
        page = self.query_one(Canvas)
        page.display = self._front is not None and not self._amounts
        self.query_one("#text").display = not page.display
        self.query_one("#text", Static).update(text)
        self._draw_page()

    def _draw_page(self) -> None:
        if self._front is None:
            return
        width, height = self.app.size.width - 3, self.app.size.height
        lines = page_lines(self._front, width, height - 3, self._face)
        page = self.query_one(Canvas)
        page.styles.height = len(lines)
        page.show(lines)

    @in_background("face")
    def _work_out_face(self, sheet: PlanSheet) -> None:
        """The cut face beside the front, where there is room for it."""
        from soapbench.barface.words import showings
        from soapbench.ui.facecells import face_lines

        known = self.app.memory().known
        shown = showings(sheet.plan, known, sheet.amounts, late=0)
        if shown:
            mould = shown[0].design.mould
            rows = round(FACE_WIDE / 2 * mould.depth / mould.width)
            face = face_lines(shown[0].design, shown[0].seed, FACE_WIDE, rows, usual_ink(self.app))
            self.post_message(self.Cut(labelled_face(face, shown[0].words)))

    def on_plan_screen_cut(self, message: Cut) -> None:
        self._face = message.lines
        self._draw_page()

    def on_resize(self) -> None:
        self._refit(0)
        self._draw_page()

    def _refit(self, width: int) -> None:
        """Wrap what is shown anew, unless it was made for the width the screen has now."""
        shown = self.sheet or self._weighed
        if shown and width != self._width:
            from soapbench.sheet.front import front

            self._show_front(front(shown, self._width, self.app.settings))

    # ---- keys

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return action != "turn" or bool(parameters[0]) != self._amounts

    def _is_shown(self, key: Binding) -> bool:
        shown = ON_AMOUNTS if self._amounts else ON_FRONT
        return (key.id or "").removeprefix("plan.") in shown

    def action_turn(self, amounts: bool) -> None:
        """To the amounts, or back to the front."""
        self._amounts = amounts
        self.refresh_bindings()
        if self._front:
            self._show(front_text(self._front))
        self.query_one("#body", VerticalScroll).scroll_home(animate=False)

    def action_bench(self) -> None:
        self.go(ToBench())

    def action_again(self) -> None:
        self._read_again()

    def action_edit(self) -> None:
        self._edit()

    def action_change(self, number: int) -> None:
        if self.sheet is not None:
            self._ask_change(number, self.sheet)

    def _read_again(self) -> None:
        """No key must act on the sheet of what the plan was before."""
        self.sheet = self._weighed = self._front = None
        self._working, self._pressed = True, ""
        self._work_out(at_once=True)

    def action_act(self, name: str) -> None:
        """Do what a key stands for; at once, or when the sheet has been worked out."""
        self._pressed = ""
        if self.sheet is None:
            self._pressed = name if self._working else ""
        elif name == "set_out" and self.sheet.outlook is not None:
            self._set_out(self.sheet)
        elif name == "carry_on" and self._begun:
            self.go(CarryOn(self._begun))
        elif name == "cut_face":
            self._show_face(self.sheet)
        elif name == "practise":
            self._ask_speed()
        elif name == "print":
            self._print(self.sheet)
        else:
            self.app.bell()
