"""A poured batch by its file: its header's face, its report, its cut review, what it teaches."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from soapbench.advice.known import Known
from soapbench.aftercare.cutreview import PARTS, REACHED
from soapbench.barface import barplan
from soapbench.barface.words import reaches_foreseen, showings
from soapbench.batter import Trace
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import cautions
from soapbench.desk.pourdesk import Desk
from soapbench.desk.starting import begin
from soapbench.log import Kind
from soapbench.papers import commands
from soapbench.sheet.plansheet import plan_sheet
from soapbench.ui.aftercare.review import CutReviewScreen
from soapbench.ui.app import SoapbenchApp
from soapbench.words.review import predicted
from tests.barplan.test_barplan_screens import shown, until
from tests.desks import work
from tests.fakes import FakeClock
from tests.plans import plan

BOTTOM = REACHED[0]


def a_pour(folder: Path, known: Known, clock: FakeClock) -> Desk:
    """A drop swirl into a base at medium trace, poured into a file of the bench."""
    pour = plan()
    swirl = replace(pour.swirl, steps=("drop swirl",))
    sheet = plan_sheet(replace(pour, swirl=swirl), known, cautions(), levers=False)
    at = begin(open_bench(folder), clock, known, sheet)
    work(at, clock, "drop an accent/rope", each_s=15)
    at.trace_seen("base", Trace.MEDIUM)
    while at.state.stage is not None:
        clock.passes(15)
        at.stage_done()
    return at


def answer(at: Desk, pot: str, reached: str) -> None:
    for part in PARTS:
        at.record(Kind.CUT_SEEN, pot, part=part, reached=reached)


def test_a_report_shows_both_faces_and_what_came_of_it(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    at = a_pour(tmp_path, known, clock)
    answer(at, "rope", REACHED[2])
    at.close()
    _, html = commands.report(tmp_path, "Quay", datetime(2026, 3, 2, tzinfo=UTC))
    figures = re.findall(r'<figure class="face">.*?</figure>', html.decode(), re.DOTALL)
    assert len(figures) == 2
    assert "as poured" in figures[0]
    assert "as predicted" in figures[1]
    # both hold every colour of the plan, drawn alike nowhere
    for look in ("#202020", "#c8a050", "#f4f4f0"):
        assert all(f'stroke="{look}"' in figure for figure in figures)
    assert figures[0].split("<g")[1] != figures[1].split("<g")[1]
    assert re.search(r"<li>rope, middle: stayed on top \(predicted: [a-z ]+\)</li>", html.decode())


def test_the_log_keeps_the_face_as_it_was_foreseen(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    at = a_pour(tmp_path, known, clock)
    at.close()
    (row,) = open_bench(tmp_path).batches().rows
    bench = open_bench(tmp_path)
    header = bench.read(bench.path(row)).header
    assert header is not None
    again = barplan.from_kept(at.plan, at.amounts, known.swirls, header.foreseen.face)
    assert again is not None
    drawn = barplan.design(at.plan, at.amounts, known.swirls, *again)
    wanted = showings(at.plan, known, at.amounts)[0].design
    assert drawn is not None
    for kept, was in zip(drawn.pours, wanted.pours, strict=True):
        assert (kept.pot, kept.manner, kept.share) == (was.pot, was.manner, was.share)
        assert kept.trace == pytest.approx(was.trace, abs=0.002)


def test_cuts_of_two_loaves_teach_the_bench(tmp_path: Path, known: Known, clock: FakeClock) -> None:
    for loaves, learned in ((1, False), (2, True)):
        at = a_pour(tmp_path, known, clock)
        answer(at, "rope", BOTTOM)
        answer(at, "gull", BOTTOM)
        at.close()
        clock.passes(90_000)
        sinking = remember(open_bench(tmp_path)).known.sinking
        assert sinking.loaves == loaves
        assert (sinking.thinner > 0.05) is learned
    assert "2 loaves: sinks deeper" in sinking.words
    taught = remember(open_bench(tmp_path)).known
    base = [showings(at.plan, k, at.amounts)[0].design.sink.at(2.0) for k in (known, taught)]
    assert base[1] > base[0] + 0.01


async def test_the_review_tells_what_was_foreseen_once_answered(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    at = a_pour(tmp_path, known, clock)
    app = SoapbenchApp(open_bench(tmp_path), clock)
    foreseen = reaches_foreseen(at.plan, showings(at.plan, known, at.amounts)[0])["middle", "rope"]
    async with app.run_test(size=(80, 24)) as pilot:
        screen = CutReviewScreen(at)
        app.push_screen(screen)
        await until(pilot, lambda: bool(screen._foreseen))
        assert "predicted" not in shown(app, "questions")
        await pilot.press("3")
        assert predicted(foreseen) in shown(app, "questions")
        assert not app.faults
    at.close()
