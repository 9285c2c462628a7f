"""The pour chart: spans in order and inside, whatever the outlook, in every painter."""

from __future__ import annotations

import math
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.batter import Tap, Trace
from soapbench.outlook.chart import Act, PourChart, Row, act_letters, chart, poured_chart
from soapbench.outlook.chartlines import (
    GONE,
    LIKELY,
    MAY,
    NEEDED,
    NOW,
    SURE,
    chart_lines,
    label_width,
    window_line,
)
from soapbench.papers.chartsvg import LEFT, RIGHT, WIDE, chart_figure, chart_svg
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
    seen = Foreseen(of, known).outlook()
    drawn = chart(of.pots, seen)
    assert [row.pot for row in drawn.rows] == [pot.name for pot in of.pots]
    assert len([act for act in drawn.acts if not act.waits]) == len(seen.stages)
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
    from soapbench.outlook.finishing import Quantiles

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
    found = act_letters(["lye into oils", "colour", "drop an accent", "dribble", "dust the top"])
    letters = [letter for letter, _ in found.values()]
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
