"""What small windows over a screen say: questions, their keys, a page of help."""

from __future__ import annotations

ANY_KEY = "or any key closes this"
BLANK_IS_NONE = " (blank = none)"
VOICE_MISSING = "No voice on this computer: install espeak-ng, or name one in {name}"
BOOK_TITLE, BOOK_READING = "Fragrance book", "Reading what your batches taught …"
BOOK_KEYS = {"hand_on": "hand on", "take_in": "take in", "details": "details", "back": "bench"}
TAKE_IN = "Another maker's file about a fragrance: its path, or drop it here"
NO_FRAGRANCE = "Choose one of your fragrances first."
HANDED_ON = "For another maker. It tells no limit: that is in the bottle's own certificate."


TRACE_LOOKS = {
    "trace1": "emulsion: no oil on top",
    "trace2": "light: a drizzle sinks slowly",
    "trace3": "medium: a drizzle stays",
    "trace4": "thick: a spoonful stands",
    "trace5": "set up: it will not pour",
}
"""What each looks like in the pot, by its key's name; the glossary says more."""


def act_in_full(name: str, words: str, note: str) -> str:
    """What a key of the pour does, where there is room for it."""
    return f"note: {note}" if note else TRACE_LOOKS.get(name, words)


def not_worked_out(why: str) -> str:
    return f"Not worked out: {why}"


def cannot_speak(command: str, why: str) -> str:
    return f"{command} cannot be run: {why}"


def speaks_too_long(command: str, seconds: float) -> str:
    return f"{command} took longer than {seconds:g} s"


def speech_failed(command: str, code: int) -> str:
    return f"{command} failed ({code})"
