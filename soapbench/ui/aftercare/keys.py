"""Keys of the aftercare screen, and taking back what was done after a pour."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soapbench.log import Event, Kind

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk

ALWAYS = (
    ("r", "report"), ("n", "note"), ("u", "undo"), ("i", "sources"),
    ("x", "set aside"), ("↑↓", "scroll"),
    ("Esc", "bench"),
)  # fmt: skip
BEFORE_CUT = (
    ("s", "sprayed"), ("f", "force gel"), ("a", "allow"), ("p", "prevent"),
    ("1", "no gel"), ("2", "centre only"), ("3", "halfway"), ("4", "full gel"),
    ("c", "cracking"), ("h", "overheating"), ("m", "unmoulded"), ("k", "cut"), *ALWAYS,
)  # fmt: skip
AFTER_CUT = (
    ("w", "weigh"), ("o", "other bars"), ("v", "review the bars"),
    ("t", "plane, stamp, wrap"), ("l", "batch sheet, label"), ("d", "close"), *ALWAYS,
)  # fmt: skip
ACTS = tuple(dict((*BEFORE_CUT, *AFTER_CUT)).keys() - {"↑↓", "Esc"})
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
