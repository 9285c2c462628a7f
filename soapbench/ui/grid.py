"""A page of values to be edited in place: rows of cells, one cursor, faults under their row."""

from __future__ import annotations

from collections.abc import Sequence

from rich.style import Style
from rich.text import Text
from textual import events
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.desk.rows import Cell, Row
from soapbench.reading.safetext import clean
from soapbench.ui.themes import swatch

HEADING_WIDTH = 8


class Grid(VerticalScroll, can_focus=True):
    """Rows of cells. Arrows move; the screen decides what the other keys do with ``cell``."""

    DEFAULT_CSS = "Grid { height: 1fr; scrollbar-size-vertical: 1; }"

    class Moved(Message):
        """Another cell is in hand."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rows: Sequence[Row] = ()
        self._y, self._x = 0, 0
        self._page = Static(markup=False)

    def compose(self):  # type: ignore[no-untyped-def]
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
        text = Text(no_wrap=True, overflow="ellipsis")
        line = shown_at = 0
        for y, row in enumerate(self._rows):
            if y == self._y:
                shown_at = line
            text.append(f"{row.heading:<{HEADING_WIDTH}}", Style(bold=True))
            text.append(" " * row.indent)
            for x, cell in enumerate(row.cells):
                self._draw_cell(text, cell, (y, x) == (self._y, self._x), row)
            text.append("\n")
            line += 1
            for fault in row.faults:
                text.append(f"{'':<{HEADING_WIDTH}}! {clean(fault.wrong)}\n", Style(bold=True))
                text.append(f"{'':<{HEADING_WIDTH}}  right: {clean(fault.right)}\n")
                line += 2
        self._page.update(text)
        high = max(1, self.size.height)
        if not self.scroll_offset.y <= shown_at < self.scroll_offset.y + high - 1:
            self.scroll_to(y=max(0, shown_at - high // 2), animate=False)

    def _muted(self) -> Style:
        """The theme's own quiet colour: dimming would fall below what can be read."""
        ink = self.app.theme_variables.get("text-muted", "")
        return Style(color=ink if ink.startswith("#") else None)

    def _draw_cell(self, text: Text, cell: Cell, here: bool, row: Row) -> None:
        if cell.label:
            text.append(f"{cell.label} ", self._muted())
        if cell.look:
            text.append_text(swatch(cell.look))
            text.append(" ")
        words = clean(cell.shown, 60)
        style = Style(bold=here, reverse=here, italic=cell.quiet and not here)
        text.append("▸" if here else " ", Style(bold=True))
        text.append(words, style)
        text.append(" " * max(2, cell.wide - len(words)))

    def on_key(self, event: events.Key) -> None:
        if not self._rows or event.key not in ("up", "down", "left", "right", "pageup", "pagedown"):
            return
        event.stop()
        event.prevent_default()
        if event.key in ("left", "right"):
            self._sideways(1 if event.key == "right" else -1)
        else:
            step = {"up": -1, "down": 1, "pageup": -8, "pagedown": 8}[event.key]
            self._y = min(max(self._y + step, 0), len(self._rows) - 1)
            self._x = min(self._x, len(self._rows[self._y].cells) - 1)
        self._draw()
        self.post_message(self.Moved())

    def _sideways(self, step: int) -> None:
        """To the next cell; from the end of a row to the beginning of the next."""
        x = self._x + step
        if 0 <= x < len(self._rows[self._y].cells):
            self._x = x
        elif 0 <= self._y + step < len(self._rows):
            self._y += step
            self._x = 0 if step > 0 else len(self._rows[self._y].cells) - 1
