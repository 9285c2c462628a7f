"""What the cut review says. Answers are kept in logs under their first names; shown as here."""

from __future__ import annotations

from collections.abc import Mapping

from soapbench.words import numbers

_SHOWN: Mapping[str, str] = {
    "first end": "near end",
    "other end": "far end",
    "half way": "halfway",
    "held": "strong",
    "again with a change": "again, with changes",
}
"""By what a log holds; what is not here is said as it is kept."""
_SINKS = {"to the bottom": "to the bottom", "half way": "halfway"}
_PREDICTED = {**_SINKS, "stayed on top": "on top"}
PHOTO_STRAIGHT, DRAWN = "Photo, put straight", "Drawn, as poured"
READING_PHOTO = "Reading the photo …"
IN_THE_PHOTO = "In the photo (poured): "
AGAIN = "Would you pour this again?"
VERDICT_KEY = f"{AGAIN} Press v"
NEXT_SWIRL, NOT_SURE = "Which swirl next time?", "not sure"
WHAT_CHANGE = "What would you change? (Esc: nothing)"
HOW_NOW = "Now that it is cut: how did the swirl come out?"
WHICH_BAR = "Which bar, counted from the near end?"
BAR_RANGE = "A bar has a number from 1 to 200"
NO_PICTURES = "No JPEG, PNG or WebP in that folder"
NOT_IN_BENCH = "it does not lie in this bench"


def shown(kept: str) -> str:
    """An answer, a part of the loaf or a verdict as a maker says it."""
    return _SHOWN.get(kept, kept)


def depth_question(pot: str) -> str:
    return f"{pot}: how deep?"


def sinks(pots: list[str], kept: str) -> str:
    """ "foam and ember sink to the bottom", "gold stays on top"."""
    several = len(pots) > 1
    listed = f"{', '.join(pots[:-1])} and {pots[-1]}" if several else pots[0]
    if kept in _SINKS:
        return f"{listed} {'sink' if several else 'sinks'} {_SINKS[kept]}"
    return f"{listed} {'stay' if several else 'stays'} on top"


def sank(kept: str) -> str:
    """ "sank to the bottom", "stayed on top"."""
    return f"sank {_SINKS[kept]}" if kept in _SINKS else shown(kept)


def title(plan: str) -> str:
    return f"{plan}: cut review"


def photo_title(plan: str, part: str) -> str:
    return f"{plan}: {shown(part)}"


def photo_share(pot: str, share: float, poured: float) -> str:
    return f"{pot} {numbers.share(share)} ({numbers.share(poured)})  "


def verdict_line(came: str, verdict: str, swirl: str, change: str) -> str:
    parts = [f"{came}. {AGAIN} {shown(verdict)}"]
    parts += [f"next time {swirl}"] * bool(swirl) + [change] * bool(change)
    return "; ".join(parts)


def from_photo(sure: str) -> str:
    return f"from the photo, {sure}"


def predicted(kept: str) -> str:
    return f"predicted: {_PREDICTED.get(kept, kept)}"


def answers_are(count: int) -> str:
    return f"1 to {count} answer this"


def answered(part: str, question: str, answer: str, pot: str | None = None) -> str:
    """ "middle: soda ash a little", "middle: foam sank halfway"."""
    words = f"{question} {shown(answer)}" if pot is None else f"{pot} {sank(answer)}"
    return f"{shown(part)}: {words}"


def photo_of(part: str) -> str:
    return f"Photo file for the {shown(part)}, or a folder of photos"


def which_photo(part: str) -> str:
    return f"Which photo of the {shown(part)}? Newest first"


def no_photo(part: str) -> str:
    return f"No photo of the {shown(part)} yet: press p"


def not_a_photo(why: object) -> str:
    return f"Not a photo: {why}"


def not_added(why: str) -> str:
    return f"Photo not added: {why}"


def photo_kept(filled: int, unsure: str, trouble: str = "") -> str:
    if trouble:
        return f"Photo kept; not measured: {trouble}"
    count = "1 answer" if filled == 1 else f"{filled} answers"
    kept = f"Photo kept; {count} filled in, a number key corrects one. f shows it: is the top up?"
    return f"{kept} Not sure of {unsure}" if unsure else kept


def saved(verdict: str) -> str:
    """ "Saved: would pour again, with changes"."""
    words = shown(verdict)
    return f"Saved: would {words}" if words.startswith("not") else f"Saved: would pour {words}"
