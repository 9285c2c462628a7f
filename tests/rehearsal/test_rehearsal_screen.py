"""The rehearsal on screen, key by key, with a clock that only moves when told to."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import cautions
from soapbench.desk.rehearsing import Wanted
from soapbench.log import Kind
from soapbench.rehearsal.rehearsal import LOOKS, milestones
from soapbench.sheet.plansheet import plan_sheet
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.home import HomeScreen
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.rehearsal import RehearsalScreen, ReportScreen
from tests.fakes import SAMPLES, FakeClock
from tests.plans import THREE_POTS, plan
from tests.waiting import worked_out

SPEED = 10.0


@asynccontextmanager
async def rehearsed(
    known: Known, clock: FakeClock, folder: Path, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[tuple[Pilot[int], RehearsalScreen]]:
    sheet = plan_sheet(plan(), known, cautions(), levers=False)
    app = SoapbenchApp(open_bench(folder), clock, rehearsal=Wanted(sheet, SPEED, 6))
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, RehearsalScreen)
        yield pilot, app.screen


async def settled(pilot: Pilot[int], screen: RehearsalScreen) -> None:
    await worked_out(pilot.app)
    await pilot.pause()
    screen._tick()
    await pilot.pause()


def shown(screen: RehearsalScreen | ReportScreen | PlanScreen, id: str) -> str:
    return str(screen.query_one(f"#{id}", Static).render())


def lines(screen: RehearsalScreen) -> list[str]:
    return ["".join(s.text for s in strip) for strip in screen._compositor.render_strips()]


async def test_time_runs_faster_and_the_marker_stays(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    async with rehearsed(known, clock, tmp_path) as (pilot, screen):
        assert screen.lines[0].startswith(" PRACTICE 10x   no soap")
        await pilot.press("space")
        clock.passes(3)
        await settled(pilot, screen)
        assert screen.desk.now() == pytest.approx(30)
        assert screen.lines[0].startswith(" PRACTICE 10x   base: ")


async def test_the_line_shows_the_batter_in_hand_and_not_its_trace(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    """The maker looks into a pot with the arrows, judges it, and keys it in."""
    async with rehearsed(known, clock, tmp_path) as (pilot, screen):
        await pilot.press("space", "space", "b")
        clock.passes(2)
        await pilot.press("b", "space")
        await settled(pilot, screen)
        truth = milestones(screen._batter, screen.desk.state, screen.desk.now())["base"]
        clock.passes((truth[2] - screen.desk.now() + 5) / SPEED)
        screen._hand = "gull"
        await settled(pilot, screen)
        await pilot.press("down")
        looked = screen.lines[0].strip()
        assert looked == f"PRACTICE 10x   base: {LOOKS[Trace.MEDIUM][0]}"
        assert not any(trace.words in looked for trace in Trace)
        assert screen.facts().pots[0].trace is Trace.EMULSION
        await pilot.press("3")  # sooner than was foreseen
        clock.passes(1 / SPEED)
        await pilot.press("3")
        tap = screen.desk.state.pots["base"].taps[-1]
        assert tap.state is Trace.MEDIUM
        assert tap.t == pytest.approx(truth[2] + 6, abs=0.5)


async def test_to_the_end_and_the_report(known: Known, clock: FakeClock, tmp_path: Path) -> None:
    async with rehearsed(known, clock, tmp_path) as (pilot, screen):
        await pilot.press("space")
        while screen.desk.state.stage is not None:
            clock.passes(2)
            await pilot.press("space")
        await settled(pilot, screen)
        assert screen.lines[0].strip().endswith("over")
        await pilot.press("space")
        await pilot.pause()
        report = pilot.app.screen
        assert isinstance(report, ReportScreen)
        await worked_out(pilot.app)
        await pilot.pause()
        text = shown(report, "text")
        assert text.startswith("Practice: Quay Wall, batter 6")
        assert "THE MOMENT TO SWITCH" in text
        await pilot.press("a")
        await pilot.pause()
        again = pilot.app.screen
        assert isinstance(again, RehearsalScreen)
        assert again._wanted.speed == SPEED
        assert again.desk.batch != screen.desk.batch
    bench = open_bench(tmp_path)
    assert len(bench.rehearsals().rows) == 2
    assert remember(bench).lessons == ()


async def test_given_up_leads_to_the_report_and_home(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    async with rehearsed(known, clock, tmp_path) as (pilot, screen):
        await pilot.press("space", "space", "e", "y")
        assert screen.desk.state.ended is not None
        await pilot.press("e")
        await worked_out(pilot.app)
        await pilot.pause()
        assert isinstance(pilot.app.screen, ReportScreen)
        assert "Stopped after" in shown(pilot.app.screen, "text")
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(pilot.app.screen, HomeScreen)


async def test_leaving_a_rehearsal_asks_nothing_and_lets_go_of_its_log(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    async with rehearsed(known, clock, tmp_path) as (pilot, screen):
        await pilot.press("space")
        assert pilot.app.desk is None  # type: ignore[attr-defined]
        await pilot.press("ctrl+q")
        await pilot.pause()
    assert pilot.app.return_value == 0
    keyed = [e.kind for e in screen.desk.log.events if e.kind is not Kind.WARNING_SHOWN]
    assert keyed == [Kind.NOTE, Kind.LYE_MEETS_OILS]
    bench = open_bench(tmp_path)
    (row,) = bench.rehearsals().rows
    assert not bench.held(bench.path(row), clock.boot_id)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_five_pots_and_a_warning_fit_with_the_line(
    known: Known, clock: FakeClock, tmp_path: Path, size: tuple[int, int]
) -> None:
    from tests.plans import sample

    bonfire = sample(SAMPLES / "midsummer_bonfire.toml")
    sheet = plan_sheet(bonfire, known, cautions(), levers=False)
    app = SoapbenchApp(open_bench(tmp_path), clock, rehearsal=Wanted(sheet, 4.0, 1))
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, RehearsalScreen)
        for _ in range(13):  # the base's fragrance is in hand
            await pilot.press("space")
            clock.passes(8)
        for _ in range(2):  # far from all that was foreseen: asked once more
            await settled(pilot, app.screen)
            await pilot.press("4")
            clock.passes(1)
        await settled(pilot, app.screen)
        rows = lines(app.screen)
        assert len(rows) == size[1]
        assert "PRACTICE 4x" in rows[0]
        text = "\n".join(rows).replace("\u00a0", " ")
        for needed in (
            "Midsummer Bonfire",
            "flame",
            "ash",
            "at this pace",
            "chance".upper(),
            "X ",
            "more",
        ):
            assert needed in text
        assert text.count("CHANCE NOW") == 1


async def test_from_the_plan_sheet_with_the_speed_asked(
    known: Known, clock: FakeClock, tmp_path: Path
) -> None:
    path = tmp_path / "quay.toml"
    path.write_text(THREE_POTS)
    app = SoapbenchApp(open_bench(tmp_path / "bench"), clock, path)
    async with app.run_test() as pilot:
        await worked_out(pilot.app)
        await pilot.pause()
        assert isinstance(app.screen, PlanScreen)
        for typed, then in (("99", PlanScreen), ("7", RehearsalScreen)):
            await pilot.press("h")
            await pilot.pause()
            app.screen.query_one(Input).value = typed
            await pilot.press("enter")
            await pilot.pause()
            assert type(app.screen) is then
            if then is PlanScreen:
                assert "must be 1–20" in shown(app.screen, "said")
        assert isinstance(app.screen, RehearsalScreen)
        assert app.screen.lines[0].startswith(" PRACTICE 7x ")


async def test_from_the_bench_with_one_key(clock: FakeClock, tmp_path: Path) -> None:
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans" / "quay.toml").write_text(THREE_POTS)
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test() as pilot:
        await worked_out(pilot.app)
        await pilot.pause()
        await pilot.press("r")
        await pilot.pause()
        await worked_out(pilot.app)
        await pilot.pause()
        assert app.screen.query_one(Input).value == "4"
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, RehearsalScreen)
