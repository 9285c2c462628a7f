"""What the maker sees while pouring: looks, taps asked once more, troubles, how it came out."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np
import pytest

from soapbench.advice.known import mix_of
from soapbench.batter import Tap, Trace
from soapbench.desk.keys import ACTS
from soapbench.desk.pourdesk import BLENDING_S, SILENCE_S, Desk
from soapbench.log import Kind, Outcome
from soapbench.outlook.looks import LOOK_EVERY_S, Belief, beliefs, look_wanted, unforeseen
from soapbench.pour.events import state_of
from soapbench.pour.history import history
from soapbench.recipe.amounts import pot_ml
from soapbench.thickening.in_hand import live
from soapbench.troubles import Trouble
from soapbench.words.pouring import step_label
from tests.desks import desk, work
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan


def advised(pour: Desk) -> Desk:
    pour.heed(pour.advise())
    return pour


@pytest.mark.parametrize("key", ["1", "5"])
def test_no_batter_no_trace_state_and_it_says_so(known: object, clock: FakeClock, key: str) -> None:
    pour = desk(plan(), known, clock)
    answer = pour.trace_seen("base", Trace(int(key) - 1))
    assert (answer.logged, answer.words) == (
        False,
        "No batter yet: press it once the lye is in the oils",
    )
    assert pour.log.events == ()


@pytest.mark.parametrize(
    ("until", "pot", "says"),
    [
        ("pour off/rope", "rope", "rope is not poured off yet: mark base"),
        ("pour off/gull", "gull", "gull is not poured off yet: mark base"),
        ("end", "base", "The pour is over"),
    ],
)
def test_only_batter_that_is_there_can_be_seen(
    known: object, clock: FakeClock, until: str, pot: str, says: str
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, until)
    before = pour.log.events
    assert pour.trace_seen(pot, Trace.LIGHT).words == says
    assert pour.look(pot).words == says
    assert pour.log.events == before


def test_what_is_in_the_pot_of_the_base_or_cooked_has_no_state_of_its_own(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base")
    pour.record(Kind.RESCUE_TAKEN, steps=["in-the-pot swirl"])
    work(pour, clock, "turn the pot")
    assert pour.trace_seen("rope", Trace.LIGHT).words == "rope is in the pot of base: mark base"
    cooked = desk(plan(), known, clock)
    work(cooked, clock, "pour into mould/base")
    cooked.record(Kind.RESCUE_TAKEN, steps=["hot process"])
    work(cooked, clock, "spoon in cooked soap")
    assert cooked.trace_seen("base", Trace.LIGHT).words == "Cooked soap has no trace"


def test_an_unforeseen_tap_counts_with_its_second_press(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "colour/gull")
    advised(pour)
    first = pour.trace_seen("base", Trace.SET_UP)
    assert (first.logged, first.words) == (
        False,
        "base: set up already? Press it again, or undo",
    )
    clock.passes(0.1)  # a key that bounces
    assert not pour.trace_seen("base", Trace.SET_UP).logged
    clock.passes(1)
    assert pour.trace_seen("base", Trace.SET_UP).logged
    assert pour.state.pots["base"].trace is Trace.SET_UP


def test_a_tap_far_behind_what_was_foreseen_is_asked_about_as_that(
    known: object, clock: FakeClock
) -> None:
    """A pour left for hours: the base is foreseen set up, and light is no state "already"."""
    pour = desk(plan(), known, clock)
    work(pour, clock, "colour/gull")
    clock.passes(6 * 3600)
    advised(pour)
    asked = pour.trace_seen("base", Trace.LIGHT)
    assert (asked.logged, asked.words) == (False, "base: only light trace? Press it again, or undo")


def test_a_tap_asked_about_is_forgotten_by_undo_another_key_and_time(
    known: object, clock: FakeClock
) -> None:
    pour = advised(desk(plan(), known, clock))
    work(pour, clock, "colour/gull")
    advised(pour)
    for forget in (pour.drop_question, lambda: pour.note("base", "x"), lambda: clock.passes(60)):
        assert not pour.trace_seen("base", Trace.SET_UP).logged
        clock.passes(1)
        forget()
        assert not pour.trace_seen("base", Trace.SET_UP).logged
        pour.drop_question()
    assert not pour.drop_question()


def test_a_foreseen_tap_is_not_asked_about(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "colour/gull")
    advised(pour)
    assert pour.live is not None
    soonest, latest = pour.live.believed["base"].reached[Trace.LIGHT]
    clock.passes(max(0.0, 0.5 * (soonest + latest) - pour.now()))
    assert pour.trace_seen("base", Trace.LIGHT).logged


@pytest.mark.parametrize(
    ("state", "now", "asks"),
    [
        (Trace.EMULSION, 99.0, False),
        (Trace.EMULSION, 201.0, True),  # light by 200 at the latest, and only emulsion seen
        (Trace.LIGHT, 99.0, True),
        (Trace.LIGHT, 101.0, False),
        (Trace.SET_UP, 399.0, True),
        (Trace.SET_UP, 5000.0, False),
    ],
)
def test_far_from_all_that_was_foreseen(state: Trace, now: float, asks: bool) -> None:
    ends = ((10.0, 50.0), (100.0, 200.0), (200.0, 300.0), (300.0, 400.0), (400.0, 500.0))
    assert unforeseen(Belief(ends, 0.0), state, now) is asks


def test_the_last_look_is_of_the_vessel_and_a_look_changes_no_state(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour off/rope")
    assert pour.state.last_look == {}
    pour.trace_seen("base", Trace.EMULSION)
    at = pour.now()
    assert pour.state.last_look == {"base": at, "rope": at, "gull": at}
    work(pour, clock, "colour/gull")
    clock.passes(7)
    before = pour.state.pots["rope"].trace
    assert pour.look("rope").words == "rope still at stable emulsion"
    assert pour.state.last_look == {"base": at, "rope": pour.now(), "gull": at}
    assert pour.state.pots["rope"].looks == (pour.now(),)
    assert pour.state.pots["rope"].trace is before


def _believed(**passed: float) -> Mapping[str, Belief]:
    return {name: Belief(((0, 9e9),) * 5, p) for name, p in passed.items()}


def test_a_look_is_wanted_where_it_tells_most_and_not_too_often(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    assert look_wanted(pour.state, _believed(base=1, rope=1, gull=1), 0.0) is None
    work(pour, clock, "pour into mould/base")
    for pot in pour.state.pots:
        pour.look(pot)
    now = pour.now()
    assert look_wanted(pour.state, _believed(base=0.9, rope=0.9, gull=0.9), now + 20) is None
    later = now + LOOK_EVERY_S
    assert look_wanted(pour.state, _believed(base=0.5, rope=0.6, gull=0.4), later) == "rope"
    assert look_wanted(pour.state, _believed(base=0.2, rope=0.1, gull=0.2), later) is None
    clock.passes(LOOK_EVERY_S - 5)
    pour.look("rope")
    assert look_wanted(pour.state, _believed(base=0.5, rope=0.6, gull=0.4), later) == "base"


def test_where_how_to_go_on_hangs_on_it_a_look_is_asked_for_at_a_pot_just_scented(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base", each_s=15)
    clock.passes(5)
    likely, now = _believed(base=0.5, rope=0.3, gull=0.3), pour.now()
    assert look_wanted(pour.state, likely, now) is None, "hands are in it: it is taken as seen"
    assert look_wanted(pour.state, likely, now, deciding=True) == "base"
    pour.look("base")
    assert look_wanted(pour.state, likely, now + 1, deciding=True) == "rope"
    less, hardly = (_believed(base=p, rope=p, gull=p) for p in (0.2, 0.08))
    assert look_wanted(pour.state, less, now + 60, deciding=True) == "base"
    assert look_wanted(pour.state, less, now + 60) is None
    assert look_wanted(pour.state, hardly, now + 60, deciding=True) is None


def test_belief_is_of_the_draws(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base")
    course = history("", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, pour.now())
    draws = live(pour.known.fit, course, pour.now())
    believed = beliefs(pour.state, draws, pour.now())
    for belief in believed.values():
        lows, highs = np.array(belief.reached).T
        assert (np.diff(lows) >= 0).all()
        assert (np.diff(highs) >= 0).all()
        assert (lows[Trace.LIGHT :] < highs[Trace.LIGHT :]).all()
        assert 0 <= belief.passed <= 1
    assert beliefs(pour.state, draws, 1e6)["base"].passed == 1
    assert advised(pour).look_wanted in (None, "base", "rope", "gull")


def test_a_second_dose_leaves_less_time_and_teaches_nothing_of_one(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/gull")
    left = pour.advise().outlook.room_s
    pour.fragrance_in("rope", second=True)
    clock.passes(1)
    after = pour.advise().outlook.room_s
    assert after["rope"].p50 < left["rope"].p50 - 10
    assert after["base"].p50 == pytest.approx(left["base"].p50, rel=0.1)
    at = pour.state.pots["rope"].second_dose
    clock.passes(60)
    for _ in range(2):
        clock.passes(1)
        pour.trace_seen("rope", Trace.MEDIUM)
    course = history("", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, pour.now())
    rope = next(pot for pot in course.pots if pot.name == "rope")
    assert rope.until == at, "the tap after it is of two doses"
    assert pour.advise().outlook.room_s["rope"].p50 < after["rope"].p50, "and a floor all the same"


def test_seizing_counts_as_set_up_says_what_to_do_and_is_undone(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    assert not pour.trouble("base", Trouble.SEIZING).logged
    work(pour, clock, "stir in fragrance/gull")
    before = pour.state
    words = pour.trouble("rope", Trouble.SEIZING).words
    assert words.startswith("rope: seizing. It heats itself: gloves and goggles stay on")
    rope = pour.state.pots["rope"]
    assert (rope.trace, rope.taps[-1], rope.trouble) == (
        Trace.SET_UP,
        Tap(pour.now(), Trace.SET_UP),
        Trouble.SEIZING,
    )
    assert pour.state.pots["base"] == before.pots["base"]
    assert [(t.pot, t.trouble) for t in pour.state.troubles] == [("rope", Trouble.SEIZING)]
    pour.undo()
    assert pour.state == before


@pytest.mark.parametrize("trouble", [Trouble.FALSE_TRACE, Trouble.SEPARATING])
def test_what_only_looked_like_trace_was_none_until_blended_again(
    known: object, clock: FakeClock, trouble: Trouble
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour off/rope")
    pour.trace_seen("base", Trace.MEDIUM)
    pour.trouble("base", trouble)
    assert {(p.trace, p.trouble) for p in pour.state.pots.values()} == {(Trace.EMULSION, trouble)}
    pour.blender("base")
    clock.passes(5)
    pour.blender("base")
    assert {p.trouble for p in pour.state.pots.values()} == {None}


@pytest.mark.parametrize("trouble", list(Trouble))
def test_every_trouble_says_what_to_do(known: object, clock: FakeClock, trouble: Trouble) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base")
    assert pour.trouble("base", trouble).words == f"base: {trouble}. {trouble.to_do}"
    assert pour.state.pots["base"].trouble is trouble
    assert trouble in [act.trouble for act in ACTS]


def test_troubles_noted_by_the_first_release_are_read(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/gull")
    pour.note("rope", "seizing")
    pour.note("base", "heating up")
    assert pour.state.pots["rope"].trace is Trace.SET_UP
    assert [t.trouble for t in pour.state.troubles] == [Trouble.SEIZING, Trouble.OVERHEATING]


def test_the_outcome_is_asked_once_the_pour_is_over_and_told_again(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    assert not pour.tell_outcome(Outcome.IN_PART).logged
    work(pour, clock, "end")
    assert pour.outcome_wanted
    assert pour.state.outcome is Outcome.AS_PLANNED  # by the taps, until told
    pour.tell_outcome(Outcome.IN_PART)
    assert not pour.outcome_wanted
    assert pour.state.outcome is Outcome.IN_PART
    pour.tell_outcome(Outcome.NO)
    assert pour.state.outcome is Outcome.NO
    pour.undo()
    assert pour.state.outcome is Outcome.IN_PART


@pytest.mark.parametrize(
    ("state", "came"),
    [
        (Trace.LIGHT, Outcome.AS_PLANNED),  # the hanger draws down what does not sink
        (Trace.THICK, Outcome.IN_PART),
        (Trace.SET_UP, Outcome.NO),
    ],
)
def test_the_taps_let_expect_how_it_came_out(
    known: object, clock: FakeClock, state: Trace, came: Outcome
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "drop an accent/gull")
    pour.trace_seen("base", state)
    work(pour, clock, "end")
    assert pour.state.finished
    assert pour.state.outcome is came


def test_a_tool_left_out_lets_expect_a_part(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "draw the hanger")
    pour.stage_done(skipped=True)
    assert pour.state.outcome is Outcome.IN_PART


@pytest.mark.parametrize(("finished", "came"), [(True, Outcome.AS_PLANNED), (False, Outcome.NO)])
def test_the_end_of_an_old_log_is_read_as_before(
    known: object, clock: FakeClock, finished: bool, came: Outcome
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    pour.record(Kind.POUR_ENDED, finished=finished)
    assert pour.state.outcome is came


def test_all_of_it_is_in_the_log(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "drop an accent/rope")
    pour.look("base")
    pour.trouble("rope", Trouble.RICING)
    work(pour, clock, "end")
    pour.tell_outcome(Outcome.IN_PART)
    again = state_of(pour.plan, pot_ml(pour.amounts), pour.known.swirls, pour.facts)
    assert again == pour.state


# ---------------------------------------------------------------- silence, and the blender


def test_until_somebody_looks_time_left_only_gets_less(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base")
    shown = []
    for _ in range(14):
        advised(pour)
        assert pour.live is not None
        ahead = pour.live.outlook
        shown.append((ahead.to_spare_s, *(q.p50 for q in ahead.room_s.values())))
        clock.passes(15)
    for before, after in pairwise(shown):
        assert after[0] <= before[0]
        for was, left in zip(before[1:], after[1:], strict=True):
            assert left <= max(0.0, was - 15) + 1e-6
    pour.look("base")  # somebody looked: it may be longer again
    free = pour.advise().outlook.room_s["base"].p50
    advised(pour)
    assert pour.live is not None
    assert pour.live.outlook.room_s["base"].p50 == pytest.approx(free, abs=1.0)


def test_an_overdue_stage_says_so(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour off/rope")
    assert pour.overdue_s == 0
    clock.passes(210)
    assert 60 < pour.overdue_s < 210
    assert "OVERDUE" in step_label(14.0, overdue=True)
    pour.stage_done()
    assert pour.overdue_s == 0


def test_waiting_for_a_trace_state_is_not_overdue(known: object, clock: FakeClock) -> None:
    layers = plan(THREE_POTS.replace('"drop swirl", "hanger swirl"', '"layers"'))
    pour = desk(layers, known, clock)
    work(pour, clock, "pour a layer/rope")
    clock.passes(900)
    assert pour.overdue_s == 0


def test_a_blender_that_runs_uses_up_time_by_the_second(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour off/rope")
    pour.trace_seen("base", Trace.EMULSION)
    advised(pour)
    assert pour.live is not None
    before = pour.live.outlook.room_s["base"].p50
    assert pour.advise_every_s == SILENCE_S
    pour.blender("base")
    assert pour.advise_every_s == BLENDING_S
    running = []
    for _ in range(4):
        clock.passes(10)
        advised(pour)
        running.append(pour.live.outlook.room_s["base"].p50)
    assert running == sorted(running, reverse=True)
    assert running[-1] < before - 40 - 30
    chance = pour.live.outlook.chance
    pour.blender("base")
    advised(pour)
    assert pour.live.outlook.room_s["base"].p50 == pytest.approx(running[-1], rel=0.1)
    assert pour.live.outlook.chance == pytest.approx(chance, abs=0.05)
