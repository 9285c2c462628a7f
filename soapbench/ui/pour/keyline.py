"""The keys of the pour below it: all of them where there is room, else the most needed."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text
from textual.binding import Binding

from soapbench.desk.keys import POUR
from soapbench.ui.keyline import key_text, together

_MOST_NEEDED = (
    "help", "done", "trace1", "rescue", "undo", "pot_up", "fragrance", "blender", "skip", "far",
)  # fmt: skip
"""What a single line keeps, and what stands with it, the first the longest; all keys are one
key away."""


def keys_shown(bindings: Sequence[Binding], width: int, rows: int) -> Text:
    """Keys and what they do, in at most ``rows`` lines of ``width`` columns."""
    listed = together(bindings)
    whole = key_text(listed, width)
    if whole.plain.count("\n") < rows:
        return whole
    words = {binding.id: binding.description for binding in bindings}
    kept: set[str] = set()
    line = Text()
    for name in _MOST_NEEDED:
        wanted = kept | {words.get(POUR + name, "")}
        trial = key_text([one for one in listed if one[1] in wanted], width)
        if "\n" not in trial.plain:
            kept, line = wanted, trial
    return line
