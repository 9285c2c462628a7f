"""The line of keys under a screen: each key, what it does, and never a break between the two."""

from __future__ import annotations

from collections.abc import Iterable

from rich.style import Style
from rich.text import Text


def key_text(keys: Iterable[tuple[str, str]], width: int) -> Text:
    """Keys and what they do; a key is never parted from its words."""
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
        text.append(key, Style(bold=True, reverse=True))
        text.append(f" {words}")
        at += long
    return text
