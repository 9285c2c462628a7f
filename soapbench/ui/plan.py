"""The plan sheet on screen: can this swirl be finished, with what amounts, minding what."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.bench.keptsheets import SheetShelf
from soapbench.desk.prefetch import sheet_width
from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean
from soapbench.sheet.screenlines import HEADINGS, Front
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.bigtext import BigText
from soapbench.ui.later import let_draw
from soapbench.ui.ways import CarryOn, ToBench, ToRehearsal, ToSetOut

if TYPE_CHECKING:
    from soapbench.bench.summary import Row
    from soapbench.desk.prefetch import Ahead
    from soapbench.sheet.plansheet import PlanSheet
    from soapbench.sheet.weighing import Weighed


class PlanScreen(BaseScreen[None]):
    """One plan, read and worked out on another thread so that the screen is there at once."""

    AUTO_FOCUS = "#body"

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

    def __init__(self, path: Path, rehearse: bool = False, ahead: Ahead | None = None) -> None:
        super().__init__()
        self._ahead = ahead
        self._path = path
        self._to_rehearse = rehearse
        self.sheet: PlanSheet | None = None
        self._weighed: Weighed | None = None
        """As much of the sheet as is there at once."""
        self._front: Front | None = None
        """What is shown: of the last time, until the sheet has been worked out."""
        self._working = True
        self._pressed = ""
        """A key pressed meanwhile; it is heeded then."""
        self._begun: Path | None = None
        """The log of a pour of this plan that has not ended."""

    def compose(self) -> ComposeResult:
        yield Static(clean(self._path.stem), id="title", markup=False, classes="strong")
        with Horizontal(id="verdict"):
            yield BigText(id="chance_big")
            yield Static(id="verdict_words", markup=False)
        with VerticalScroll(id="body"):
            yield Static("Reading the plan …", id="text", markup=False)
        yield Static(id="said", markup=False, classes="strong")
        yield Static(
            "Enter pour   h rehearse   v cut face   r read again   ↑↓ scroll   Esc bench",
            id="keys",
            markup=False,
            classes="quiet",
        )

    def on_mount(self) -> None:
        self._show_kept(self._key())
        self._work_out(at_once=self._front is None)

    def _show_kept(self, key: str | None) -> None:
        """The sheet as it was last time, at once, when nothing it was made from has changed."""
        if found := self._sheets.find(key):
            self._show_front(found)

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
        from soapbench.sheet.text import front

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
            since = message.begun.started[:16].replace("T", " ")
            self.say(f"A pour of this plan, begun {since}, has not ended: c carries it on")
        self._show_front(message.front)
        self._refit(message.width)
        if self._front and message.width == self._width:
            self._sheets.keep(message.key, self._front)
        if self._pressed:
            self._act(self._pressed)
        if self._to_rehearse:
            self._to_rehearse = False
            self._ask_speed()

    def _ask_speed(self) -> None:
        from soapbench.desk.rehearsing import FASTEST, SLOWEST, USUAL_SPEED
        from soapbench.ui.dialogs import Words

        if self.sheet is None or self.sheet.outlook is None:
            self.say("These steps cannot be poured as written, so they cannot be rehearsed")
            return
        asked = f"Rehearse how many times faster than life, {SLOWEST:g} to {FASTEST:g}?"
        self.app.push_screen(Words(asked, f"{USUAL_SPEED:g}"), self._rehearse)

    def _rehearse(self, typed: str | None) -> None:
        from soapbench.desk.rehearsing import Wanted, a_seed, speed_of

        if typed is None or self.sheet is None:
            return
        try:
            speed = speed_of(typed)
        except ValueError as wrong:
            self.say(f"No rehearsal: {wrong}")
        else:
            self.go(ToRehearsal(Wanted(self.sheet, speed, a_seed())))

    def failed(self, error: BaseException) -> None:
        self._working, self._pressed = False, ""
        self.sheet = self._weighed = self._front = None
        if isinstance(error, FileFaults):
            self._show(_faults_text(error))
        else:
            self._show(Text(f"This could not be worked out: {failure_words(error)}"))

    def _show_front(self, front: Front) -> None:
        if front == self._front:
            return
        self._front = front
        self.query_one("#title", Static).update(front.title)
        self.query_one("#chance_big", BigText).show(front.chance)
        self.query_one("#verdict_words", Static).update(front.verdict)
        self.query_one("#verdict").set_class(front.danger, "danger")
        self._show(_front_text(front))

    def _show(self, text: Text) -> None:
        self.query_one("#verdict").display = self._front is not None
        self.query_one("#text", Static).update(text)

    def on_resize(self) -> None:
        self._refit(0)

    def _refit(self, width: int) -> None:
        """Wrap what is shown anew, unless it was made for the width the screen has now."""
        shown = self.sheet or self._weighed
        if shown and width != self._width:
            from soapbench.sheet.text import front

            self._show_front(front(shown, self._width, self.app.settings))

    def on_key(self, event: events.Key) -> None:
        if event.key in ("enter", "c", "v", "h"):
            event.stop()
            self._act(event.key)
        elif event.key == "r":
            event.stop()
            self._read_again()
        elif event.key == "escape":
            event.stop()
            self.go(ToBench())

    def _read_again(self) -> None:
        """No key must act on the sheet of what the plan was before."""
        self.sheet = self._weighed = self._front = None
        self._working, self._pressed = True, ""
        self._work_out(at_once=True)

    def _act(self, key: str) -> None:
        """Do what ``key`` stands for; at once, or when the sheet has been worked out."""
        self._pressed = ""
        if self.sheet is None:
            self._pressed = key if self._working else ""
        elif key == "enter" and self.sheet.outlook is not None:
            self._set_out(self.sheet)
        elif key == "c" and self._begun:
            self.go(CarryOn(self._begun))
        elif key == "v":
            self._show_face(self.sheet)
        elif key == "h":
            self._ask_speed()
        else:
            self.app.bell()

    def _set_out(self, sheet: PlanSheet, typed: str = "") -> None:
        """To the set-out. A plan with a stop asks for a typed yes first."""
        from soapbench.recipe.told import YES
        from soapbench.ui.dialogs import Words

        if sheet.may_be_poured(typed):
            self.go(ToSetOut(sheet, typed))
        elif sheet.impossible or typed:
            self.app.bell()
        else:
            asked = f"{sheet.stops[0].text} To pour it all the same type {YES}"
            self.app.push_screen(Words(asked), lambda said: self._set_out(sheet, said or "no"))

    def _show_face(self, sheet: PlanSheet) -> None:
        if sheet.outlook is None:
            self.app.bell()
            return
        from soapbench.barface.words import showings
        from soapbench.ui.face import FaceScreen

        known = self.app.memory().known
        self.app.push_screen(
            FaceScreen(
                sheet.plan.title,
                lambda: showings(sheet.plan, known, sheet.amounts),
                known.sinking.words,
            )
        )


def _front_text(front: Front) -> Text:
    """What the command line prints below the verdict, headings told apart."""
    text = Text()
    for line in front.lines:
        text.append(f"{line}\n", Style(bold=True, underline=True) if line in HEADINGS else None)
    return text


def _faults_text(refused: FileFaults) -> Text:
    text = Text("This plan cannot be used yet.\n\n", style="bold")
    for fault in refused.faults:
        where = f"line {fault.line}  " if fault.line else ""
        text.append(f"{where}{clean(fault.key)}\n", style="bold")
        text.append(f"  {clean(fault.wrong)}\n  right would be: {clean(fault.right)}\n\n")
    if refused.more:
        text.append(f"… and {refused.more:,} more\n")
    return text
