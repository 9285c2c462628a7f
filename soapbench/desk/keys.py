"""Keys of the pour, each an act; a foot pedal is a keyboard, so every one can be given another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from soapbench.log import Outcome
from soapbench.troubles import Trouble


@dataclass(frozen=True, slots=True)
class Act:
    """Something the maker can do while pouring."""

    name: str
    key: str
    words: str
    short: str = ""
    """As the key line shows it, where that is something else; what has the same stands together."""
    note: str = ""
    """The text it logs, when it is a note."""
    trouble: Trouble | None = None
    """What it says has gone wrong."""


LOOKED = "what I see"
ACTS = (
    Act("done", "space", "done, next", "done"),
    Act("trace1", "1", "emulsion", LOOKED),
    Act("trace2", "2", "light", LOOKED),
    Act("trace3", "3", "medium", LOOKED),
    Act("trace4", "4", "thick", LOOKED),
    Act("trace5", "5", "set up", LOOKED),
    Act("look", "0", "no change"),
    Act("pot_up", "up", "pot"),
    Act("pot_down", "down", "pot"),
    Act("fragrance", "f", "fragrance in"),
    Act("blender", "b", "blender"),
    Act("rescue", "x", "switch"),
    Act("undo", "u", "undo"),
    Act("skip", "k", "skip"),
    Act("words", "n", "note"),
    Act("far", "d", "big letters", "big"),
    Act("ricing", "r", "ricing", trouble=Trouble.RICING),
    Act("seizing", "z", "seizing", trouble=Trouble.SEIZING),
    Act("separating", "s", "separating", trouble=Trouble.SEPARATING),
    Act("false_trace", "t", "false trace", trouble=Trouble.FALSE_TRACE),
    Act("heating", "h", "overheating", trouble=Trouble.OVERHEATING),
    Act("air", "a", "air bubbles", note="air bubbles"),
    Act("spilt", "l", "spill", note="spilt"),
    Act("smooth", "m", "smooth", note="smooth and pourable"),
    Act("end", "e", "end the pour"),
    Act("help", "question_mark", "all keys", "more"),
)
NAMED = {act.name: act for act in ACTS}
POUR = "pour."
"""How the ids of the pour's bindings begin."""
TAKE_OVER, LEAVE = "enter", "escape"
"""Not among the acts, so that no key of the maker's own can hide them."""
NOTES = tuple(act for act in ACTS if act.note or act.trouble)
OUTCOME_KEYS = {"a": Outcome.AS_PLANNED, "i": Outcome.IN_PART, "n": Outcome.NO}
"""One key tells how it came out, when that is asked at the end of a pour."""
SHOWN = {
    "enter": "Enter", "escape": "Esc", "delete": "Del", "space": "SPACE", "tab": "Tab",
    "question_mark": "?", "slash": "/", "equals_sign": "=", "plus": "+", "minus": "-",
    "up": "↑", "down": "↓", "left": "←", "right": "→", "pageup": "PgUp", "pagedown": "PgDn",
}  # fmt: skip
"""Names of keys, and what a keyboard has on them."""


def keymap(own: Mapping[str, str] | None = None) -> dict[str, Act]:
    """Acts by key. ``own`` gives acts other keys, by act name; two acts never share one.

    An own key that another act has swaps them, so that nothing becomes out of reach.
    """
    keys = {act.name: act.key for act in ACTS}
    for name, key in (own or {}).items():
        if name not in keys or not key:
            continue
        holder = next((n for n, k in keys.items() if k == key), None)
        if holder and holder != name:
            keys[holder] = keys[name]
        keys[name] = key
    return {key: NAMED[name] for name, key in keys.items()}


def pour_keys(own: Mapping[str, str]) -> dict[str, str]:
    """Keys by the ids of a pour's bindings; empty: as everybody has them.

    Told whole, since the toolkit drops what else was on a key that is given away.
    """
    if not own:
        return {}
    fixed = {"take_over": TAKE_OVER, "leave": LEAVE, **{came_out(key): key for key in OUTCOME_KEYS}}
    fixed |= {act.name: key for key, act in keymap(own).items()}
    return {POUR + name: key for name, key in fixed.items()}


def came_out(key: str) -> str:
    """What the binding is called by which ``key`` tells how a pour came out."""
    return f"came_out.{key}"


def shown(key: str) -> str:
    """A key as it is printed on a keyboard."""
    return SHOWN.get(key, key)
