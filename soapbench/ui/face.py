"""The bar face, full screen: loaves beside each other, and slices along the loaf."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widgets import Static

from soapbench.reading.safetext import clean
from soapbench.ui.barface import INKS, BarFace, Ink, legend, usual_ink
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.keyline import KeyLine
from soapbench.words import face as words
from soapbench.words.face import SLICES

if TYPE_CHECKING:
    from soapbench.barface import Design
    from soapbench.barface.words import Showing

MOST_SHOWN = 3
"""Loaves beside each other."""
WORD_ROWS = 6
"""Label and words of a loaf."""


class FaceScreen(BaseScreen[None]):
    """Loaves worked out on another thread; left and right choose where along them is cut."""

    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("c", "cured", words.KEYS["cured"], id="face.cured"),
        Binding("left", "along(-1)", words.KEYS["along"], id="face.left"),
        Binding("right", "along(1)", words.KEYS["along"], id="face.right"),
        Binding("home", "along(-9)", show=False, id="face.first"),
        Binding("end", "along(9)", show=False, id="face.last"),
        Binding("p", "ink", words.KEYS["ink"], id="face.ink"),
        Binding("escape,v", "back", words.KEYS["back"], id="face.back"),
    ]

    class Ready(Message):
        def __init__(self, shown: Sequence[Showing]) -> None:
            self.shown = shown
            super().__init__()

    def __init__(self, title: str, make: Callable[[], Sequence[Showing]], words: str = "") -> None:
        """``make`` works the loaves out; ``words``: a line below them."""
        super().__init__()
        self._title, self._make, self._caption = title, make, words
        self._shown: Sequence[Showing] = ()
        self._slice = len(SLICES) // 2
        self._ink: Ink = "colour"
        self._cured = False

    def compose(self) -> ComposeResult:
        title = words.title(clean(self._title))
        yield Static(title, id="title", markup=False, classes="strong")
        with Horizontal(id="loaves"):
            for i in range(MOST_SHOWN):
                with Vertical(id=f"loaf{i}", classes="loaf"):
                    yield Static(id=f"label{i}", markup=False, classes="strong")
                    yield Static(id=f"words{i}", markup=False, classes="words")
                    yield BarFace(id=f"face{i}")
        with Horizontal(id="slices"):
            for i in range(len(SLICES)):
                with Vertical(classes="slice"):
                    yield BarFace(id=f"slice{i}")
                    yield Static(id=f"place{i}")
        yield Static(words.DRAWING, id="said", markup=False, classes="quiet")
        yield Static(id="legend")
        yield KeyLine()

    def on_mount(self) -> None:
        self._ink = usual_ink(self.app)
        self._work_out()

    @in_background("loaves")
    def _work_out(self) -> None:
        self.post_message(self.Ready(self._make()))

    def on_face_screen_ready(self, message: Ready) -> None:
        self._shown = message.shown[:MOST_SHOWN]
        self.query_one("#said", Static).update(
            self._caption if self._shown else words.NOTHING_POURED
        )
        self.refresh_bindings()
        for i in range(MOST_SHOWN):
            self.query_one(f"#loaf{i}").display = i < len(self._shown)
        for i, shown in enumerate(self._shown):
            self.query_one(f"#label{i}", Static).update(shown.label)
            self.query_one(f"#words{i}", Static).update(shown.words)
        self._draw()

    def failed(self, error: BaseException) -> None:
        self.say(words.no_face(failure_words(error)))

    def on_resize(self) -> None:
        self._draw()

    def _draw(self) -> None:
        if not self._shown:
            return
        # as high as a face so wide can be, its label and words; the rest stays below the slices
        mould = self._shown[0].design.mould
        high = self.size.width / len(self._shown) / 2 * mould.depth / mould.width
        self.query_one("#loaves").styles.max_height = round(1.1 * high) + WORD_ROWS
        for i, shown in enumerate(self._shown):
            face = self.query_one(f"#face{i}", BarFace)
            face.show(self._design(shown), _where(self._slice), shown.seed, self._ink)
            after = self._cured and shown.cured
            label = words.after_cure(shown.label) if after else shown.label
            self.query_one(f"#label{i}", Static).update(label)
        first = self._shown[0]
        for i, place in enumerate(SLICES):
            face = self.query_one(f"#slice{i}", BarFace)
            face.show(self._design(first), _where(i), first.seed, self._ink)
            here = i == self._slice
            mark = f"▲ {place}" if here else place or "·"
            self.query_one(f"#place{i}", Static).update(Text(mark, Style(bold=here)))
        self.query_one("#legend", Static).update(legend(self._design(first).colours, self._ink))

    def _design(self, shown: Showing) -> Design:
        return shown.cured if self._cured and shown.cured else shown.design

    # ---- keys

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return action != "cured" or any(shown.cured for shown in self._shown)

    def action_along(self, slices: int) -> None:
        self._slice = min(max(self._slice + slices, 0), len(SLICES) - 1)
        self._draw()

    def action_cured(self) -> None:
        self._cured = not self._cured
        self._draw()

    def action_ink(self) -> None:
        self._ink = INKS[(INKS.index(self._ink) + 1) % len(INKS)]
        self._draw()

    def action_back(self) -> None:
        self.dismiss(None)


def _where(place: int) -> float:
    """Where along the loaf a slice is cut, 0 to 1."""
    return (place + 0.5) / len(SLICES)
