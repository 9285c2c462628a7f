"""The cut review: answers as events, by part of the loaf, and what can be learned from them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from aftercare_kit import EVENING

from soapbench.aftercare.cutreview import (
    ASPECTS,
    REACHED,
    VERDICTS,
    Reach,
    Verdict,
    answer_values,
    is_part,
    questions,
    reaches,
    review,
    verdict_of,
    verdict_values,
)
from soapbench.log import Event, Kind, Value, standing

ASKED = questions(["foam", "ember"])


def event(n: int, kind: Kind, pot: str | None = None, **values: Value) -> Event:
    return Event(EVENING + timedelta(seconds=n), float(n), kind, pot, values, id=f"e{n}")


def test_each_colour_and_every_aspect_is_asked() -> None:
    assert [q.pot for q in ASKED[:2]] == ["foam", "ember"]
    assert {q.aspect for q in ASKED} == {"reached", *(a.key for a in ASPECTS)}
    assert all(2 <= len(q.answers) <= 4 for q in ASKED), "one key each"


def test_answers_by_part_and_how_far_each_colour_reached() -> None:
    events = [
        event(1, Kind.CUT_SEEN, "foam", **answer_values("middle", ASKED[0], 2)),
        event(2, Kind.CUT_SEEN, "foam", **answer_values("first end", ASKED[0], 0)),
        event(3, Kind.CUT_SEEN, "ember", **answer_values("bar 4", ASKED[1], 1)),
        event(4, Kind.CUT_SEEN, None, **answer_values("middle", ASKED[2], 1)),
        event(5, Kind.CUT_SEEN, "foam", **answer_values("middle", ASKED[0], 1)),
        event(6, Kind.CUT_SEEN, part="middle", photo="~/pictures/cut.jpg"),
    ]
    answers = review(standing(events))
    assert answers.parts == ("first end", "middle", "bar 4")
    assert answers.answer("middle", ASKED[0]) == "half way", "the later answer counts"
    assert answers.answer("middle", ASKED[2]) == "soft"
    assert answers.answer("other end", ASKED[0]) == ""
    assert answers.photos == {"middle": ("~/pictures/cut.jpg",)}
    assert set(reaches(standing(events))) == {
        Reach("foam", "middle", "half way"),
        Reach("foam", "first end", "to the bottom"),
        Reach("ember", "bar 4", "half way"),
    }
    assert events[0].values == {"part": "middle", "reached": "stayed on top"}


def test_an_answer_taken_back_is_gone() -> None:
    events = [
        event(1, Kind.CUT_SEEN, None, **answer_values("middle", ASKED[3], 2)),
        event(2, Kind.UNDO, of="e1"),
    ]
    assert review(standing(events)).parts == ()


def test_nonsense_in_a_log_is_left_out() -> None:
    events = [
        event(1, Kind.CUT_SEEN, "foam", part="moon", reached="half way"),
        event(2, Kind.CUT_SEEN, "foam", part="middle", reached="sideways"),
        event(3, Kind.CUT_SEEN, None, part="middle", edges=3),
    ]
    assert reaches(standing(events)) == ()
    assert review(standing(events)).answers == {}


@pytest.mark.parametrize(
    ("part", "right"),
    [("middle", True), ("bar 1", True), ("bar 200", True), ("bar 0", False), ("bar 201", False),
     ("bar", False), ("bar ²", False), ("", False), ("bar -1", False)],
)  # fmt: skip
def test_parts(part: str, right: bool) -> None:
    assert is_part(part) is right


def test_the_last_verdict_counts_with_what_goes_with_it() -> None:
    first = Verdict("not again", "", ())
    last = Verdict("again with a change", "cooler", ("drop swirl", "textured top"))
    events = [
        event(1, Kind.VERDICT, **verdict_values(first)),
        event(2, Kind.VERDICT, **verdict_values(last)),
    ]
    assert verdict_of(standing([])) is None
    assert verdict_of(standing(events)) == last
    assert verdict_of(standing([*events, event(3, Kind.UNDO, of="e2")])) == first
    assert first.verdict in VERDICTS
    assert last.verdict in VERDICTS
    assert len(REACHED) == 3
