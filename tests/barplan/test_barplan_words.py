"""What the face and the cut say to each other, and what is learned of sinking from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from soapbench.advice.known import Known
from soapbench.aftercare.cutreview import PARTS, REACHED, Reach, reaches
from soapbench.barface import Colour, Design, Manner, Pouring, barplan, face
from soapbench.barface.words import (
    beside,
    place_of,
    poured_showings,
    reached,
    reaches_foreseen,
    showings,
)
from soapbench.batter import Tap, Trace
from soapbench.lessons import as_data, foreseen_figures, from_data, lesson
from soapbench.log import Kind
from soapbench.sinking import Drop, Sinking, learn, tapped_trace
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import plan, sample

BOTTOM, HALF, TOP = REACHED


def dropped(trace: float, sinking: Sinking | None = None) -> Design:
    base = Pouring(0, 0.7, Manner.FILL, trace, trace)
    drop = Pouring(1, 0.3, Manner.DROP, trace, trace)
    colours = (Colour("base", "#202020"), Colour("foam", "#f0f0f0"))
    return Design(colours, (base, drop), sink=barplan.sink_depth(sinking or Sinking()))


@pytest.mark.parametrize(("trace", "word"), [(0.3, BOTTOM), (1.5, HALF), (2.2, TOP), (3.3, TOP)])
def test_drawn_streams_come_as_far_as_the_learning_takes_them_to(trace: float, word: str) -> None:
    drawn = [face(dropped(trace), 0.5, 90, 70, seed, polish=False) for seed in range(9)]
    assert [reached(shown, 1) for shown in drawn].count(word) >= 7


def test_the_makers_answers_stand_beside_the_foreseen(known: Known) -> None:
    pour = sample(SAMPLES / "harbour_at_dusk.toml")
    shown = showings(pour, known)[0]
    drops = [
        Reach("foam", "middle", TOP),
        Reach("foam", "bar 2", BOTTOM),
        Reach("gone", "middle", TOP),
    ]
    lines = beside(pour, shown, drops, bars=8)
    assert [(b.pot, b.part, b.came) for b in lines] == [
        ("foam", "middle", TOP),
        ("foam", "bar 2", BOTTOM),
    ]
    middle = face(shown.design, 0.5, 72, 54, shown.seed, polish=False)
    assert (
        lines[0].foreseen == reached(middle, 1) == reaches_foreseen(pour, shown)["middle", "foam"]
    )
    assert lines[0].words == f"foam, middle: {TOP} (predicted: {lines[0].foreseen})"
    # how many bars were cut is not known: where bar 2 lay is not either
    assert len(beside(pour, shown, drops)) == 1


def test_only_what_is_dropped_is_said_to_sink(known: Known) -> None:
    dropped_in = sample(SAMPLES / "harbour_at_dusk.toml")
    turned_in = replace(dropped_in, swirl=replace(dropped_in.swirl, steps=("in-the-pot swirl",)))
    sayings = [showings(of, known)[0].words for of in (dropped_in, turned_in)]
    assert ["sink" in words or "stay" in words for words in sayings] == [True, False]


def test_parts_lie_along_the_loaf_in_their_order() -> None:
    ends = [place_of(part, None) for part in PARTS]
    assert ends == sorted(e for e in ends if e is not None)
    assert [place_of(f"bar {n}", 4) for n in (1, 4, 5)] == [0.125, 0.875, None]


# ---------------------------------------------------------------- sinking


def loaves(count: int, trace: float, *reached: str) -> list[Sequence[Drop]]:
    return [(Drop("foam", trace, reached),)] * count


def test_one_loaf_moves_nothing() -> None:
    assert learn(loaves(1, 2.0, BOTTOM, BOTTOM, BOTTOM)) == Sinking(0.0, 1)
    assert learn([]) == Sinking(0.0, 0)


@pytest.mark.parametrize(
    ("trace", "reached", "low", "high"),
    [
        pytest.param(2.0, BOTTOM, 0.2, 1.5, id="deeper than a medium base lets them"),
        pytest.param(0.6, TOP, -1.5, -0.2, id="on top of a thin base"),
        pytest.param(1.5, HALF, -0.1, 0.1, id="as drawn"),
    ],
)
def test_cuts_move_sinking_their_way(trace: float, reached: str, low: float, high: float) -> None:
    assert low < learn(loaves(6, trace, reached)).thinner < high


def test_more_loaves_move_it_further_and_looks_at_one_loaf_count_once() -> None:
    few, many = (learn(loaves(n, 2.2, BOTTOM)).thinner for n in (2, 12))
    assert 0.05 < few < many < 1.6
    assert learn(loaves(3, 2.2, BOTTOM)).thinner == pytest.approx(
        learn(loaves(3, 2.2, BOTTOM, BOTTOM, BOTTOM)).thinner
    )


def test_learning_finds_a_makers_hand_again() -> None:
    """Answers of a simulated maker whose base acts 0.6 of a state thinner than its name."""
    rng = np.random.default_rng(3)
    learnt = []
    for trace in rng.uniform(0.5, 3.0, 60):
        acts = trace - 0.6 + rng.normal(0, 0.8)
        learnt.append(
            (Drop("foam", float(trace), (BOTTOM if acts < 1.1 else HALF if acts < 2.5 else TOP,)),)
        )
    assert learn(learnt).thinner == pytest.approx(0.6, abs=0.2)
    assert learn(learnt).loaves == 60


def test_a_learned_hand_changes_the_drawn_face() -> None:
    words = [
        reached(face(dropped(1.8, s), 0.5, 90, 70, 1, polish=False), 1)
        for s in (Sinking(0.9, 9), Sinking(), Sinking(-1.3, 9))
    ]
    assert words == [BOTTOM, HALF, TOP]


@pytest.mark.parametrize(
    ("taps", "t", "trace"),
    [
        pytest.param([], 100, None, id="no taps"),
        pytest.param([(100, 1), (200, 2)], 150, 1.5, id="between two"),
        pytest.param([(100, 1)], 50, 0.5, id="before the first"),
        pytest.param([(100, 2)], 150, 2.5, id="after the last"),
        pytest.param([(100, 4)], 150, 4.0, id="set up"),
        pytest.param([(200, 2), (100, 1)], 150, 1.5, id="in any order"),
    ],
)
def test_trace_by_taps(taps: list[tuple[float, int]], t: float, trace: float | None) -> None:
    at_t = tapped_trace([Tap(at, Trace(state)) for at, state in taps], t)
    assert at_t == (trace if trace is None else pytest.approx(trace))


@pytest.mark.parametrize("tool", [False, True], ids=["drop swirl", "with a hanger"])
def test_a_log_teaches_sinking_unless_a_tool_went_through(
    tool: bool, known: Known, clock: FakeClock
) -> None:
    pour = plan()
    if not tool:
        swirl = replace(pour.swirl, steps=("drop swirl",))
        pour = replace(pour, swirl=swirl)
    at = desk(pour, known, clock)
    work(at, clock, "drop an accent/rope")
    at.trace_seen("base", Trace.LIGHT)
    while at.state.stage is not None:
        clock.passes(20)
        at.stage_done()
    for part in PARTS:
        at.record(Kind.CUT_SEEN, "rope", part=part, reached=HALF)
    assert len(reaches(at.facts)) == 3
    forecast = barplan.Foreseen(pour, known)
    figures = foreseen_figures(at.amounts, pour, forecast.outlook())
    taught = lesson("b1", pour.as_written(), figures, at.facts, known.swirls)
    assert taught is not None
    if tool:
        assert taught.drops == ()
    else:
        assert taught.drops == (Drop("rope", 1.5, (HALF, HALF, HALF)),)
    assert from_data(as_data(taught)) == taught


@pytest.mark.parametrize(
    ("trace", "lies"),
    [(Trace.EMULSION, BOTTOM), (Trace.MEDIUM, TOP), (Trace.SET_UP, TOP)],
)
def test_the_face_as_poured_is_drawn_by_the_taps(
    known: Known, clock: FakeClock, trace: Trace, lies: str
) -> None:
    pour = replace(plan(), swirl=replace(plan().swirl, steps=("drop swirl",)))
    at = desk(pour, known, clock)
    work(at, clock, "drop an accent/rope")
    while at.state.stage is not None:
        at.trace_seen("base", trace)
        clock.passes(20)
        at.trace_seen("base", trace)
        at.stage_done()
    poured = poured_showings("b1", at.plan, at.amounts, known, at.state)[0]
    shown = face(poured.design, 0.5, 90, 70, poured.seed, polish=False)
    assert reached(shown, 2) == lies  # the last one dropped; nothing lies on it
