"""What no text that a person meets may hold: words given up, raw keys, a program's own signs."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

PHRASES = tuple((Path(__file__).parent / "not_said.txt").read_text("utf-8").splitlines())
"""What a maker stumbled over when the texts were tried, and is said otherwise now, word by word."""

RETIRED = {
    r"\b[Ss]cent\b|\b[Ss]cents\b|\bscent book\b": "fragrance, fragrance book",
    r"\b[Tt]aken? back\b|\b[Tt]akes back\b|\b[Tt]ake the end back\b": "undo",
    r"\b[Ll]eft out\b|\b[Ll]eave out\b|\b[Tt]ake out\b": "skip, cancel, remove, not used",
    r"\bkeyed in\b|\bnothing is keyed\b": "press, mark, tap",
    r"\b[Pp]ut right\b|\bput this right\b|\bright would be\b|\bright:": "fix",
    r"\b[Ff]oreseen?\b": "predicted, usual",
    r"\b[Tt]o finish \d|\bchance to finish\b": "chance",
    r"\b[Rr]oom left\b": "time left",
    r"\bdegC\b|\bdegF\b": "°C, °F",
    r"\bMIND\b|\b[Tt]hings? to mind\b|\bto mind\b": "safety and notes",
    r"\bway out\b": "backup",
    r"\b[Qq]uicker way\b|\bNothing quicker\b|\bfall[ -_]back\b": "backup",
    r"\bnought\b": "zero",
    r"\bsold as\b|\bsaid to be\b": "described as",
    r"\b[Ss]et out\b|\b[Ss]et-out\b": "get ready",
    r"\b[Ww]atch(ing|ed) only\b|\bheld by another\b": "view only",
    r"\b[Pp]ut away\b": "close, finished",
    r"\b[Gg]iven up\b": "ended early",
    r"\bfour of five\b": "range",
    r"\b[Dd]ispersed in the recipe's own\b": "mixed with",
    r"\bfirst end\b|\bother end\b": "near end, far end",
    r"\bhalf way\b": "halfway",
    r"\b[Ee]mulsify, just enough\b": "stop at stable emulsion",
    r"\bFragrance into\b|\bTurn the pot\b|\bDrop an accent\b": "the act as a sentence",
    r"\b(only|by|from) its reputation\b": "the supplier's word",
    r"\bsay more of one\b|\bbatches are called\b": "be more specific",
    r"\bis no fragrance of\b|\bon its shelf\b|\bits shelf\b": "no fragrance called … here",
    r"\bgo on unseen\b": "without you",
    r"\bAnybody in this network\b|\bthis machine's\b": "anyone on this network",
    r"\b[Rr]ead again\b": "reload",
    r"\bLeave (while|without)\b|\bEsc leave\b|\bEsc drops\b|\bonce more leaves\b": "quit, close",
    r"\bEnter (take|keeps)\b|\by yes\b": "OK, save",
    r"\bsuch soap burns\b": "lye-heavy soap burns",
    r"\bsoap gains nothing\b": "heavier than last time",
    r"\bThe bench \d|\bResting\b|\bCarry on \d": "Your bench, curing, pour running",
    r"\bWHAT WOULD CHANGE IT\b|\bNaOH as weighed\b|\bNot a plan yet\b": "what would help",
    r"\bTHE EVENING\b|\bany key goes back\b|\ba tap near\b": "a pour from start to finish",
    r"\bNot finished as planned\b|\bgiven about\b": "the swirl was not finished",
}
"""What is not said any more, and what is said instead. From a trial with a maker's eyes."""
JARGON = {
    r"\b(covariate|posterior|CRPS|Brier|Wilson|likelihood|regress\w+|quantiles?|median)\b": "range",
    r"\b(instance|boolean|null|stderr|stdout|config|widget|thread|traceback)\b": "a maker's word",
}
"""Words of software and statistics; behind the key for details some are wanted."""
FAULTS = {
    r"\b(?<!/)[a-z]+_[a-z_]+\b(?!\.)": "a raw key",
    r"\bNone\b(?! is| of)|\bnan\b|\binf\b|\bTrue\b|\bFalse\b": "a value of the program's",
    r"<\w+[ .:][^>]*>|\{'|\['|\('|\bTrace\.|\bKind\.|0x[0-9a-f]{6}": "a value as Python has it",
    r"\{\w+\}|%[sd]\b": "a gap that was not filled",
    r"(?<![\d.,:/–-])1 (pot|batch|plan|item|step|key|bar|note|loaf|swirl|layer|accent|thing|entr"
    r"|colour|weighing|fragrance|answer|minute|second|week|day)(s|es|ies)\b": "a plural of one",
    r"\(s\)": "a plural that is not worked out",
    r"\b(shift|ctrl)\+[a-z]|question_mark|\bpage(up|down)\b": "a key as a program names it",
    r"(?<![\d,.])\d{4,} (mL|g)\b": "thousands without a comma",
}
"""What no screen and no output shows, though a text of the source may well hold it."""


def stumbles(
    texts: Iterable[tuple[str, str]], *lists: dict[str, str], but: Iterable[str] = ()
) -> list[str]:
    """Where one of ``lists`` is in ``texts``, each a place and its words; ``but`` may be said."""
    allowed = tuple(but)
    places = []
    for place, text in texts:
        for word, better in (pair for one in lists for pair in one.items()):
            for match in re.finditer(word, text):
                if match.group() not in allowed:
                    places.append(f"{place}: {match.group()!r} ({better}) in {text[:120]!r}")
    return places


def phrases(texts: Iterable[tuple[str, str]]) -> list[str]:
    """Where one of ``PHRASES`` is in ``texts``."""
    return [
        f"{place}: {phrase!r} in {text[:120]!r}"
        for place, text in texts
        for phrase in PHRASES
        if phrase in text
    ]
