"""A cut face in the terminal: half blocks in colour, signs or letters where there is none."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from soapbench.ui.basescreen import Works, in_background
from soapbench.words.face import NOT_DRAWN
from soapbench.words.signs import LETTERS, pattern

if TYPE_CHECKING:
    from textual.app import App

    from soapbench.barface import Colour, Design
    from soapbench.ui.host import Host

Ink = Literal["colour", "signs", "letters"]
INKS: tuple[Ink, ...] = ("colour", "signs", "letters")
Lines = tuple[tuple[Segment, ...], ...]


class Wanted(NamedTuple):
    """Everything that decides how a face looks in so many cells."""

    design: Design
    where: float
    seed: int
    ink: Ink
    width: int
    height: int


def usual_ink(app: App[Any]) -> Ink:
    """Colour where the terminal has enough of it; 16 colours are too few to tell pots apart."""
    few = app.console.color_system in (None, "standard", "windows")
    return "signs" if app.no_color or few else "colour"


@lru_cache(maxsize=256)
def lines_of(wanted: Wanted) -> Lines:
    """The face as large as fits, in the mould's proportions; a cell is taken as twice as high
    as wide."""
    from soapbench.barface import face, half_blocks, pattern_cells

    design, where, seed, ink, width, height = wanted
    aspect = face(design, where, 1, 1, seed).aspect
    wide = max(1, min(width, round(2 * height * aspect)))
    high = max(2, min(2 * height, round(wide / aspect)))
    drawn = face(design, where, wide, high, seed, polish=False)
    if ink == "colour":
        return tuple(
            tuple(
                Segment(run.text, Style(color=run.fg, bgcolor=run.bg) if run.fg else None)
                for run in line
            )
            for line in half_blocks(drawn.rgb, drawn.cover)
        )
    signs = [colour.pattern for colour in design.colours]
    return tuple(
        tuple(Segment(run.text) for run in line)
        for line in pattern_cells(drawn.pots, signs, letters=ink == "letters")
    )


class BarFace(Works, Widget):
    """One face, drawn on another thread and kept until something else is to be shown."""

    app: Host
    DEFAULT_CSS = "BarFace { width: 1fr; height: 1fr; }"

    class Drawn(Message):
        def __init__(self, wanted: Wanted, lines: Lines) -> None:
            self.wanted, self.lines = wanted, lines
            super().__init__()

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._asked: tuple[Design, float, int, Ink] | None = None
        self._wanted: Wanted | None = None
        self.lines: Lines = ()

    def show(
        self, design: Design | None, where: float = 0.5, seed: int = 0, ink: Ink = "colour"
    ) -> None:
        """Show the face cut at ``where`` (0 to 1); None: nothing."""
        self._asked = (design, where, seed, ink) if design else None
        self._look()

    def _look(self) -> None:
        width, height = self.size
        if self._asked is None or not width or not height:
            self._wanted, self.lines = None, ()
            self.refresh()
            return
        wanted = Wanted(*self._asked, width, height)
        if wanted != self._wanted:
            self._wanted = wanted
            self._draw(wanted)

    @in_background("face")
    def _draw(self, wanted: Wanted) -> None:
        self.post_message(self.Drawn(wanted, lines_of(wanted)))

    def on_bar_face_drawn(self, message: Drawn) -> None:
        message.stop()
        if message.wanted == self._wanted:  # else another has been asked for since
            self.lines = message.lines
            self.refresh()

    def failed(self, error: BaseException) -> None:
        self.lines = ((Segment(NOT_DRAWN),),)
        self.refresh()

    def on_resize(self) -> None:
        self._look()

    def render_line(self, y: int) -> Strip:
        style = self.rich_style
        line = self.lines[y] if y < len(self.lines) else ()
        segments = [Segment(s.text, style + s.style if s.style else style) for s in line]
        return Strip(segments).adjust_cell_length(self.size.width, style)


def legend(colours: Sequence[Colour], ink: Ink) -> Text:
    """Letter, colour, sign and name of each pot."""
    text = Text()
    for i, colour in enumerate(colours):
        name = colour.name if len(colour.name) <= 14 else colour.name[:13] + "…"
        text.append("  " if i else "")
        text.append(f"{LETTERS[i % len(LETTERS)]}\u00a0", Style(bold=True))
        tint = Style(color=colour.look) if ink == "colour" else Style()
        text.append("██" if ink == "colour" else "", tint)
        text.append(pattern(colour.pattern) * 2, tint)
        text.append(f"\u00a0{name}".replace(" ", "\u00a0"))
    return text
