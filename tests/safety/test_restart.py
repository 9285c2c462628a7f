"""Killed in the middle of a pour: the next start carries on as if it had never stopped."""

from __future__ import annotations

from pathlib import Path

import pytest
from safety_kit import again, bench_of, bench_read, dies, logged, new_desk, notes, on_screen, ticks

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.learned import remember
from soapbench.desk.benchlist import CARRY_ON
from soapbench.desk.pourdesk import SILENCE_S, Desk
from soapbench.log import Kind
from soapbench.pour.state import no_batter
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.home import HomeScreen
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.ways import ToPour
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan
from tests.waiting import worked_out


def some_minutes(desk: Desk, clock: FakeClock) -> None:
    """A pour up to its third pot's fragrance, with taps, a burst, an undone note."""
    desk.lye_meets_oils()
    for _ in range(6):
        clock.passes(31)
        desk.stage_done()
    desk.blender("base")
    clock.passes(4.5)
    desk.blender()
    desk.fragrance_in("rope")
    clock.passes(20)
    desk.trace_seen("rope", Trace.LIGHT)
    desk.note("base", "ricing")
    desk.undo()
    clock.passes(12)


def test_the_restarted_pour_is_the_unbroken_one(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    unbroken = new_desk(tmp_path, known, clock, plan())
    some_minutes(unbroken, clock)
    dies(unbroken)
    clock.passes(40)
    carried = again(tmp_path, known, clock)
    assert not carried.watching
    assert carried.now() == unbroken.now() > 200
    assert carried.state == unbroken.state
    before, after = unbroken.advise(), carried.advise()
    assert after.outlook.chance == pytest.approx(before.outlook.chance, abs=1e-9)
    assert len(after.outlook.stages) == len(before.outlook.stages) > 3
    for was, now in zip(before.outlook.stages, after.outlook.stages, strict=True):
        assert now.stage == was.stage
        assert now.ends_s.p50 == pytest.approx(was.ends_s.p50, rel=1e-9)
    assert after.warning == before.warning
    assert after.rescue == before.rescue


def test_a_pour_under_way_does_not_teach_the_model_that_foresees_it(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock, plan())
    some_minutes(desk, clock)
    assert remember(bench_of(tmp_path)).lessons == ()
    desk.end(finished=False)
    (lesson,) = remember(bench_of(tmp_path)).lessons
    assert lesson.history.batch == desk.batch


def test_the_same_pour_killed_after_every_act_comes_to_the_same(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    starts = 0
    while desk.state.stage is not None:
        clock.passes(17)
        named = [p for p in desk.state.stage.pots if not no_batter(desk.state, p)]
        desk.trace_seen(named[0] if named else "base", Trace.LIGHT)
        dies(desk)
        desk = again(tmp_path, known, clock)
        clock.passes(5)
        desk.stage_done()
        starts += 1
    assert desk.state.finished
    assert desk.state.ended == pytest.approx(22 * starts)
    events = logged(desk)
    assert len({e.id for e in events}) == len(events)
    assert sum(e.kind is Kind.TRACE_SEEN for e in events) == starts


async def test_the_bench_offers_it_and_the_clock_has_run_on(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    dies(desk)
    clock.passes(125)
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test(size=(100, 30)) as pilot:
        await bench_read(pilot)
        assert isinstance(app.screen, HomeScreen)
        assert app.screen.line is not None
        assert app.screen.line.kind == CARRY_ON
        assert "Quay Wall" in app.screen.line.words
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, PourScreen)
        assert "2:05" in on_screen(pilot)
        await pilot.press("space")
        assert "2 of" in on_screen(pilot)
        assert app.desk is not None
        assert [e.kind for e in logged(app.desk)] == [Kind.LYE_MEETS_OILS, Kind.STAGE_DONE]


async def test_opening_its_plan_points_to_the_pour_left(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    file = tmp_path / "quay.toml"
    file.write_text(THREE_POTS)
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    dies(desk)
    clock.passes(30)
    app = SoapbenchApp(bench_of(tmp_path), clock, file)
    async with app.run_test(size=(100, 30)) as pilot:
        await worked_out(app)
        await pilot.pause()
        assert "is still running: press c to carry on" in on_screen(pilot)
        await pilot.press("c")
        await pilot.pause()
        assert isinstance(app.screen, PourScreen)
        assert "0:30" in on_screen(pilot)


async def test_a_broken_own_table_does_not_stop_a_pour_under_way(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    dies(desk)
    tables = tmp_path / "bench" / "tables"
    tables.mkdir()
    (tables / "oils.toml").write_text("[olive\n")
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test(size=(100, 30)) as pilot:
        await bench_read(pilot)
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, PourScreen)
        assert "Your own tables are not used: oils.toml has a mistake" in on_screen(pilot)
        await ticks(pilot, clock)


async def test_an_error_in_drawing_is_shown_and_the_pour_goes_on(
    tmp_path: Path, known: Known, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = new_desk(tmp_path, known, clock)
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test() as pilot:
        app.take(ToPour(desk))
        await pilot.press("space")

        def fails(*_: object) -> str:
            raise ZeroDivisionError("of the drawing")

        with monkeypatch.context() as patch:
            patch.setattr("soapbench.ui.pour.screen.facts", fails)
            await ticks(pilot, clock)
            await ticks(pilot, clock)
            assert "your pour goes on" in on_screen(pilot)
            assert "of the drawing" in on_screen(pilot)
            await pilot.press("r")
        assert [repr(e) for e in app.faults.values()] == ["ZeroDivisionError('of the drawing')"]
        await pilot.press("h")
        assert "heating" in on_screen(pilot)
        assert notes(logged(desk)) == ["ricing", "overheating"]


async def test_an_error_in_the_model_is_shown_and_the_pour_goes_on(
    tmp_path: Path, known: Known, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = new_desk(tmp_path, known, clock)
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test() as pilot:
        app.take(ToPour(desk))
        await pilot.press("space")

        def fails(*_: object) -> None:
            raise FloatingPointError("of the model")

        with monkeypatch.context() as patch:
            patch.setattr("soapbench.advice.advise.live_advice", fails)
            await ticks(pilot, clock, SILENCE_S + 1)
            assert "Time left is out of date: FloatingPointError: of the model" in on_screen(pilot)
            await pilot.press("space")
            assert "2 of" in on_screen(pilot)
        await ticks(pilot, clock, SILENCE_S + 1)
        assert "out of date" not in on_screen(pilot)
        assert len(app.faults) == 1
