"""What the settings screen says of each setting; the settings file uses the same names."""

from __future__ import annotations

ABOUT = {
    "units": "weights and lengths",
    "temperature": "temperatures",
    "kitchen": "also show spoons and cups",
    "sound": "warnings: a bell, or a voice that also reads each step",
    "pedal": "one button: press done · twice next state · hold backup or undo",
    "theme": "colours",
    "risk": "how bad is a spoilt batch",
}
SHOWN = {
    "dusk": "dusk (dark)",
    "linen": "linen (light)",
    "slate": "slate (high contrast)",
}
"""Values that a maker would say otherwise than the file does."""
SAVED = "saved automatically"
SWAPS = "If it is in use, the two swap. Esc cancels."


def press_words(act: str) -> str:
    return f"Press the new key or pedal for: {act}"
