"""The pour chart as one value, from outlooks whose times are written down by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from parts_kit import NONE

from soapbench.batter import Tap, Trace
from soapbench.outlook.chart import (
    BACK_S,
    BEYOND,
    LEAST_SHOWN_S,
    LONG_S,
    SHORTEST_WAIT_S,
    PourChart,
    act_letters,
    chart,
    poured_chart,
)
from soapbench.outlook.finishing import Outlook, Quantiles, StageOutlook
from soapbench.pour.state import DoneStage, PotState, PourState
from soapbench.swirls.stage import Need, Stage
from tests.plans import plan

POTS = plan().pots


def at(t: float) -> Quantiles:
    return Quantiles(t - 1.0, t, t + 1.0)


def work(action: str, *needs: Need, pots: tuple[str, ...] = ("base",)) -> Stage:
    return Stage(action, action, action, pots, needs=needs)


def thin(latest: Trace = Trace.LIGHT, *pots: str, earliest: Trace = Trace.EMULSION) -> Need:
    return Need(pots or ("base",), earliest, latest)


def foreseen(*stages: tuple[Stage, float, float], **windows: Quantiles) -> Outlook:
    """Of stages with their begin and end."""
    row = tuple(
        StageOutlook(stage, at(begins), at(ends), at(ends - begins), 1.0, 0.0, math.inf)
        for stage, begins, ends in stages
    )
    return replace(NONE, stages=row, window_s=windows)


def spans(of: PourChart) -> list[tuple[str, float, float]]:
    return [(act.words, act.begins, act.ends) for act in of.acts]


# ---------------------------------------------------------------- what hands do


def test_a_pause_of_a_quarter_minute_is_a_wait_where_something_is_waited_for() -> None:
    """Fifteen seconds (ours)."""
    assert SHORTEST_WAIT_S == 15.0
    waits = work("drop", thin(Trace.THICK, earliest=Trace.MEDIUM))

    def acts(stage: Stage, begins: float) -> list[tuple[str, float, float]]:
        return spans(chart(POTS, foreseen((work("pour"), 0.0, 100.0), (stage, begins, 200.0))))

    pour = ("pour", 0.0, 100.0)
    assert acts(waits, 115.0) == [pour, ("wait", 100.0, 115.0), ("drop", 115.0, 200.0)]
    assert acts(waits, 114.9) == [pour, ("drop", 114.9, 200.0)]
    assert acts(work("drop"), 150.0) == [pour, ("drop", 150.0, 200.0)], "hands that are slow"
    assert acts(work("drop"), 90.0) == [pour, ("drop", 100.0, 200.0)], "one after the other"


def test_the_first_act_begins_where_hands_are_unless_it_is_waited_for() -> None:
    waits = work("drop", thin(Trace.THICK, earliest=Trace.MEDIUM))
    assert spans(chart(POTS, foreseen((waits, 40.0, 90.0)))) == [
        ("wait", 0.0, 40.0), ("drop", 40.0, 90.0),
    ]  # fmt: skip
    assert spans(chart(POTS, foreseen((work("pour"), 40.0, 90.0)))) == [("pour", 0.0, 90.0)]
    assert spans(chart(POTS, foreseen((work("pour"), 90.0, 80.0)), now=60.0)) == [
        ("pour", 60.0, 80.0),
    ]  # fmt: skip
    late = foreseen((work("pour"), 0.0, 50.0), (work("drop"), 90.0, 80.0))
    assert spans(chart(POTS, late))[1] == ("drop", 90.0, 90.0), "never from later to earlier"


def under_way(*done: DoneStage, taps: tuple[Tap, ...] = ()) -> PourState:
    pots = {pot.name: PotState(pot.name, taps=taps) for pot in POTS}
    ahead = (work("pour"),)
    return PourState(("s",), done, ahead, pots, begun=True, stage_begun=70.0, base="base")


def test_what_is_done_is_drawn_from_when_it_began_unless_it_was_skipped_or_took_no_time() -> None:
    done = DoneStage(work("colour"), 10.0, 60.0)
    state = under_way(
        done,
        DoneStage(work("skip"), 60.0, 65.0, skipped=True),
        DoneStage(work("none"), 65.0, 65.0),
        DoneStage(work("short"), 65.0, 65.1),
    )
    drawn = chart(POTS, foreseen((work("pour"), 70.0, 200.0)), state, 90.0)
    assert spans(drawn) == [
        ("colour", 10.0, 60.0), ("short", 65.0, 65.1), ("pour", 70.0, 200.0),
    ]  # fmt: skip
    assert [act.done for act in drawn.acts] == [True, True, False]


# ---------------------------------------------------------------- the pots


def test_a_pots_last_look_is_told_or_else_its_last_tap() -> None:
    taps = (Tap(20.0, Trace.LIGHT), Tap(50.0, Trace.MEDIUM))
    state = under_way(taps=taps)
    rows = chart(POTS, NONE, state, 90.0, {"base": 70.0}).rows
    assert [row.last_look for row in rows] == [70.0, 50.0, 50.0]
    assert rows[0].taps == taps
    assert [row.last_look for row in chart(POTS, NONE, under_way(), 90.0).rows] == [None] * 3


def test_a_pot_is_needed_until_the_last_stage_that_needs_it_as_thin_as_the_next_does() -> None:
    shown = foreseen(
        (work("pour", thin(Trace.LIGHT)), 0.0, 100.0),
        (work("drop", thin(Trace.LIGHT), thin(Trace.MEDIUM, "rope")), 100.0, 150.0),
        (work("tool", thin(Trace.MEDIUM)), 150.0, 180.0),
        (work("rest", thin(Trace.SET_UP, "gull")), 180.0, 200.0),
        base=Quantiles(120.0, 160.0, 190.0),
    )
    base, rope, gull = chart(POTS, shown).rows
    assert (base.sure, base.likely, base.may, base.needed) == (120.0, 160.0, 190.0, 150.0)
    # However thick the rope gets, as far as is foreseen: it is good until it is poured.
    assert (rope.sure, rope.likely, rope.may, rope.needed) == (150.0,) * 4
    assert (gull.sure, gull.needed) == (math.inf, None), "it may set up"


def test_of_two_needs_of_a_stage_the_thinner_counts() -> None:
    both = (thin(Trace.LIGHT), thin(Trace.MEDIUM))
    for needs in (both, both[::-1]):
        shown = foreseen(
            (work("pour", *needs), 0.0, 100.0), (work("tool", thin(Trace.LIGHT)), 100.0, 150.0)
        )
        assert chart(POTS, shown).rows[0].needed == 150.0


def test_a_window_of_a_pot_that_nothing_needs_is_not_shown() -> None:
    shown = foreseen((work("tool", thin(Trace.SET_UP)), 0.0, 100.0), base=at(60.0))
    assert (chart(POTS, shown).rows[0].sure, chart(POTS, shown).rows[0].needed) == (math.inf, None)


def test_no_window_begins_before_lye_met_oils() -> None:
    shown = foreseen(
        (work("pour", thin()), 0.0, 100.0), base=Quantiles(-20.0, -30.0, -40.0)
    )  # fmt: skip
    row = chart(POTS, shown).rows[0]
    assert (row.sure, row.likely, row.may) == (0.0, 0.0, 0.0)


# ---------------------------------------------------------------- the frame


def ends_of(last: float, *windows: float, now: float | None = None) -> float:
    names = [pot.name for pot in POTS][: len(windows)]
    shown = foreseen(
        (work("pour", *(thin(Trace.LIGHT, name) for name in names)), 0.0, last),
        **{name: Quantiles(1.0, 2.0, t) for name, t in zip(names, windows, strict=True)},
    )
    return chart(POTS, shown, now=now).ends


def test_a_twentieth_more_than_the_last_stage_and_as_much_of_windows_as_makes_sense() -> None:
    """At least five minutes; windows up to 1.6 times as late as the last stage (ours)."""
    assert (LEAST_SHOWN_S, BEYOND) == (300.0, 1.6)
    assert ends_of(1000.0) == pytest.approx(1050.0)
    assert ends_of(1000.0, 500.0) == pytest.approx(1050.0)
    assert ends_of(1000.0, 1200.0) == pytest.approx(1260.0)
    assert ends_of(1000.0, 500.0, 1200.0) == pytest.approx(1260.0), "the one that shuts last"
    assert ends_of(1000.0, 5000.0) == pytest.approx(1600.0)
    assert ends_of(100.0) == pytest.approx(315.0)
    assert ends_of(100.0, 9000.0) == pytest.approx(480.0)
    assert ends_of(100.0, now=400.0) == pytest.approx(420.0)


def begins_at(last: float, now: float) -> float:
    return chart(POTS, foreseen((work("pour"), now, last)), now=now).begins


def test_a_long_pour_under_way_is_drawn_from_five_minutes_back_in_whole_minutes() -> None:
    """From half an hour on (ours)."""
    assert (LONG_S, BACK_S) == (1800.0, 300.0)
    assert begins_at(1900.0, 600.0) == 300.0
    assert begins_at(1900.0, 659.0) == 300.0
    assert begins_at(1900.0, 660.0) == 360.0
    assert begins_at(1900.0, 359.0) == 0.0
    assert begins_at(1900.0, 250.0) == 0.0
    assert begins_at(1700.0, 600.0) == 0.0, "1785 s are not half an hour"
    assert begins_at(1800.0 / 1.05, 600.0) == 0.0, "1800 s are just it"
    assert begins_at(1715.0, 600.0) == 300.0, "1800.75 s are more"


def test_a_pour_that_is_over_is_drawn_whole_however_long_it_took() -> None:
    done = (DoneStage(work("pour", thin()), 0.0, 2000.0),)
    state = PourState(("s",), done, (), {p.name: PotState(p.name) for p in POTS}, begun=True)
    drawn = poured_chart(POTS, state, {}, 2500.0)
    assert (drawn.begins, drawn.ends, drawn.now) == (0.0, pytest.approx(2625.0), None)
    assert poured_chart(POTS, state, {}).ends == pytest.approx(2100.0)


def test_the_window_nearest_to_shut_is_of_the_state_after_the_one_that_was_allowed() -> None:
    done = tuple(
        DoneStage(work(name, thin(latest)), ends - 10.0, ends, skipped)
        for name, latest, ends, skipped in (
            ("pour", Trace.LIGHT, 100.0, False),
            ("drop", Trace.MEDIUM, 250.0, False),
            ("tool", Trace.MEDIUM, 299.0, True),
            ("press", Trace.SET_UP, 400.0, False),
        )
    )
    pots = {p.name: PotState(p.name) for p in POTS}
    state = PourState(("s",), done, (), pots, begun=True, ended=400.0)
    reached = {"base": {Trace.LIGHT: at(90.0), Trace.MEDIUM: at(160.0), Trace.THICK: at(300.0)}}
    row = poured_chart(POTS, state, reached, 400.0).rows[0]
    assert (row.likely, row.needed) == (300.0, 250.0), "50 s were left at the drop, 60 at the pour"
    del reached["base"][Trace.THICK]
    row = poured_chart(POTS, state, reached, 400.0).rows[0]
    assert (row.likely, row.needed) == (160.0, 100.0)


# ---------------------------------------------------------------- letters


def test_handwork_gets_the_first_letter_of_it_that_is_free() -> None:
    letters = act_letters(["pour", "press", "prop", "pp", "draw down", "draw the comb", "pour"])
    assert letters == {
        "pour": ("P", "pour"),
        "press": ("R", "press"),
        "prop": ("O", "prop"),
        "pp": ("A", "pp"),
        "draw down": ("D", "draw down"),
        "draw the comb": ("C", "comb"),
    }


def test_words_that_tell_nothing_apart_are_left_out_of_the_legend() -> None:
    letters = act_letters(["drop an accent", "pour into mould", "of the", "§ §"])
    assert [shown for _, shown in letters.values()] == ["drop", "pour", "of the", "§ §"]
    assert [letter for letter, _ in letters.values()] == ["D", "P", "O", "§"]


def test_small_letters_are_for_what_comes_before_the_pour_and_w_for_waiting() -> None:
    by_act = act_letters(["lye into oils", "emulsify", "cook", "pour off", "colour",
                         "stir in fragrance", "wave"])  # fmt: skip
    assert "".join(letter for letter, _ in by_act.values()) == "lekpcfW"
    many = act_letters([f"a{i}" for i in range(40)])
    letters = [letter for letter, _ in many.values()]
    assert letters[0] == "A"
    assert letters[36:] == ["?"] * 4, "after 26 letters and ten figures there is none left"
    assert len(set(letters[:36])) == 36
