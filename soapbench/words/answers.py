"""What the maker is answered to each key of the pour: what was marked, asked, undone, refused."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soapbench.batter import Trace
from soapbench.log import Kind, Outcome
from soapbench.reading.safetext import clean
from soapbench.words.chances import clock
from soapbench.words.events import SAID, undone
from soapbench.words.pouring import Work, saying

if TYPE_CHECKING:
    from soapbench.troubles import Trouble

NOT_OVER = "The pour is not over yet"
SET_ASIDE, COUNTS_AGAIN = "Set aside: this batch teaches nothing", "This batch counts again"


def outcome_saved(outcome: Outcome) -> str:
    return f"Saved: {outcome}"


def press_again(pot: str, state: Trace, early: bool) -> str:
    """A state that nobody would have looked for counts with its second press."""
    words = f"{state.words} already?" if early else f"only {state.words}?"
    return f"{pot}: {words} Press it again, or undo"


def marked(pot: str, state: Trace) -> str:
    return f"{pot} marked: {state.words}"


def still_at(pot: str, state: Trace) -> str:
    return f"{pot} still at {state.words}"


def to_do(pot: str, trouble: Trouble) -> str:
    return f"{pot}: {trouble}. {trouble.to_do}"


def no_fragrance(pot: str) -> str:
    return f"{pot} takes no fragrance"


def in_the_mould(pot: str) -> str:
    return f"{pot} is in the mould"


def second_dose_asked(pot: str, ago_s: float) -> str:
    return f"{pot} has had its fragrance, {clock(ago_s)} ago. A second dose?"


def second_dose(pot: str) -> str:
    return f"Second dose in {pot}"


def fragrance_in(pot: str) -> str:
    return f"Fragrance in {pot}"


def undone_words(kind: Kind, stage: Work | None, pot: str | None) -> str:
    """What was undone, by what is so again."""
    match kind:
        case Kind.STAGE_DONE | Kind.STAGE_SKIPPED if stage:
            return f"Undone: “{saying(stage).sentence}” is open again"
        case Kind.RESCUE_TAKEN:
            return "Undone: back to your swirl"
        case Kind.TRACE_SEEN:
            return f"Undone: {clean(pot or '')} not marked"
        case Kind.TROUBLE | Kind.LOOK:
            return f"Undone: {SAID[kind]} in {clean(pot or '')}"
        case Kind.OUTCOME:
            return "Undone: how did it come out?"
        case Kind.FRAGRANCE_IN:
            return f"Undone: no fragrance in {clean(pot or '')} yet"
        case Kind.BLENDER_ON | Kind.BLEND_BURST:
            return "Undone: that blending does not count"
        case Kind.POUR_ENDED:
            return "Undone: the pour goes on"
        case Kind.LYE_MEETS_OILS:
            return "Undone: the start. Undo once more, and the clock runs on as it did"
        case Kind.UNDO:
            return "The start stands again; its clock has run on"
        case _:
            return undone(kind)
