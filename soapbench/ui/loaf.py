"""One loaf within another screen: its face, what it says, its legend."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Static

from soapbench.ui.barface import BarFace, legend, usual_ink
from soapbench.ui.basescreen import Works, failure_words, in_background
from soapbench.words.face import no_face

if TYPE_CHECKING:
    from soapbench.barface.words import Showing
    from soapbench.ui.host import Host


class Loaf(Works, Vertical):
    """Worked out on another thread; takes no room while there is nothing to show."""

    app: Host
    DEFAULT_CSS = "Loaf { height: auto; } Loaf Static { height: auto; }"

    class Ready(Message):
        def __init__(self, shown: Showing | None) -> None:
            self.shown = shown
            super().__init__()

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.shown: Showing | None = None

    def compose(self) -> ComposeResult:
        yield Static(id="loaf_label", markup=False, classes="strong")
        yield BarFace(id="loaf_face")
        yield Static(id="loaf_words", markup=False)
        yield Static(id="loaf_legend")

    def work_out(self, make: Callable[[], Showing | None]) -> None:
        self._worker(make)

    @in_background("loaf")
    def _worker(self, make: Callable[[], Showing | None]) -> None:
        self.post_message(self.Ready(make()))

    def on_loaf_ready(self, message: Ready) -> None:
        message.stop()
        self.show(message.shown)

    def failed(self, error: BaseException) -> None:
        self.display = True
        words = no_face(failure_words(error))
        self.query_one("#loaf_words", Static).update(words)

    def show(self, shown: Showing | None) -> None:
        self.shown = shown
        self.display = shown is not None
        self._draw()

    def on_resize(self) -> None:
        self._draw()

    def _draw(self) -> None:
        if self.shown is None:
            return
        design, ink = self.shown.design, usual_ink(self.app)
        face = self.query_one(BarFace)
        # a face of this width, and the crests of a textured top
        high = self.size.width / 2 * design.mould.depth / design.mould.width
        face.styles.height = max(2, round(1.1 * high))
        face.show(design, 0.5, self.shown.seed, ink)
        self.query_one("#loaf_label", Static).update(self.shown.label)
        self.query_one("#loaf_words", Static).update(self.shown.words)
        self.query_one("#loaf_legend", Static).update(legend(design.colours, ink))
