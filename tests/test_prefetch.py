"""A second process works a new sheet out while the screens start; nothing hangs on it."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from soapbench.bench import helpers
from soapbench.bench.keptsheets import SheetShelf
from soapbench.bench.learned import open_bench
from soapbench.desk.prefetch import Ahead, look_ahead, put_on_shelf, sheet_width
from soapbench.settings import USUAL
from soapbench.sheet import plansheet
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.plan import PlanScreen
from tests.fakes import SAMPLES, FakeClock
from tests.waiting import worked_out

HARBOUR = SAMPLES / "harbour_at_dusk.toml"
LONG_S = 60.0
"""A test waits as long as it takes."""


@pytest.fixture
def gate() -> Iterator[threading.Event]:
    """Shut until a test opens it; open at the end, so that no thread waits for ever."""
    shut = threading.Event()
    yield shut
    shut.set()


async def shown(bench: Path, clock: FakeClock, helper: Ahead | None) -> tuple[str, object]:
    """The chance on the screen, and the front, once the sheet is whole."""
    app = SoapbenchApp(open_bench(bench), clock, HARBOUR, ahead=helper)
    async with app.run_test(size=(80, 24)) as pilot:
        await worked_out(app)
        await pilot.pause()
        assert isinstance(app.screen, PlanScreen)
        front = app.screen._front
        assert front is not None
        return front.chance, front


async def test_what_is_put_on_the_shelf_is_what_the_screen_comes_to(
    clock: FakeClock, tmp_path: Path
) -> None:
    width = sheet_width(80)
    key = put_on_shelf(HARBOUR, tmp_path / "ahead", width)
    kept = SheetShelf(tmp_path / "ahead").find(key)
    _, front = await shown(tmp_path / "own", clock, None)
    own = SheetShelf(tmp_path / "own")
    assert kept is not None
    assert kept == own.find(own.key(HARBOUR, width, USUAL))
    assert kept == front
    assert put_on_shelf(HARBOUR, tmp_path / "ahead", width) == key


def test_the_helper_is_a_process_that_ends(tmp_path: Path) -> None:
    helper = Ahead(HARBOUR, tmp_path, 77, LONG_S)
    key = helper.key()
    assert SheetShelf(tmp_path).find(key) is not None
    assert helper._process is not None
    assert helper._process.wait(LONG_S) == 0


async def test_its_sheet_is_shown_before_our_own_is_worked_out(
    clock: FakeClock, tmp_path: Path, gate: threading.Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    helper = Ahead(HARBOUR, tmp_path, sheet_width(80), LONG_S)
    real = plansheet.foreseen_sheet

    def slow(*args: object) -> object:
        gate.wait(20)
        return real(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(plansheet, "foreseen_sheet", slow)
    app = SoapbenchApp(open_bench(tmp_path), clock, HARBOUR, ahead=helper)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, PlanScreen)
        while screen._front is None or not screen._front.chance:
            await pilot.pause(0.01)
        assert screen.sheet is None
        early = screen._front
        assert early.chance.endswith("%")
        gate.set()
        await worked_out(app)
        await pilot.pause()
        assert screen.sheet is not None
        assert screen._front == early


@pytest.mark.parametrize("trouble", ["faulty plan", "no process", "too slow", "another width"])
async def test_without_it_the_sheet_only_comes_later(
    trouble: str, clock: FakeClock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, width, patience_s = HARBOUR, sheet_width(80), LONG_S
    if trouble == "faulty plan":
        plan = tmp_path / "faulty.toml"
        plan.write_text("title = 3", "utf-8")
    elif trouble == "no process":
        monkeypatch.setattr(helpers.sys, "executable", "")
    elif trouble == "too slow":
        patience_s = 0.0
    else:
        width += 40
    helper = Ahead(plan, tmp_path, width, patience_s)
    if trouble in ("faulty plan", "no process"):
        assert helper.key() is None
    chance, _ = await shown(tmp_path, clock, helper)
    assert chance.endswith("%")
    helper.end()
    helper.end()


def test_it_does_not_outlive_who_started_it(tmp_path: Path) -> None:
    code = (
        "import sys, time, os\n"
        "from pathlib import Path\n"
        "from soapbench.desk.prefetch import Ahead\n"
        "ahead = Ahead(Path(sys.argv[1]), Path(sys.argv[2]), 80)\n"
        "print(ahead._process.pid, flush=True)\n"
        "os.kill(os.getpid(), 9)\n"
    )
    slow = tmp_path / "bench" / "tables"
    slow.mkdir(parents=True)
    done = subprocess.run(
        [sys.executable, "-c", code, HARBOUR, tmp_path / "bench"], capture_output=True, text=True
    )
    pid = int(done.stdout)
    for _ in range(200):
        if not Path(f"/proc/{pid}").exists() or "Z" in Path(f"/proc/{pid}/stat").read_text()[:60]:
            break
        time.sleep(0.02)
    else:
        raise AssertionError("the helper is still there")
    assert list((tmp_path / "bench").rglob("*.json")) == [], "it ended before it was done"


def test_one_processor_gets_no_helper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    assert look_ahead(HARBOUR, tmp_path, 80) is None


def test_starting_one_loads_neither_screens_nor_the_model() -> None:
    code = "import sys, soapbench.desk.prefetch; print('\\n'.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = done.stdout.split()
    assert not {"textual", "numpy", "pydantic_core", "soapbench.plan"} & set(loaded)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"lines": 3}', '{"lines": [], "of": "later"}'])
def test_a_damaged_kept_sheet_is_none(tmp_path: Path, text: str) -> None:
    key = put_on_shelf(HARBOUR, tmp_path, 77)
    shelf = SheetShelf(tmp_path)
    assert shelf.find(key) is not None
    next((tmp_path / ".derived" / "sheets").glob("*.json")).write_text(text, "utf-8")
    assert shelf.find(key) is None
