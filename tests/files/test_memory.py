"""What is kept of all lessons is what they come to, and is only kept while they are the same."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from soapbench import sinking
from soapbench.advice.known import Known
from soapbench.aftercare.cutreview import PARTS, REACHED
from soapbench.batter import Trace
from soapbench.bench import learned
from soapbench.bench.learned import Learnt, learn, open_bench, remember
from soapbench.bench.planfile import plan_from_text
from soapbench.bench.tables import cautions
from soapbench.desk.starting import begin
from soapbench.lessons import Lesson, as_data, from_data
from soapbench.log import Kind
from soapbench.pace import learn as learn_pace
from soapbench.sheet.plansheet import plan_sheet
from soapbench.thickening.fitted import Fit
from soapbench.thickening.fitted import as_data as fit_data
from soapbench.thickening.fitting import fit
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan

POURS = 3


def pour(folder: Path, known: Known, clock: FakeClock, number: int) -> None:
    """A drop swirl with taps, poured a little differently each time, and looked at when cut."""
    of = plan(THREE_POTS.replace('"drop swirl", "hanger swirl"', '"drop swirl"'))
    at = begin(open_bench(folder), clock, known, plan_sheet(of, known, cautions(), levers=False))
    at.lye_meets_oils()
    while at.state.stage is not None:
        clock.passes(17 + 3 * number)
        for pot in at.state.stage.pots:
            if at.state.stage.step and at.state.pots[pot].trace < Trace.LIGHT:
                at.trace_seen(pot, Trace.LIGHT)
        at.stage_done()
    for part in PARTS:
        at.record(Kind.CUT_SEEN, "rope", part=part, reached=REACHED[number % 2])
    at.record(Kind.VERDICT, verdict="again", next_time="as it was", next_swirl=["drop swirl"])
    at.close()
    clock.passes(90_000)


@pytest.fixture(scope="module")
def poured(known: Known, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("poured")
    clock = FakeClock()
    for number in range(POURS):
        pour(folder, known, clock, number)
    return folder


@pytest.fixture
def bench(poured: Path, tmp_path: Path) -> Path:
    shutil.copytree(poured, tmp_path / "bench")
    return tmp_path / "bench"


def kept(bench: Path) -> Path:
    return bench / ".derived" / "fit.json"


def same(one: Known | Learnt, other: Known | Learnt) -> bool:
    """To the last bit: JSON holds a double whole."""
    fits = fit_data(one.fit) == fit_data(other.fit) and one.fit.priors == other.fit.priors
    return fits and one.pace == other.pace and one.sinking == other.sinking


def no_lessons(*_: object) -> tuple[Lesson, ...]:
    raise AssertionError("lessons were read")


def test_what_is_kept_is_what_the_lessons_come_to(
    bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh = remember(open_bench(bench))
    assert len(fresh.lessons) == POURS
    assert all(lesson.timed and lesson.drops and lesson.history.pots for lesson in fresh.lessons)
    # Against the three ways of learning themselves, each given the lessons.
    worked_out = Learnt(
        fit([lesson.history for lesson in fresh.lessons]),
        learn_pace(stage for lesson in fresh.lessons for stage in lesson.timed),
        sinking.learn(lesson.drops for lesson in fresh.lessons),
    )
    assert worked_out.fit.batches == worked_out.sinking.loaves == POURS
    assert worked_out.pace.kinds
    assert same(learn(fresh.lessons), worked_out)
    assert same(fresh.known, worked_out)
    monkeypatch.setattr(learned, "_lessons", no_lessons)
    assert same(remember(open_bench(bench)).known, worked_out)


def test_lessons_are_read_when_asked_for_even_from_a_closed_bench(bench: Path) -> None:
    whole = remember(open_bench(bench)).lessons
    opened = open_bench(bench)
    again = remember(opened)
    opened.close()
    assert again.lessons == whole
    assert again.lessons is again.lessons
    assert [from_data(json.loads(json.dumps(as_data(lesson)))) for lesson in whole] == list(whole)


@pytest.mark.parametrize(
    "changed",
    [
        lambda bench: next((bench / "batches").iterdir()).unlink(),
        lambda bench: kept(bench).unlink(),
        lambda bench: kept(bench).write_text(kept(bench).read_text()[:-30]),
        lambda bench: kept(bench).write_text(
            json.dumps({**json.loads(kept(bench).read_text()), "pace": {"kinds": [1]}})
        ),
        lambda bench: kept(bench).write_text(
            json.dumps({**json.loads(kept(bench).read_text()), "sinking": {"deeper": 1}})
        ),
        lambda bench: shutil.rmtree(bench / ".derived"),
    ],
    ids=["a log gone", "not there", "torn", "another pace", "another sinking", "all derived gone"],
)
def test_a_change_or_damage_makes_it_anew(bench: Path, changed: Callable[[Path], object]) -> None:
    remember(open_bench(bench))
    changed(bench)
    memory = remember(open_bench(bench))
    assert len(memory.lessons) == len(list((bench / "batches").iterdir()))
    assert same(memory.known, learn(memory.lessons))
    assert json.loads(kept(bench).read_text())["fit"] == fit_data(memory.known.fit)


@pytest.mark.parametrize("junk", ["7", "[]", '{"history": 1}', "[1,2,3,4,5,6,7,8]", "{"])
def test_damaged_lessons_are_made_anew_though_what_they_came_to_is_whole(
    bench: Path, junk: str
) -> None:
    whole = remember(open_bench(bench))
    lessons = whole.lessons
    db = sqlite3.connect(bench / ".derived" / "index.sqlite")
    with db:
        db.execute("UPDATE logs SET history = ?", (junk,))
    db.close()
    memory = remember(open_bench(bench))
    assert same(memory.known, whole.known)
    assert memory.lessons == lessons


def test_a_bench_that_cannot_be_written_learns_the_same(bench: Path) -> None:
    shutil.rmtree(bench / ".derived", ignore_errors=True)
    (bench / ".derived").write_text("a file in the way")
    memory = remember(open_bench(bench))
    assert len(memory.lessons) == POURS
    assert same(memory.known, learn(memory.lessons))


def test_an_empty_bench_knows_nothing_and_makes_nothing(tmp_path: Path) -> None:
    memory = remember(open_bench(tmp_path / "none"))
    assert memory.lessons == ()
    assert same(memory.known, learn(()))
    assert not (tmp_path / "none").exists()


OWN_SWIRL = """
[swirl."quay spiral"]
role = "pour"
moves = [{ do = "pour spiral", manner = "layer", pots = "all", puts = "mould", median_s = 90 }]
"""


def test_a_pour_of_the_makers_own_swirl_teaches_once_its_table_is_there(tmp_path: Path) -> None:
    tables = tmp_path / "tables"
    tables.mkdir()
    (tables / "swirls.toml").write_text(OWN_SWIRL)
    known = remember(open_bench(tmp_path)).known
    text = THREE_POTS.replace('"drop swirl", "hanger swirl"', '"quay spiral"')
    own = plan_from_text(text, "a test", known.oils, known.swirls.kinds)
    clock = FakeClock()
    at = begin(open_bench(tmp_path), clock, known, plan_sheet(own, known, cautions(), levers=False))
    at.lye_meets_oils()
    while at.state.stage is not None:
        clock.passes(30)
        at.stage_done()
    at.close()
    (lesson,) = remember(open_bench(tmp_path)).lessons
    assert lesson.ended is not None
    assert lesson.ended.poured == ("quay spiral",)
    assert "pour spiral" in {stage.action for stage in lesson.timed}
    # Without its table nobody can say what it was; with it again, the lesson is there again.
    (tables / "swirls.toml").rename(tables / "away")
    assert remember(open_bench(tmp_path)).lessons == ()
    (tables / "away").rename(tables / "swirls.toml")
    assert remember(open_bench(tmp_path)).lessons == (lesson,)


def test_every_number_of_a_fit_survives_being_kept(bench: Path) -> None:
    was: Fit = remember(open_bench(bench)).known.fit
    now: Fit = remember(open_bench(bench)).known.fit
    assert np.array_equal(was.theta, now.theta)
    assert np.array_equal(was.covariance, now.covariance)
    assert was.fragrances == now.fragrances
    assert was.words == now.words
