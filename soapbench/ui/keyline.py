"""The line of keys under a screen: each key and what it does, to be pressed or tapped."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from rich.style import Style
from rich.text import Text
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static

from soapbench.desk.keys import shown

KEY = "press"
"""What the patch of a key on the screen holds: the key it stands for. The screen heeds taps."""
Keys = tuple[str, str]
"""Keys by their names with spaces between them, and what they do."""


def key_text(keys: Iterable[Keys], width: int) -> Text:
    """Keys as a keyboard shows them and what they do; each can be tapped.

    A key is never parted from its words.
    """
    text = Text(no_wrap=True)
    at = 0
    for names, words in keys:
        one = _one(names.split(), words)
        if at and at + 2 + one.cell_len > width:
            text.append("\n")
            at = 0
        elif at:
            text.append("  ")
            at += 2
        text.append_text(one)
        at += one.cell_len
    return text


def _one(names: Sequence[str], words: str) -> Text:
    """One key with its words as one place to tap; several keys with a place for each."""
    text = Text()
    for name in names:
        text.append(shown(name), Style(bold=True, reverse=True, meta={KEY: name}))
    return text.append(f" {words}", Style(meta={KEY: names[0]}) if len(names) == 1 else None)


def together(bindings: Iterable[Binding]) -> list[Keys]:
    """Bindings as a key line shows them: keys that do one thing stand together."""
    by_words: dict[str, list[str]] = {}
    for binding in bindings:
        by_words.setdefault(binding.description, []).append(binding.key)
    return [(" ".join(keys), words) for words, keys in by_words.items()]


def shown_bindings(
    screen: Screen[Any], shows: Callable[[Binding], bool] = lambda binding: binding.show
) -> list[Binding]:
    """The screen's own bindings that act now, of those it ``shows``, in the order it gives them.

    Their keys are those that the maker has set.
    """
    order = [
        binding.id
        for kind in reversed(type(screen).__mro__)
        for binding in kind.__dict__.get("BINDINGS", ())
        if isinstance(binding, Binding)
    ]
    mine: dict[str | None, Binding] = {}
    for node, binding, enabled, _ in screen.active_bindings.values():
        if node is screen and enabled and shows(binding):
            mine.setdefault(binding.id, binding)  # of several keys for one thing the first
    return sorted(mine.values(), key=lambda binding: order.index(binding.id))


class Tappable(Static):
    """Keys given to it, and nothing else."""

    DEFAULT_CSS = "Tappable { height: auto; }"

    def __init__(self, keys: Sequence[Keys] = (), id: str | None = None) -> None:
        super().__init__(id=id, markup=False)
        self._keys: Sequence[Keys] = keys
        self._drawn: tuple[Sequence[Keys], int] | None = None

    def on_mount(self) -> None:
        self.draw()

    def keys(self) -> Sequence[Keys]:
        return self._keys

    def draw(self) -> None:
        """Show the keys of now; nothing is drawn when they are the same."""
        wanted = self.keys(), self.size.width or self.screen.size.width - 2
        if wanted != self._drawn:
            self._drawn = wanted
            self.update(key_text(*wanted))

    def on_resize(self) -> None:
        self.draw()


class KeyLine(Tappable):
    """The keys of a screen: ``keys``, which some part of it heeds, then its own bindings."""

    DEFAULT_CSS = "KeyLine { color: $text-muted; }"

    def __init__(
        self,
        keys: Sequence[Keys] = (),
        shows: Callable[[Binding], bool] = lambda binding: binding.show,
    ) -> None:
        super().__init__(keys, id="keys")
        self._shows = shows

    def on_mount(self) -> None:
        self.screen.bindings_updated_signal.subscribe(self, lambda _screen: self.draw())
        super().on_mount()

    def keys(self) -> Sequence[Keys]:
        return [*self._keys, *together(shown_bindings(self.screen, self._shows))]
