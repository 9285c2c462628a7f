"""What the plan sheet says beside its figures: headings, keys, questions, what was done."""

from __future__ import annotations

KEYS = {
    "set_out": "get ready", "practise": "practise", "cut_face": "cut face", "amounts": "amounts",
    "front": "back to the picture", "print": "save to print", "edit": "edit", "again": "reload",
    "back": "back", "bench": "bench",
}  # fmt: skip
READING = "Reading the plan …"
FACE_LABEL = "cut face, as planned"
SWIRLS, HELPS = "SWIRLS WITH THIS BATTER", "WHAT WOULD HELP (press)"
MINUTES = "min"
OWN = "your plan"
BETTER = "Safer"
"""First word of a line that names something better."""
EACH_DOT = "each dot: 5 pours"
STOP = "STOP"
STOP_NOT_YET = "STOP – do not pour this yet."
STOP_IMPOSSIBLE = "STOP – this cannot be made as written."
TYPE_YES = "Enter asks for a typed yes before this is poured."
IMPOSSIBLE = "It cannot be poured until the plan is changed: e edits it."
MAKE_PLAN, MAKE_PLAN_MORE = "Make this the plan?", "It is saved in the plan's own file"
NOT_PRACTISED = "This order of steps can't be poured, so it can't be practised"
NOT_POURABLE = "This order of steps can't be poured."
AMOUNTS_READY = "Amounts ready. Working out whether there is time …"
CANNOT_USE = "This plan cannot be used yet."


def notes_more(count: int, others: bool) -> str:
    """ "! 3 notes: w", "! 1 more note: w"."""
    return f"! {count} {'more ' if others else ''}note{'' if count == 1 else 's'}: press w"


def still_running(since: str) -> str:
    return f"A pour of this plan started {since} is still running: press c to carry on"


def practice_speed(slowest: float, fastest: float) -> str:
    return f"Practice speed, {slowest:g} (real time) to {fastest:g}"


def no_practice(why: object) -> str:
    return f"No practice: {why}"


def make_plan(change: str, chances: str) -> str:
    return f"{change}: {chances}. {MAKE_PLAN_MORE}"


def plan_not_saved(why: object) -> str:
    return f"Can't save the plan: {why}"


def plan_changed(change: str) -> str:
    return f"Plan changed: {change}"


def sheet_not_saved(why: object) -> str:
    return f"Can't save the sheet: {why}"


def sheet_saved(path: object) -> str:
    return f"Saved to print: {path}"


def pour_anyway(stop: str, yes: str) -> str:
    return f"{stop} To pour it all the same type {yes}"
