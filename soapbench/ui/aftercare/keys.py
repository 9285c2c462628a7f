"""Keys of the aftercare screen, and taking back what was done after a pour."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soapbench.log import Event, Kind
from soapbench.words.aftercare import AFTER_CUT_KEYS, BEFORE_CUT_KEYS

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk

ACTS = tuple(dict((*BEFORE_CUT_KEYS, *AFTER_CUT_KEYS)).keys() - {"↑↓", "Esc"})
"""Every act works before and after the cut; shown are those that make sense."""
GEL_CHOICES = {"f": "force", "a": "allow", "p": "prevent"}


def undo_after(desk: Desk, *kinds: Kind) -> Event | None:
    """Take back the last thing done after the pour, of ``kinds`` if any are named; says which."""
    for event in reversed(desk.facts):
        if event.kind is Kind.POUR_ENDED:
            return None
        if not kinds or event.kind in kinds:
            desk.record(Kind.UNDO, event.pot, of=event.id)
            return event
    return None
