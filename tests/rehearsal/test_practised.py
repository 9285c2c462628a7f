"""Rehearsals at life speed teach how late a maker taps, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.learned import Memory, open_bench, remember
from soapbench.bench.tables import cautions
from soapbench.desk.rehearsing import SteppedClock, Wanted, begin_rehearsal, judge_taps
from soapbench.log import Kind
from soapbench.rehearsal.rehearsal import milestones
from soapbench.sheet.plansheet import plan_sheet
from soapbench.thickening import Priors
from soapbench.thickening.practice import practised
from tests.fakes import FakeClock
from tests.plans import plan


def rehearsed(known: Known, folder: Path, late_s: float, speed: float) -> None:
    """One rehearsal; every state of every pot is tapped so late."""
    clock = SteppedClock(FakeClock().read())
    wanted = Wanted(plan_sheet(plan(), known, cautions(), levers=False), speed, 3)
    desk, batter = begin_rehearsal(open_bench(folder), clock, known, wanted)
    desk.lye_meets_oils()
    while desk.state.stage is not None and "pour" not in desk.state.stage.action:
        clock.forward(10.0)
        desk.stage_done()
    times = milestones(batter, desk.state, desk.now())
    taps = sorted((t[s] + late_s, pot, s) for pot, t in times.items() for s in list(Trace)[1:])
    for t, pot, state in taps:
        clock.forward(t - desk.now())
        if not desk.trace_seen(pot, state).logged:
            desk.trace_seen(pot, state)
    desk.end(finished=False)
    judge_taps(desk, batter, speed)
    desk.close()


def memory(folder: Path) -> Memory:
    return remember(open_bench(folder))


def test_a_late_hand_is_told_from_a_rehearsal(known: Known, tmp_path: Path) -> None:
    rehearsed(known, tmp_path, 45.0, 1.0)
    assert memory(tmp_path).known.fit.delay == Priors.delay, "four taps are too few"
    rehearsed(known, tmp_path, 45.0, 1.0)
    remembered = memory(tmp_path)
    assert remembered.known.fit.delay == 28.0
    assert remembered.lessons == ()
    assert memory(tmp_path).known.fit.delay == 28.0, "kept, and read again"


@pytest.mark.parametrize(("late_s", "speed"), [(30.0, 4.0), (5.0, 1.0)])
def test_a_hurried_rehearsal_teaches_nothing_and_a_prompt_hand_stays_one(
    known: Known, tmp_path: Path, late_s: float, speed: float
) -> None:
    for _ in range(2):
        rehearsed(known, tmp_path, late_s, speed)
    assert memory(tmp_path).known.fit.delay == Priors.delay


def test_how_late_each_tap_came_stands_in_the_rehearsals_log(known: Known, tmp_path: Path) -> None:
    rehearsed(known, tmp_path, 30.0, 1.0)
    (row,) = open_bench(tmp_path).rehearsals().rows
    events = open_bench(tmp_path).read(tmp_path / row.path).events
    tapped = [e for e in events if e.kind is Kind.TRACE_SEEN]
    (judged,) = (e for e in events if e.kind is Kind.TAPS_JUDGED)
    assert judged.values["late_s"] == [pytest.approx(30.0, abs=0.1)] * len(tapped)


def test_practice_counts_with_caution() -> None:
    late = [30.0] * 12
    assert practised(28.0, late) > practised(8.0, late) + 2.0
    assert practised(28.0, late * 9) == practised(28.0, late), "many count no more than a few"
    assert practised(28.0, late[:5]) == practised(8.0, late[:5]) == 0.0, "too few"
    for odd in (800.0, -800.0):
        assert practised(8.0, [*[4.0] * 10, odd]) == practised(8.0, [4.0] * 10), "no lateness"
    assert practised(8.0, [-5.0] * 10) > practised(15.0, [-5.0] * 10), "early is not late"
