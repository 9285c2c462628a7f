"""Taking back what was done after a pour."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soapbench.log import Event, Kind

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk


def undo_after(desk: Desk, *kinds: Kind) -> Event | None:
    """Take back the last thing done after the pour, of ``kinds`` if any are named; says which."""
    for event in reversed(desk.facts):
        if event.kind is Kind.POUR_ENDED:
            return None
        if not kinds or event.kind in kinds:
            desk.record(Kind.UNDO, event.pot, of=event.id)
            return event
    return None
