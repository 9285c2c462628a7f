"""What the aftercare screen says: keys, questions, what was noted, timers, papers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from soapbench.words import numbers
from soapbench.words.chances import clock

KEYS: Mapping[str, str] = {
    "s": "sprayed", "f": "force gel", "a": "allow", "p": "prevent",
    "1": "no gel", "2": "centre only", "3": "halfway", "4": "full gel",
    "c": "cracking", "h": "overheating", "m": "unmoulded", "k": "cut",
    "w": "weigh", "o": "other bars", "v": "review the bars",
    "t": "plane, stamp, wrap", "l": "batch sheet, label", "d": "close",
    "r": "report", "n": "note", "u": "undo", "i": "sources", "x": "set aside", "escape": "bench",
}  # fmt: skip
"""What each key of the aftercare does."""
HEATER_OFF = "Heater, heat mat and every flame off?"
FLAMMABLE = "Alcohol vapour is flammable. Window open"
SPRAYED = "Sprayed. Keep flames, sparks and heaters away"
NOT_SPRAYED = "Not sprayed: first switch off whatever heats or glows"
SPRAY_NOW, TO_SPRAY = "Spray again now: press s", "to the second spray"
TO_HEAT = "until it is safe to heat; air the room"
TAKEN = "You keep this batch here now"
WHAT_HEATS = "What keeps it warm?"
CUT_FIRST = "Bars are planed, stamped and wrapped once cut: press k first"
FINISHING, FINISHED_ALL = "Finishing touches", "Planed, stamped and wrapped already"
HOW_MANY_BARS = "Cut into how many bars?"
BARS_WRONG = "Not noted: type the number of bars, 1 to 200"
WEIGH_FIRST = "Weighings begin at the cut: press k first"
REVIEW_FIRST = "The review is of cut bars: press k first"
CLOSE, CLOSE_MORE = "Close this batch?", "Cure is over, nothing left to do"
CLOSED = "Closed: it is among the finished batches now"
NOTE, NOTED = "Note", "Noted"
WRITING = "Writing …"
NOTHING_SAVED = "Can't write a report yet: nothing saved"
_GEL = {"force": "forced", "allow": "allowed", "prevent": "prevented: keep it cool"}


def title(plan: str) -> str:
    return f"{plan}: aftercare"


def gel_noted(reach: str) -> str:
    return f"Gel noted: {reach}"


def gel_wanted(gel: str, heat_wait_s: float) -> str:
    if gel == "force" and heat_wait_s > 0:
        return f"Force gel – but no heat for {clock(heat_wait_s)} yet: alcohol vapour"
    return f"Gel {_GEL[gel]}"


def trouble(what: str) -> str:
    return f"{what.capitalize()}: uncover, take it off the heat, cool it"


def unmoulded(early: str) -> str:
    return f"Unmoulded, gloves on. {early}".strip()


def how_many_bars(early: str) -> str:
    return f"{HOW_MANY_BARS} {early}".strip()


def date_to(act: str) -> str:
    return f"a date to {act}"


def cut_into(bars: int) -> str:
    return f"Cut into {bars} bar{'' if bars == 1 else 's'}. Press v to review them"


def weigh_question(first: bool, other: bool) -> str:
    which = "the bars" if first else "other bars, a new curve" if other else "the same bars"
    return f"Total weight of {which} (g), 1219/10 for ten"


def not_noted(why: str) -> str:
    return f"Not noted: {why}"


def weighed(g: float) -> str:
    return f"Weighed: {numbers.written_g(g)}"


def failed(why: str) -> str:
    return f"That did not work: {why}"


def not_written(why: str) -> str:
    return f"Can't write it: {why}"


def written(folder: str, names: Sequence[str]) -> str:
    return f"In {folder}: {' and '.join(names)}"
