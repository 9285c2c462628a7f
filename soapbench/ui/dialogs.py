"""Small questions over a screen; each returns a value."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, TypeVar

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Input, Static

from soapbench.desk.keys import Act, shown
from soapbench.reading.safetext import clean
from soapbench.ui.basescreen import Dialog
from soapbench.ui.keyline import KeyLine
from soapbench.words import dialogs as texts

T = TypeVar("T")


class Question(Dialog[T]):
    """A dialog that covers nothing of the screen below that must stay in sight.

    A screen says by ``keep_clear`` how many of its upper rows these are.
    """

    def on_mount(self) -> None:
        beneath = self.app.screen_stack[-2] if len(self.app.screen_stack) > 1 else None
        rows = getattr(beneath, "keep_clear", 0)
        if rows:
            self.add_class("below")
            self.query_one(".dialog").styles.margin = (rows, 0, 0, 0)


class Words(Question[str | None]):
    """A line of free text; Enter keeps it, Escape drops it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "drop", "cancel", id="words.drop"),
    ]

    def __init__(self, question: str, start: str = "") -> None:
        super().__init__()
        self._question, self._start = question, start

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(clean(self._question), markup=False)
            yield Input(self._start, max_length=400)
            yield KeyLine([("enter", "OK")])

    def on_input_submitted(self, event: Input.Submitted) -> None:
        self.dismiss(clean(event.value).strip() or None)

    def action_drop(self) -> None:
        self.dismiss(None)


class Ask(Question[bool | None]):
    """A yes-or-no question: other keys are no answer."""

    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer(True)", "yes", id="ask.yes"),
        Binding("n,escape", "answer(False)", "no", id="ask.no"),
    ]

    def __init__(self, question: str, more: str = "") -> None:
        super().__init__()
        self._question, self._more = question, more

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(clean(self._question), markup=False, classes="strong")
            if self._more:
                yield Static(clean(self._more), markup=False)
            yield KeyLine()

    def action_answer(self, yes: bool) -> None:
        self.dismiss(yes)

    def other_key(self) -> None:
        self.app.bell()


KEYS_WIDE = 76
"""Columns of all keys side by side."""
TALL_FROM = 30
"""Rows from which they are told at length."""


class KeysHelp(Question[None]):
    """Every key on one page."""

    AUTO_FOCUS = None

    def __init__(self, keys: Mapping[str, Act]) -> None:
        super().__init__()
        self._keys = keys

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog wide"):
            yield Static(id="all_keys")
            yield KeyLine([("escape", texts.ANY_KEY)]).add_class("hint")

    def on_mount(self) -> None:
        super().on_mount()
        listed = list(self._keys.items())
        short = self.app.size.height < TALL_FROM
        self.set_class(short, "short")
        columns = 4 if short else 2
        wide = KEYS_WIDE // columns - 7
        text = Text(no_wrap=True)
        rows = -(-len(listed) // columns)
        for row in range(rows):
            for key, act in listed[row::rows]:
                words = act.words if short else texts.act_in_full(act.name, act.words, act.note)
                text.append(f"{shown(key):>5} ", Style(bold=True))
                text.append(f"{words:<{wide}.{wide}} ")
            text.append("\n" if row < rows - 1 else "")
        self.query_one("#all_keys", Static).update(text)

    def other_key(self) -> None:
        self.dismiss(None)
