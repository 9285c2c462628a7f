"""The pour chart in characters, drawn by hand at its edges."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from soapbench.batter import Tap, Trace
from soapbench.outlook.chart import Act, PourChart, Row
from soapbench.outlook.chartlines import (
    LIKELY,
    LOOKED,
    MAY,
    NEEDED,
    NOW,
    SURE,
    acts_line,
    chart_lines,
    label_width,
    legend_lines,
    minutes_line,
    name_pieces,
    place,
    window_line,
)
from soapbench.words.lines import plain, short_names
from soapbench.words.signs import LETTERS, pattern

EMPTY = PourChart(0.0, 600.0, None, (), ())
"""Ten seconds a column at a width of 60."""
ROW = Row("base", "#202020", 200.0, 300.0, 400.0, None)


# ---------------------------------------------------------------- places


@pytest.mark.parametrize(
    ("t", "column"),
    [(-0.1, None), (0.0, 0), (9.9, 0), (10.0, 1), (590.0, 59), (600.0, 59), (600.1, None)],
)
def test_a_moment_has_the_column_it_falls_into(t: float, column: int | None) -> None:
    assert place(t, EMPTY, 60) == column
    later = replace(EMPTY, begins=300.0, ends=900.0)
    assert place(t + 300.0, later, 60) == column


# ---------------------------------------------------------------- minutes


def minutes(begins_min: float, ends_min: float, width: int) -> str:
    of = replace(EMPTY, begins=60.0 * begins_min, ends=60.0 * ends_min)
    line = plain(minutes_line(of, width))
    assert len(line) == width
    return line.rstrip()


@pytest.mark.parametrize(
    ("begins", "ends", "width", "by_hand"),
    [
        (0, 12, 60, "0    1    2    3    4    5    6    7    8    9    10   11"),
        (0, 9, 60, "0     1      2      3     4      5      6     7      8     9"),
        (0, 12.1, 60, "0        2         4         6         8         10"),
        (0, 100, 60, "0     10    20    30    40    50    60    70    80    90"),
        (0, 5, 4, "0  5"),
        (0, 4, 9, "0"),
        (0, 90, 15, "0    30   60"),
        (0, 60, 20, "0    15   30   45"),
        (0, 180, 15, "0    60   120"),
        (0, 360, 15, "0    120  240"),
        (0, 720, 15, "0    240  480"),
        (0, 1440, 15, "0    480  960"),
    ],
)
def test_numbers_of_minutes_have_five_columns_each_at_least(
    begins: float, ends: float, width: int, by_hand: str
) -> None:
    assert minutes(begins, ends, width) == by_hand


def test_minutes_begin_with_the_first_round_one_that_is_drawn() -> None:
    assert minutes(61, 71, 50).split()[0] == "61"
    assert minutes(61, 91, 50).split()[:2] == ["65", "70"]


def test_in_days_the_longest_step_is_eight_hours() -> None:
    assert minutes(0, 6000, 60).split()[:3] == ["0", "480", "960"]


# ---------------------------------------------------------------- what hands do


def acts(width: int, *spans: tuple[float, float], begins: float = 300.0) -> str:
    drawn = tuple(Act("abcd"[i], "x", *span) for i, span in enumerate(spans))
    of = replace(EMPTY, begins=begins, ends=900.0, acts=drawn)
    return plain(acts_line(of, width))


def test_what_touches_the_chart_has_a_column_and_what_does_not_has_none() -> None:
    """Sixty columns of ten seconds from 300 s on."""
    assert acts(60, (100.0, 299.9)).strip() == ""
    assert acts(60, (100.0, 300.0)).rstrip() == "a"
    assert acts(60, (100.0, 330.0)).rstrip() == "aaa"
    assert acts(60, (900.1, 999.0)).strip() == ""
    assert acts(60, (900.0, 999.0)) == "a".rjust(60)
    assert acts(60, (870.0, 999.0)) == "aa".rjust(59) + " ", "its end has none of its own"
    assert acts(60, (350.0, 350.0)) == "a".rjust(6).ljust(60)


def test_now_is_seen_through_an_act() -> None:
    act = Act("P", "pour", 0.0, 120.0)
    line = acts_line(replace(EMPTY, now=50.0, acts=(act,)), 60)
    assert [(p.text, p.ink) for p in line][:3] == [
        ("PPPPP", "strong"), ("P", "now reverse"), ("PPPPPP", "strong"),
    ]  # fmt: skip
    outside = acts_line(replace(EMPTY, now=700.0, acts=(act,)), 60)
    assert [p.ink for p in outside] == ["strong", ""]


# ---------------------------------------------------------------- windows


def window(row: Row, width: int = 60, **of: object) -> str:
    return plain(window_line(row, replace(EMPTY, **of), width)).rstrip()  # type: ignore[arg-type]


def test_a_window_is_drawn_where_something_needs_it_or_was_tapped() -> None:
    drawn = SURE * 20 + LIKELY * 10 + MAY * 10
    assert window(ROW) == ""
    assert window(replace(ROW, needed=590.0)) == drawn + NEEDED.rjust(20)
    tapped = replace(ROW, taps=(Tap(5.0, Trace.THICK),))
    assert window(tapped) == "4" + drawn[1:]
    assert window(replace(ROW, needed=590.0, sure=math.inf)) == NEEDED.rjust(60)


def test_a_column_belongs_to_what_its_middle_is_in_wherever_the_chart_begins() -> None:
    for begins in (0.0, 240.0):
        for sure, columns in ((4.9, 0), (5.1, 1), (14.9, 1), (15.1, 2), (599.0, 60), (9e9, 60)):
            row = Row("base", "#202020", begins + sure, begins + 9e9, begins + 9e9, begins + 9e9)
            line = plain(window_line(row, replace(EMPTY, begins=begins, ends=begins + 600.0), 60))
            assert line == SURE * columns + LIKELY * (60 - columns)


def test_marks_stand_over_one_another_in_this_order() -> None:
    """What is needed over now, now over a tap, a tap over the last look."""
    tap = (Tap(100.0, Trace.LIGHT),)
    for row, now, sign in (
        (replace(ROW, last_look=100.0), None, LOOKED),
        (replace(ROW, last_look=100.0, taps=tap), None, "2"),
        (replace(ROW, last_look=100.0, taps=tap), 100.0, NOW),
        (replace(ROW, last_look=100.0, taps=tap, needed=100.0), 100.0, NEEDED),
    ):
        assert plain(window_line(row, replace(EMPTY, now=now), 60))[10] == sign
    assert window(replace(ROW, last_look=700.0)) == "", "a mark outside is not drawn"


def test_what_is_past_is_faint_and_each_part_has_its_own_ink() -> None:
    line = window_line(replace(ROW, needed=590.0), replace(EMPTY, now=250.0), 60)
    assert [(p.text, p.ink) for p in line] == [
        (SURE * 20, "muted"), (LIKELY * 5, "muted"), (NOW, "now"), (LIKELY * 4, "amber"),
        (MAY * 10, "bad"), (" " * 19, ""), (NEEDED, "strong"),
    ]  # fmt: skip
    tapped = replace(ROW, taps=(Tap(5.0, Trace.THICK),))
    assert [p.ink for p in window_line(tapped, EMPTY, 60)][:2] == ["strong", "good"]


# ---------------------------------------------------------------- names


def test_the_pot_in_hand_stands_out() -> None:
    def inks(in_hand: bool) -> list[tuple[str, str]]:
        return [(p.text, p.ink) for p in name_pieces(ROW, 1, "base", 6, in_hand)]

    swatch = [("▐", ""), (pattern(1), "#202020"), ("▌ ", "")]
    second = LETTERS[1] + " "
    assert inks(False) == [(" ", "strong"), (second, ""), *swatch, ("base  ", ""), (" ", "")]
    assert inks(True) == [
        ("▸", "strong"), (second, "strong"), *swatch, ("base  ", "strong reverse"), (" ", ""),
    ]  # fmt: skip
    again = name_pieces(ROW, len(LETTERS), "base", 6)
    assert again[1].text == LETTERS[0] + " ", "after the last letter the first"


@pytest.mark.parametrize(("width", "columns"), [(65, 6), (66, 10), (99, 10), (100, 16)])
def test_names_have_so_many_columns_and_are_cut_to_them(width: int, columns: int) -> None:
    assert label_width(width) == 7 + columns + 1
    for extra, whole in ((0, True), (1, False)):
        name = "n" * (columns + extra)
        rows = (replace(ROW, pot=name), replace(ROW, pot="m"))
        line = plain(chart_lines(replace(EMPTY, rows=rows), width)[2])
        assert line[7 : 8 + columns] == (name if whole else "n" * (columns - 1) + "…") + " "


def test_names_that_begin_alike_are_told_apart_within_their_columns() -> None:
    alike = ("dark red wine", "dark red rust")
    of = replace(EMPTY, rows=tuple(replace(ROW, pot=name) for name in alike))
    for width, columns in ((66, 10), (60, 6)):
        lines = [plain(line)[7 : 8 + columns] for line in chart_lines(of, width)[2:4]]
        assert lines == [f"{name} " for name in (short.ljust(columns) for short in
                                                 short_names(alike, columns))]  # fmt: skip
        assert lines[0] != lines[1]


def test_a_terminal_too_narrow_still_shows_the_first_columns_of_eight() -> None:
    """Fourteen columns for names, and eight of 75 s each, whatever there is room for."""
    row = replace(ROW, needed=590.0, taps=(Tap(80.0, Trace.LIGHT),))
    of = replace(EMPTY, rows=(row,))
    shown = SURE + "2" + SURE + LIKELY + MAY
    for width in range(15, 20):
        line = plain(chart_lines(of, width, legend=False)[2])
        assert line[14:] == shown[: width - 14]
    assert plain(chart_lines(of, 22, legend=False)[2])[14:] == f"{shown}  {NEEDED}"
    assert len(plain(chart_lines(of, 23, legend=False)[2])) == 23


# ---------------------------------------------------------------- legend


def legend(of: PourChart, width: int) -> list[str]:
    return [plain(line) for line in legend_lines(of, width)]


def test_the_legend_tells_of_taps_where_there_are_any() -> None:
    signs = [" ◆ needed until here  ━ sure  ▒ likely  ░ may have gone"]
    assert legend(EMPTY, 100) == signs
    tapped = replace(ROW, taps=(Tap(5.0, Trace.THICK),))
    with_taps = [signs[0] + "  1-5 as tapped"]
    assert legend(replace(EMPTY, rows=(tapped,)), 100) == with_taps
    assert legend(replace(EMPTY, rows=(ROW, tapped)), 100) == with_taps
    assert legend(replace(EMPTY, rows=(ROW,)), 100) == signs
    running = [signs[0] + "  │ now  ○ last look  1-5 as tapped"]
    assert legend(replace(EMPTY, now=5.0), 100) == running
    assert legend(replace(EMPTY, now=5.0, rows=(tapped,)), 100) == running


@pytest.mark.parametrize(
    ("width", "lines"),
    [
        (17, [" P pour  D drop", " C comb"]),
        (14, [" P pour", " D drop", " C comb"]),
        (15, [" P pour  D drop", " C comb"]),
        (22, [" P pour  D drop", " C comb"]),
        (23, [" P pour  D drop  C comb"]),
        (5, [" P pour", " D drop", " C comb"]),
    ],
)
def test_the_legend_flows_into_as_few_lines_as_will_do(width: int, lines: list[str]) -> None:
    of = replace(EMPTY, legend=(("P", "pour"), ("D", "drop"), ("C", "comb")))
    drawn = legend(of, width)
    assert drawn[: len(lines)] == lines
    assert drawn[len(lines)].startswith(" ◆")


def test_signs_of_the_legend_have_their_inks() -> None:
    (line,) = legend_lines(replace(EMPTY), 100)
    assert [(p.text, p.ink) for p in line] == [
        (" ", ""), (NEEDED, "strong"), (" needed until here  ", "muted"), (SURE, "good"),
        (" sure  ", "muted"), (LIKELY, "amber"), (" likely  ", "muted"), (MAY, "bad"),
        (" may have gone", "muted"),
    ]  # fmt: skip
