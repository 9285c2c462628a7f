"""The bench: what is due, what can be poured, what rests, what was; and a word finds any of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text
from textual import events, work
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import Input, ProgressBar, Static
from textual.worker import Worker, WorkerState

from soapbench.desk import benchlist
from soapbench.desk.benchlist import BATCH, CARRY_ON, HEADING, MIND, Line, OnTheBench
from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean, counted
from soapbench.ui.benchfiles import copy_of, plan_of, read_bench
from soapbench.ui.once import Once
from soapbench.ui.rows import Rows

if TYPE_CHECKING:
    from soapbench.ui.app import SoapbenchApp

FEW = 200
"""Fewer logs than this are read without showing how far that has come."""
KEYS = (
    "Enter open   r rehearse   e change   c copy   n new plan   / find\n"
    "f fragrances   b scent book   s settings   ? help   Esc leave"
)
FIRST_WORDS = (
    "This bench is empty. Enter opens a sample plan, r rehearses it without soap; n makes your own."
)


class HomeScreen(Once[None]):
    """The maker's bench. What takes long is read on another thread and shown as it comes."""

    app: SoapbenchApp
    AUTO_FOCUS = "#list"

    class Came(Message):
        """More of the bench has been read."""

        def __init__(self, on: OnTheBench) -> None:
            self.on = on
            self.groups = benchlist.groups(on)
            super().__init__()

    class Reading(Message):
        """Logs read so far."""

        def __init__(self, done: int, total: int) -> None:
            self.done, self.total = done, total
            super().__init__()

    def __init__(self) -> None:
        super().__init__()
        self._leaving = self._find_next = False
        """After "/", or after one Esc: what the next key is taken for."""
        self.on = OnTheBench()
        self.lines: list[Line] = []
        self._groups: tuple[benchlist.Group, ...] = ()

    def compose(self) -> ComposeResult:
        yield Static("The bench", id="title", markup=False, classes="strong")
        yield Input(placeholder="find a plan, a batch, a fragrance, a day", id="wanted")
        yield Rows(id="list")
        with Horizontal(id="reading"):
            yield Static("Reading the logs ", markup=False)
            yield ProgressBar(show_eta=False, id="progress")
        yield Static(id="said", markup=False)
        yield Static(KEYS, id="keys", markup=False, classes="quiet")

    def on_mount(self) -> None:
        self.query_one("#wanted").display = False
        self.query_one("#reading").display = False
        self._say(self.app.said or self._settings_words())
        self.app.said = ""
        self._read()

    def _settings_words(self) -> str:
        if not self.app.settings_faults:
            return ""
        fault = self.app.settings_faults[0]
        where = f", line {fault.line}" if fault.line else ""
        return f"! settings.toml{where}: {fault.key} {fault.wrong}; {fault.right}. Left out."

    # ---- reading

    @work(thread=True, exclusive=True, group="bench", exit_on_error=False)
    def _read(self) -> None:
        """On another thread; each part is shown as it comes."""
        for on in read_bench(self.app, self._reading):
            self.post_message(self.Came(on))

    def _reading(self, done: int, total: int) -> None:
        if total >= FEW:
            self.post_message(self.Reading(done, total))

    def on_home_screen_reading(self, message: Reading) -> None:
        self.query_one("#reading").display = message.done < message.total
        self.query_one("#progress", ProgressBar).update(total=message.total, progress=message.done)

    def on_home_screen_came(self, message: Came) -> None:
        self.on = message.on
        self._groups = message.groups
        self.query_one("#reading").display = False
        self._fill()
        troubles = self.on.troubles
        if troubles:
            self._say("   ".join(troubles))
        elif self.on.whole and self.on.empty:
            self._say(FIRST_WORDS)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """The one place a failed worker comes to: the list stays, the reason is told."""
        if event.state is WorkerState.ERROR:
            self.query_one("#reading").display = False
            error = event.worker.error
            if isinstance(error, FileFaults) and error.faults:
                fault = error.faults[0]
                where = f", line {fault.line}" if fault.line else ""
                self._say(f"! {error.file}{where}: {fault.key} {fault.wrong}; {fault.right}")
            else:
                self._say(f"The bench could not be read whole: {error}")

    # ---- the list

    def _fill(self) -> None:
        rows = self.query_one("#list", Rows)
        held = self.lines[rows.at] if rows.at < len(self.lines) else None
        self.lines = benchlist.lines(self._groups, self.query_one("#wanted", Input).value)
        at = self.lines.index(held) if held in self.lines else 0
        rows.fill([line.kind == HEADING for line in self.lines], self._draw, at)
        count = len(self.on.batches.rows) if self.on.batches else 0
        due = f"   {len(self.on.due)} due" if self.on.due else ""
        plans, batches = counted(len(self.on.plans), "plan"), counted(count, "batch", "batches")
        said = f"The bench   {plans}   {batches}{due}"
        self.query_one("#title", Static).update(said)

    def _draw(self, row: int, width: int) -> Text:
        line = self.lines[row]
        if line.kind == HEADING:
            return Text(line.words, Style(bold=True, underline=True))
        wide = min(44, width // 2)
        return Text.assemble(f"{clean(line.words, wide):<{wide}} ", (clean(line.more), "italic"))

    @property
    def line(self) -> Line | None:
        """The line in hand."""
        at = self.query_one("#list", Rows).at
        line = self.lines[at] if at < len(self.lines) else None
        return line if line and line.kind != HEADING else None

    def _say(self, words: str) -> None:
        self.query_one("#said", Static).update(clean(words))

    def on_input_changed(self) -> None:
        self._fill()

    def on_input_submitted(self) -> None:
        self.query_one("#list").focus()

    # ---- keys

    def on_rows_chosen(self) -> None:
        if line := self.line:
            self._open(line)

    def on_rows_moved(self) -> None:
        if self._leaving:  # something else came between the two
            self._leaving = False
            self._say("")

    def on_key(self, event: events.Key) -> None:
        wanted = self.query_one("#wanted", Input)
        if self._find_next and not wanted.has_focus and event.is_printable:
            event.stop()  # typed on before the line for it had the focus
            wanted.insert_text_at_cursor(event.character or "")
            return
        self._find_next = False
        leaving, self._leaving = self._leaving, False
        if wanted.has_focus:
            if event.key in ("up", "down", "pageup", "pagedown"):
                event.stop()
                self.query_one("#list").focus()
            elif event.key == "escape":
                event.stop()
                self._stop_finding(wanted)
            return
        acts: dict[str, Callable[[], object]] = {
            "slash": self._find,
            "n": self._new,
            "e": self._change,
            "c": self._copy,
            "r": self._rehearse,
            "f": self._shelf,
            "b": self._scents,
            "s": self._settings,
            "question_mark": self._help,
            "escape": lambda: self._back(wanted, leaving),
        }
        if event.key in acts:
            event.stop()
            event.prevent_default()
            acts[event.key]()

    def _find(self) -> None:
        wanted = self.query_one("#wanted", Input)
        wanted.display = True
        wanted.focus()
        self._find_next = True

    def _back(self, wanted: Input, leaving: bool) -> None:
        """One Esc too many on the way back must not throw the maker out."""
        if wanted.display:
            self._stop_finding(wanted)
        elif leaving:
            self.app.action_leave()
        else:
            self._leaving = True
            self._say("Esc once more leaves")

    def _stop_finding(self, wanted: Input) -> None:
        wanted.value = ""
        wanted.display = False
        self.query_one("#list").focus()

    def _open(self, line: Line) -> None:
        if line.kind == CARRY_ON and line.path:
            if why := self.app.carry_on(self.app.bench.folder / line.path):
                self._say(why)
        elif line.kind == BATCH and line.path:
            if why := self.app.to_aftercare(self.app.bench.folder / line.path):
                self._say(why)
        elif line.kind == MIND:
            self.app.to_fragrances(line.name)
        elif path := self._plan_of(line):
            self.app.to_plan(path)

    def _plan_of(self, line: Line | None) -> Path | None:
        try:
            return plan_of(line, self.on, self.app.bench.folder)
        except OSError as error:
            self._say(f"This bench cannot be written: {error.strerror}")
            return None

    def _new(self) -> None:
        from soapbench.desk.draft import FIRST_PLAN, Draft

        self.app.to_workshop(Draft(FIRST_PLAN))

    def _change(self) -> None:
        from soapbench.desk.draft import opened

        if path := self._plan_of(self.line):
            try:
                self.app.to_workshop(opened(path))
            except FileFaults as refused:
                self._say(f"{path.name}: {refused.faults[0].wrong}")
        else:
            self._say("e changes a plan; c copies the plan of a batch")

    def _copy(self) -> None:
        if self.line is None:
            return
        try:
            draft = copy_of(self.line, self.on, self.app.bench.folder)
        except FileFaults as refused:
            self._say(f"{refused.file}: {refused.faults[0].wrong}")
        except OSError as error:
            self._say(f"It cannot be read: {error.strerror}")
        else:
            if draft:
                self.app.to_workshop(draft)

    def _rehearse(self) -> None:
        if path := self._plan_of(self.line):
            self.app.to_rehearsal(path)
        else:
            self._say("r rehearses a plan: choose one first")

    def _shelf(self) -> None:
        from soapbench.ui.shelf import ShelfScreen

        self.app.switch_screen(ShelfScreen())

    def _scents(self) -> None:
        self.app.to_fragrances("")

    def _settings(self) -> None:
        from soapbench.ui.settings import SettingsScreen

        self.app.switch_screen(SettingsScreen())

    def _help(self) -> None:
        from soapbench.ui.help import BENCH_PAGE, Page

        self.app.push_screen(Page(BENCH_PAGE))
