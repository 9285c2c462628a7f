"""One value being written or chosen, with what is known of it and what it would change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.message import Message
from textual.timer import Timer
from textual.widgets import Input, Static

from soapbench.reading.safetext import clean
from soapbench.ui.basescreen import Dialog, failure_words, in_background
from soapbench.ui.keyline import KeyLine
from soapbench.ui.rows import Rows
from soapbench.words.dialogs import BLANK_IS_NONE, not_worked_out

SETTLED_S = 0.25
"""A value is tried once nothing has been typed for this long."""


@dataclass(frozen=True, slots=True)
class Question:
    """What to ask for one value."""

    words: str
    choices: tuple[str, ...] = ()
    closed: bool = False
    """Only the choices will do."""
    about: Callable[[str], Text] = lambda _value: Text()
    """What is known of a value, shown while it is chosen; one or two lines."""
    drawn: Callable[[str], Text] | None = None
    """How a choice is drawn in the list; None: as its words."""
    shown: Callable[[str], str] = lambda choice: choice
    """A choice as a maker says it."""
    check: Callable[[str], str] = lambda _typed: ""
    """Why what was typed cannot stand; empty: it can."""


class Editor(Dialog[str | None]):
    """Gives what was typed or chosen, "" to take the value out, None to leave it."""

    # An Input is a scroll view with keys of its own for these: ours go first.
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "drop", show=False),
        Binding("up", "step(-1)", show=False, priority=True),
        Binding("down", "step(1)", show=False, priority=True),
        Binding("pageup", "step(-6)", show=False, priority=True),
        Binding("pagedown", "step(6)", show=False, priority=True),
    ]

    class Tried(Message):
        def __init__(self, value: str, words: str) -> None:
            self.value, self.words = value, words
            super().__init__()

    def __init__(
        self, asked: Question, start: str, trial: Callable[[str], str] | None = None
    ) -> None:
        super().__init__()
        self._asked, self._start, self._trial = asked, start, trial
        self._fitting: list[str] = []
        self._timer: Timer | None = None

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog wide"):
            yield Static(self._asked.words, id="asked", markup=False, classes="strong")
            yield Input("" if self._asked.closed else self._start, max_length=200, id="typed")
            if self._asked.choices:
                yield Rows(id="choices")
            yield Static(id="about", markup=False)
            yield Static(id="trial", markup=False)
            keys = [("up down", "choose")] if self._asked.choices else []
            empty = "" if self._asked.closed else BLANK_IS_NONE
            yield KeyLine([*keys, ("enter", "OK"), ("escape", f"cancel{empty}")])

    def on_mount(self) -> None:
        if self._asked.choices:
            self._offer(self._start, everything=True)
            rows = self.query_one("#choices", Rows)
            rows.can_focus = False
            rows.styles.height = min(8, len(self._asked.choices) + 1)
        self._tell()

    # ---- choices

    def _offer(self, typed: str, everything: bool = False) -> None:
        """Choices that fit what is typed; in an open question the typed word is one too."""
        wanted = typed.strip().casefold()
        words = wanted.split()

        def found_by(choice: str) -> bool:
            text = f"{choice} {self._asked.shown(choice)}".casefold()
            return all(word in text for word in words)

        fit = [c for c in self._asked.choices if everything or found_by(c)]
        fit.sort(key=lambda choice: not choice.casefold().startswith(wanted) and not everything)
        at = fit.index(typed) if typed in fit else 0
        if not self._asked.closed and typed.strip() and typed not in fit:
            fit.insert(0 if everything else len(fit), typed.strip())
            at = 0
        self._fitting = fit
        rows = self.query_one("#choices", Rows)
        rows.fill([False] * len(fit), lambda i, _wide: self._drawn(fit[i]), at)

    def _drawn(self, choice: str) -> Text:
        draw = self._asked.drawn
        return draw(choice) if draw else Text(clean(self._asked.shown(choice)))

    @property
    def value(self) -> str:
        """What Enter would take now."""
        typed = self.query_one("#typed", Input).value.strip()
        if not self._asked.choices:
            return typed
        if not self._asked.closed and not typed and self._start:
            return ""
        at = self.query_one("#choices", Rows).at
        return self._fitting[at] if at < len(self._fitting) else typed

    def on_input_changed(self, event: Input.Changed) -> None:
        # The value an Input starts with is no typing: everything stays on offer.
        if self._asked.choices and event.value != self._start:
            self._offer(event.value)
        self._tell()

    def on_rows_moved(self) -> None:
        self._tell()

    def action_step(self, step: int) -> None:
        if not self._asked.choices:
            return
        rows = self.query_one("#choices", Rows)
        rows.move(step)
        if not self._asked.closed and self.value:
            with self.prevent(Input.Changed):
                self.query_one("#typed", Input).value = self.value
        self._tell()

    def on_rows_chosen(self) -> None:
        self.on_input_submitted()

    def on_input_submitted(self) -> None:
        value = clean(self.value).strip()
        if self._asked.closed and not self._fitting:
            self.app.bell()
        elif wrong := self._asked.check(value):
            self.query_one("#trial", Static).update(f"! {wrong}")
            self.app.bell()
        else:
            self.dismiss(value)

    def action_drop(self) -> None:
        self.dismiss(None)

    # ---- what it would change

    def _tell(self) -> None:
        self.query_one("#about", Static).update(self._asked.about(self.value))
        if self._trial is None:
            return
        if self._timer is not None:
            self._timer.stop()
        self._timer = self.set_timer(SETTLED_S, self.try_now)

    def try_now(self) -> None:
        """Work out what the value in hand would change."""
        if self.value and self.value != self._start and not self._asked.check(self.value):
            self._work(self.value)
        else:
            self.query_one("#trial", Static).update("")

    @in_background("trial")
    def _work(self, value: str) -> None:
        assert self._trial is not None
        self.post_message(self.Tried(value, self._trial(value)))

    def failed(self, error: BaseException) -> None:
        self.query_one("#trial", Static).update(not_worked_out(failure_words(error)))

    def on_editor_tried(self, message: Tried) -> None:
        if message.value == self.value:
            self.query_one("#trial", Static).update(message.words)
