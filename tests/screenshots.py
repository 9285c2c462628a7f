"""The README's pictures: ``python -m tests.screenshots`` makes them, a test keeps them fresh.

Made from invented data with a clock that stands still, so that the same code gives the same file.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path

from textual.pilot import Pilot

from soapbench.advice import Known
from soapbench.batter import Trace
from soapbench.disk import tables
from soapbench.disk.memory import open_bench
from soapbench.pace import Pace
from soapbench.thickening.fit import no_batches
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.pour.setout import SetOutScreen
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import sample

FOLDER = Path(__file__).parent / "screens"
SIZE = (100, 32)
BONFIRE = SAMPLES / "midsummer_bonfire.toml"
HARBOUR = SAMPLES / "harbour_at_dusk.toml"
Scene = Callable[[SoapbenchApp, Pilot[int], FakeClock], Awaitable[None]]


def _known() -> Known:
    return Known(no_batches(), Pace(), tables.swirls(), tables.oils(), tables.colourants())


async def plan_sheet(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await app.switch_screen(PlanScreen(BONFIRE))
    await app.workers.wait_for_complete()


async def set_out(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    pour = desk(sample(HARBOUR), _known(), clock)
    await app.switch_screen(SetOutScreen(pour))
    await pilot.press(*["space"] * 9)


async def pour_in_danger(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    pour = desk(sample(BONFIRE), _known(), clock)
    work(pour, clock, "stir in fragrance/spark", each_s=33)
    clock.passes(12)
    pour.trace_seen("flame", Trace.LIGHT)
    clock.passes(18)
    pour.trace_seen("flame", Trace.MEDIUM)
    screen = PourScreen(pour)
    await app.switch_screen(screen)
    await app.workers.wait_for_complete()
    clock.passes(4)
    screen._tick()
    await app.workers.wait_for_complete()


SCENES: dict[str, Scene] = {"plan": plan_sheet, "set-out": set_out, "pour": pour_in_danger}


async def _picture(scene: Scene) -> str:
    clock = FakeClock()
    with tempfile.TemporaryDirectory() as bench:
        app = SoapbenchApp(open_bench(Path(bench)), clock)
        async with app.run_test(size=SIZE) as pilot:
            await scene(app, pilot, clock)
            await pilot.pause()
            svg = app.export_screenshot(title="soapbench")
    return "\n".join(line.rstrip() for line in svg.splitlines()) + "\n"


def picture(name: str) -> str:
    """The SVG of one scene."""
    return asyncio.run(_picture(SCENES[name]))


def words(svg: str) -> list[str]:
    """The text in an SVG, line by line: what is compared, since drawing details may differ."""
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for scene_name in SCENES:
        (FOLDER / f"{scene_name}.svg").write_text(picture(scene_name), "utf-8")
        print(FOLDER / f"{scene_name}.svg")
