"""Digits that read from two metres away: each pixel of a 3 x 5 digit is a block of cells."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

# Rows of each sign, "#" lit. A colon and a minus are narrower, so that times stay short.
SIGNS = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", " ##", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", " # ", " # ", " # "),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    ":": (" ", "#", " ", "#", " "),
    "–": ("   ", "   ", "###", "   ", "   "),
    "%": ("# #", "  #", " # ", "#  ", "# #"),
    ">": ("#  ", " # ", "  #", " # ", "#  "),
    "<": ("  #", " # ", "#  ", " # ", "  #"),
    " ": (" ", " ", " ", " ", " "),
    "S": ("###", "#  ", "###", "  #", "###"),
    "T": ("###", " # ", " # ", " # ", " # "),
    "O": ("###", "# #", "# #", "# #", "###"),
    "P": ("###", "# #", "###", "#  ", "#  "),
}
ROWS = 5


class BigText(Widget):
    """A short time or number in large digits; grows with the room it is given."""

    DEFAULT_CSS = "BigText { height: 5; width: 1fr; }"

    def __init__(self, text: str = "", *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._text = text
        self._lit: list[str] = []
        self._made_for: tuple[str, int, int] | None = None

    def show(self, text: str) -> None:
        """Show ``text``; nothing is drawn when it has not changed."""
        if text != self._text:
            self._text = text
            self.refresh()

    @property
    def text(self) -> str:
        return self._text

    def render_line(self, y: int) -> Strip:
        width, height = self.size
        self._make(width, height)
        line = self._lit[y] if y < len(self._lit) else ""
        style = self.rich_style
        lit = Style(bgcolor=style.color, color=style.color)
        segments = []
        start = 0
        for i in range(1, len(line) + 1):
            if i == len(line) or line[i] != line[start]:
                # The block character too: without colour the digits must still be there.
                part = line[start:i]
                segments.append(Segment(part, lit if part[0] == "█" else style))
                start = i
        return Strip(segments).extend_cell_length(width, style)

    def _make(self, width: int, height: int) -> None:
        if self._made_for == (self._text, width, height):
            return
        self._made_for = (self._text, width, height)
        tall = max(1, height // ROWS)
        wide = 2 * tall
        while wide > 1 and len(_row(self._text, 0, wide)) > width:
            wide -= 1
        self._lit = [_row(self._text, y, wide)[:width] for y in range(ROWS) for _ in range(tall)]


def _row(text: str, y: int, wide: int) -> str:
    """One row of pixels of ``text``, each ``wide`` cells."""
    rows = [SIGNS.get(sign, SIGNS[" "])[y] for sign in text]
    return (" " * wide).join(
        "".join("█" * wide if pixel == "#" else " " * wide for pixel in row) for row in rows
    )
