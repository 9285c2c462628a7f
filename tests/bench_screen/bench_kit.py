"""A bench on screen for tests: invented batches, and what the screen shows."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import timedelta
from pathlib import Path

from textual.pilot import Pilot

from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import cautions
from soapbench.desk.starting import begin
from soapbench.sheet.plansheet import plan_sheet
from soapbench.ui.app import SoapbenchApp
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan
from tests.waiting import worked_out


@asynccontextmanager
async def bench_app(
    folder: Path, clock: FakeClock, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[tuple[SoapbenchApp, Pilot[int]]]:
    app = SoapbenchApp(open_bench(folder), clock)
    async with app.run_test(size=size) as pilot:
        await rest(app, pilot)
        yield app, pilot


async def rest(app: SoapbenchApp, pilot: Pilot[int]) -> None:
    await pilot.pause()
    await worked_out(app)
    await pilot.pause()


async def tap(pilot: Pilot[int], words: str) -> None:
    """Tap the first place on the screen that says ``words``."""
    lines = [line.text for line in pilot.app.screen._compositor.render_strips()]
    y = next(y for y, line in enumerate(lines) if words in line)
    await pilot.click(offset=(lines[y].index(words) + 1, y))


def shown(app: SoapbenchApp) -> str:
    return "\n".join(line.text.rstrip() for line in app.screen._compositor.render_strips())


def poured(folder: Path, clock: FakeClock, title: str = "Quay Wall", *, ended: bool = True) -> None:
    """One invented batch in the bench, every stage done, the clock a day on."""
    bench = open_bench(folder)
    known = remember(bench).known
    sheet = plan_sheet(plan(THREE_POTS.replace("Quay Wall", title)), known, cautions())
    desk = begin(bench, clock, known, sheet)
    desk.lye_meets_oils()
    while ended and desk.state.stage is not None:
        clock.passes(20)
        desk.stage_done()
    desk.close()
    bench.close()
    clock.passes(timedelta(days=1).total_seconds())


def with_plan(folder: Path, name: str = "quay_wall", text: str = THREE_POTS) -> Path:
    path = folder / "plans" / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path
