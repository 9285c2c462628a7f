"""What undo took back, in words: how things stand again."""

from __future__ import annotations

from soapbench.log import Event, Kind
from soapbench.pour import PourState


def undone_words(event: Event | None, state: PourState) -> str:
    """``event``: what was taken back; ``state``: how things stand since."""
    if event is None:
        return "Nothing to undo"
    pot = state.pots.get(event.pot or "")
    match event.kind:
        case Kind.LYE_MEETS_OILS:
            return "Undone: the start. Once more, and the clock runs on as it did"
        case Kind.UNDO:
            return "The start stands, its clock has run on"
        case Kind.STAGE_DONE | Kind.STAGE_SKIPPED | Kind.POUR_ENDED:
            return f'Undone: "{state.stage.words}" is open again' if state.stage else "Undone"
        case Kind.RESCUE_TAKEN:
            return f"Undone: back to {' + '.join(state.steps)}"
        case Kind.TRACE_SEEN | Kind.TROUBLE | Kind.LOOK if pot:
            return f"Undone: {pot.name} is at {pot.trace.words}"
        case Kind.FRAGRANCE_IN:
            return f"Undone: fragrance in {event.pot}"
        case Kind.BLENDER_ON:
            return "Undone: the blender is off"
        case Kind.BLEND_BURST:
            return "Undone: the blender still runs"
        case _:
            return f"Undone: {event.kind.value}"
