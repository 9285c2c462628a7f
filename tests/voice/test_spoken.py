"""What is said while pouring, and when."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soapbench.words.spoken import (
    LOOK_AGAIN_S,
    MARKS_S,
    Moment,
    Spoken,
    Warned,
    aloud,
    span,
    to_say,
)

AT = Moment(now=100.0, act="Stir fragrance into rust by hand", step=9, amount="2.7 g Velvet Rose")
BACKUP = Warned("in-the-pot swirl", "x", 50.0)


def say(*moments: Moment) -> list[str]:
    """What is said at each of them, one after another."""
    before, sentences = Spoken(), []
    for moment in moments:
        before, words = to_say(before, moment)
        sentences.append(words)
    return sentences


def test_the_act_as_it_begins_with_its_amount_and_once() -> None:
    first, again = say(AT, replace(AT, now=101.0))
    assert first == "Stir fragrance into rust by hand. 2.7 grams Velvet Rose"
    assert again == ""


def test_the_warning_comes_first_with_its_key_and_until_when() -> None:
    heard = say(AT, replace(AT, now=101, warned=BACKUP, act="Pour base", amount="", step=10))
    assert heard[1] == "Press x for in-the-pot swirl, within 50 seconds. Pour base"


def test_an_act_cut_short_is_said_again_after_what_cut_it() -> None:
    """Heard in a rehearsal: the warning came at once, and how much lye was never heard."""
    heard = say(AT, replace(AT, now=101, warned=BACKUP), replace(AT, now=102, warned=BACKUP))
    act = "Stir fragrance into rust by hand. 2.7 grams Velvet Rose"
    assert heard == [act, f"Press x for in-the-pot swirl, within 50 seconds. {act}", ""]


def test_the_one_button_is_held_for_the_backup() -> None:
    heard = say(AT, replace(AT, now=110, warned=replace(BACKUP, held=True)))
    assert heard[1] == "Hold the button for in-the-pot swirl, within 50 seconds"


def test_what_can_be_seen_waits_until_the_act_has_been_said() -> None:
    first = replace(AT, sight="rust: thin, like milk")
    later = [replace(AT, now=now, sight="rust: holds a line") for now in (102.0, 107.0, 108.0)]
    assert say(first, *later) == [
        f"{say(AT)[0]}. rust. thin, like milk", "", "rust. holds a line", "",
    ]  # fmt: skip


def test_a_warning_is_said_once_and_again_when_it_is_another() -> None:
    warned = replace(AT, now=110, warned=BACKUP)
    other = replace(AT, now=130, warned=Warned("plain pour", "x"))
    _, once, twice, another = say(AT, warned, replace(warned, now=120), other)
    assert once
    assert not twice
    assert another == "Press x for plain pour"
    assert say(AT, warned, AT, warned)[3] == once


def test_time_to_spare_is_told_at_marks_on_the_way_down() -> None:
    spares = [150.0, 119.0, 118.0, 59.0, 39.0, 9.0, -3.0, -20.0]
    heard = say(*(replace(AT, now=100 + 10 * i, spare_s=s) for i, s in enumerate(spares)))[1:]
    assert heard == [
        "2 minutes to spare", "", "1 minute to spare", "40 seconds to spare",
        "10 seconds to spare", "No time to spare", "",
    ]  # fmt: skip


def test_time_gained_and_lost_again_is_told_again() -> None:
    spares = [150.0, 39.0, 200.0, 39.0]
    heard = say(*(replace(AT, now=100 + 10 * i, spare_s=s) for i, s in enumerate(spares)))
    assert heard[1] == heard[3] == "40 seconds to spare"


def test_a_look_is_asked_for_and_asked_again() -> None:
    look = replace(AT, now=110.0, look_at="base")
    later = replace(look, now=look.now + LOOK_AGAIN_S)
    assert say(AT, look, replace(look, now=111.0), later) == [
        say(AT)[0], "Look at the base", "", "Look at the base",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("written", "spoken"),
    [
        ("Pour off 114 mL (116 g) for rust", "Pour off 114 millilitres, 116 grams for rust"),
        ("1,319 mL at 24 °C", "1319 millilitres at 24 degrees"),
        ("Warm gently to 35–40 °C", "Warm gently to 35 to 40 degrees"),
        ("1 tsp · 33 %", "1 teaspoon 33 percent"),
        ("1/2 tsp, 1 1/2 tsp", "half a teaspoon, 1 and a half teaspoons"),
        ("3/4 tsp, 2 1/4 tbsp", "3 quarters teaspoons, 2 and 1 quarter tablespoons"),
        ("base: light trace already? Press it", "base. light trace already. Press it"),
        (
            "usually 2 min late (worst: base, 1 min late)",
            "usually 2 minutes late, worst. base, 1 minute late",
        ),
        ("within 0:50", "within 50 seconds"),
        ("about 2:10", "about 2 minutes 10"),
        ("\x1b]0;x\x07 [red]& rust", "0 x red & rust"),
    ],
)
def test_signs_and_units_as_said(written: str, spoken: str) -> None:
    assert aloud(written) == spoken


def test_spans() -> None:
    assert [span(s) for s in (1, 7, 9, 14, 55, 61, 130, 600)] == [
        "1 second", "7 seconds", "10 seconds", "10 seconds", "1 minute", "1 minute",
        "2 minutes 10", "10 minutes",
    ]  # fmt: skip


@given(st.lists(st.floats(-300, 900), min_size=1, max_size=60))
def test_time_that_only_runs_out_is_told_once_a_mark_at_most(spares: list[float]) -> None:
    ordered = sorted(spares, reverse=True)
    heard = say(*(replace(AT, now=100.0 + i, spare_s=s) for i, s in enumerate(ordered)))[1:]
    passed = sum(
        any(above > mark >= below for above, below in pairwise(ordered)) for mark in MARKS_S
    )
    assert sum(map(bool, heard)) <= passed
    if passed:
        assert any(heard)
