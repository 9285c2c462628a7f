"""What must be seen while pouring is seen at every size, whatever is poured and said."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from textual.binding import Binding

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.desk.keys import POUR, keymap
from soapbench.desk.pourdesk import Desk
from soapbench.outlook.chart import PourChart, Row
from soapbench.settings import USUAL
from soapbench.ui import letters
from soapbench.ui.canvas import changes
from soapbench.ui.pour.facts import ActFact, Backup, Facts, PotFact, facts, gauge
from soapbench.ui.pour.far import EDGE, amounts, far_lines
from soapbench.ui.pour.keyline import keys_shown
from soapbench.ui.pour.layout import pour_lines
from soapbench.words.lines import Piece, cells, plain
from soapbench.words.pouring import (
    SPARE_WORDS,
    Said,
    spare_ink,
    spare_label,
    spare_sign,
    step_label,
    wait_large,
)
from tests.desks import desk, work
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan

SIZES = ((80, 24), (80, 30), (120, 40), (160, 50), (60, 20))
NINE = THREE_POTS.replace('share = "60 %"', 'share = "48 %"').replace(
    "[swirl]",
    "".join(f'[[pots]]\nname = "dark red {name}"\nshare = "2 %"\n' for name in "abcdef")
    + "[swirl]",
)


def shown_by(pour: Desk, notice: str = "", alarm: bool = False) -> Facts:
    return facts(pour, pour.now(), pour.plan.base.name, keymap(), USUAL, (notice, alarm))


def in_danger(known: Known, clock: FakeClock, text: str) -> Desk:
    pour = desk(plan(text), known, clock)
    work(pour, clock, "stir in fragrance/base", each_s=40)
    clock.passes(10)
    pour.trace_seen("rope", Trace.MEDIUM)
    clock.passes(70)
    pour.heed(pour.advise())
    return pour


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("text", [THREE_POTS, NINE], ids=["three pots", "nine pots"])
def test_what_is_needed_is_there_at_every_size(
    known: Known, clock: FakeClock, size: tuple[int, int], text: str
) -> None:
    pour = in_danger(known, clock, text)
    width, height = size
    shown = shown_by(pour, "NOT SAVED: 2 entries", True)
    drawn, rooms = pour_lines(shown, width, height, 4)
    lines = [plain(line) for line in drawn]
    whole = "\n".join(lines)
    assert len(lines) + rooms.keys == height
    assert all(cells(line) <= width for line in lines)
    for needed in (
        "step ", " of ", "then SPACE", "g Tar & Thyme",
        step_label(shown.usual_s, shown.overdue),
        spare_label(shown.spare_s, True), "LOOK AT",
        "NOT SAVED: 2 entries", "CHANCE NOW", " X  switch to ",
    ):  # fmt: skip
        assert needed in whole, needed
    assert lines[-1].startswith("└"), "the box comes last and whole"
    assert lines[-1].endswith("┘")
    assert width < 80 or "…" not in lines[-3], "why is told whole"
    assert any(line.startswith("▸") for line in lines), "the pot in hand has its row"
    large = [w for w in map(letters.plain_letters, shown.act.saying.large) if w]
    assert any(letters.drawn(words, dots, dots)[1] in whole for words in large for dots in (1, 2))


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("step_s", [0.0, 754.0, 4000.0, 36000.0])
@pytest.mark.parametrize("spare_s", [None, 0.0, 754.0, 3599.0, 9999.0, -5.0, -754.0, -40000.0])
def test_the_two_times_never_touch(
    known: Known, clock: FakeClock, size: tuple[int, int], step_s: float, spare_s: float | None
) -> None:
    pour = in_danger(known, clock, THREE_POTS)
    shown = replace(shown_by(pour), step_s=step_s, spare_s=spare_s)
    width, height = size
    drawn, _ = pour_lines(shown, width, height, 4)
    usual = step_label(shown.usual_s, shown.overdue)
    label = next(i for i, line in enumerate(drawn) if usual in plain(line))
    for line in drawn[label - 3 : label]:
        if len(line) == 2:
            left = line[0].text
            assert len(left) - len(left.rstrip()) >= 1 or not left.strip()
            assert cells(plain(line)) <= width


names = st.text(st.characters(exclude_categories=("Cs", "Cc", "Cf", "Zl", "Zp")), max_size=40)


@st.composite
def moments(draw: st.DrawFn) -> Facts:
    pots = draw(st.lists(st.tuples(names, st.sampled_from(Trace)), min_size=1, max_size=12))
    rows = tuple(Row(name, "#c8a050", 60, 120, 300, 200) for name, _ in pots)
    chart = draw(st.none() | st.just(PourChart(0, 600, 90, (), rows)))
    backup = draw(st.none() | st.builds(Backup, st.just("X"), names, st.none() | st.floats(-9, 900),
                                        st.booleans()))  # fmt: skip
    act = ActFact(Said((draw(names).upper(), draw(names)), draw(names)), draw(names), "then SPACE")
    return Facts(
        title=draw(names), since="5:06 since lye", step=(3, draw(st.integers(3, 60))), act=act,
        step_s=draw(st.floats(0, 1e5)), usual_s=20, overdue=draw(st.booleans()),
        blender=draw(st.sampled_from(["", "● BLENDER"])),
        spare_s=draw(st.none() | st.floats(-1e5, 1e5)), spare_known=True, running=True,
        pots=tuple(PotFact(name, "#c8a050", trace, "pot", False) for name, trace in pots),
        hand=draw(st.integers(0, len(pots) - 1)), chart=chart, look="last look", nag=draw(names),
        ahead=(act, act), chance="71 %", why=draw(names), backup=backup,
        reply=draw(st.text(max_size=300)).replace("\n", " "), alarm=False, head=draw(names),
    )  # fmt: skip


@given(moments(), st.integers(40, 200), st.integers(18, 60), st.integers(1, 6))
@settings(deadline=None, max_examples=150)
def test_any_moment_fits_any_screen(shown: Facts, width: int, height: int, key_lines: int) -> None:
    drawn, rooms = pour_lines(shown, width, height, key_lines)
    assert all(cells(plain(line)) <= width for line in drawn)
    assert len(drawn) + rooms.keys == height
    if shown.backup:
        assert plain(drawn[-1]).startswith("└")


def bound(own: Mapping[str, str] | None = None) -> list[Binding]:
    """The pour's keys as the screen has them."""
    return [
        Binding(key, "", act.short or act.words, id=POUR + act.name)
        for key, act in keymap(own).items()
    ]


def test_keys_shrink_to_one_line_and_all_are_one_key_away() -> None:
    one = keys_shown(bound(), 80, 1).plain
    assert "\n" not in one
    assert len(one) <= 80
    for needed in ("SPACE done", "12345 what I see", "x switch", "u undo", "? more"):
        assert needed in one
    assert "seizing" in keys_shown(bound(), 80, 9).plain
    assert "? more" in keys_shown(bound({"done": "f12"}), 40, 1).plain


@pytest.mark.parametrize(
    ("seconds", "sign", "ink", "word"),
    [
        (130.0, "+2:10", "good", "to spare"),
        (120.0, "+2:00", "amber", "TIGHT"),
        (0.0, "+0:00", "amber", "TIGHT"),
        (-47.0, "-0:47", "bad", "SHORT"),
        (7200.0, ">60", "good", "minutes to spare"),
    ],
)
def test_time_to_spare_is_told_by_colour_sign_and_word(
    seconds: float, sign: str, ink: str, word: str
) -> None:
    assert spare_sign(seconds) == sign
    assert spare_ink(seconds) == ink
    assert word in spare_label(seconds, True)


def test_a_trace_state_is_told_by_cells_letter_and_colour() -> None:
    gauges = [gauge(PotFact("base", "#ffffff", trace, "pot", False)) for trace in Trace]
    assert [words for words, _ in gauges] == ["▰▱▱▱▱E ", "▰▰▱▱▱L ", "▰▰▰▱▱M ", "▰▰▰▰▱T ", "▰▰▰▰▰S "]
    assert len({ink for _, ink in gauges}) > 1


@pytest.mark.parametrize("letter", "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789")
def test_every_letter_is_five_dots_high_and_its_own(letter: str) -> None:
    rows = letters.SIGNS[letter]
    assert len(rows) == letters.DOTS
    assert len({len(row) for row in rows}) == 1
    alike = [other for other, sign in letters.SIGNS.items() if sign == rows and other.isalnum()]
    assert set(alike) in ({letter}, {"O", "0"}, {"S", "5"})


def test_twenty_letters_fit_eighty_columns() -> None:
    assert letters.columns("A" * 20) <= 80
    assert letters.first_fitting(("STIR THE FRAGRANCE INTO RUST", "FRAGRANCE RUST"), 80) == (
        "FRAGRANCE RUST"
    )
    assert letters.plain_letters("crème brûlée") == "CREME BRULEE"
    assert letters.plain_letters("чай") is None


def test_only_cells_that_changed_are_drawn_again() -> None:
    was = (Piece("5:06 since lye", "strong"), Piece("  a", "bad"))
    now = (Piece("5:07 since lye", "strong"), Piece("  a", "good"))
    assert changes(was, now) == [(3, 1), (14, 3)]
    assert changes(was, was) == []
    assert changes((), (Piece("ab"),)) == [(0, 2)]


@given(moments(), st.integers(40, 200), st.integers(18, 60))
@settings(deadline=None, max_examples=100)
def test_from_a_distance_any_moment_fits_any_screen(shown: Facts, width: int, height: int) -> None:
    drawn = far_lines(shown, width, height)
    assert len(drawn) == height
    assert all(cells(plain(line)) <= width for line in drawn)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_from_a_distance_act_amount_spare_and_warning_are_large(
    known: Known, clock: FakeClock, size: tuple[int, int]
) -> None:
    shown = shown_by(in_danger(known, clock, THREE_POTS))
    assert shown.spare_s is not None
    whole = "\n".join(map(plain, far_lines(shown, *size)))
    for wanted in (
        [letters.plain_letters(w) or "" for w in shown.act.saying.large],
        [letters.plain_letters(w) or "" for w in amounts(shown.act.amount)],
        [spare_sign(shown.spare_s)],
    ):
        first = [words.split()[0] for words in wanted if words]
        drawn = [letters.drawn(word, dot, dot)[1] for word in first for dot in range(1, 9)]
        assert any(row and row in whole for row in drawn), wanted
    assert any(letters.drawn("X:", dot, dot)[0].split()[0] in whole for dot in range(1, 9))
    word = SPARE_WORDS[spare_ink(shown.spare_s)]
    assert letters.drawn(word)[0].rstrip() in whole


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_from_four_metres_a_sixth_of_the_screen_is_a_line(
    known: Known, clock: FakeClock, size: tuple[int, int]
) -> None:
    """Act, figure, time to spare and warning: as large letters, none of them the small kind."""
    width, height = size
    pour = in_danger(known, clock, THREE_POTS)
    calm = replace(shown_by(pour), backup=None, nag="")
    warned = replace(calm, backup=Backup("X", "DROP SWIRL: 8 in 10", 40.0, True))
    large = [dot for dot in range(1, 9) if letters.rows(dot) >= height / 6]
    held = replace(calm, backup=Backup("HOLD SPACE", "IN-THE-POT SWIRL: 8 in 10", 40.0, True))
    for shown, wanted in (
        (calm, [words.split()[0] for words in calm.act.saying.large]),
        (calm, [amounts(calm.act.amount)[-1]]),
        (calm, [spare_sign(calm.spare_s or 0.0)]),
        (warned, [amounts(calm.act.amount)[-1]]),
        (warned, ["X: DROP"]),
        (held, ["HOLD SPACE"]),
    ):
        whole = "\n".join(map(plain, far_lines(shown, width, height)))
        drawn = [letters.drawn(text, dot, dot)[1] for text in wanted for dot in large]
        assert any(row and row in whole for row in drawn), wanted


def test_from_a_distance_every_key_is_answered_too(known: Known, clock: FakeClock) -> None:
    pour = desk(plan(THREE_POTS), known, clock)
    work(pour, clock, "emulsify", each_s=20)
    asked = shown_by(pour, "base: light trace already? Press it again, or undo")
    for width, height in SIZES:
        lines = far_lines(asked, width, height)
        assert asked.reply in plain(lines[0])
        assert "strong" in lines[0][0].ink


def test_from_a_distance_a_wait_and_a_question_say_what_to_press(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(plan(THREE_POTS), known, clock)
    work(pour, clock, "end", each_s=20)
    asked = facts(pour, pour.now(), "base", keymap(), USUAL, ("", False), asks=True)
    assert asked.act.far == ("A AS PLANNED\nI IN PART\nN NOT AT ALL",)
    whole = "\n".join(map(plain, far_lines(asked, 80, 24)))
    for answer in asked.act.far[0].split("\n"):
        assert letters.drawn(answer)[0] in whole
    assert wait_large(Trace.MEDIUM, "3") == ("MEDIUM TRACE: PRESS 3", "MEDIUM: 3", "PRESS 3")


@pytest.mark.parametrize(
    ("amount", "shorter"),
    [
        ("18.7 g Kelp & Fig · stir by hand", ["18.7 G KELP & FIG", "18.7 G"]),
        ("437 g of lye, slowly down the shaft", ["437 G OF LYE", "437 G"]),
        ("2 tsp clay in 15 mL oil + 1 tsp mica", ["2 TSP CLAY", "2 TSP + 1 TSP"]),
        ("short bursts, stir between; stop", ["SHORT BURSTS"]),
        ("press SPACE for the summary", ["PRESS SPACE"]),
    ],
)
def test_an_amount_is_cut_to_its_figure_and_never_to_half_a_sentence(
    amount: str, shorter: list[str]
) -> None:
    assert list(amounts(amount))[-len(shorter) :] == shorter


def test_a_pour_left_for_months_says_so_and_nothing_it_cannot_know(known: Known) -> None:
    clock = FakeClock()
    pour = in_danger(known, clock, THREE_POTS)
    clock.passes(304 * 86400)
    shown = shown_by(pour)
    for width, height in SIZES:
        text = "\n".join(plain(line) for line in pour_lines(shown, width, height, 2)[0])
        assert "10 months since lye" in text
        assert "press E to end the pour" in text
        assert not re.search("usually|spare|chance", text)
        assert not re.search(r"\d{3,}:\d", text)
    assert shown.act.saying.sentence == "Left for 10 months"
    assert (shown.backup, shown.nag) == (None, "")


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_from_a_distance_a_screen_that_only_shows_is_told_from_the_one_that_writes(
    known: Known, clock: FakeClock, size: tuple[int, int]
) -> None:
    width, height = size
    shown = shown_by(in_danger(known, clock, THREE_POTS))
    assert not shown.watching
    assert not any(EDGE in plain(line) for line in far_lines(shown, width, height))
    head, *rest = map(
        plain, far_lines(replace(shown, watching=True, head="View only"), width, height)
    )
    assert head.strip() == "View only"
    assert len(rest) == height - 1
    assert all(line.endswith(EDGE) and cells(line) == width for line in rest)
