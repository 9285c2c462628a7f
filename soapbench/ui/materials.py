"""The maker's own materials: fragrances, oils, colourants and swirls, each table a form."""

from __future__ import annotations

from typing import Any, ClassVar

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from soapbench.bench import owntable
from soapbench.desk import materials
from soapbench.desk.colournames import colour_named
from soapbench.desk.materials import FORMS, NEW, Blank, Form, Place
from soapbench.desk.plankeys import value_at
from soapbench.logfile.patience import OPEN_S, within
from soapbench.reading.faults import FileFaults, Wrong
from soapbench.ui.basescreen import BaseScreen
from soapbench.ui.editor import Editor, Question
from soapbench.ui.grid import Grid
from soapbench.ui.keyline import KeyLine
from soapbench.ui.themes import swatch
from soapbench.ui.ways import ToBench
from soapbench.words import materials as texts
from soapbench.words.colours import NAMES
from soapbench.words.troubles import not_saved


class MaterialsScreen(BaseScreen[None]):
    """Every change is written at once; undo writes the text before it."""

    AUTO_FOCUS = "#page"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "edit", "edit", id="materials.edit"),
        Binding("n", "new", "new", id="materials.new"),
        Binding("delete,backspace", "remove", "remove", id="materials.remove"),
        Binding("u", "undo", "undo", id="materials.undo"),
        Binding("t", "turn", "next list", id="materials.turn"),
        Binding("escape", "back", "bench", id="materials.back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.form: Form = FORMS[0]
        self._text: str | None = None
        """None: the file cannot be read, and is left alone."""
        self._past: list[str] = []

    def compose(self) -> ComposeResult:
        yield Static(id="title", classes="strong")
        yield Grid(id="page")
        yield Static(id="said", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        self._open(FORMS[0])

    def _open(self, form: Form) -> None:
        self.form, self._past, self._text = form, [], None
        self.say("")
        try:
            text = within(
                OPEN_S, lambda: owntable.text_of(self._tables, form.file, form.first_lines)
            )
            owntable.entries(text, form.under)
            self._text = text
        except (FileFaults, OSError) as refused:
            self.failed(refused)
        self._show()

    @property
    def _tables(self) -> Any:
        return self.app.bench.folder / "tables"

    @property
    def _entries(self) -> dict[str, Any]:
        return owntable.entries(self._text, self.form.under) if self._text is not None else {}

    def _show(self) -> None:
        title = Text(texts.YOUR_OWN)
        for form in FORMS:
            here = form is self.form
            title.append(f" {form.name} ", Style(bold=here, reverse=here))
        self.query_one("#title", Static).update(title)
        self.query_one("#page", Grid).fill(materials.rows(self.form, self._entries))

    # ---- keys

    def action_turn(self) -> None:
        self._open(FORMS[(FORMS.index(self.form) + 1) % len(FORMS)])

    def action_back(self) -> None:
        self.go(ToBench())

    def action_new(self) -> None:
        self._ask_name("")

    def action_edit(self) -> None:
        keys = self._keys
        if self._text is None or not keys or keys[-1] == NEW:
            self._ask_name("")
        elif len(keys) == len(self.form.at) + 1:
            self._ask_name(str(keys[-1]))
        else:
            self._ask(keys)

    @property
    def _keys(self) -> Place:
        cell = self.query_one("#page", Grid).cell
        return cell.keys if cell else ()

    def _blank(self, keys: Place) -> Blank:
        name, path = str(keys[len(self.form.at)]), keys[len(self.form.at) + 1 :]
        return next(b for b in self.form.blanks_of(self._entries[name]) if b.path == path)

    def _ask(self, keys: Place) -> None:
        blank = self._blank(keys)
        now = value_at(self._entries[str(keys[len(self.form.at)])], blank.path)

        def given(typed: str | None) -> None:
            if typed is not None and self._text is not None:
                value = blank.read(typed) if typed else None
                self._take(owntable.with_value(self._text, keys, value))

        self.app.push_screen(
            Editor(_question(blank), "" if now is None else blank.show(now)), given
        )

    def _ask_name(self, name: str) -> None:
        if self._text is None:
            self.app.bell()
            return
        words = texts.name_of(self.form.one, new=not name)
        taken = set(self._entries) - {name}
        asked = Question(words, check=lambda typed: texts.there_already(typed) * (typed in taken))
        self.app.push_screen(Editor(asked, name), lambda new: self._named(name, new))

    def _named(self, name: str, new: str | None) -> None:
        if not new or new == name or self._text is None:
            return
        if name:
            self._take(owntable.renamed(self._text, (*self.form.at, name), new))
        elif self.form.first is None:
            self._begin_like(new)
        else:
            self._begin(new, self.form.first)

    def _begin_like(self, new: str) -> None:
        """A swirl begins like one that is known; its times and limits can then be changed."""
        from soapbench.bench.tables import packaged

        known = {**packaged(self.form.file)[self.form.under], **self._entries}

        def chosen(like: str | None) -> None:
            if like:
                self._begin(new, known[like])

        asked = Question(texts.like_which(new, self.form.one), tuple(known), True)
        self.app.push_screen(Editor(asked, ""), chosen)

    def _begin(self, name: str, first: Any) -> None:
        """A new entry; what it cannot be without is asked first, and written with it."""
        at = (*self.form.at, name)
        blank = next((b for b in self.form.blanks if b.label == self.form.asks), None)

        def given(typed: str | None) -> None:
            if self.form.needs_it and not typed:
                self.say(texts.needs(name, self.form.asks))
                return
            text = owntable.with_entry(self._text or "", at, first)
            if blank is not None and typed:
                text = owntable.with_value(text, (*at, *blank.path), blank.read(typed))
            self._take(text)
            self.query_one("#page", Grid).go_to(at)

        if blank is None:
            given(None)
        else:
            self.app.push_screen(Editor(_question(blank), ""), given)

    def action_remove(self) -> None:
        keys = self._keys
        if self._text is None or not keys or keys[-1] == NEW:
            return
        if len(keys) == len(self.form.at) + 1:
            self._take(owntable.without(self._text, keys))
        elif "moves" in keys:
            self.say(texts.MOVE_STAYS)
        else:
            self._take(owntable.with_value(self._text, keys, None))

    def action_undo(self) -> None:
        if self._past:
            self._write(self._past.pop())

    def _take(self, text: str) -> None:
        before = self._text
        if text != before and self._write(text) and before is not None:
            self._past.append(before)

    def _write(self, text: str) -> bool:
        try:
            owntable.save(self._tables, self.form.file, text)
        except OSError as error:
            self.say(not_saved(error.strerror))
            return False
        self._text = text
        self.app.forget()
        self.say(texts.SAVED)
        self._show()
        return True


def _question(blank: Blank) -> Question:
    def wrong(typed: str) -> str:
        try:
            if typed:
                blank.read(typed)
        except Wrong as fault:
            return str(fault)
        return ""

    if blank.path == ("look",):
        return Question(blank.asked, tuple(NAMES), False, drawn=_patch, check=wrong)
    return Question(blank.asked, blank.choices, blank.closed, check=wrong)


def _patch(name: str) -> Text:
    look = colour_named(name)
    return (swatch(look) if look else Text("    ")).append(f" {name}")
