"""What the screen says on which everything is weighed and set within reach."""

from __future__ import annotations

from soapbench.reading.safetext import counted

KEYS = {
    "tick": "tick", "tick_above": "tick all above", "move": "move", "lot": "lot number",
    "undo": "undo", "pour": "to the pour", "back": "back",
}  # fmt: skip
ALL_READY = "All ready."
NO_LOT = "This row has no lot number"
NO_PAUSE = "There is no pause once the lye is in"


def title(plan: str) -> str:
    return f"{plan}: get ready"


def to_go(count: int) -> str:
    return f"{count} to go"


def with_lot(row: str, lot: str) -> str:
    return f"{row}   lot {lot}"


def lot_of(row: str) -> str:
    return f"{row}: lot number"


def not_ticked(count: int) -> str:
    return f"{counted(count, 'item')} not ticked. Start anyway?"
