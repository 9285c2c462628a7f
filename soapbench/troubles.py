"""What can go wrong with a batter, one key each, and what to do about it in one breath.

What to do is common practice, no source.
"""

from __future__ import annotations

from enum import StrEnum


class Trouble(StrEnum):
    """Something the maker sees go wrong."""

    SEIZING = "seizing"
    RICING = "ricing"
    SEPARATING = "separating"
    FALSE_TRACE = "false trace"
    OVERHEATING = "overheating"

    @property
    def to_do(self) -> str:
        return TO_DO[self]


TO_DO = {
    Trouble.SEIZING: (
        "It heats itself: gloves and goggles stay on. Press it into the mould now, or into a pot "
        "at most half full and cook it. Never under a lid."
    ),
    Trouble.RICING: "Whisk, or one short burst; then pour simply.",
    Trouble.SEPARATING: (
        "Do not pour: blend until no oil shows. Already in the mould: scrape it out and cook it."
    ),
    Trouble.FALSE_TRACE: "Warm gently to 35–40 °C, blend again.",
    Trouble.OVERHEATING: "Uncover, spread out, cool; do not touch what rises.",
}

NOT_TRACE = (Trouble.SEPARATING, Trouble.FALSE_TRACE)
"""What looked like trace was none: the batter stands at its emulsion until blended again."""


def trouble_of(value: object) -> Trouble | None:
    """The trouble a log names; the first release kept "heating up", and all of them as notes."""
    if value == "heating up":
        return Trouble.OVERHEATING
    return Trouble(value) if isinstance(value, str) and value in tuple(Trouble) else None
