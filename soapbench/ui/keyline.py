"""The line of keys under a screen: each key and what it does, to be pressed or tapped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.style import Style
from rich.text import Text
from textual.binding import Binding, BindingType
from textual.widgets import Static

PRESSES = {
    "enter": "Enter", "escape": "Esc", "delete": "Del", "space": "Space", "tab": "Tab",
    "question_mark": "?", "slash": "/", "equals_sign": "=", "plus": "+", "minus": "-",
    "up": "↑", "down": "↓", "left": "←", "right": "→", "pageup": "PgUp", "pagedown": "PgDn",
}  # fmt: skip
"""Names of keys, and what a keyboard has on them."""
PRESSED = {shown.casefold(): key for key, shown in PRESSES.items()}
KEY = "press"
"""What the patch of a key on the screen holds: the key it stands for. The screen heeds taps."""


def key_text(keys: Iterable[tuple[str, str]], width: int) -> Text:
    """Keys as a keyboard shows them ("Enter", "↑↓", "1-4") and what they do; each can be tapped.

    A key is never parted from its words.
    """
    text = Text(no_wrap=True)
    at = 0
    for key, words in keys:
        long = len(key) + 1 + len(words)
        if at and at + 2 + long > width:
            text.append("\n")
            at = 0
        elif at:
            text.append("  ")
            at += 2
        _append_key(text, key, words)
        at += long
    return text


def _append_key(text: Text, key: str, words: str) -> None:
    """One key with its words as one place to tap; several keys with a place for each."""
    if name := pressed(key):
        meta = {KEY: name}
        text.append(key, Style(bold=True, reverse=True, meta=meta))
        text.append(f" {words}", Style(meta=meta))
        return
    for sign in key:
        name = pressed(sign)
        text.append(sign, Style(bold=True, reverse=True, meta={KEY: name} if name else None))
    text.append(f" {words}")


def pressed(shown: str) -> str:
    """The key that is ``shown``; empty where it is none, or several."""
    if shown.casefold() in PRESSED:
        return PRESSED[shown.casefold()]
    return shown if len(shown) == 1 and shown.isalnum() else ""


def shown_keys(bindings: Iterable[BindingType]) -> list[tuple[str, str]]:
    """What a screen's own bindings show: keys that do one thing stand together."""
    found: dict[str, list[str]] = {}
    for binding in bindings:
        if isinstance(binding, Binding) and binding.show:
            first = binding.key.split(",")[0].strip()
            found.setdefault(binding.description, []).append(PRESSES.get(first, first))
    return [("".join(keys), words) for words, keys in found.items()]


class KeyLine(Static):
    """The keys of a screen."""

    DEFAULT_CSS = "KeyLine { height: auto; color: $text-muted; }"

    def __init__(self, keys: Sequence[tuple[str, str]] = (), id: str | None = "keys") -> None:
        """``keys``: as shown, and what they do; they go before the screen's own bindings."""
        super().__init__(id=id, markup=False)
        self._keys: Sequence[tuple[str, str]] = keys

    def on_mount(self) -> None:
        self._keys = [*self._keys, *shown_keys(type(self.screen).BINDINGS)]
        self._draw()

    def show(self, keys: Sequence[tuple[str, str]]) -> None:
        """Show other keys; nothing is drawn when they are the same."""
        if keys != self._keys:
            self._keys = keys
            self._draw()

    def _draw(self) -> None:
        self.update(key_text(self._keys, self.size.width or self.screen.size.width - 2))

    def on_resize(self) -> None:
        self._draw()
