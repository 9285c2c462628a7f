"""The plan sheet on screen: can this swirl be finished, with what amounts, minding what."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text
from textual import events, work
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Static
from textual.worker import Worker, WorkerState

from soapbench.faults import FileFaults
from soapbench.text import clean

if TYPE_CHECKING:
    from soapbench.plansheet import PlanSheet
    from soapbench.ui.app import SoapbenchApp

HEADINGS = ("WEIGH", "POTS", "STAGES", "SWIRLS", "WHAT WOULD CHANGE IT", "PROBLEMS", "MIND")


class PlanScreen(Screen[None]):
    """One plan, read and worked out on another thread so that the screen is there at once."""

    app: SoapbenchApp
    AUTO_FOCUS = "#body"

    class Ready(Message):
        def __init__(self, sheet: PlanSheet) -> None:
            self.sheet = sheet
            super().__init__()

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path
        self.sheet: PlanSheet | None = None

    def compose(self) -> ComposeResult:
        yield Static(clean(self._path.stem), id="title", markup=False, classes="strong")
        with VerticalScroll(id="body"):
            yield Static("Reading the plan …", id="text", markup=False)
        yield Static(
            "Enter set out and pour   r read again   ↑↓ scroll   Esc bench",
            id="keys", markup=False, classes="quiet",
        )

    def on_mount(self) -> None:
        self._work_out()

    @work(thread=True, exclusive=True, group="sheet", exit_on_error=False)
    def _work_out(self) -> None:
        from soapbench.disk.planfile import read_plan
        from soapbench.disk.tables import cautions
        from soapbench.plansheet import plan_sheet

        known = self.app.memory().known
        plan = read_plan(self._path, known.oils, known.swirls.kinds)
        self.post_message(self.Ready(plan_sheet(plan, known, cautions())))

    def on_plan_screen_ready(self, message: Ready) -> None:
        self.sheet = message.sheet
        self._show(_sheet_text(message.sheet, max(40, self.size.width - 3)))

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        if event.state is WorkerState.ERROR:
            self.sheet = None
            error = event.worker.error
            if isinstance(error, FileFaults):
                self._show(_faults_text(error))
            else:
                self._show(Text(f"This could not be worked out: {clean(str(error))}"))

    def _show(self, text: Text) -> None:
        self.query_one("#text", Static).update(text)

    def on_resize(self) -> None:
        if self.sheet:
            self._show(_sheet_text(self.sheet, max(40, self.size.width - 3)))

    def on_key(self, event: events.Key) -> None:
        if event.key == "enter" and self.sheet is not None:
            event.stop()
            if self.sheet.outlook is not None:
                self.app.set_out(self.sheet)
            else:
                self.app.bell()
        elif event.key == "r":
            event.stop()
            self._work_out()
        elif event.key == "escape":
            event.stop()
            from soapbench.ui.home import HomeScreen

            self.app.switch_screen(HomeScreen())


def _sheet_text(sheet: PlanSheet, width: int) -> Text:
    """The sheet as the command line prints it, its headings told apart."""
    from soapbench.sheettext import as_text

    text = Text()
    for i, line in enumerate(as_text(sheet, width).splitlines()[3:]):
        heading = line in HEADINGS
        style = Style(bold=True, underline=heading) if heading or i == 0 else Style()
        text.append(line, style)
        text.append("\n")
    return text


def _faults_text(refused: FileFaults) -> Text:
    text = Text("This plan cannot be used yet.\n\n", style="bold")
    for fault in refused.faults:
        where = f"line {fault.line}  " if fault.line else ""
        text.append(f"{where}{clean(fault.key)}\n", style="bold")
        text.append(f"  {clean(fault.wrong)}\n  right would be: {clean(fault.right)}\n\n")
    return text
