"""One-key choices of the screens after the pour."""

from __future__ import annotations

import string
from collections.abc import Sequence

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Static

from soapbench.reading.safetext import clean
from soapbench.ui.basescreen import Dialog

KEYS = "123456789" + string.ascii_lowercase


class Choose(Dialog[int | None]):
    """Pick one by its key; returns its place in the list, None for Escape."""

    AUTO_FOCUS = None

    def __init__(self, question: str, answers: Sequence[str], none: str = "Esc leaves it") -> None:
        super().__init__()
        self._question, self._none = question, none
        self._answers = list(answers)[: len(KEYS)]

    def compose(self) -> ComposeResult:
        text = Text()
        for key, answer in zip(KEYS, self._answers, strict=False):
            text.append(f" {key} ", Style(bold=True, reverse=True))
            text.append(f" {clean(answer, 50)}\n")
        with Vertical(classes="dialog"):
            yield Static(clean(self._question), markup=False, classes="strong")
            yield Static(text)
            yield Static(self._none, markup=False, classes="quiet")

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        if event.key == "escape":
            self.dismiss(None)
        elif event.key in KEYS[: len(self._answers)]:
            self.dismiss(KEYS.index(event.key))
