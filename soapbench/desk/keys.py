"""Keys of the pour, each an act; a foot pedal is a keyboard, so every one can be given another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from soapbench.pour import Outcome
from soapbench.troubles import Trouble


@dataclass(frozen=True, slots=True)
class Act:
    """Something the maker can do while pouring."""

    name: str
    key: str
    words: str
    """As the key line shows it."""
    note: str = ""
    """The text it logs, when it is a note."""
    trouble: Trouble | None = None
    """What it says has gone wrong."""


ACTS = (
    Act("done", "space", "done, next"),
    Act("look", "0", "no change"),
    Act("trace1", "1", "emulsion"),
    Act("trace2", "2", "light"),
    Act("trace3", "3", "medium"),
    Act("trace4", "4", "thick"),
    Act("trace5", "5", "set up"),
    Act("pot_up", "up", "pot"),
    Act("pot_down", "down", "pot"),
    Act("fragrance", "f", "fragrance in"),
    Act("blender", "b", "blender"),
    Act("rescue", "x", "switch"),
    Act("undo", "u", "undo"),
    Act("skip", "k", "skip"),
    Act("words", "n", "note"),
    Act("far", "d", "big letters"),
    Act("end", "e", "end the pour"),
    Act("help", "question_mark", "all keys"),
    Act("ricing", "r", "ricing", trouble=Trouble.RICING),
    Act("seizing", "z", "seizing", trouble=Trouble.SEIZING),
    Act("separating", "s", "separating", trouble=Trouble.SEPARATING),
    Act("false_trace", "t", "false trace", trouble=Trouble.FALSE_TRACE),
    Act("heating", "h", "overheating", trouble=Trouble.OVERHEATING),
    Act("air", "a", "air bubbles", "air bubbles"),
    Act("spilt", "l", "spill", "spilt"),
    Act("smooth", "m", "smooth", "smooth and pourable"),
)
NOTES = tuple(act for act in ACTS if act.note or act.trouble)
OUTCOME_KEYS = {"a": Outcome.AS_PLANNED, "i": Outcome.IN_PART, "n": Outcome.NO}
"""One key tells how it came out, when that is asked at the end of a pour."""
SHOWN = {"question_mark": "?", "up": "↑", "down": "↓", "left": "←", "right": "→"}


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
    acts = {act.name: act for act in ACTS}
    return {key: acts[name] for name, key in keys.items()}


def act_for(keys: Mapping[str, Act], key: str) -> Act | None:
    """The act of a pressed key: a capital letter is its small one, unless it has its own act."""
    return keys.get(key) or keys.get(key.lower())


def shown(key: str) -> str:
    """A key as it is printed on a keyboard."""
    return SHOWN.get(key, key)
