"""Cut review: how the bars came out, answer by answer, and whether this swirl is poured again.

An answer is one event, so that one key gives it and one undo takes it back:
``CUT_SEEN`` with ``part`` ("middle", "bar 3" …) and one aspect and its answer. How far a colour
reached names its pot: pot "foam", ``{"part": "middle", "reached": "half way"}``. An answer measured
in a photograph says so and how sure it is (``by``, ``sure``); the maker's own goes before it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from soapbench.log import Kind, Standing
from soapbench.words.review import depth_question

PARTS = ("first end", "middle", "other end")
"""Parts of the loaf; ends differ from the middle. A bar is "bar 1" and so on."""
REACHED = ("to the bottom", "half way", "stayed on top")
ASH = ("none", "a little", "a lot")
VERDICTS = ("again", "again with a change", "not again")
MOST_BARS = 200
MOST_POTS = 32


@dataclass(frozen=True, slots=True)
class Aspect:
    """One thing to look at, and the answers to choose from, best first."""

    key: str
    words: str
    answers: tuple[str, ...]


ASPECTS = (
    Aspect("edges", "edges between colours", ("sharp", "soft", "blurred")),
    Aspect("rivers", "glycerin rivers", ("none", "a few", "many")),
    Aspect("ash", "soda ash", ASH),
    Aspect("oval", "darker oval inside", ("none", "faint", "clear")),
    Aspect("air", "air bubbles", ("none", "small", "large")),
    Aspect("discolouration", "discolouration", ("none", "slight", "strong")),
    Aspect("texture", "texture", ("smooth", "grainy", "crumbly", "soft and sticky")),
    Aspect("smell", "smell", ("held", "weaker", "gone")),
)


@dataclass(frozen=True, slots=True)
class Question:
    """One line of the review: an aspect of one part, or how far one pot's colour reached there."""

    aspect: str
    words: str
    answers: tuple[str, ...]
    pot: str | None = None


@dataclass(frozen=True, slots=True)
class Reach:
    """How far down a pot's colour came in one part of the loaf."""

    pot: str
    part: str
    reached: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The maker's last word on a batch."""

    verdict: str
    next_time: str = ""
    next_swirl: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Review:
    """All that was answered. ``answers``: by part, then by (aspect, pot)."""

    answers: Mapping[str, Mapping[tuple[str, str | None], str]]
    photos: Mapping[str, tuple[str, ...]]
    """Paths by part: copies in the bench, or as the maker once typed them."""
    verdict: Verdict | None
    by_photo: Mapping[str, Mapping[tuple[str, str | None], str]] = field(default_factory=dict)
    """Answers that were measured in a photograph, and how sure each is."""
    shares: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """Share of the face each pot covers in the part's last photograph, in the plan's order."""

    @property
    def parts(self) -> tuple[str, ...]:
        """Parts that were looked at, in the order of the loaf."""
        return tuple(sorted({*self.answers, *self.photos}, key=_place))

    def answer(self, part: str, question: Question) -> str:
        """Empty: not answered."""
        return self.answers.get(part, {}).get((question.aspect, question.pot), "")


def questions(accents: Sequence[str]) -> tuple[Question, ...]:
    """What is asked of every part; ``accents``: pots other than the base, in the plan's order."""
    reach = [Question("reached", depth_question(pot), REACHED, pot) for pot in accents]
    return (*reach, *(Question(a.key, a.words, a.answers) for a in ASPECTS))


def photo_answer(part: str, reached: str, sure: str) -> dict[str, Any]:
    """The values of the event by which a photograph answers how far a pot's colour came."""
    return {"part": part, "reached": reached, "by": "photo", "sure": sure}


def answer_values(part: str, question: Question, number: int) -> dict[str, Any]:
    """The values of the event that answers ``question`` with its answer ``number``, from 0."""
    return {"part": part, question.aspect: question.answers[number]}


def is_part(part: str) -> bool:
    """Whether ``part`` is a part of a loaf or one of its bars."""
    number = part.removeprefix("bar ")
    return part in PARTS or (
        number != part and number.isascii() and number.isdigit() and 1 <= int(number) <= MOST_BARS
    )


def review(facts: Standing) -> Review:
    """The review as it stands; a later answer replaces an earlier one to the same question."""
    known = {a.key: a.answers for a in ASPECTS} | {"reached": REACHED}
    answers: dict[str, dict[tuple[str, str | None], str]] = {}
    photos: dict[str, tuple[str, ...]] = {}
    by_photo: dict[str, dict[tuple[str, str | None], str]] = {}
    shares: dict[str, tuple[float, ...]] = {}
    for event in facts:
        part = str(event.values.get("part", ""))
        if event.kind is not Kind.CUT_SEEN or not is_part(part):
            continue
        if photo := event.values.get("photo"):
            photos[part] = (*photos.get(part, ()), str(photo))
        if face := _shares(event.values.get("shares")):
            shares[part] = face
        for aspect, allowed in known.items():
            answer = event.values.get(aspect)
            if not isinstance(answer, str) or answer not in allowed:
                continue
            asked = (aspect, event.pot if aspect == "reached" else None)
            measured, own = event.values.get("by") == "photo", by_photo.setdefault(part, {})
            if measured and asked in answers.get(part, {}) and asked not in own:
                continue
            answers.setdefault(part, {})[asked] = answer
            own.pop(asked, None)
            if measured:
                own[asked] = str(event.values.get("sure", ""))
    return Review(answers, photos, verdict_of(facts), by_photo, shares)


def _shares(value: object) -> tuple[float, ...]:
    """Empty for anything else than shares of a face."""
    if not isinstance(value, list) or not 1 <= len(value) <= MOST_POTS:
        return ()
    if not all(isinstance(s, int | float) and 0 <= s <= 1 for s in value):
        return ()
    return tuple(float(s) for s in value)


def reaches(facts: Standing) -> tuple[Reach, ...]:
    """How far each colour reached in each part: what sink depths can be learned from."""
    return tuple(
        Reach(pot, part, answer)
        for part, given in review(facts).answers.items()
        for (aspect, pot), answer in given.items()
        if aspect == "reached" and pot is not None
    )


def verdict_values(verdict: Verdict) -> dict[str, Any]:
    """The values of a verdict's event."""
    values: dict[str, Any] = {"verdict": verdict.verdict}
    if verdict.next_time:
        values["next_time"] = verdict.next_time
    if verdict.next_swirl:
        values["next_swirl"] = list(verdict.next_swirl)
    return values


def verdict_of(facts: Standing) -> Verdict | None:
    """The last verdict that holds; None: none yet."""
    last = facts.last(Kind.VERDICT)
    if last is None:
        return None
    steps = last.values.get("next_swirl")
    return Verdict(
        str(last.values.get("verdict", "")),
        str(last.values.get("next_time", "")),
        tuple(str(step) for step in steps) if isinstance(steps, list) else (),
    )


def _place(part: str) -> tuple[int, int]:
    if part in PARTS:
        return (0, PARTS.index(part))
    return (1, int(part.removeprefix("bar ")))
