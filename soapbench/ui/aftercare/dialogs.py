"""One-key choices of the screens after the pour."""

from __future__ import annotations

import string
from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Static, TextArea

from soapbench.reading.safetext import clean
from soapbench.ui.basescreen import Dialog
from soapbench.ui.keyline import KeyLine, Tappable

MOST_WORDS = 400
"""Characters of a verdict's words."""
KEYS = "123456789" + string.ascii_lowercase


class Choose(Dialog[int | None]):
    """Pick one by its key; returns its place in the list, None for Escape."""

    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(key, f"choose({i})", show=False) for i, key in enumerate(KEYS)),
        Binding("escape", "drop", show=False, id="choose.drop"),
    ]

    def __init__(self, question: str, answers: Sequence[str], none: str = "cancel") -> None:
        super().__init__()
        self._question, self._none = question, none
        self._answers = list(answers)[: len(KEYS)]

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(clean(self._question), markup=False, classes="strong")
            for key, answer in zip(KEYS, self._answers, strict=False):
                yield Tappable([(key, clean(answer, 50))])
            yield KeyLine([("escape", self._none)])

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return action != "choose" or int(str(parameters[0])) < len(self._answers)

    def action_choose(self, number: int) -> None:
        self.dismiss(number)

    def action_drop(self) -> None:
        self.dismiss(None)


class LongWords(Dialog[str | None]):
    """Room for some sentences; Enter saves them, Escape drops them."""

    AUTO_FOCUS = "TextArea"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "save", show=False, priority=True),
        Binding("escape", "drop", show=False, priority=True),
    ]

    def __init__(self, question: str, start: str = "") -> None:
        super().__init__()
        self._question, self._start = question, start

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog wide"):
            yield Static(clean(self._question), markup=False, classes="strong")
            yield TextArea(self._start, soft_wrap=True, tab_behavior="focus")
            yield KeyLine([("enter", "save"), ("escape", "cancel")])

    def on_mount(self) -> None:
        area = self.query_one(TextArea)
        area.move_cursor(area.document.end)

    def action_save(self) -> None:
        typed = " ".join(self.query_one(TextArea).text.split())
        self.dismiss(clean(typed, MOST_WORDS).strip() or None)

    def action_drop(self) -> None:
        self.dismiss(None)
