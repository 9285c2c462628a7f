"""A real bench, log and screen, with the clock and the disk in the test's hands."""

from __future__ import annotations

import errno
import os
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Static
from textual.worker import WorkerFailed

from soapbench.advice.known import Known
from soapbench.bench.learned import open_bench
from soapbench.bench.tables import cautions
from soapbench.desk.pourdesk import Desk
from soapbench.desk.starting import begin, carry_on
from soapbench.log import Event, Kind
from soapbench.logfile.batchlog import read_log
from soapbench.plan import Plan
from soapbench.sheet.plansheet import plan_sheet
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.ways import ToPour
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan
from tests.waiting import worked_out

CALM = THREE_POTS.replace('"accelerates"', '"well behaved"').replace(
    '"drop swirl", "hanger swirl"', '"in-the-pot swirl"'
)
"""A pour that is in no danger, so that no warning is among its events."""
FULL = OSError(errno.ENOSPC, "No space left on device")
READ_ONLY = OSError(errno.EROFS, "Read-only file system")
DENIED = PermissionError(errno.EACCES, "Permission denied")
BROKEN = OSError(errno.EIO, "Input/output error")


def new_desk(
    folder: Path, known: Known, clock: FakeClock, poured: Plan | None = None, spill: bool = True
) -> Desk:
    """A pour begun on a real bench in ``folder``, its spill folder beside it."""
    sheet = plan_sheet(poured or plan(CALM), known, cautions(), levers=False)
    return begin(bench_of(folder, spill), clock, known, sheet)


def bench_of(folder: Path, spill: bool = True) -> Any:
    return open_bench(folder / "bench", folder / "spill" if spill else None)


def again(folder: Path, known: Known, clock: FakeClock) -> Desk:
    """The pour in ``folder`` as the next start finds it."""
    bench = bench_of(folder)
    bench.bring_home(clock.boot_id)
    (row,) = bench.unfinished()
    return carry_on(bench, clock, lambda: known, bench.path(row))


def dies(desk: Desk) -> None:
    """End a desk as kill -9 would: nothing is closed, only the system lets go of its lock."""
    desk.release()


def logged(desk: Desk) -> tuple[Event, ...]:
    """The events in the desk's file, which must be whole."""
    read = read_log(desk.log.path)  # type: ignore[attr-defined]
    assert read.damaged == ()
    return read.events


def notes(events: tuple[Event, ...]) -> list[str]:
    """What was noted or seen to go wrong, in order."""
    keys = {Kind.NOTE: "text", Kind.TROUBLE: "trouble"}
    return [str(e.values[keys[e.kind]]) for e in events if e.kind in keys]


class Disk:
    """Makes ``os`` calls fail below one folder, or everywhere."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self._patch = patch
        self._real = {name: getattr(os, name) for name in ("open", "write", "fsync")}

    def fails(self, error: OSError, *names: str, below: Path | None = None) -> None:
        for name in names:
            self._patch.setattr(os, name, self._failing(name, error, below))

    def _failing(self, name: str, error: OSError, below: Path | None) -> Callable[..., Any]:
        real = self._real[name]

        def call(first: Any, *rest: Any, **more: Any) -> Any:
            if below is None or _lies_below(first, below):
                raise error
            return real(first, *rest, **more)

        return call

    def heals(self) -> None:
        for name, real in self._real.items():
            self._patch.setattr(os, name, real)


def _lies_below(file: Any, folder: Path) -> bool:
    try:
        name = os.readlink(f"/proc/self/fd/{file}") if isinstance(file, int) else os.fspath(file)
    except OSError:
        return False
    return str(name).startswith(str(folder))


@asynccontextmanager
async def pour_screen(
    folder: Path, clock: FakeClock, pour: Desk, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[tuple[Pilot[int], PourScreen]]:
    app = SoapbenchApp(bench_of(folder), clock)
    async with app.run_test(size=size) as pilot:
        app.take(ToPour(pour))
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, PourScreen)
        yield pilot, screen


async def ticks(pilot: Pilot[int], clock: FakeClock, seconds: float = 2.5) -> None:
    """Time passes and the screen's tick comes; the disk and the model are given their time."""
    clock.passes(seconds)
    screen = pilot.app.screen
    assert isinstance(screen, PourScreen)
    for _ in range(2):  # a retry is only seen by the tick after it
        screen._tick()
        answered = getattr(screen.desk.log, "answered", None)
        assert answered is None or answered(10.0)
        with suppress(WorkerFailed):  # the screen's own business
            await worked_out(pilot.app)
        await pilot.pause()


async def bench_read(pilot: Pilot[int]) -> None:
    """The bench screen has read all it shows."""
    with suppress(WorkerFailed):
        await worked_out(pilot.app)
    await pilot.pause()


def on_screen(pilot: Pilot[int], id: str = "said") -> str:
    """What the screen says; of a pour all that stands above its keys."""
    screen = pilot.app.screen
    if isinstance(screen, PourScreen):
        return " ".join(" ".join(screen.lines).split())
    return str(screen.query_one(f"#{id}", Static).render())


@contextmanager
def unreadable(path: Path) -> Iterator[None]:
    mode = path.stat().st_mode
    path.chmod(0)
    try:
        yield
    finally:
        path.chmod(mode)
