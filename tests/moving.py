"""The README's moving picture: ``python -m tests.moving`` makes it from invented data.

One pour of a sample plan by real keys and a clock that moves only when told, a frame at a time, in
one SVG that any browser plays: no film, no font, no script.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from collections.abc import AsyncIterator
from pathlib import Path

from textual.pilot import Pilot

from soapbench.bench.learned import open_bench
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.pour.screen import PourScreen
from tests.desks import desk
from tests.fakes import FakeClock
from tests.plans import sample
from tests.screenshots import (
    BONFIRE,
    FOLDER,
    _known,
    answered,
    exported,
    plan_sheet_of_a_bonfire,
)

FILE = FOLDER / "moving.svg"
SIZE = (80, 24)
FRAME_S = 2.2
STORY: tuple[tuple[float, str], ...] = (
    (0, ""), (0, "space"), (18, "space"), (64, "1"), (2, "space"), (67, "space space space space"),
    (170, "space space space space"), (35, "2"), (14, ""), (3, "x"), (9, "space"), (12, "d"),
)  # fmt: skip
"""Seconds that pass, and the keys then pressed; a frame after each. Empty: only looked at."""


async def frames() -> AsyncIterator[str]:
    """One SVG a moment."""
    clock = FakeClock()
    with tempfile.TemporaryDirectory() as bench:
        app = SoapbenchApp(open_bench(Path(bench)), clock)
        async with app.run_test(size=SIZE) as pilot:
            await plan_sheet_of_a_bonfire(app, pilot, clock)
            yield exported(app)
            screen = PourScreen(desk(sample(BONFIRE), _known(), clock))
            await app.switch_screen(screen)
            for seconds, key in STORY:
                clock.passes(seconds)
                await _moment(app, pilot, screen, key)
                yield exported(app)


async def _moment(app: SoapbenchApp, pilot: Pilot[int], screen: PourScreen, key: str) -> None:
    screen._tick()
    await answered(app, pilot)
    for each in key.split():
        await pilot.press(each)
        if each.isdigit() and "Press it again" in "\n".join(screen.lines):
            screen.desk.clock.passes(1.5)  # type: ignore[attr-defined]
            await pilot.press(each)
    screen._ask_model()
    await answered(app, pilot)
    screen._tick()
    await pilot.pause()


def moving(stills: list[str], each_s: float = FRAME_S) -> str:
    """One SVG that shows ``stills`` in turn, each ``each_s`` long, for ever."""
    box = re.search(r'viewBox="([^"]+)"', stills[0])
    assert box is not None
    whole = len(stills) * each_s
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box[1]}">',
        "<title>A pour with soapbench, made of invented data</title>",
    ]
    for i, still in enumerate(stills):
        inner = still[still.index(">", still.index("<svg")) + 1 : still.rindex("</svg>")]
        start, end = i / len(stills), (i + 1) / len(stills)
        times = [(0.0, int(i == 0)), (start, 1), (end, 0)]
        kept = [t for n, t in enumerate(times) if n == 0 or t[0] > times[n - 1][0]]
        kept = [t for t in kept if t[0] < 1.0]
        parts.append(
            f'<g opacity="{int(i == 0)}"><animate attributeName="opacity" calcMode="discrete" '
            f'dur="{whole:g}s" repeatCount="indefinite" '
            f'values="{";".join(str(on) for _, on in kept)}" '
            f'keyTimes="{";".join(f"{at:.4f}" for at, _ in kept)}"/>{inner}</g>'
        )
    lines = "\n".join([*parts, "</svg>"]).splitlines()
    return "\n".join(line.strip() for line in lines if line.strip()) + "\n"


async def _all() -> list[str]:
    return [still async for still in frames()]


if __name__ == "__main__":
    FILE.write_text(moving(asyncio.run(_all())), "utf-8")
    print(FILE, f"{FILE.stat().st_size / 1000:.0f} kB")
