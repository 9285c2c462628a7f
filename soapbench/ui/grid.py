"""A page of values to be edited in place: rows of cells, one cursor, faults under their row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.desk.rows import Cell, Row
from soapbench.reading.safetext import clean
from soapbench.ui.themes import swatch
from soapbench.words.wrapping import wrapped

HEADING_WIDTH = 10
PLACE = "place"
"""What a cell's patch of the screen holds: its row and column."""


class Grid(VerticalScroll, can_focus=True):
    """Rows of cells. Arrows move; the screen decides what the other keys do with ``cell``."""

    DEFAULT_CSS = "Grid { height: 1fr; scrollbar-size-vertical: 1; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "down(-1)", show=False),
        Binding("down", "down(1)", show=False),
        Binding("left", "beside(-1)", show=False),
        Binding("right", "beside(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home", "end(-1)", show=False),
        Binding("end", "end(1)", show=False),
    ]

    class Moved(Message):
        """Another cell is in hand."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rows: Sequence[Row] = ()
        self._y, self._x = 0, 0
        self._page = Static(markup=False)

    def compose(self) -> ComposeResult:
        yield self._page

    @property
    def cell(self) -> Cell | None:
        """The cell in hand; None on an empty page."""
        return self._rows[self._y].cells[self._x] if self._rows else None

    @property
    def row(self) -> Row | None:
        return self._rows[self._y] if self._rows else None

    def fill(self, rows: Sequence[Row]) -> None:
        """Show ``rows`` (each with a cell or more); the cell in hand stays in hand if it can."""
        held = self.cell.keys if self.cell else None
        self._rows = rows
        if not (held and self.go_to(held)):
            self._y = min(self._y, max(len(rows) - 1, 0))
            self._x = min(self._x, len(rows[self._y].cells) - 1) if rows else 0
            self._draw()

    def go_to(self, keys: tuple[int | str, ...]) -> bool:
        """Take the cell of ``keys`` in hand, if there is one."""
        for y, row in enumerate(self._rows):
            for x, cell in enumerate(row.cells):
                if cell.keys == keys:
                    self._y, self._x = y, x
                    self._draw()
                    return True
        return False

    def _draw(self) -> None:
        """Cells in their rows; one that does not fit goes on below the first of its row."""
        text = Text(no_wrap=True, overflow="ellipsis")
        width = max(self.size.width - 1, 40)
        shown_at = 0
        for y, row in enumerate(self._rows):
            if y == self._y:
                shown_at = text.plain.count("\n")
            start = max(HEADING_WIDTH, len(row.heading)) + row.indent
            text.append(f"{row.heading:<{HEADING_WIDTH}}", Style(bold=True))
            text.append(" " * row.indent)
            at = start
            for x, cell in enumerate(row.cells):
                drawn = self._cell(cell, (y, x))
                if at > start and at + len(drawn.plain.rstrip()) > width:
                    text.append("\n" + " " * start)
                    at = start
                text.append_text(drawn)
                at += len(drawn)
            for i, line in enumerate(wrapped(clean(row.more, 300), max(width - at, 20))):
                text.append((f"\n{'':<{at}}" if i else "") + line, self._ink("text-muted"))
            text.append("\n")
            for fault in dict.fromkeys((fault.wrong, fault.right) for fault in row.faults):
                words, mark = clean("; ".join(fault), 300), f"{'':<{start}}! "
                lines = wrapped(words, width, " " * len(mark), mark)
                text.append("\n".join(lines) + "\n", self._ink("error"))
        self._page.update(text)
        high = self.size.height
        if not high:  # not laid out: what is a page down is known at the first resize
            return
        top = shown_at - 1 if shown_at == 1 else shown_at  # the first heading is never out of sight
        if not self.scroll_offset.y <= top < self.scroll_offset.y + high - 1:
            self.scroll_to(y=max(0, shown_at - high // 2), animate=False)

    def _ink(self, name: str) -> Style:
        """The theme's own ink: dimming would fall below what can be read."""
        ink = self.app.theme_variables.get(name, "")
        return Style(color=ink if ink.startswith("#") else None)

    def _cell(self, cell: Cell, place: tuple[int, int]) -> Text:
        here = place == (self._y, self._x)
        text = Text()
        if cell.label:
            text.append(f"{cell.label} ", self._ink("text-muted"))
        if cell.look:
            text.append_text(swatch(cell.look))
            text.append(" ")
        words = clean(cell.shown, 60)
        text.append("▸" if here else " ", Style(bold=True))
        text.append(words, Style(bold=here, reverse=here, italic=cell.quiet and not here))
        text.stylize(Style(meta={PLACE: place}))
        if cell.after:
            text.append(" " * max(1, cell.wide - len(words)))
            text.append(cell.after, self._ink("text-muted"))
        text.append(" " * max(2, 0 if cell.after else cell.wide - len(words)))
        return text

    def on_resize(self) -> None:
        self._draw()

    def action_down(self, rows: int) -> None:
        if self._rows:
            self._y = min(max(self._y + rows, 0), len(self._rows) - 1)
            self._x = min(self._x, len(self._rows[self._y].cells) - 1)
            self._moved()

    def action_page(self, pages: int) -> None:
        self.action_down(pages * max(1, self.size.height - 2))

    def action_end(self, way: int) -> None:
        self.action_down(way * len(self._rows))

    def _moved(self) -> None:
        self._draw()
        self.post_message(self.Moved())

    def action_beside(self, step: int) -> None:
        """To the next cell; from the end of a row to the beginning of the next."""
        if not self._rows:
            return
        x = self._x + step
        if 0 <= x < len(self._rows[self._y].cells):
            self._x = x
        elif 0 <= self._y + step < len(self._rows):
            self._y += step
            self._x = 0 if step > 0 else len(self._rows[self._y].cells) - 1
        self._moved()

    def on_click(self, event: events.Click) -> None:
        """A tap takes a cell in hand; a tap on the one in hand is Enter."""
        at = event.style.meta.get(PLACE)
        if at is None or not self._rows:
            return
        event.stop()
        if at == (self._y, self._x):
            self.app.simulate_key("enter")
            return
        self._y, self._x = at
        self._moved()
