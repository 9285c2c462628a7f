"""A list of any length: only the lines on screen are ever drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from rich.style import Style
from rich.text import Text
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

Draw = Callable[[int, int], Text]
"""The line of a row, given its place in the list and the width there is."""


class Rows(ScrollView, can_focus=True):
    """Lines with a cursor that skips headings. A tap posts ``Chosen``, moving posts ``Moved``;
    what Enter does is the screen's."""

    DEFAULT_CSS = "Rows { height: 1fr; scrollbar-size-vertical: 1; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", show=False),
        Binding("down", "step(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home", "end(-1)", show=False),
        Binding("end", "end(1)", show=False),
    ]

    class Chosen(Message):
        def __init__(self, index: int) -> None:
            self.index = index
            super().__init__()

    class Moved(Message):
        def __init__(self, index: int) -> None:
            self.index = index
            super().__init__()

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._draw: Draw = lambda _i, _width: Text()
        self._headings: Sequence[bool] = ()
        self.at = 0

    def fill(self, headings: Sequence[bool], draw: Draw, at: int = 0) -> None:
        """Show as many rows as ``headings`` has; True: one the cursor skips."""
        self._headings, self._draw = headings, draw
        self.virtual_size = Size(0, len(headings))
        self.at = self._beside(min(at, max(len(headings) - 1, 0)), 1)
        self._show()

    def move(self, step: int) -> None:
        """Move the cursor by ``step`` rows, to the nearest that can be chosen."""
        was = self.at
        last = len(self._headings) - 1
        self.at = self._beside(min(max(self.at + step, 0), max(last, 0)), 1 if step > 0 else -1)
        self._show()
        if self.at != was:
            self.post_message(self.Moved(self.at))

    def _beside(self, at: int, step: int) -> int:
        """The row at ``at``, else the next one that can be chosen that way, else the other way."""
        for way in (step, -step):
            here = at
            while 0 <= here < len(self._headings):
                if not self._headings[here]:
                    return here
                here += way
        return 0

    def _show(self) -> None:
        top, high = self.scroll_offset.y, max(1, self.size.height)
        first = self.at - 1 if self.at and self._headings[self.at - 1] else self.at
        if first < top or self.at == 0:
            self.scroll_to(y=first, animate=False)
        elif self.at >= top + high:
            self.scroll_to(y=self.at - high + 1, animate=False)
        self.refresh()

    def render_line(self, y: int) -> Strip:
        row, width = y + self.scroll_offset.y, self.size.width
        if row >= len(self._headings):
            return Strip.blank(width, self.rich_style)
        heading, here = self._headings[row], row == self.at
        text = Text(style=self.rich_style)
        if not heading:
            text.append("▸ " if here else "  ", Style(bold=here))
        text.append_text(self._draw(row, width - 2))
        text.truncate(width, overflow="ellipsis", pad=True)
        if here and not heading:
            text.stylize(Style(bold=True, reverse=self.has_focus))
        text.no_wrap = True
        return Strip(list(text.render(self.app.console)), width)

    def action_step(self, rows: int) -> None:
        self.move(rows)

    def action_page(self, pages: int) -> None:
        self.move(pages * max(1, self.size.height - 2))

    def action_end(self, way: int) -> None:
        self.move(way * len(self._headings))

    def on_resize(self) -> None:
        self._show()  # the line in hand stays in sight

    def on_focus(self) -> None:
        self.refresh()

    def on_blur(self) -> None:
        self.refresh()

    def on_click(self, event: events.Click) -> None:
        row = event.y + self.scroll_offset.y
        if row < len(self._headings) and not self._headings[row]:
            self.move(row - self.at)
            self.post_message(self.Chosen(self.at))
