"""A widget that shows lines of pieces and repaints only the cells that changed.

A pour is watched over slow lines too (ssh, a tablet): a second that passes must not send the
screen anew.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from soapbench.words.lines import Line, cells, cut_line, plain

NAMED = {
    "muted": "text-muted", "good": "success", "amber": "warning", "bad": "error",
    "accent": "accent", "now": "primary",
}  # fmt: skip
FAR_APART = 6
"""Changed cells nearer than this are repainted in one go: a cursor move costs as much."""


class Canvas(Widget):
    """Lines from the top; a line longer than the widget is cut."""

    DEFAULT_CSS = "Canvas { height: 1fr; width: 1fr; }"

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._lines: tuple[Line, ...] = ()
        self._styles: dict[str, Style] = {}
        self._theme = ""

    def show(self, lines: Sequence[Line]) -> None:
        """Show ``lines``; only what differs from what is shown is drawn."""
        old, new = self._lines, tuple(lines)
        self._lines = new
        changed = []
        for y in range(max(len(old), len(new))):
            was = old[y] if y < len(old) else ()
            now = new[y] if y < len(new) else ()
            if was != now:
                changed += [Region(x, y, wide, 1) for x, wide in changes(was, now)]
        if changed:
            self.refresh(*changed)

    @property
    def lines(self) -> list[str]:
        """What is shown, as plain text."""
        return [plain(line) for line in self._lines]

    def render_line(self, y: int) -> Strip:
        width, ground = self.size.width, self.rich_style
        if self._theme != self.app.theme:
            self._theme, self._styles = self.app.theme, {}
        line = cut_line(self._lines[y], width) if y < len(self._lines) else ()
        segments = [Segment(text, ground + self._style(ink)) for text, ink in line if text]
        return Strip(segments).adjust_cell_length(width, ground)

    def _style(self, ink: str) -> Style:
        if ink not in self._styles:
            self._styles[ink] = style_of(ink, self.app.theme_variables)
        return self._styles[ink]


def as_text(line: Line, variables: dict[str, str]) -> Text:
    """A line for a widget that takes text."""
    return Text.assemble(*((text, style_of(ink, variables)) for text, ink in line))


def style_of(ink: str, variables: dict[str, str]) -> Style:
    """How an ink is drawn in a theme: colours by name or as "#rrggbb", on a ground "on#rrggbb"."""
    style = Style()
    for word in ink.split():
        if word.startswith("on#"):
            style += Style(bgcolor=word[2:])
        elif word.startswith("#"):
            style += Style(color=word)
        elif word in NAMED:
            style += Style(color=variables[NAMED[word]])
        elif word == "reverse":
            style += Style(reverse=True)
        elif word == "key":
            style += Style(bold=True, reverse=True)
        elif word == "strong":
            style += Style(bold=True)
    return style


def changes(was: Line, now: Line) -> list[tuple[int, int]]:
    """First column and width of each stretch of cells that differs."""
    old, new = _cells(was), _cells(now)
    wide = max(len(old), len(new))
    old += [(" ", "")] * (wide - len(old))
    new += [(" ", "")] * (wide - len(new))
    runs: list[tuple[int, int]] = []
    for x in range(wide):
        if old[x] != new[x]:
            if runs and x - sum(runs[-1]) < FAR_APART:
                runs[-1] = (runs[-1][0], x - runs[-1][0] + 1)
            else:
                runs.append((x, 1))
    return runs


def _cells(line: Line) -> list[tuple[str, str]]:
    """A sign and its ink for each column; the second of a wide sign is empty."""
    out: list[tuple[str, str]] = []
    for text, ink in line:
        if text.isascii():
            out += [(c, ink) for c in text]
            continue
        for c in text:
            wide = cells(c)
            if wide:
                out.append((c, ink))
                out += [("", ink)] * (wide - 1)
            elif out:
                out[-1] = (out[-1][0] + c, out[-1][1])
    return out
