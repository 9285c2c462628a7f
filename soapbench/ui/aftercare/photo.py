"""A photograph of cut bars in the terminal, beside the face drawn as it was poured."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Static

from soapbench.reading.safetext import clean
from soapbench.ui.barface import BarFace, Ink, legend, usual_ink
from soapbench.ui.basescreen import BaseScreen, in_background
from soapbench.ui.keyline import KeyLine
from soapbench.words import review as words

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from soapbench.barface.words import Showing
    from soapbench.desk.photographs import Taken
    from soapbench.desk.pourdesk import Desk

    Bytes = NDArray[np.uint8]


class Picture(Widget):
    """A picture in half blocks, or in the letters of its pots where there is no colour."""

    DEFAULT_CSS = "Picture { width: 1fr; height: 1fr; }"

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rgb: Bytes | None = None
        self._pots: Bytes | None = None
        self._soap: Bytes | None = None
        self._ink: Ink = "colour"
        self._lines: dict[tuple[int, int], list[list[Segment]]] = {}

    def show(self, rgb: Bytes, pots: Bytes, soap: Bytes, ink: Ink) -> None:
        """``rgb`` (h, w, 3); ``pots`` (h, w), 255 where none; ``soap`` (h, w), 0 where none."""
        self._rgb, self._pots, self._soap, self._ink = rgb, pots, soap, ink
        self._lines.clear()
        self.refresh()

    def render_line(self, y: int) -> Strip:
        size = (self.size.width, self.size.height)
        if size not in self._lines:
            self._lines.clear()
            self._lines[size] = self._worked_out(*size)
        lines = self._lines[size]
        line = lines[y] if y < len(lines) else []
        base = self.rich_style
        segments = [Segment(s.text, base + s.style if s.style else base) for s in line]
        return Strip(segments).adjust_cell_length(size[0], base)

    def _soap_at(self, rows: list[int], columns: list[int]) -> Bytes | None:
        """The ground above a textured top is left to the screen's own."""
        return None if self._soap is None else self._soap[rows][:, columns]

    def _worked_out(self, wide: int, high: int) -> list[list[Segment]]:
        """As large as fits, its proportions kept; a cell is taken as twice as high as wide."""
        if self._rgb is None or self._pots is None or wide < 2 or high < 2:
            return []
        from soapbench.barface import half_blocks, pattern_cells

        tall, broad = self._pots.shape
        across = max(2, min(wide, round(2 * high * broad / tall)))
        down = max(2, min(2 * high, round(across * tall / broad)))
        rows = [int((i + 0.5) * tall / down) for i in range(down)]
        columns = [int((i + 0.5) * broad / across) for i in range(across)]
        if self._ink == "colour":
            return [
                [Segment(run.text, Style(color=run.fg, bgcolor=run.bg)) for run in line]
                for line in half_blocks(self._rgb[rows][:, columns], self._soap_at(rows, columns))
            ]
        small = self._pots[rows][:, columns]
        return [
            [Segment(run.text) for run in line]
            for line in pattern_cells(small, letters=self._ink == "letters")
        ]


class PhotoScreen(BaseScreen[None]):
    """One photograph put straight, and the face as poured at the same place of the loaf."""

    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("r", "turn", "turn right", id="photo.turn"),
        Binding("escape,f", "back", "back", id="photo.back"),
    ]

    class Ready(Message):
        def __init__(
            self,
            rgb: Bytes | None,
            pots: Bytes | None,
            soap: Bytes | None,
            drawn: Showing | None,
            why: str,
        ) -> None:
            self.rgb, self.pots, self.soap = rgb, pots, soap
            self.drawn, self.why = drawn, why
            super().__init__()

    def __init__(self, desk: Desk, bench: Path, part: str, photo: str) -> None:
        super().__init__()
        self.desk, self._bench, self._part, self._photo = desk, bench, part, photo

    def compose(self) -> ComposeResult:
        title = words.photo_title(clean(self.desk.plan.title), self._part)
        yield Static(title, markup=False, classes="strong")
        with Horizontal(id="both"):
            with Vertical(classes="side"):
                yield Static(words.PHOTO_STRAIGHT, classes="strong")
                yield Picture(id="photo")
            with Vertical(classes="side"):
                yield Static(words.DRAWN, classes="strong")
                yield BarFace(id="drawn")
        yield Static(words.READING_PHOTO, id="said", markup=False)
        yield Static(id="legend")
        yield KeyLine()

    def on_mount(self) -> None:
        self._work_out()

    class Turned(Message):
        """It has been turned and measured, or why not."""

        def __init__(self, taken: Taken | None, why: str = "") -> None:
            self.taken, self.why = taken, why
            super().__init__()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Another window's batch is not written to."""
        return not (action == "turn" and self.desk.watching)

    def action_turn(self) -> None:
        self.query_one("#said", Static).update(words.READING_PHOTO)
        self._turn()

    @in_background("photo")
    def _turn(self) -> None:
        from soapbench.bench.photofile import NotAPhotograph
        from soapbench.desk.photographs import turned

        desk, log = self.desk, getattr(self.desk.log, "path", None)
        batch = log.stem if log else ""
        try:
            taken = turned(desk, self._bench, batch, self._part, self._photo)
        except (NotAPhotograph, OSError) as why:
            self.post_message(self.Turned(None, words.not_added(clean(str(why), 160))))
        else:
            self.post_message(self.Turned(taken))

    def on_photo_screen_turned(self, message: Turned) -> None:
        """Logged and answered anew: what the photograph answered before was the wrong way up."""
        from soapbench.desk.photographs import note

        if message.taken is None:
            self.query_one("#said", Static).update(message.why)
            return
        note(self.desk, message.taken)
        self._photo = message.taken.kept
        self._work_out()

    @in_background("photo")
    def _work_out(self) -> None:
        from soapbench.barface.words import poured_showings
        from soapbench.bench.photofile import NotAPhotograph, read_photograph, within
        from soapbench.desk.photographs import measured
        from soapbench.photos.colour import coded

        desk, why = self.desk, ""
        rgb = pots = soap = None
        path = within(self._bench, self._photo)
        try:
            if path is None:
                raise NotAPhotograph(words.NOT_IN_BENCH)
            face = measured(desk, self._part, read_photograph(path))
            rgb, pots, why = coded(face.placed.light), face.labels, face.trouble
            soap = face.placed.soap.astype(pots.dtype) * 255
        except NotAPhotograph as error:
            why = f"{clean(self._photo, 60)}: {error}"
        kept = desk.foreseen.face
        loaves = poured_showings(desk.batch, desk.plan, desk.amounts, desk.known, desk.state, kept)
        self.post_message(self.Ready(rgb, pots, soap, loaves[0] if loaves else None, why))

    def on_photo_screen_ready(self, message: Ready) -> None:
        from soapbench.barface.words import place_of

        ink = usual_ink(self.app)
        rgb, pots, soap = message.rgb, message.pots, message.soap
        if rgb is not None and pots is not None and soap is not None:
            self.query_one("#photo", Picture).show(rgb, pots, soap, ink)
        if (drawn := message.drawn) is not None:
            where = place_of(self._part, None)
            face = self.query_one("#drawn", BarFace)
            face.show(drawn.design, 0.5 if where is None else where, drawn.seed, ink)
            self.query_one("#legend", Static).update(legend(drawn.design.colours, ink))
        self.query_one("#said", Static).update(clean(message.why, 200))

    def action_back(self) -> None:
        self.dismiss(None)
