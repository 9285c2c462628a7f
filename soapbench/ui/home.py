"""The bench: what is due, what can be poured, what rests, what was; and a word finds any of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import Input, ProgressBar, Static

from soapbench.desk import benchlist
from soapbench.desk.benchlist import BATCH, CARRY_ON, HEADING, MIND, Line, OnTheBench
from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean, counted
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.benchfiles import copy_of, plan_of, read_bench
from soapbench.ui.rows import Rows
from soapbench.ui.ways import (
    CarryOn,
    Leave,
    ToAftercare,
    ToFragrances,
    ToPlan,
    ToSettings,
    ToShelf,
    ToWorkshop,
)

FEW = 200
"""Fewer logs than this are read without showing how far that has come."""
KEYS = (
    "Enter open   r rehearse   e change   c copy   n new plan   / find\n"
    "f fragrances   b scent book   s settings   ? help   Esc leave"
)
FIRST_WORDS = (
    "This bench is empty. Enter opens a sample plan, r rehearses it without soap; n makes your own."
)


class HomeScreen(BaseScreen[None]):
    """The maker's bench. What takes long is read on another thread and shown as it comes."""

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
        self.say(self.app.said or self._settings_words())
        self.app.said = ""
        self._read()

    def _settings_words(self) -> str:
        faults = self.app.settings_faults
        return f"! {faults[0].words('settings.toml')}. Left out." if faults else ""

    # ---- reading

    @in_background("bench")
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
            self.say("   ".join(troubles))
        elif self.on.whole and self.on.empty:
            self.say(FIRST_WORDS)

    def failed(self, error: BaseException) -> None:
        """The list stays, the reason is told."""
        self.query_one("#reading").display = False
        words = failure_words(error)
        own = isinstance(error, FileFaults)
        self.say(words if own else f"Some of your bench could not be read: {words}")

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
            self.say("")

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
            self.go(Leave())
        else:
            self._leaving = True
            self.say("Esc once more leaves")

    def _stop_finding(self, wanted: Input) -> None:
        wanted.value = ""
        wanted.display = False
        self.query_one("#list").focus()

    def _open(self, line: Line) -> None:
        if line.kind == CARRY_ON and line.path:
            self.go(CarryOn(self.app.bench.folder / line.path))
        elif line.kind == BATCH and line.path:
            self.go(ToAftercare(self.app.bench.folder / line.path))
        elif line.kind == MIND:
            self.go(ToFragrances(line.name))
        elif path := self._plan_of(line):
            self.go(ToPlan(path))

    def _plan_of(self, line: Line | None) -> Path | None:
        try:
            return plan_of(line, self.on, self.app.bench.folder)
        except OSError as error:
            self.say(f"This bench cannot be written: {error.strerror}")
            return None

    def _new(self) -> None:
        from soapbench.desk.draft import FIRST_PLAN, Draft

        self.go(ToWorkshop(Draft(FIRST_PLAN)))

    def _change(self) -> None:
        from soapbench.desk.draft import opened

        if path := self._plan_of(self.line):
            try:
                self.go(ToWorkshop(opened(path)))
            except FileFaults as refused:
                self.failed(refused)
        else:
            self.say("e changes a plan; c copies the plan of a batch")

    def _copy(self) -> None:
        if self.line is None:
            return
        try:
            draft = copy_of(self.line, self.on, self.app.bench.folder)
        except FileFaults as refused:
            self.failed(refused)
        except OSError as error:
            self.say(f"It cannot be read: {error.strerror}")
        else:
            if draft:
                self.go(ToWorkshop(draft))

    def _rehearse(self) -> None:
        if path := self._plan_of(self.line):
            self.go(ToPlan(path, rehearse=True))
        else:
            self.say("r rehearses a plan: choose one first")

    def _shelf(self) -> None:
        self.go(ToShelf())

    def _scents(self) -> None:
        self.go(ToFragrances())

    def _settings(self) -> None:
        self.go(ToSettings())

    def _help(self) -> None:
        from soapbench.ui.help import BENCH_PAGE, Page

        self.app.push_screen(Page(BENCH_PAGE))
