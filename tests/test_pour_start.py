"""A start taken back, a pour dropped, a batch set aside, a fragrance out of order."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.learned import learn
from soapbench.desk.pourdesk import Desk
from soapbench.lessons import Lesson, foreseen_figures, lesson
from soapbench.log import Kind, Outcome
from soapbench.words.answers import undone_words
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import THREE_POTS, plan, sample


def taught(pour: Desk) -> Lesson | None:
    figures = foreseen_figures(pour.amounts, pour.plan, None)
    return lesson("b", pour.plan.as_written(), figures, pour.facts, pour.swirls)


# ---------------------------------------------------------------- the start


def test_the_start_is_taken_back_and_begun_anew(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    ready = pour.state
    pour.lye_meets_oils()
    clock.passes(8)
    undone = pour.undo()
    assert undone is not None
    assert undone.kind is Kind.LYE_MEETS_OILS
    assert "the start" in undone_words(undone.kind, None, None)
    assert pour.state == ready
    assert pour.now() == 0
    clock.passes(100)
    pour.look("base")  # another key, so that nothing but a new start begins the clock
    pour.note(None, "lids on")
    pour.lye_meets_oils()
    clock.passes(5)
    assert pour.now() == 5
    assert pour.state.begun


def test_a_start_taken_back_once_too_often_stands_again_its_clock_having_run(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    clock.passes(60)
    begun = pour.state
    assert pour.undo()
    clock.passes(7)
    back = pour.undo()
    assert back is not None
    assert "stands" in undone_words(back.kind, None, None)
    assert pour.state == begun
    assert pour.now() == 67
    assert pour.undo()  # and back again
    assert not pour.state.begun


def test_a_start_taken_back_survives_a_new_desk(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    clock.passes(30)
    pour.undo()
    clock.passes(30)
    pour.lye_meets_oils()
    clock.passes(12)
    again = desk(plan(), known, clock, pour.log)  # type: ignore[arg-type]
    assert again.now() == 12
    assert again.state == pour.state


def test_what_was_keyed_after_a_start_that_is_dropped_counts_for_nothing(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    ready = pour.state
    work(pour, clock, "drop an accent/rope")
    pour.trace_seen("base", Trace.MEDIUM)
    pour.end(finished=False)
    assert taught(pour) is not None
    pour.drop()
    assert pour.state == ready
    assert taught(pour) is None
    assert pour.facts.first(Kind.POUR_ENDED) is None
    clock.passes(30)
    pour.lye_meets_oils()
    clock.passes(20)
    pour.stage_done()
    assert [d.stage.id for d in pour.state.done] == ["lye into oils"]
    assert pour.now() == 20


# ---------------------------------------------------------------- set aside


def test_a_batch_set_aside_teaches_nothing_until_it_counts_again(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "end", each_s=40)
    whole = taught(pour)
    assert whole is not None
    assert whole.ended is not None
    assert pour.set_aside(True).logged
    aside = taught(pour)
    assert aside is not None
    assert (aside.history.pots, aside.timed, aside.ended, aside.drops) == ((), (), None, ())
    assert whole.resting is not None
    assert aside.resting == replace(whole.resting, set_aside=True)  # looked after all the same
    pour.set_aside(False)
    assert taught(pour) == whole
    pour.set_aside(True)
    pour.undo()
    assert taught(pour) == whole


@pytest.mark.parametrize("outcome", list(Outcome))
def test_the_outcome_told_is_what_is_scored(
    known: object, clock: FakeClock, outcome: Outcome
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "end", each_s=40)
    pour.tell_outcome(outcome)
    lesson = taught(pour)
    assert lesson is not None
    assert lesson.ended is not None
    assert lesson.ended.came is outcome
    assert lesson.ended.as_planned is (outcome is Outcome.AS_PLANNED)


# ---------------------------------------------------------------- implausible handwork


def as_the_table_has_it(pour: Desk, clock: FakeClock, cook_s: float | None = None) -> None:
    pour.lye_meets_oils()
    while (stage := pour.state.stage) is not None:
        cooked = stage.action == "cook" and cook_s is not None
        clock.passes(cook_s if cooked and cook_s is not None else stage.median_s)
        pour.stage_done()


def after(known: Known, *lessons: Lesson | None) -> Known:
    learnt = learn(tuple(lesson for lesson in lessons if lesson))
    return replace(known, fit=learnt.fit, pace=learnt.pace, sinking=learnt.sinking)


def test_a_cook_of_two_seconds_teaches_nothing(known: Known, clock: FakeClock) -> None:
    hot = plan(THREE_POTS.replace('"drop swirl", "hanger swirl"', '"hot process"'))
    before = Foreseen(hot, known).choice(("hot process",)).minutes
    pour = desk(hot, known, clock)
    as_the_table_has_it(pour, clock, cook_s=2.0)
    lesson = taught(pour)
    assert lesson is not None
    assert "cook" not in {stage.action for stage in lesson.timed}
    learned = after(known, lesson)
    assert Foreseen(hot, learned).choice(("hot process",)).minutes > 0.85 * before
    assert learned.pace.of("cook").timed == 0


@pytest.mark.parametrize("each_s", [1.0, 300.0, 3600.0])
def test_a_pour_left_lying_about_does_not_move_another_plan(
    known: Known, clock: FakeClock, each_s: float
) -> None:
    other = sample(SAMPLES / "harbour_at_dusk.toml")
    before = Foreseen(other, known).choice(other.swirl.steps).chance
    pour = desk(plan(), known, clock)
    work(pour, clock, "drop an accent/rope", each_s=each_s)
    pour.end(finished=False)
    lesson = taught(pour)
    assert lesson is not None
    assert lesson.timed == ()
    learned = after(known, lesson)
    now = Foreseen(other, learned).choice(other.swirl.steps).chance
    assert now == pytest.approx(before, abs=0.1)


def test_two_stages_keyed_at_once_both_teach_nothing(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    while (stage := pour.state.stage) is not None:
        clock.passes(1.0 if stage.id == "pour off/gull" else stage.median_s)
        pour.stage_done()
    lesson = taught(pour)
    assert lesson is not None
    assert "pour off" not in {stage.action for stage in lesson.timed}  # rope's and gull's
    assert "colour" in {stage.action for stage in lesson.timed}


# ---------------------------------------------------------------- fragrance out of order


def test_a_fragrance_put_in_out_of_order_is_not_asked_for_again(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "colour/rope")
    total = len(pour.state.done) + len(pour.state.ahead)
    before = pour.state
    assert pour.fragrance_in("gull").logged
    at = pour.now()
    assert "stir in fragrance/gull" not in [stage.id for stage in pour.state.ahead]
    assert len(pour.state.done) + len(pour.state.ahead) == total
    assert pour.state.stage == before.stage
    clock.passes(30)
    work(pour, clock, "pour into mould/base")
    assert pour.state.pots["gull"].fragrance_in == at
    pour.undo()
    for _ in range(20):
        if pour.state == before:
            break
        pour.undo()
    assert pour.state == before


def test_a_second_dose_needs_a_typed_yes(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/gull")
    (first,) = {pour.state.pots["rope"].fragrance_in}
    clock.passes(65)
    answer = pour.fragrance_in("rope")
    assert (answer.logged, answer.typed_yes) == (False, True)
    assert "A second dose?" in answer.words
    assert pour.state.pots["rope"].second_dose is None
    assert pour.fragrance_in("rope", second=True).logged
    assert pour.state.pots["rope"].second_dose == pour.now()
    assert pour.facts[-1].values == {"second": True}
    assert pour.state.pots["rope"].fragrance_in == first


@pytest.mark.parametrize(
    ("until", "pot", "says"),
    [
        ("pour off/rope", "rope", "rope is not poured off yet: mark base"),
        ("draw the hanger", "rope", "rope is in the mould"),
    ],
)
def test_no_fragrance_where_there_is_no_pot_of_its_own(
    known: object, clock: FakeClock, until: str, pot: str, says: str
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, until)
    assert pour.fragrance_in(pot).words == says


def test_a_start_by_wall_clock_is_not_moved_by_undo(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    clock.passes(60)
    pour.note(None, "x")
    clock.wall += timedelta(seconds=30)
    clock.boot_id, clock.boot_s = "another boot", 5.0
    again = desk(plan(), known, clock, pour.log)  # type: ignore[arg-type]
    assert again.by_wall_clock
    assert again.now() == pytest.approx(90)
    clock.wall += timedelta(hours=5)  # set right: only the boot clock counts from here on
    clock.boot_s += 10
    again.undo()
    assert again.now() == pytest.approx(100)
