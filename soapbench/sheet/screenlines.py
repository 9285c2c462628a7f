"""What a screen shows of a plan sheet. Nothing slow is imported here: it is there at once."""

from __future__ import annotations

from dataclasses import dataclass

HEADINGS = ("PROBLEMS", "SWIRLS", "WHAT WOULD HELP", "WEIGH", "POTS", "STAGES", "MIND")


@dataclass(frozen=True, slots=True)
class Front:
    """The sheet as a screen shows it, as plain text: small enough to be kept for the next start."""

    title: str
    chance: str
    """In as few signs as can be, "27%"."""
    verdict: str
    danger: bool
    lines: tuple[str, ...]
