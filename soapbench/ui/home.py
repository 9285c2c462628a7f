"""The bench: what is due, what can be poured, what cures, what was; a word finds any of it."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import Input, ProgressBar, Static

from soapbench.desk import benchlist
from soapbench.desk.benchlist import BATCH, CARRY_ON, DUE, HEADING, MIND, Line, OnTheBench
from soapbench.reading.faults import FileFaults
from soapbench.reading.safetext import clean
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.benchfiles import copy_of, plan_of, read_bench
from soapbench.ui.keyline import KeyLine
from soapbench.ui.rows import Rows
from soapbench.ui.ways import (
    CarryOn,
    Leave,
    ToAftercare,
    ToFragrances,
    ToMaterials,
    ToPlan,
    ToSettings,
    ToWorkshop,
)
from soapbench.words import bench as texts
from soapbench.words.troubles import part_unreadable

FEW = 200
"""Fewer logs than this are read without showing how far that has come."""
BAR = 10
"""Cells of the bar that tells how far a cure is."""


class HomeScreen(BaseScreen[None]):
    """The maker's bench. What takes long is read on another thread and shown as it comes."""

    AUTO_FOCUS = "#list"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "open", id="bench.open"),
        Binding("r", "practise", "practise", id="bench.practise"),
        Binding("e", "edit", "edit", id="bench.edit"),
        Binding("c", "copy", "copy", id="bench.copy"),
        Binding("n", "new", "new plan", id="bench.new"),
        Binding("slash", "find", "find", id="bench.find"),
        Binding("f", "materials", "materials", id="bench.materials"),
        Binding("b", "book", "fragrance book", id="bench.book"),
        Binding("s", "settings", "settings", id="bench.settings"),
        Binding("question_mark", "help", "help", id="bench.help"),
        Binding("g", "glossary", "words", id="bench.glossary"),
        Binding("escape", "back", "quit", id="bench.back"),
        Binding("up,down,pageup,pagedown", "to_list", show=False, priority=True),
    ]

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
        self._moved = False
        """The maker has chosen a line; until then the first is in hand, the most urgent."""
        self._leaving = self._find_next = False
        """After "/", or after one Esc: what the next key is taken for."""
        self._greeted = False
        """Something was said as it opened, which what comes later must not wipe out."""
        self.on = OnTheBench()
        self.lines: list[Line] = []
        self._groups: tuple[benchlist.Group, ...] = ()

    def compose(self) -> ComposeResult:
        yield Static(texts.TITLE, id="title", markup=False, classes="strong")
        yield Input(placeholder=texts.SEARCH, id="wanted")
        yield Rows(id="list")
        with Horizontal(id="reading"):
            yield Static(texts.READING, markup=False)
            yield ProgressBar(show_eta=False, id="progress")
        yield Static(id="said", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        self.query_one("#wanted").display = False
        self.query_one("#reading").display = False
        words = self.app.notice or self._settings_words()
        self._greeted = bool(words)
        self.say(words)
        self.app.notice = ""
        self._read()

    def _settings_words(self) -> str:
        faults = self.app.settings_faults
        return texts.not_used(faults[0].words("settings.toml")) if faults else ""

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
            self.say(texts.FIRST_WORDS)
        elif self.on.whole and not self._greeted and not self._leaving:
            self.say(self.on.record)

    def failed(self, error: BaseException) -> None:
        """The list stays, the reason is told."""
        self.query_one("#reading").display = False
        words = failure_words(error)
        own = isinstance(error, FileFaults)
        self.say(words if own else part_unreadable(words))

    # ---- the list

    def _fill(self) -> None:
        rows = self.query_one("#list", Rows)
        held = self.lines[rows.at] if rows.at < len(self.lines) else None
        self.lines = benchlist.lines(self._groups, self.query_one("#wanted", Input).value)
        at = self.lines.index(held) if self._moved and held in self.lines else 0
        rows.fill([line.kind == HEADING for line in self.lines], self._draw, at)
        listed = self.on.batches.rows if self.on.batches else ()
        count = sum(bool(row.started or row.problem) for row in listed)  # a set-out alone is none
        title = texts.bench_title(len(self.on.plans), count, len(self.on.due))
        self.query_one("#title", Static).update(title)

    def _draw(self, row: int, width: int) -> Text:
        line = self.lines[row]
        if line.kind == HEADING:
            return Text(line.words, Style(bold=True, underline=True))
        wide = min(50, width * 6 // 10) if line.kind == DUE else min(40, width * 2 // 5)
        text = Text(f"{clean(line.words, wide):<{wide}} ")
        if line.day:
            text.append(f"{line.day:<12} ")
        if line.cured is not None:
            lit = round(line.cured * BAR)
            text.append("▰" * lit + "▱" * (BAR - lit) + " ")
        return text.append(clean(line.more), Style(italic=True))

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
        self.action_open()

    def action_open(self) -> None:
        """At once, before the next key: that one may be meant for a pour already."""
        if line := self.line:
            self._open(line)

    def on_rows_moved(self) -> None:
        self._moved = True
        if self._leaving:  # something else came between the two
            self._leaving = False
            self.say("")

    def on_key(self, event: events.Key) -> None:
        wanted = self.query_one("#wanted", Input)
        if self._find_next and not wanted.has_focus and event.is_printable:
            event.stop()  # typed on before the line for it had the focus
            event.prevent_default()
            wanted.insert_text_at_cursor(event.character or "")
            return
        self._find_next = False
        if event.key != "escape":
            self._leaving = False

    def action_find(self) -> None:
        wanted = self.query_one("#wanted", Input)
        wanted.display = True
        wanted.focus()
        self._find_next = True

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """An Input has keys of its own for these; only while it has the focus they are ours."""
        return action != "to_list" or self.query_one("#wanted", Input).has_focus

    def action_to_list(self) -> None:
        self.query_one("#list").focus()

    def action_back(self) -> None:
        """One Esc too many on the way back must not throw the maker out."""
        wanted = self.query_one("#wanted", Input)
        if wanted.display:
            wanted.value = ""
            wanted.display = False
            self.query_one("#list").focus()
        elif self._leaving:
            self.go(Leave())
        else:
            self._leaving = True
            self.say(texts.ONCE_MORE)

    def _open(self, line: Line) -> None:
        if line.kind == CARRY_ON and line.path:
            self.go(CarryOn(self.app.bench.folder / line.path))
        elif line.kind in (BATCH, DUE) and line.path:
            self.go(ToAftercare(self.app.bench.folder / line.path))
        elif line.kind == MIND:
            self.go(ToFragrances(line.name))
        elif path := self._plan_of(line):
            self.go(ToPlan(path))

    def _plan_of(self, line: Line | None) -> Path | None:
        try:
            return plan_of(line, self.on, self.app.bench.folder)
        except OSError as error:
            self.say(texts.cannot_save(error.strerror))
            return None

    def action_new(self) -> None:
        from soapbench.desk.draft import FIRST_PLAN, Draft

        self.go(ToWorkshop(Draft(FIRST_PLAN)))

    def action_edit(self) -> None:
        from soapbench.desk.draft import opened

        if path := self._plan_of(self.line):
            try:
                self.go(ToWorkshop(opened(path)))
            except FileFaults as refused:
                self.failed(refused)
        else:
            self.say(texts.NOT_A_PLAN)

    def action_copy(self) -> None:
        if self.line is None:
            return
        try:
            draft = copy_of(self.line, self.on, self.app.bench.folder)
        except FileFaults as refused:
            self.failed(refused)
        except OSError as error:
            self.say(texts.cannot_read(error.strerror))
        else:
            if draft:
                self.go(ToWorkshop(draft))

    def action_practise(self) -> None:
        if path := self._plan_of(self.line):
            self.go(ToPlan(path, rehearse=True))
        else:
            self.say(texts.CHOOSE_FIRST)

    def action_materials(self) -> None:
        self.go(ToMaterials())

    def action_book(self) -> None:
        self.go(ToFragrances())

    def action_settings(self) -> None:
        self.go(ToSettings())

    def action_help(self) -> None:
        from soapbench.ui.help import Page
        from soapbench.words.help import BENCH_PAGE

        self.app.push_screen(Page(BENCH_PAGE))

    def action_glossary(self) -> None:
        from soapbench.ui.help import Page
        from soapbench.words.help import GLOSSARY

        self.app.push_screen(Page(GLOSSARY))
