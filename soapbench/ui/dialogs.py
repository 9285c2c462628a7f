"""Small questions over a screen; each returns a value."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Input, Static

from soapbench.desk.keys import Act, shown
from soapbench.reading.safetext import clean
from soapbench.setout import FIRST_AID
from soapbench.ui.basescreen import Dialog


class Words(Dialog[str | None]):
    """A line of free text; Enter keeps it, Escape drops it."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "drop", "drop")]

    def __init__(self, question: str, start: str = "") -> None:
        super().__init__()
        self._question, self._start = question, start

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(clean(self._question), markup=False)
            yield Input(self._start, max_length=400)
            yield Static("Enter keeps it   Esc drops it", markup=False, classes="quiet")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        self.dismiss(clean(event.value).strip() or None)

    def action_drop(self) -> None:
        self.dismiss(None)


class Ask(Dialog[bool | None]):
    """A yes-or-no question; any key but the one named means no."""

    AUTO_FOCUS = None

    def __init__(self, question: str, yes: str, more: str = "") -> None:
        super().__init__()
        self._question, self._yes, self._more = question, yes, more

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(clean(self._question), markup=False, classes="strong")
            if self._more:
                yield Static(clean(self._more), markup=False)
            yield Static(
                f"{shown(self._yes)} yes   any other key no", markup=False, classes="quiet"
            )

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        self.dismiss(event.key == self._yes)


KEY_WORDS = 27
"""Width of what a key does, two of them side by side in the 72 columns of a wide dialog."""


class KeysHelp(Dialog[None]):
    """Every key on one page."""

    AUTO_FOCUS = None

    def __init__(self, keys: Mapping[str, Act]) -> None:
        super().__init__()
        self._keys = keys

    def compose(self) -> ComposeResult:
        text = Text(no_wrap=True)
        listed = list(self._keys.items())
        rows = -(-len(listed) // 2)
        for row in range(rows):
            for key, act in listed[row::rows]:
                text.append(f"{shown(key):>6} ", Style(bold=True))
                words = f"note: {act.note}" if act.note else act.words
                text.append(f"{words:<{KEY_WORDS}.{KEY_WORDS}}")
            text.append("\n")
        with Vertical(classes="dialog wide"):
            yield Static(text)
            yield Static(FIRST_AID, markup=False, classes="strong")
            yield Static("any key goes back to the pour", markup=False, classes="quiet")

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        self.dismiss(None)
