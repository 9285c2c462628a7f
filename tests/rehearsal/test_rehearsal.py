"""A rehearsal's hidden batter, what it looks like, and the report on a pour of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soapbench.advice.known import Known
from soapbench.batter import Blend, Trace
from soapbench.desk.pourdesk import Desk
from soapbench.pour.state import PourState, opening
from soapbench.recipe.amounts import Amounts, amounts
from soapbench.rehearsal.rehearsal import (
    LOOKS,
    Batter,
    draw_batter,
    fault_of,
    looks_like,
    milestones,
)
from soapbench.rehearsal.report import report
from soapbench.rehearsal.text import outcome_words, report_text, switch_words, trace_words
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws, milestone_times
from tests.desks import desk, work
from tests.fakes import FakeClock
from tests.plans import plan

PLAN = plan()
TAR = "Tar & Thyme"


def weighed(known: Known) -> Amounts:
    return amounts(PLAN, known.oils, known.colourants)


def start(known: Known) -> PourState:
    ml = {pot.name: pot.ml for pot in weighed(known).pots}
    return opening(PLAN, ml, known.swirls)


def batter(known: Known, light: float = 600, factor: float = 1.0, kappa: float = 0.0001) -> Batter:
    """A batter that reaches its milestones at 1, 1.5, 2 and 3 times ``light``, s of exposure."""
    drawn = draw_batter(PLAN, weighed(known), known, 0)
    draws = Draws(
        log_rate=np.zeros(1),
        log_thresholds=np.log(light * np.array([[1e-3, 1.0, 1.5, 2.0, 3.0]])),
        kappa=np.array([kappa]),
        log_af={TAR: np.log(np.array([factor]))},
    )
    return replace(drawn, draws=draws)


def test_one_seed_is_one_batter_and_seeds_differ(known: Known) -> None:
    def times(seed: int) -> tuple[float, ...]:
        return milestones(draw_batter(PLAN, weighed(known), known, seed), start(known), 0.0)["base"]

    assert times(7) == times(7)
    assert len({times(seed) for seed in range(20)}) == 20


def test_batters_are_spread_as_the_bench_believes(known: Known) -> None:
    """Over many seeds the hidden batters are a sample of what the model foresees."""
    from soapbench.advice.foreseen import Foreseen

    foreseen = np.log(milestone_times(Foreseen(PLAN, known).draws, None, None)[:, 3])
    drawn = [draw_batter(PLAN, weighed(known), known, seed) for seed in range(120)]
    hidden = np.log([milestones(b, start(known), 0.0)["base"][3] for b in drawn])
    tolerance = 4 * foreseen.std() / np.sqrt(len(hidden))
    assert hidden.mean() == pytest.approx(foreseen.mean(), abs=tolerance)
    assert hidden.std() == pytest.approx(foreseen.std(), rel=0.3)
    fast = np.array([b.draws.log_af[TAR][0] for b in drawn])
    assert fast.std() > 0.2, "its fragrance differs from batter to batter, too"


def test_fragrance_and_blending_bring_milestones_forward(known: Known) -> None:
    hidden = batter(known, light=600, factor=4.0, kappa=10.0)
    state = start(known)
    assert milestones(hidden, state, 0.0)["rope"][1:] == pytest.approx((600, 900, 1200, 1800))
    rope = replace(state.pots["rope"], fragrance_in=200.0)
    scented = replace(state, begun=True, pots={**state.pots, "rope": rope})
    assert milestones(hidden, scented, 300.0)["rope"][1] == pytest.approx(200 + 400 / 4)
    assert milestones(hidden, scented, 300.0)["gull"][1] == pytest.approx(600)
    gull = replace(state.pots["gull"], blends=(Blend(10.0, 20.0),))
    blended = replace(state, begun=True, pots={**state.pots, "gull": gull})
    assert milestones(hidden, blended, 300.0)["gull"][1] == pytest.approx(600 - 20 * 10)


def test_fragrance_counts_from_its_stage_even_before_that_is_done(known: Known) -> None:
    clock = FakeClock()
    pour = desk(PLAN, known, clock)
    hidden = batter(known, factor=3.0)
    work(pour, clock, "stir in fragrance/rope", 10)
    begun = pour.now()
    clock.passes(15)
    foreseen = milestones(hidden, pour.state, pour.now())["rope"]
    assert foreseen[1] == pytest.approx(begun + (600 - begun) / 3, abs=0.01)
    pour.stage_done()
    assert milestones(hidden, pour.state, pour.now())["rope"] == pytest.approx(foreseen)


@pytest.mark.parametrize(
    ("at", "trace", "look"),
    [
        (0, Trace.EMULSION, 0),
        (500, Trace.EMULSION, 1),
        (600, Trace.LIGHT, 0),
        (850, Trace.LIGHT, 1),
        (950, Trace.MEDIUM, 0),
        (1150, Trace.MEDIUM, 1),
        (1250, Trace.THICK, 0),
        (1790, Trace.THICK, 1),
        (1801, Trace.SET_UP, 0),
        (9999, Trace.SET_UP, 0),
    ],
)
def test_looks_follow_the_hidden_state(known: Known, at: float, trace: Trace, look: int) -> None:
    shown = looks_like(batter(known), start(known), at)["base"]
    assert (shown.trace, shown.words) == (trace, LOOKS[trace][look])
    assert not any(shown.trace.words in words for words in LOOKS[trace]), "trace is not given away"


TIMES = {"base": (0.0, 100.0, 200.0, 300.0, 400.0), "rope": (0.0, 150.0, 250.0, 350.0, 450.0)}


@pytest.mark.parametrize(
    ("earliest", "latest", "begun", "done", "wrong"),
    [
        pytest.param(Trace.EMULSION, Trace.MEDIUM, 0, 299, None, id="in time"),
        pytest.param(Trace.EMULSION, Trace.MEDIUM, 0, 301, ("base", Trace.THICK, False), id="late"),
        pytest.param(Trace.MEDIUM, Trace.THICK, 250, 320, None, id="waited"),
        pytest.param(Trace.MEDIUM, Trace.THICK, 220, 320, ("rope", Trace.LIGHT, True), id="early"),
        pytest.param(Trace.EMULSION, Trace.SET_UP, 0, 9999, None, id="cannot be late"),
    ],
)
def test_a_stage_is_right_when_its_batter_was(
    earliest: Trace, latest: Trace, begun: float, done: float, wrong: tuple[object, ...] | None
) -> None:
    stage = Stage("s", "s", "s", needs=(Need(("base", "rope"), earliest, latest),))
    fault = fault_of(stage, begun, done, TIMES)
    assert (fault and (fault.pot, fault.trace, fault.early)) == wrong


def poured(known: Known, hidden: Batter, each_s: float, until: str = "end") -> Desk:
    clock = FakeClock()
    pour = desk(PLAN, known, clock)
    work(pour, clock, until, each_s)
    return pour


def test_a_pour_in_time_is_finished_and_no_switch_was_needed(known: Known) -> None:
    hidden = batter(known, light=3000)
    pour = poured(known, hidden, 20)
    played = report(hidden, pour.amounts, known, pour.log.events, pour.now())
    assert played.finished
    assert [s.fault for s in played.stages] == [None] * len(played.stages)
    assert played.switch.below_s is None
    assert outcome_words(played).startswith("Finished as drop swirl + hanger swirl in ")
    assert "Not needed" in switch_words(played)


def test_space_pressed_in_spite_of_a_set_batter_is_not_finishing(known: Known) -> None:
    """The log says done; the hidden batter says otherwise."""
    hidden = batter(known, light=90)
    pour = poured(known, hidden, 25)
    assert pour.state.finished, "what was keyed in"
    played = report(hidden, pour.amounts, known, pour.log.events, pour.now())
    assert not played.finished
    wrong = [s for s in played.stages if s.fault]
    assert wrong
    assert all(s.fault and not s.fault.early for s in wrong)
    assert "too late" in report_text(played, PLAN.title, 1)


def test_how_late_each_tap_came(known: Known) -> None:
    hidden = batter(known, light=600)
    clock = FakeClock()
    pour = desk(PLAN, known, clock)
    work(pour, clock, "drop an accent/rope", 55)
    now = pour.now()
    assert 600 < now < 900, "light trace has come, medium has not"
    pour.trace_seen("base", Trace.LIGHT)
    pour.trace_seen("rope", Trace.MEDIUM)
    work(pour, clock, "end", 5)
    played = report(hidden, pour.amounts, known, pour.log.events, pour.now())
    late = {(t.pot, t.state): t.late_s for t in played.taps}
    assert late[("base", Trace.LIGHT)] == pytest.approx(now - 600, abs=0.01)
    assert late[("rope", Trace.MEDIUM)] == pytest.approx(now - 900, abs=0.01)
    assert played.untapped == 2, "light trace of rope and of gull went by"
    assert "too soon" in trace_words(played)


def test_the_moment_to_switch_lies_between_danger_and_too_late(known: Known) -> None:
    """Thick at 330 s: too soon for drops and hanger at this pace, not for one turn in the pot."""
    hidden = batter(known, light=165)
    pour = poured(known, hidden, 27)
    played = report(hidden, pour.amounts, known, pour.log.events, pour.now())
    switch = played.switch
    assert switch.below_s is not None
    assert switch.last_s is not None
    assert switch.below_s <= switch.last_s < 165 * 3
    assert switch.taken_s is None
    assert "could still have been finished until" in switch_words(played)


def test_switching_without_need_is_told(known: Known) -> None:
    from soapbench.advice.ways import SwirlChoice

    hidden = batter(known, light=3000)
    clock = FakeClock()
    pour = desk(PLAN, known, clock)
    work(pour, clock, "drop swirl", 20)
    pour.take(SwirlChoice(("in-the-pot swirl",), 0.99, 2.0))
    taken = pour.now()
    work(pour, clock, "end", 10)
    played = report(hidden, pour.amounts, known, pour.log.events, pour.now())
    assert played.finished
    assert played.switch.taken_s == pytest.approx(taken)
    assert played.switch.below_s is None
    assert played.switch.chance_when_taken is not None
    assert played.switch.chance_when_taken > 0.95
    assert played.switch.last_s is not None
    assert played.switch.last_s > taken, "there was time left to think"
    assert outcome_words(played).startswith("Switched to in-the-pot swirl")


def test_a_pour_broken_off_before_lye_can_be_reported_on(known: Known) -> None:
    pour = desk(PLAN, known, FakeClock())
    played = report(batter(known), pour.amounts, known, pour.log.events, 0.0)
    assert not played.finished
    assert played.stages == played.taps == ()
    assert report_text(played, PLAN.title, 3).startswith("Practice: Quay Wall, batter 3\n")
