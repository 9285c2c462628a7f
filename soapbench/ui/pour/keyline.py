"""The keys of the pour below it: all of them where there is room, else the most needed."""

from __future__ import annotations

from collections.abc import Mapping

from rich.text import Text

from soapbench.desk.keys import NOTES, Act, shown
from soapbench.ui.keyline import key_text
from soapbench.words.lines import cells

_MOST_NEEDED = ("done", "trace", "rescue", "undo", "pot", "fragrance", "blender", "skip", "far")
"""What a single line keeps, the first the longest; all keys are one key away."""
_ORDER = (
    "done", "trace", "look", "pot", "fragrance", "blender", "rescue", "undo", "skip", "words",
    "far",
)  # fmt: skip
_WORDS = {
    "done": "done", "trace": "what I see", "look": "no change", "pot": "pot",
    "fragrance": "fragrance in",
    "blender": "blender", "rescue": "switch", "undo": "undo", "skip": "skip", "words": "note",
    "far": "big", "end": "end the pour",
}  # fmt: skip
MORE, LEAVE = "more", ("Esc", "bench")


def keys_shown(keys: Mapping[str, Act], width: int, rows: int) -> Text:
    """Keys and what they do, in at most ``rows`` lines of ``width`` columns."""
    key = {act.name: shown(pressed) for pressed, act in keys.items()}
    help_key = (key["help"], MORE)
    listed = [(name, _pair(name, key)) for name in _ORDER if _has(name, key)]
    notes = [(key[act.name], act.words) for act in NOTES]
    last = [(key["end"], _WORDS["end"]), LEAVE, help_key]
    whole = key_text([*(pair for _, pair in listed), *notes, *last], width)
    if whole.plain.count("\n") < rows:
        return whole
    kept: set[str] = set()
    for name in _MOST_NEEDED:
        trial = [pair for n, pair in listed if n in kept | {name}]
        if _columns([*trial, help_key]) <= width:
            kept.add(name)
    return key_text([*(pair for n, pair in listed if n in kept), help_key], width)


def view_keys(keys: Mapping[str, Act], width: int) -> Text:
    """The keys of a window that only watches."""
    key = {act.name: shown(pressed) for pressed, act in keys.items()}
    return key_text([(key["far"], _WORDS["far"]), ("Esc", "close"), (key["help"], MORE)], width)


def _has(name: str, key: Mapping[str, str]) -> bool:
    return name in key or name in ("trace", "pot")


def _pair(name: str, key: Mapping[str, str]) -> tuple[str, str]:
    if name == "trace":
        return ("".join(key[f"trace{i}"] for i in range(1, 6)), _WORDS[name])  # each to be tapped
    if name == "pot":
        return (key["pot_up"] + key["pot_down"], _WORDS[name])
    return (key[name].upper() if name == "done" else key[name], _WORDS[name])


def _columns(pairs: list[tuple[str, str]]) -> int:
    return sum(cells(key) + 1 + cells(words) + 2 for key, words in pairs) - 2
