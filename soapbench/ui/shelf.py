"""The shelf: the maker's own fragrances, their certificates' limits and lots, to be changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from textual import events
from textual.app import ComposeResult
from textual.widgets import Static

from soapbench.batter import Reputation
from soapbench.bench import fragrancetable
from soapbench.desk.rows import Cell, Row
from soapbench.reading.faults import Fault, FileFaults
from soapbench.reading.units import Measure, QuantityError, read
from soapbench.recipe.fragrances import fragrance_table
from soapbench.ui.basescreen import BaseScreen, failure_words
from soapbench.ui.editor import Editor, Question
from soapbench.ui.grid import Grid
from soapbench.ui.ways import ToBench

FIELDS = (
    ("limit_percent", "limit", "Most it may be of the finished product, from its certificate"),
    ("reputation", "said to be", "What supplier or makers say it does to the clock"),
    ("lot", "lot", "Lot number of the bottle in use"),
    ("density_g_ml", "density", "Density, g/mL, from its sheet"),
    ("note", "note", "A note"),
)
NEW = ("", "name")
KEYS = "Enter edit   n new   Del remove   u undo   Esc bench"


class ShelfScreen(BaseScreen[None]):
    """Every change is written at once; undo writes the text before it."""

    AUTO_FOCUS = "#page"

    def __init__(self) -> None:
        super().__init__()
        self._text = ""
        self._past: list[str] = []

    def compose(self) -> ComposeResult:
        yield Static("Fragrances on this bench", id="title", markup=False, classes="strong")
        yield Grid(id="page")
        yield Static(id="said", markup=False)
        yield Static(KEYS, id="keys", markup=False, classes="quiet")

    def on_mount(self) -> None:
        try:
            self._text = fragrancetable.text_of(self.app.bench.folder / "tables")
            fragrancetable.entries(self._text)
        except FileFaults as refused:
            self.say(failure_words(refused))
            self._text = ""
        self._show()

    def _show(self) -> None:
        said = fragrancetable.entries(self._text) if self._text else {}
        _, faults = fragrance_table({"source": "own", "verified": "own", **said})
        self.query_one("#page", Grid).fill(list(_rows(said, faults)))

    # ---- keys

    def on_key(self, event: events.Key) -> None:
        cell = self.query_one("#page", Grid).cell
        acts: dict[str, Callable[[], object]] = {
            "enter": lambda: self._ask(cell.keys if cell else NEW),
            "n": lambda: self._ask(NEW),
            "delete": lambda: self._take_out(cell),
            "backspace": lambda: self._take_out(cell),
            "u": self._undo,
            "escape": lambda: self.go(ToBench()),
        }
        if event.key in acts:
            event.stop()
            event.prevent_default()
            acts[event.key]()

    def _ask(self, keys: tuple[int | str, ...]) -> None:
        if not self._text:
            self.app.bell()
            return
        name, key = str(keys[0]), str(keys[1])
        if key == "name":
            words = "Name of the fragrance" if name else "Name of a new fragrance"
            self.app.push_screen(Editor(Question(words), name), lambda new: self._named(name, new))
            return
        question = next(words for field, _, words in FIELDS if field == key)
        closed = tuple(Reputation) if key == "reputation" else ()
        said = fragrancetable.entries(self._text).get(name, {}).get(key)
        start = f"{said:g} %" if key == "limit_percent" and isinstance(said, int | float) else said
        self.app.push_screen(
            Editor(Question(question, closed, bool(closed)), "" if start is None else str(start)),
            lambda typed: None if typed is None else self._given(name, key, typed),
        )

    def _named(self, name: str, new: str | None) -> None:
        if not new or new == name:
            return
        if new in fragrancetable.entries(self._text):
            self.say(f"! {new} is on the shelf already")
        elif name:
            self._take(fragrancetable.renamed(self._text, name, new))
        else:
            self._take(fragrancetable.with_value(self._text, new, "reputation", "unknown"))
            self.query_one("#page", Grid).go_to((new, "limit_percent"))

    def _given(self, name: str, key: str, typed: str) -> None:
        try:
            value = _value(key, typed)
        except QuantityError as fault:
            self.say(f"! {fault.wrong}; {fault.right}")
            return
        self._take(fragrancetable.with_value(self._text, name, key, value))

    def _take_out(self, cell: Cell | None) -> None:
        if cell is None or not self._text or not cell.keys[0]:
            return
        name, key = str(cell.keys[0]), str(cell.keys[1])
        if key == "name":
            self._take(fragrancetable.without(self._text, name))
        else:
            self._take(fragrancetable.with_value(self._text, name, key, None))

    def _undo(self) -> None:
        if self._past:
            self._write(self._past.pop())

    def _take(self, text: str) -> None:
        if text != self._text:
            before = self._text
            if self._write(text):
                self._past.append(before)

    def _write(self, text: str) -> bool:
        tables = self.app.bench.folder / "tables"
        try:
            fragrancetable.save(tables, text)
        except OSError as error:
            self.say(f"NOT SAVED: {error.strerror}")
            return False
        self._text = text
        self.app.forget()
        self.say("Saved")
        self._show()
        return True


def _value(key: str, typed: str) -> str | float | None:
    """What goes into the file for what was typed. Raises QuantityError."""
    if not typed:
        return None
    if key == "limit_percent":
        said = typed if typed.rstrip().endswith("%") else f"{typed} %"
        share = read(said, Measure.SHARE)
        if not 0 < share <= 1:
            raise QuantityError(f'"{typed}" is no limit', "above 0 and at most 100 %")
        return float(f"{share * 100:.6g}")
    if key == "density_g_ml":
        bare = typed.replace(".", "", 1).isdigit()
        density = read(f"{typed} g/mL" if bare else typed, Measure.DENSITY)
        if not 0.5 <= density <= 2:
            raise QuantityError(f'"{typed}" is no density', "from 0.5 to 2 g/mL")
        return float(f"{density:.6g}")
    return typed


def _rows(said: Mapping[str, Mapping[str, Any]], faults: tuple[Fault, ...]) -> list[Row]:
    rows = []
    for name, entry in said.items():
        cells = [Cell((name, "name"), name, wide=22)]
        for key, label, _ in FIELDS:
            value = entry.get(key)
            shown = "–" if value is None else f"{value} %" if key == "limit_percent" else str(value)
            cells.append(Cell((name, key), shown, label, quiet=value is None))
        mine = tuple(f for f in faults if f.key == name or f.key.startswith(f"{name}."))
        rows += [Row(tuple(cells[:4])), Row(tuple(cells[4:]), faults=mine, indent=2)]
    rows.append(Row((Cell(NEW, "+ fragrance", quiet=True),)))
    return rows
