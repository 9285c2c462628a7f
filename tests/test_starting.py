"""What is there at once is true and takes keys; the model comes after it."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from textual.widgets import Static

from soapbench.advice.known import Known
from soapbench.bench import planfile
from soapbench.bench.learned import open_bench
from soapbench.bench.planfile import weigh_out
from soapbench.bench.tables import cautions
from soapbench.desk import rehearsing
from soapbench.desk.rehearsing import Wanted
from soapbench.log import Kind
from soapbench.settings import USUAL
from soapbench.sheet import plansheet
from soapbench.sheet.front import front
from soapbench.sheet.plansheet import foreseen_sheet, plan_sheet
from soapbench.sheet.text import WORKING_OUT
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.plan import PlanScreen
from soapbench.ui.pour.rehearsal import RehearsalScreen
from soapbench.ui.pour.setout import SetOutScreen
from tests.fakes import SAMPLES, FakeClock
from tests.plans import plan, sample
from tests.waiting import worked_out

HARBOUR = SAMPLES / "harbour_at_dusk.toml"
FORESEEN = ("SWIRLS", "WHAT WOULD HELP", "STEPS")


@pytest.fixture
def gate() -> Iterator[threading.Event]:
    """Shut until a test opens it; open at the end, so that no thread waits for ever."""
    shut = threading.Event()
    yield shut
    shut.set()


def parts(lines: tuple[str, ...]) -> dict[str, list[str]]:
    by_part: dict[str, list[str]] = {}
    for line in lines:
        if line.isupper():
            by_part[line] = []
        elif line:
            by_part[list(by_part)[-1]].append(line)
    return by_part


def test_a_plan_weighed_out_shows_the_same_amounts_as_its_sheet_and_no_foreseen_number(
    known: Known, tmp_path: Path
) -> None:
    ready = weigh_out(HARBOUR, tmp_path)
    early, late = (front(s, 80, USUAL) for s in (ready, foreseen_sheet(ready, known)))
    assert early.chance == ""
    assert any("Working out" in sentence for sentence in early.says)
    first, then = parts(early.lines), parts(late.lines)
    assert {name for name in then if name not in FORESEEN} == first.keys() - set(FORESEEN)
    for name in first.keys() - {*FORESEEN, "POTS"}:
        assert first[name] == then[name]
    assert first["SWIRLS"] == first["STEPS"] == [f"  {WORKING_OUT}"]
    pots = [line for line in first["POTS"] if line.endswith(WORKING_OUT)]
    assert len(pots) == len(ready.plan.pots)
    for line in pots:
        weighed = line.removesuffix(WORKING_OUT)
        assert any(full.startswith(weighed) for full in then["POTS"])


def test_a_plan_weighed_out_first_comes_to_the_same_sheet(known: Known, tmp_path: Path) -> None:
    at_once = plan_sheet(sample(HARBOUR), known, cautions())
    assert foreseen_sheet(weigh_out(HARBOUR, tmp_path), known) == at_once


def test_the_first_screens_load_no_model() -> None:
    code = (
        "import sys, soapbench.bench.planfile, soapbench.sheet.text\n"
        "import soapbench.ui.plan, soapbench.ui.pour.rehearsal, soapbench.desk.rehearsing\n"
        "import soapbench.desk.starting; print('\\n'.join(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "pint", "soapbench.advice.advise"} & set(done.stdout.split())


async def test_a_key_pressed_before_the_model_is_there_is_heeded_then(
    clock: FakeClock, tmp_path: Path, gate: threading.Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = plansheet.foreseen_sheet

    def slow(*args: object) -> object:
        gate.wait(20)
        return real(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(plansheet, "foreseen_sheet", slow)
    app = SoapbenchApp(open_bench(tmp_path), clock, HARBOUR)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, PlanScreen)
        while screen._weighed is None:
            await pilot.pause(0.01)
        await pilot.press("c", "v", "enter", "down")
        shown = str(screen.query_one("#text", Static).render())
        assert "NaOH (" in shown
        assert WORKING_OUT in shown
        assert screen._front is not None
        assert screen._front.chance == ""
        assert app.screen is screen
        gate.set()
        await worked_out(app)
        await pilot.pause()
        assert isinstance(app.screen, SetOutScreen)


async def test_read_again_no_key_acts_on_what_the_plan_was(
    clock: FakeClock, tmp_path: Path
) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(HARBOUR.read_text("utf-8"), "utf-8")
    app = SoapbenchApp(open_bench(tmp_path), clock, path)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, PlanScreen)
        while screen.sheet is None:
            await pilot.pause(0.01)
        path.write_text("title = 3", "utf-8")
        await pilot.press("r", "enter")
        await worked_out(app)
        await pilot.pause()
        assert app.screen is screen
        assert screen.sheet is None
        assert "cannot be used yet" in str(screen.query_one("#text", Static).render())


async def test_a_rehearsal_takes_keys_before_its_batter_is_there(
    known: Known,
    clock: FakeClock,
    tmp_path: Path,
    gate: threading.Event,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = rehearsing.mixed

    def slow(*args: object) -> object:
        gate.wait(20)
        return real(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(rehearsing, "mixed", slow)
    wanted = Wanted(plan_sheet(plan(), known, cautions(), levers=False), 4.0, 6)
    app = SoapbenchApp(open_bench(tmp_path), clock, rehearsal=wanted)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, RehearsalScreen)
        await pilot.press("space", "2", "e")
        assert "mixing this batter" in screen.lines[0]
        assert screen.desk.live is None
        kinds = [event.kind for event in screen.desk.log.events]
        assert kinds == [Kind.NOTE, Kind.LYE_MEETS_OILS, Kind.TRACE_SEEN]
        gate.set()
        await pilot.pause(0.1)
        await worked_out(app)
        await pilot.pause()
        assert screen.desk.live is not None
        assert screen.lines[0].startswith(" PRACTICE 4x   base: ")


async def test_a_key_pressed_at_a_faulty_plan_does_nothing_once_it_is_put_right(
    clock: FakeClock, tmp_path: Path, gate: threading.Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = planfile.weigh_out

    def slow(*args: object) -> object:
        gate.wait(20)
        return read(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(planfile, "weigh_out", slow)
    path = tmp_path / "plan.toml"
    path.write_text(HARBOUR.read_text("utf-8").replace("[mould]", "[mold]"), "utf-8")
    app = SoapbenchApp(open_bench(tmp_path / "bench"), clock, path)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, PlanScreen)
        await pilot.press("enter")
        gate.set()
        while screen._working:
            await pilot.pause(0.01)
        assert "cannot be used yet" in str(screen.query_one("#text", Static).render())
        path.write_text(HARBOUR.read_text("utf-8"), "utf-8")
        await pilot.press("r")
        await worked_out(app)
        await pilot.pause()
        assert screen.sheet is not None
        assert app.screen is screen
