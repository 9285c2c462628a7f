"""What the settings screen says of each setting; the settings file uses the same names."""

from __future__ import annotations

ABOUT = {
    "units": "weights and lengths",
    "temperature": "temperatures",
    "kitchen": "also show spoons and cups",
    "sound": "warnings: a bell, or a voice that also reads each step",
    "pedal": "one button: press done · twice next state · hold backup or undo",
    "theme": "colours",
    "risk": "how bad is a spoilt batch?",
}
SHOWN = {
    "dusk": "dusk (dark)",
    "linen": "linen (light)",
    "slate": "slate (high contrast)",
}
"""Values that a maker would say otherwise than the file does."""
TITLE = "Settings (saved automatically)"
KEYS = "keys"
POT_ABOVE, POT_BELOW = "pot above", "pot below"
SWAPS = "If it is in use, the two swap. Esc cancels."


def shown_about(name: str, shown: str) -> str:
    """What a setting is about, and what its value means; ``shown``: "" where that says itself."""
    about = ABOUT[name]
    return f"{about}{' ' if about.endswith('?') else ': '}{shown}" if shown else about


def press_words(act: str) -> str:
    return f"Press the new key or pedal for: {act}"


def for_leaving(key: str) -> str:
    return f"! {key} is for leaving; choose another key"


def saved_in(file: object) -> str:
    return f"Saved in {file}"


def key_pressed(state: str) -> str:
    return f"{state} seen"
