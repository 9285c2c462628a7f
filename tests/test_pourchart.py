"""The pour chart: spans in order and inside, whatever the outlook, in every painter."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.batter import Tap, Trace
from soapbench.outlook.chart import (
    WAIT,
    Act,
    PourChart,
    Row,
    _row,
    act_letters,
    chart,
    poured_chart,
)
from soapbench.outlook.chartlines import (
    GONE,
    LIKELY,
    MAY,
    NEEDED,
    NOW,
    SURE,
    acts_line,
    chart_lines,
    label_width,
    minutes_line,
    window_line,
)
from soapbench.outlook.finishing import Outlook, Quantiles, outlook
from soapbench.pace import KindPace, Pace
from soapbench.papers.chartsvg import LEFT, RIGHT, WIDE, chart_figure, chart_svg
from soapbench.pour.state import DoneStage, PotState, PourState
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws
from soapbench.words.lines import cells, cut, fit, plain, short_names
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import plan, sample

times = st.floats(0, 20_000, allow_nan=False)
names = st.text(st.characters(exclude_categories=("Cs", "Cc", "Cf", "Mn", "Me")), max_size=30)


@st.composite
def charts(draw: st.DrawFn) -> PourChart:
    ends = draw(st.floats(60, 20_000))
    begins = draw(st.floats(0, 0.8)) * ends
    cuts = sorted(draw(st.lists(times, min_size=2, max_size=9)))
    acts = tuple(Act("PDH"[i % 3], "pour", *span) for i, span in enumerate(pairwise(cuts)))
    rows = []
    for name in draw(st.lists(names, min_size=1, max_size=12)):
        sure, likely, may = sorted(draw(st.tuples(times, times, times)))
        taps = tuple(Tap(t, Trace.LIGHT) for t in draw(st.lists(times, max_size=3)))
        needed, look = draw(st.none() | times), draw(st.none() | times)
        rows.append(Row(name, "#c8a050", sure, likely, may, needed, taps, look))
    return PourChart(begins, ends, draw(st.none() | times), acts, tuple(rows), (("P", "pour"),))


@given(charts(), st.integers(20, 200))
@settings(deadline=None)
def test_nothing_is_drawn_outside_and_the_spans_keep_their_order(
    drawn: PourChart, width: int
) -> None:
    for line in chart_lines(drawn, width):
        assert cells(plain(line)) <= width
    for row in drawn.rows:
        line = plain(window_line(row, drawn, width))
        assert len(line) == width
        spans = [c for c in line if c in (SURE, LIKELY, MAY, GONE)]
        assert spans == sorted(spans, key=(SURE + LIKELY + MAY + GONE).index)
        needed = row.needed is not None and drawn.begins <= row.needed <= drawn.ends
        assert (NEEDED in line) is needed
        if drawn.now is not None and not needed:
            assert (NOW in line) is (drawn.begins <= drawn.now <= drawn.ends)


@given(charts())
@settings(deadline=None)
def test_every_place_in_the_svg_is_inside_it(drawn: PourChart) -> None:
    root = ElementTree.fromstring(chart_svg(drawn))
    for rect in root.iter("rect"):
        if (x := rect.get("x")) and rect.get("class"):
            assert (
                LEFT - 0.1
                <= float(x)
                <= float(x) + float(rect.get("width", 0))
                <= WIDE - RIGHT + 0.1
            )
    for dot in root.iter("circle"):
        if dot.get("class"):
            assert LEFT - 0.1 <= float(dot.get("cx", "0")) <= WIDE - RIGHT + 0.1


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_a_plans_chart_holds_all_its_stages(path, known: Known) -> None:  # type: ignore[no-untyped-def]
    of = sample(path)
    forecast = Foreseen(of, known).outlook()
    drawn = chart(of.pots, forecast)
    assert [row.pot for row in drawn.rows] == [pot.name for pot in of.pots]
    assert len([act for act in drawn.acts if not act.waits]) == len(forecast.stages)
    for one, other in pairwise(drawn.acts):
        assert one.begins <= one.ends <= other.begins + 1e-6
    assert drawn.begins == 0 < drawn.acts[-1].ends <= drawn.ends
    for row in drawn.rows:
        assert 0 <= row.sure <= row.likely <= row.may
        assert row.needed is None or drawn.begins <= row.needed <= drawn.ends
    letters = [letter for letter, _ in drawn.legend]
    assert len(letters) == len(set(letters))
    assert {act.letter for act in drawn.acts} == set(letters)


def test_a_wait_for_a_trace_state_is_an_act_of_its_own(known: Known) -> None:
    of = sample(SAMPLES / "dune_layers.toml")
    acts = chart(of.pots, Foreseen(of, known).outlook()).acts
    waiting = [act for act in acts if act.waits]
    assert waiting
    assert all(act.ends - act.begins > 15 for act in waiting)


def test_a_pour_under_way_shows_now_taps_and_the_stage_in_hand(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/gull", each_s=35)
    clock.passes(12)
    pour.trace_seen("rope", Trace.LIGHT)
    clock.passes(20)
    now = pour.now()
    drawn = chart(pour.plan.pots, pour.advise().outlook, pour.state, now)
    rope = next(row for row in drawn.rows if row.pot == "rope")
    assert drawn.now == now
    assert [tap.t for tap in rope.taps] == [rope.last_look]
    in_hand = next(act for act in drawn.acts if not act.done)
    assert in_hand.begins == pour.state.stage_begun < now
    assert all(act.done for act in drawn.acts if act.ends <= in_hand.begins)
    line = plain(window_line(rope, drawn, 60))
    assert "2" in line
    assert line.index("2") < line.index(NOW)


def test_a_pour_that_is_over_shows_when_each_pot_was_used_last(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "end", each_s=30)
    reached = {name: {Trace.THICK: Quantiles(900, 1000, 1100)} for name in pour.state.pots}
    drawn = poured_chart(pour.plan.pots, pour.state, reached, pour.state.ended)
    base = drawn.rows[0]
    assert (base.sure, base.likely, base.may) == (900, 1000, 1100)
    assert base.needed == pour.state.done[-1].done
    assert all(act.done for act in drawn.acts)
    assert "needed until" in chart_figure(drawn)


def test_own_handwork_gets_a_letter_no_other_has() -> None:
    by_act = act_letters(["lye into oils", "colour", "drop an accent", "dribble", "dust the top"])
    letters = [letter for letter, _ in by_act.values()]
    assert letters[:3] == ["l", "c", "D"]
    assert len(set(letters)) == 5


def test_a_long_running_pour_is_drawn_from_a_little_before_now(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(sample(SAMPLES / "dune_layers.toml"), known, clock)
    work(pour, clock, "pour a layer", each_s=60)
    clock.passes(1500)
    drawn = chart(pour.plan.pots, pour.advise().outlook, pour.state, pour.now())
    assert 0 < drawn.begins < pour.now() < drawn.ends


@pytest.mark.parametrize(
    ("given_names", "width", "shown"),
    [
        (["base", "rust"], 6, ("base", "rust")),
        (["dark red wine", "dark red rust"], 9, ("dark…wine", "dark…rust")),
        (["a" * 30, "a" * 31], 4, ("aa1", "aa2")),
    ],
)
def test_long_names_are_not_cut_alike(
    given_names: list[str], width: int, shown: tuple[str, ...]
) -> None:
    assert short_names(given_names, width) == shown


@given(names, st.integers(0, 40))
def test_what_is_cut_fits(text: str, width: int) -> None:
    assert cells(cut(text, width)) <= width
    assert cells(fit(text, width)) == width


def test_a_window_that_never_shuts_is_not_drawn() -> None:
    row = Row("base", "#ffffff", math.inf, math.inf, math.inf, None)
    drawn = PourChart(0, 600, None, (), (row,))
    assert plain(window_line(row, drawn, 30)).strip() == ""
    assert label_width(80) > label_width(60)


# ---------------------------------------------------------------- drawn by hand

DRAWN = PourChart(
    begins=0.0,
    ends=600.0,
    now=150.0,
    acts=(
        Act("P", "pour", 0.0, 120.0, done=True),
        Act("w", "wait", 120.0, 180.0, waits=True),
        Act("D", "drop", 180.0, 300.0),
        Act("H", "hanger", 301.0, 302.0),
        Act("X", "after it ends", 700.0, 800.0),
    ),
    rows=(Row("base", "#202020", 200.0, 300.0, 400.0, 250.0, (Tap(60.0, Trace.LIGHT),), 100.0),),
    legend=(("P", "pour"), ("D", "drop")),
)
"""Ten seconds a column at a width of 60."""


def test_a_pots_window_as_drawn_by_hand() -> None:
    row = DRAWN.rows[0]
    by_hand = "━━━━━━2━━━○━━━━│━━━━▒▒▒▒▒◆▒▒▒▒░░░░░░░░░░".ljust(60)
    line = window_line(row, DRAWN, 60)
    assert plain(line) == by_hand
    inks = {c: piece.ink for piece in line for c in piece.text}
    assert (inks["░"], inks["▒"], inks["◆"], inks["│"]) == ("bad", "amber", "strong", "now")
    assert line[0].ink == "muted", "what is past is faint"
    # A column belongs to what its middle is in; two columns to each of the first three here.
    short = Row("base", "#202020", 15.1, 35.0, 54.9, 70.0)
    assert plain(window_line(short, replace(DRAWN, now=None), 60)).rstrip() == "━━▒░░  ◆"
    last = replace(short, needed=600.0)
    assert plain(window_line(last, replace(DRAWN, now=None), 60))[-1] == NEEDED


def test_what_hands_do_as_drawn_by_hand() -> None:
    line = acts_line(DRAWN, 60)
    assert plain(line) == ("P" * 12 + "w" * 6 + "D" * 12 + "H").ljust(60), "a column at least"
    assert [(p.text, p.ink) for p in line][:5] == [
        ("P" * 12, "muted"),
        ("www", "amber"),
        ("w", "now reverse"),
        ("ww", "amber"),
        ("D" * 12 + "H", "strong"),
    ]


@pytest.mark.parametrize(
    ("begins_min", "ends_min", "by_hand"),
    [
        (0, 10, "0     1     2     3     4     5     6     7     8     9"),
        (4, 24, "4     6     8     10    12    14    16    18    20    22"),
        (10, 40, "10        15        20        25        30        35"),
        (0, 1200, "0     120   240   360   480   600   720   840   960   1080"),
        (0, 3000, "0        480       960      1440      1920      2400"),
        (7, 37, "      10        15        20        25        30        35"),
    ],
)
def test_minutes_stand_over_their_places(begins_min: int, ends_min: int, by_hand: str) -> None:
    drawn = replace(DRAWN, begins=60.0 * begins_min, ends=60.0 * ends_min, now=None)
    line = plain(minutes_line(drawn, 60)).rstrip()
    assert line == by_hand


def test_the_whole_chart_as_drawn_by_hand() -> None:
    drawn = [plain(line).rstrip() for line in chart_lines(DRAWN, 66)]
    assert label_width(66) == 18
    assert drawn[0] == " minutes".ljust(18) + "0        2         4        6         8"
    assert drawn[2].startswith(" A ▐")
    assert drawn[2][7:18] == "base       "
    assert drawn[2][18:] == plain(window_line(DRAWN.rows[0], DRAWN, 66 - 18)).rstrip()
    named = replace(DRAWN, rows=(replace(DRAWN.rows[0], pot="gull white"),))
    assert plain(chart_lines(named, 66)[2])[7:18] == "gull white ", "ten columns are ten"
    assert [line.strip() for line in drawn[3:]] == [
        "P pour  D drop",
        "◆ needed until here  ━ sure  ▒ likely  ░ may have gone  │ now",
        "○ last look  1-5 as tapped",
    ]
    # Names have 16 columns from a width of 100 on, 10 from 66 on, 6 below.
    assert [label_width(w) for w in (65, 66, 99, 100)] == [14, 18, 18, 24]


# ---------------------------------------------------------------- from stages worked by hand

HANDS = Pace({a: KindPace(0.0, 0.0, 1.0, 99) for a in ("pour", "colour", "drop", "tool")}, 0.0, 0.0)
BATTER = Draws(
    np.zeros(50), np.log([60.0, 100.0, 400.0, 600.0, 900.0]) + np.zeros((50, 1)), np.ones(50), {}
)
"""Light trace at 100 s, medium at 400, thick at 600, set up at 900 s in every draw."""


def work_on(pot: str, action: str, seconds: float, **more: object) -> Stage:
    words = {"id": f"{action}/{pot}", "action": action, "words": action, "pots": (pot,)}
    return Stage(**words, median_s=seconds, spread=1e-9, **more)  # type: ignore[arg-type]


def thin(pot: str, earliest: Trace = Trace.EMULSION, latest: Trace = Trace.LIGHT) -> Need:
    return Need((pot,), earliest, latest)


STAGES = (
    work_on("base", "colour", 50.0),
    work_on("base", "pour", 100.0, needs=(thin("base"),)),
    work_on("rope", "drop", 30.0, needs=(thin("rope"), thin("base", Trace.MEDIUM, Trace.MEDIUM))),
    work_on("base", "tool", 20.0, needs=(thin("base", latest=Trace.THICK),)),
)
"""The drop waits from 150 s until medium trace at 400 s; it is done at 430 s, the tool at 450."""
POTS = {name: PotState(name) for name in ("base", "rope", "gull")}


def seen_from(
    now: float = 0.0, done: tuple[DoneStage, ...] = (), begun: float | None = None
) -> tuple[Outlook, PourState]:
    ahead = STAGES[len(done) :]
    state = PourState(("s",), done, ahead, POTS, begun=True, stage_begun=begun or 0.0, base="base")
    return outlook(ahead, POTS, BATTER, HANDS, now, begun), state


def rounded(of: PourChart) -> list[tuple[str, int, int]]:
    return [(act.words, round(act.begins), round(act.ends)) for act in of.acts]


def test_a_plan_charted_by_hand() -> None:
    of = plan()
    drawn = chart(of.pots, seen_from()[0])
    assert rounded(drawn) == [
        ("colour", 0, 50),
        ("pour", 50, 150),
        ("wait", 150, 400),
        ("drop", 400, 430),
        ("tool", 430, 450),
    ]
    assert drawn.legend == (("c", "colour"), ("P", "pour"), ("D", "drop"), ("T", "tool"), WAIT)
    assert [act.letter for act in drawn.acts] == ["c", "P", "w", "D", "T"]
    base, rope, gull = drawn.rows
    # The base is needed short of medium trace (its next need) until it is poured; the rope until
    # it is dropped; nothing needs the third.
    assert (base.sure, base.may, base.needed) == pytest.approx((400.0, 400.0, 150.0))
    assert (rope.sure, rope.needed) == pytest.approx((400.0, 430.0))
    assert (gull.sure, gull.needed) == (math.inf, None)
    assert drawn.begins == 0.0
    assert drawn.ends == pytest.approx(450.0 * 1.05), "a little beyond the last stage and window"


def test_a_pour_under_way_charted_by_hand() -> None:
    """Coloured in a minute; the pour in hand for 20 s; a skipped stage is not drawn."""
    coloured = DoneStage(STAGES[0], 0.0, 60.0)
    ahead, state = seen_from(80.0, (coloured,), 60.0)
    drawn = chart(plan().pots, ahead, state, 80.0, {"base": 70.0})
    assert rounded(drawn)[:2] == [("colour", 0, 60), ("pour", 60, 160)]
    assert [act.done for act in drawn.acts][:2] == [True, False]
    assert drawn.now == 80.0
    assert [row.last_look for row in drawn.rows] == [70.0, None, None]
    skipped = replace(state, done=(replace(coloured, skipped=True),))
    assert rounded(chart(plan().pots, ahead, skipped, 80.0))[0] == ("pour", 60, 160)


def test_a_short_pause_is_no_wait() -> None:
    soon = (work_on("base", "pour", 390.0), *STAGES[2:])
    drawn = chart(plan().pots, outlook(soon, POTS, BATTER, HANDS))
    assert rounded(drawn) == [("pour", 0, 390), ("drop", 400, 430), ("tool", 430, 450)]


def test_a_window_that_shuts_long_after_all_is_done_is_cut() -> None:
    """A pour of two minutes: at least five are drawn, and of the window so much more again."""
    quick = (work_on("base", "pour", 120.0, needs=(thin("base", latest=Trace.MEDIUM),)),)
    drawn = chart(plan().pots, outlook(quick, POTS, BATTER, HANDS))
    assert 315.0 <= drawn.ends < 600.0
    assert drawn.rows[0].sure == pytest.approx(600.0)


def test_from_half_an_hour_on_a_running_pour_is_drawn_from_a_few_minutes_back() -> None:
    slow = (work_on("base", "pour", 600.0),)
    for now, begins in ((100.0, 0.0), (1000.0, 0.0), (1210.0, 900.0), (1950.0, 1620.0)):
        ahead = outlook(slow, POTS, BATTER, HANDS, now=now, begun=now)
        state = PourState(("s",), (), slow, POTS, begun=True, stage_begun=now, base="base")
        assert chart(plan().pots, ahead, state, now).begins == begins
    assert chart(plan().pots, outlook((work_on("base", "pour", 4000.0),), POTS, BATTER, HANDS)
                 ).begins == 0.0  # fmt: skip


def test_of_a_pour_that_is_over_the_window_nearest_to_shut_is_shown() -> None:
    light, thick = Quantiles(190.0, 200.0, 210.0), Quantiles(590.0, 600.0, 610.0)
    early = DoneStage(work_on("base", "pour", 1.0, needs=(thin("base", latest=Trace.EMULSION),)),
                      0.0, 150.0)  # fmt: skip
    late = DoneStage(work_on("base", "tool", 1.0, needs=(thin("base", latest=Trace.MEDIUM),)),
                     400.0, 500.0)  # fmt: skip
    reached = {"base": {Trace.LIGHT: light, Trace.THICK: thick}}
    state = PourState(("s",), (early, late), (), POTS, begun=True, ended=520.0, base="base")

    def first(of: PourState) -> Row:
        return poured_chart(plan().pots, of, reached, of.ended).rows[0]

    assert (first(state).likely, first(state).needed) == (200.0, 150.0), "50 s were left, not 100"
    tight = replace(state, done=(early, replace(late, done=580.0)))
    assert (first(tight).likely, first(tight).needed) == (600.0, 580.0)
    missed = replace(state, done=(replace(early, skipped=True), late))
    assert (first(missed).likely, first(missed).needed) == (600.0, 500.0)
    assert poured_chart(plan().pots, state, {}, 520.0).rows[0].needed is None


@pytest.mark.parametrize("order", [(190.0, 180.0, 170.0), (-5.0, 100.0, 90.0)])
def test_a_windows_parts_never_cross(order: tuple[float, float, float]) -> None:
    row = _row("base", "#202020", Quantiles(*order), None, (), None)
    assert 0.0 <= row.sure <= row.likely <= row.may
