"""What is said aloud while pouring, for a maker who looks into the pot: words, and when.

A pour is heard as a series of moments. Each is compared with what was said last; at most one
sentence comes of it, the most urgent first. Nothing here speaks: ``desk.voice`` does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from soapbench.reading.safetext import clean

MARKS_S = (120, 60, 40, 20, 10, 0)
"""Time to spare that is told as it is passed on the way down (ours)."""
ABOVE, UNHEARD = 1e6, float("inf")
"""In place of a mark: above all of them; and before any time to spare was heard."""
AGAIN_S = 30.0
"""Marks are told anew once there is this much more to spare than the last of them (ours)."""
QUIET_S = 6.0
"""By then most sentences have been said (ours)."""
LOOK_AGAIN_S = 45.0
"""A look that was asked for and did not come is asked for again after this (ours)."""


@dataclass(frozen=True, slots=True)
class Warned:
    """Something better to do now: what, by which key, and for how long it still works."""

    way: str
    key: str
    switch_by_s: float | None = None
    held: bool = False
    """By the one button, held."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A pour as it can be heard. Times in s."""

    now: float
    act: str = ""
    """The step in hand, as the screen says it; empty when there is none."""
    step: int = 0
    amount: str = ""
    spare_s: float | None = None
    look_at: str | None = None
    """The pot a look is wanted of."""
    warned: Warned | None = None
    sight: str = ""
    """What a practice batter looks like: there is no pot to look into."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """What has been said so far of it."""

    step: int = -1
    act: str = ""
    mark: float = UNHEARD
    """The lowest mark of time to spare that has been told."""
    look_at: str | None = None
    looked_for: float = float("-inf")
    way: str = ""
    sight: str = ""
    act_at: float = float("-inf")
    """When the act was said."""
    said_at: float = float("-inf")


def to_say(before: Spoken, moment: Moment) -> tuple[Spoken, str]:
    """The next sentence, "" for none, and what has then been told."""
    new = _forget(before, moment)
    parts: list[str] = []
    if moment.warned and moment.warned.way != new.way:
        new = replace(new, way=moment.warned.way)
        parts.append(_warning(moment.warned))
    begins = bool(moment.act) and (moment.step, moment.act) != (new.step, new.act)
    if begins:
        new = replace(new, step=moment.step, act=moment.act, act_at=moment.now)
        parts.append(_act(moment))
    if moment.spare_s is not None:
        mark = _mark(moment.spare_s)
        if mark < new.mark < UNHEARD or mark <= MARKS_S[1] < new.mark:
            parts.append(spare_words(moment.spare_s))
        new = replace(new, mark=min(mark, new.mark))
    if moment.look_at and (
        moment.look_at != new.look_at or moment.now - new.looked_for >= LOOK_AGAIN_S
    ):
        new = replace(new, look_at=moment.look_at, looked_for=moment.now)
        if not parts:
            parts.append(f"Look at the {aloud(moment.look_at)}")
    if parts and moment.act and not begins and moment.now < new.act_at + QUIET_S:
        parts.append(_act(moment))  # it has just been cut short, its amount perhaps unheard
    # What can be seen is no hurry: it cuts nothing short that is still being said.
    if moment.sight != new.sight and (parts or moment.now - new.said_at >= QUIET_S):
        new = replace(new, sight=moment.sight)
        parts += [aloud(moment.sight)] if moment.sight else []
    return (replace(new, said_at=moment.now) if parts else new), ". ".join(parts)


def _forget(before: Spoken, moment: Moment) -> Spoken:
    """What has passed can be told again when it comes back."""
    if moment.warned is None:
        before = replace(before, way="")
    if moment.look_at is None:
        before = replace(before, look_at=None)
    # Well above the mark told last: a tap or another way gave time, and it may run out again.
    if moment.spare_s is not None and before.mark + AGAIN_S < moment.spare_s:
        before = replace(before, mark=_mark(moment.spare_s))
    return before


def _mark(spare_s: float) -> float:
    """The lowest mark that ``spare_s`` has come down to; ``ABOVE`` all of them."""
    return min((float(mark) for mark in MARKS_S if spare_s <= mark), default=ABOVE)


def _act(moment: Moment) -> str:
    return ". ".join(aloud(part) for part in (moment.act, moment.amount) if part)


def _warning(warned: Warned) -> str:
    until = ""
    if warned.switch_by_s is not None and warned.switch_by_s > 0:
        until = f", within {span(warned.switch_by_s)}"
    press = "Hold the button" if warned.held else f"Press {aloud(warned.key)}"
    return f"{press} for {aloud(warned.way)}{until}"


def spare_words(spare_s: float) -> str:
    """Time to spare, as said: "forty seconds" is said by the voice from "40 seconds"."""
    if spare_s <= 0:
        return "No time to spare"
    return f"{span(spare_s)} to spare"


def span(seconds: float) -> str:
    """A stretch of time in words: "40 seconds", "1 minute", "2 minutes 10"."""
    rounded = max(10, round(seconds / 10.0) * 10) if seconds >= 8 else max(1, round(seconds))
    minutes, rest = divmod(rounded, 60)
    if not minutes:
        return f"{rest} second{'' if rest == 1 else 's'}"
    words = f"{minutes} minute{'' if minutes == 1 else 's'}"
    return f"{words} {rest}" if rest else words


_UNITS = (
    (r"(?<=\d)\s*mL\b", " millilitres"),
    (r"(?<=\d)\s*g\b", " grams"),
    (r"(?<=\d)\s*kg\b", " kilos"),
    (r"(?<=\d)\s*min\b", " minutes"),
    (r"(?<=\d)\s*oz\b", " ounces"),
    (r"(?<=\d)\s*fl oz\b", " fluid ounces"),
    (r"(?<=\d)\s*tbsp\b", " tablespoons"),
    (r"(?<=\d)\s*tsp\b", " teaspoons"),
    (r"(?<=\d)\s*°\s*C\b", " degrees"),
    (r"(?<=\d)\s*°\s*F\b", " degrees Fahrenheit"),
    (r"(?<=\d)\s*%", " percent"),
    (r"\b1 (millilitre|gram|kilo|minute|ounce|tablespoon|teaspoon)s\b", r"1 \1"),
)
_CLOCK = re.compile(r"\b(\d{1,2}):([0-5]\d)\b")

_PART = re.compile(r"(?:\b(\d+) )?\b([123])/([2348])\b")
_PARTS = {"2": "half", "3": "third", "4": "quarter", "8": "eighth"}


def _part_words(part: re.Match[str]) -> str:
    """ "1/2" as "half", "1 3/4" as "1 and 3 quarters": read figure by figure it is "1 2"."""
    whole, count, of = part.groups()
    name = _PARTS[of]
    spoons = name if count == "1" and of == "2" else f"{count} {name}{'' if count == '1' else 's'}"
    return f"{whole} and {'a ' if spoons == 'half' else ''}{spoons}" if whole else spoons


def aloud(text: str) -> str:
    """Words of a screen as they are said: no signs, units in full, thousands without commas;
    a pause where the screen has a colon or a question."""
    line = clean(text)
    line = re.sub(r"(?<=\d),(?=\d{3})", "", line)
    line = re.sub(r"(?<=\d)–(?=\d)", " to ", line)
    line = _CLOCK.sub(lambda m: span(int(m[1]) * 60 + int(m[2])), line)
    for unit, words in _UNITS:
        line = re.sub(unit, words, line)
    line = _PART.sub(_part_words, line)
    line = re.sub(r"(?<!a )\bhalf (teaspoon|tablespoon|ounce)s\b", r"half a \1", line)
    line = re.sub(r"\s*[:;?!](?=\s|$)", ".", line)  # a pause, so that it can be understood
    line = line.replace(" (", ", ")
    line = re.sub(r"[^\w\s.,'&-]", " ", line)
    return re.sub(r"\s+([.,])", r"\1", " ".join(line.split()))
