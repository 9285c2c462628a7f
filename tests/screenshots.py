"""The README's pictures: ``python -m tests.screenshots`` makes them, a test keeps them fresh.

Made from invented data with a clock that stands still, so that the same code gives the same file.
``python -m tests.screenshots FOLDER`` makes every scene at both sizes, dark and light, to be
looked at: SVG, and PNG too where there is Chromium.
"""

from __future__ import annotations

import asyncio
import html
import math
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
from textual.app import App
from textual.pilot import Pilot
from textual.worker import WorkerCancelled

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.bench.learned import open_bench
from soapbench.desk.draft import opened
from soapbench.desk.pourdesk import Desk
from soapbench.desk.rehearsing import Player, SteppedClock
from soapbench.desk.starting import begin
from soapbench.log import Kind
from soapbench.logfile.clock import Reading
from soapbench.pace import Pace
from soapbench.rehearsal.hands import Hands
from soapbench.rehearsal.rehearsal import draw_batter
from soapbench.sheet.plansheet import plan_sheet
from soapbench.thickening.fitted import no_batches
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.pour.setout import SetOutScreen
from soapbench.ui.ways import ToFragrances, ToWorkshop
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
    for i, (name, word, faster) in enumerate(FRAGRANCES * 4):
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


FRAGRANCES = (
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
"""Those of the README."""


async def pour_going_well(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    """Base in the mould, one colour dropped in, the next in hand."""
    pour = desk(sample(HARBOUR), _known(), clock)
    work(pour, clock, "drop an accent", each_s=24)
    pour.trace_seen("base", Trace.LIGHT)
    clock.passes(20)
    pour.stage_done()
    clock.passes(7)
    await _shown(app, pilot, clock, pour)


async def ready(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await _shown(app, pilot, clock, desk(sample(HARBOUR), _known(), clock))


async def how_it_went(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    pour = desk(sample(HARBOUR), _known(), clock)
    work(pour, clock, "end", each_s=24)
    await _shown(app, pilot, clock, pour)


async def summary(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await how_it_went(app, pilot, clock)
    await pilot.press("i", "space")
    await answered(app, pilot)


async def waiting(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    """A layer is poured; the next waits for it to carry."""
    pour = desk(sample(SAMPLES / "dune_layers.toml"), _known(), clock)
    work(pour, clock, "pour a layer/sand", each_s=24)
    clock.passes(40)
    await _shown(app, pilot, clock, pour)


async def _shown(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock, pour: Desk) -> None:
    screen = PourScreen(pour)
    await app.switch_screen(screen)
    await pilot.pause()
    await answered(app, pilot)
    clock.passes(1)
    screen._tick()
    await answered(app, pilot)


async def question(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await pour_in_danger(app, pilot, clock)
    await pilot.press("e")


async def every_key(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await pour_in_danger(app, pilot, clock)
    await pilot.press("question_mark")


async def from_a_distance(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await pour_in_danger(app, pilot, clock)
    await pilot.press("d")


async def amounts_of_a_plan(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await plan_sheet_of_a_bonfire(app, pilot, clock)
    await pilot.press("w")


async def stopped_plan(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    path = app.bench.folder / "too_much.toml"
    text = THREE_POTS.replace('load = "3 %"', 'load = "8 %"').replace('limit = "9 %"\n', "")
    path.write_text(text, "utf-8")
    await app.switch_screen(PlanScreen(path))
    await answered(app, pilot)


async def _keys(app: SoapbenchApp, pilot: Pilot[int], *keys: str) -> None:
    """Pressed on the bench, each once what came before it is there."""
    await answered(app, pilot)
    for key in keys:
        await pilot.press(key)
        await answered(app, pilot)


async def the_bench(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await _keys(app, pilot)


async def workshop(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await _keys(app, pilot, "n")


async def workshop_with_faults(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    path = app.bench.folder / "faults.toml"
    text = THREE_POTS.replace('load = "3 %"', 'load = "3 oz"').replace('share = "30 %"', "", 1)
    path.write_text(text.replace("superfat =", 'koh_share = "5 %"\nsuperfat ='), "utf-8")
    app.take(ToWorkshop(opened(path)))
    await answered(app, pilot)


async def settings(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await _keys(app, pilot, "s")


async def materials(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await _keys(app, pilot, "f")


async def help_page(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await _keys(app, pilot, "question_mark")


async def glossary(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await _keys(app, pilot, "g")


async def review(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await aftercare(app, pilot, clock)
    await _keys(app, pilot, "v")


async def cut_face(app: SoapbenchApp, pilot: Pilot[int], clock: FakeClock) -> None:
    await plan_sheet_of_a_bonfire(app, pilot, clock)
    await _keys(app, pilot, "v")


MORE_SCENES: dict[str, Scene] = {
    "bench": the_bench,
    "workshop": workshop,
    "workshop-faults": workshop_with_faults,
    "settings": settings,
    "materials": materials,
    "help": help_page,
    "glossary": glossary,
    "review": review,
    "cut-face": cut_face,
    "plan-amounts": amounts_of_a_plan,
    "plan-stop": stopped_plan,
    "pour-ready": ready,
    "pour-well": pour_going_well,
    "pour-waiting": waiting,
    "pour-question": question,
    "pour-keys": every_key,
    "pour-far": from_a_distance,
    "pour-over": how_it_went,
    "summary": summary,
}
"""To be looked at, and drawn by a test at both sizes."""
SIZES, LOOKS = ((80, 24), (120, 40)), ("dusk", "linen")


@asynccontextmanager
async def staged(
    name: str, theme: str = "", size: tuple[int, int] = SIZE
) -> AsyncIterator[Pilot[int]]:
    """The app with one scene on screen, in the usual theme or another."""
    clock = FakeClock()
    with tempfile.TemporaryDirectory() as bench:
        app = SoapbenchApp(open_bench(Path(bench)), clock)
        app.theme = theme or app.theme
        async with app.run_test(size=size) as pilot:
            await {**SCENES, **MORE_SCENES}[name](app, pilot, clock)
            await pilot.pause()
            yield pilot


async def _picture(name: str, theme: str, size: tuple[int, int]) -> str:
    async with staged(name, theme, size) as pilot:
        return exported(pilot.app)


def exported(app: App[int]) -> str:
    """What is on the screen as SVG, without the buttons of a window of some desktop."""
    svg = BUTTONS.sub("", app.export_screenshot(title="soapbench"))
    return "\n".join(line.rstrip() for line in svg.splitlines()) + "\n"


BUTTONS = re.compile(r"<g transform=\"[^\"]*\">\s*(<circle [^>]*/>\s*)+</g>")


def picture(name: str, theme: str = "", size: tuple[int, int] = SIZE) -> str:
    """The SVG of one scene."""
    return asyncio.run(_picture(name, theme, size))


def words(svg: str) -> list[str]:
    """The words in an SVG, line by line: what is compared, since drawing details may differ.

    Figures and all that is drawn by them, bars and charts and large digits, are left out: they
    are worked out by numpy, whose last digits differ between machines.
    """
    texts = (html.unescape(text) for text in re.findall(r"<text[^>]*>([^<]*)</text>", svg))
    kept = (re.sub(r"[^A-Za-z]+", " ", text).strip() for text in texts)
    return [re.sub(r"(.)\1+", r"\1", text) for text in kept if len(text) > 1]


def written(svg: str) -> list[tuple[str, str]]:
    """A place and its words, of each line of an SVG as it is read."""
    lines: dict[str, list[str]] = {}
    for y, text in re.findall(r'<text[^>]* y="([\d.]+)"[^>]*>([^<]*)</text>', svg):
        lines.setdefault(y, []).append(html.unescape(text).replace("\xa0", " "))
    return [(f"y {y}", " ".join("".join(parts).split())) for y, parts in lines.items()]


def make_all(folder: Path) -> None:
    """Every scene, at both sizes, dark and light."""
    folder.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    for name in (*SCENES, *MORE_SCENES):
        for size in SIZES:
            for look in LOOKS:
                file = folder / f"{name}-{size[0]}x{size[1]}-{look}.svg"
                file.write_text(picture(name, look, size), "utf-8")
                if chromium:
                    _png(chromium, file)
                print(file)


def _png(chromium: str, svg: Path) -> None:
    box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg.read_text("utf-8"))
    assert box is not None
    window = f"--window-size={math.ceil(float(box[1]))},{math.ceil(float(box[2]))}"
    options = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    subprocess.run(
        [chromium, *options, f"--screenshot={svg.with_suffix('.png')}", window, svg.as_uri()],
        check=True,
        capture_output=True,
    )


if __name__ == "__main__":
    if len(sys.argv) > 1:
        make_all(Path(sys.argv[1]).absolute())
    else:
        FOLDER.mkdir(exist_ok=True)
        for scene_name in SCENES:
            (FOLDER / f"{scene_name}.svg").write_text(picture(scene_name), "utf-8")
            print(FOLDER / f"{scene_name}.svg")
