"""The README's pictures: ``python -m tests.screenshots`` makes them, a test keeps them fresh.

Made from invented data with a clock that stands still, so that the same code gives the same file.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
from textual.pilot import Pilot
from textual.worker import WorkerCancelled

from soapbench.advice import Known
from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.bench.learned import open_bench
from soapbench.desk.rehearsing import Player, SteppedClock
from soapbench.desk.starting import begin
from soapbench.log import Kind
from soapbench.logfile.clock import Reading
from soapbench.pace import Pace
from soapbench.rehearsal.hands import Hands
from soapbench.rehearsal.rehearsal import draw_batter
from soapbench.sheet.plansheet import plan_sheet
from soapbench.thickening.fitting import no_batches
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.pour.setout import SetOutScreen
from soapbench.ui.ways import ToFragrances
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import THREE_POTS, plan, sample

FOLDER = Path(__file__).parent / "screens"
SIZE = (100, 32)
BONFIRE = SAMPLES / "midsummer_bonfire.toml"
HARBOUR = SAMPLES / "harbour_at_dusk.toml"
Scene = Callable[[SoapbenchApp, Pilot[int], FakeClock], Awaitable[None]]


def _known() -> Known:
    return Known(no_batches(), Pace(), tables.swirls(), tables.oils(), tables.colourants())


async def answered(app: SoapbenchApp, pilot: Pilot[int]) -> None:
    """Until every worker is done; one that a new screen cancelled owes no answer."""
    for worker in list(app.workers):
        with suppress(WorkerCancelled):
            await worker.wait()
    await pilot.pause()


async def plan_sheet_of_a_bonfire(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await app.switch_screen(PlanScreen(BONFIRE))
    await answered(app, pilot)


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
    screen._tick()  # it asks the model now, however busy this machine is
    await answered(app, pilot)
    clock.passes(4)
    screen._tick()
    await answered(app, pilot)


async def aftercare(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    """Poured, sprayed, unmoulded, cut, and weighed for three weeks while it cures."""
    known = _known()
    sheet = plan_sheet(sample(HARBOUR), known, tables.cautions(), levers=False)
    pour = begin(app.bench, clock, known, sheet)
    work(pour, clock, "end", each_s=30)
    for hours, kind, values in (
        (0.01, Kind.SPRAY, {}), (0.1, Kind.SPRAY, {}), (6, Kind.GEL_SEEN, {"reach": "none"}),
        (40, Kind.UNMOULD, {}), (1, Kind.CUT, {"bars": 10}),
        (0.1, Kind.VERDICT, {"verdict": "again"}),
        (0.1, Kind.WEIGHING, {"g": 1210}), (168, Kind.WEIGHING, {"g": 1142}),
        (168, Kind.WEIGHING, {"g": 1101}), (168, Kind.WEIGHING, {"g": 1076}),
    ):  # fmt: skip
        clock.passes(hours * 3600)
        pour.record(kind, **values)
    app._aftercare(pour)


async def fragrance_book(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    """Simulated hands have poured three invented fragrances over simulated batters."""
    known = _known()
    at = clock.read().at
    for i, (name, word, faster) in enumerate(SCENTS * 4):
        text = THREE_POTS.replace("Tar & Thyme", name).replace('"accelerates"', f'"{word}"')
        text = text.replace("hanger swirl", "textured top")
        sheet = plan_sheet(plan(text), known, tables.cautions(), levers=False)
        batter = draw_batter(sheet.plan, sheet.amounts, known, seed=i)
        af = {name: np.log(np.array([faster]))}
        batter = replace(batter, draws=replace(batter.draws, log_af=af))
        stepped = SteppedClock(Reading(at + timedelta(days=i - 99), 1000.0, f"boot-{i}"))
        pour = begin(app.bench, stepped, known, sheet)
        hands = Hands(known.pace, np.random.default_rng(100 + i))
        Player(pour, batter, stepped, hands, heedful=False).play()
        pour.record(Kind.VERDICT, verdict="again" if faster < 4 else "not again")
        pour.close()
    app.take(ToFragrances("Reed Smoke"))
    await pilot.pause()
    await answered(app, pilot)  # the book
    await answered(app, pilot)  # the entry it opens at


SCENTS = (
    ("Reed Smoke", "well behaved", 5.0),
    ("Tar & Thyme", "accelerates", 3.0),
    ("Milk Thistle", "unknown", 1.05),
)
"""Name, the word it is sold with, and how many times faster batter thickens with it."""
SCENES: dict[str, Scene] = {
    "plan": plan_sheet_of_a_bonfire,
    "set-out": set_out,
    "pour": pour_in_danger,
    "aftercare": aftercare,
    "fragrances": fragrance_book,
}


@asynccontextmanager
async def staged(name: str, theme: str = "") -> AsyncIterator[SoapbenchApp]:
    """The app with one scene on screen, in the usual theme or another."""
    clock = FakeClock()
    with tempfile.TemporaryDirectory() as bench:
        app = SoapbenchApp(open_bench(Path(bench)), clock)
        app.theme = theme or app.theme
        async with app.run_test(size=SIZE) as pilot:
            await SCENES[name](app, pilot, clock)
            await pilot.pause()
            yield app


async def _picture(name: str) -> str:
    async with staged(name) as app:
        svg = app.export_screenshot(title="soapbench")
    return "\n".join(line.rstrip() for line in svg.splitlines()) + "\n"


def picture(name: str) -> str:
    """The SVG of one scene."""
    return asyncio.run(_picture(name))


def words(svg: str) -> list[str]:
    """The text in an SVG, line by line: what is compared, since drawing details may differ."""
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for scene_name in SCENES:
        (FOLDER / f"{scene_name}.svg").write_text(picture(scene_name), "utf-8")
        print(FOLDER / f"{scene_name}.svg")
