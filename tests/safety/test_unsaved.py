"""A disk that fails in mid-pour: the pour goes on, and the screen says what is not saved."""

from __future__ import annotations

import itertools
import os
import re
import threading
from pathlib import Path

import pytest
from safety_kit import (
    BROKEN,
    DENIED,
    FULL,
    READ_ONLY,
    Disk,
    again,
    bench_of,
    dies,
    logged,
    new_desk,
    notes,
    on_screen,
    pour_screen,
    ticks,
)
from textual.widgets import Static

from soapbench.advice.known import Known
from soapbench.log import Event, Kind
from soapbench.logfile.batchlog import BatchLog, read_log
from soapbench.logfile.records import Header
from soapbench.logfile.slowdisk import NO_ANSWER, PatientLog
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.dialogs import Ask
from soapbench.ui.pour.setout import SetOutScreen
from soapbench.ui.ways import CarryOn
from tests.fakes import FakeClock


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    return Disk(monkeypatch)


async def test_an_event_is_synced_before_the_screen_confirms_it(
    tmp_path: Path, known: Known, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    pour = new_desk(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, pour) as (pilot, _screen):
        real, synced = os.fsync, []

        def fsync(fd: int) -> None:
            synced.append((on_screen(pilot), read_log(pour.log.path).events[-1:]))
            real(fd)

        monkeypatch.setattr(os, "fsync", fsync)
        await pilot.press("space", "r")
        (before_lye, (lye,)), (before_note, (note,)) = synced
        assert lye.kind is Kind.LYE_MEETS_OILS
        assert "clock runs" not in before_lye
        assert note.values["trouble"] == "ricing"
        assert "ricing" not in before_note
        assert "ricing" in on_screen(pilot)


@pytest.mark.parametrize(
    ("error", "calls", "words"),
    [
        (FULL, ("write",), "No space left on device"),
        (BROKEN, ("fsync",), "Input/output error"),
        (READ_ONLY, ("open", "write"), "Read-only file system"),
        (DENIED, ("open", "write"), "Permission denied"),
    ],
    ids=["full", "fsync fails", "read-only", "denied"],
)
async def test_the_pour_goes_on_and_all_is_written_once_it_can_be(
    tmp_path: Path, known: Known, clock: FakeClock, disk: Disk,
    error: OSError, calls: tuple[str, ...], words: str,
) -> None:  # fmt: skip
    pour = new_desk(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, pour) as (pilot, _screen):
        await pilot.press("space", "r")
        disk.fails(error, *calls, below=tmp_path / "bench")
        await pilot.press("z", "space", "h")
        assert re.search(r"NOT SAVED: last [34] keys \(in the backup folder\)", on_screen(pilot))
        assert words in on_screen(pilot)
        assert "2 of" in on_screen(pilot)
        (spilled,) = (tmp_path / "spill").rglob("*.toml")
        assert notes(read_log(spilled).events) == ["ricing", "seizing", "overheating"]
        disk.heals()
        await ticks(pilot, clock)
        assert "NOT SAVED" not in on_screen(pilot)
        assert notes(logged(pour)) == ["ricing", "seizing", "overheating"]
        assert len(logged(pour)) == len(pour.log.events)
        assert not spilled.exists()


async def test_with_no_spill_folder_either_it_says_in_memory_only_and_leaving_asks(
    tmp_path: Path, known: Known, clock: FakeClock, disk: Disk
) -> None:
    pour = new_desk(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, pour) as (pilot, screen):
        await pilot.press("space")
        disk.fails(FULL, "write")
        await pilot.press("r")
        assert "NOT SAVED: last 1 key (still in memory): No space left" in on_screen(pilot)
        await pilot.press("ctrl+q")
        await pilot.press("y")
        assert isinstance(pilot.app.screen, Ask)
        texts = " ".join(str(s.render()) for s in pilot.app.screen.query(Static))
        assert "Quit and lose what isn't saved yet?" in texts
        await pilot.press("n")
        assert pilot.app.screen is screen
        disk.heals()
        await ticks(pilot, clock)
        assert notes(logged(pour)) == ["ricing"]


async def test_the_folder_may_go_and_come_back(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    pour = new_desk(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, pour) as (pilot, _screen):
        await pilot.press("space", "r")
        (tmp_path / "bench").rename(tmp_path / "pulled out")
        await pilot.press("z")
        assert "NOT SAVED: " in on_screen(pilot)
        (tmp_path / "pulled out").rename(tmp_path / "bench")
        await ticks(pilot, clock)
        assert "NOT SAVED" not in on_screen(pilot)
        await pilot.press("h")
        assert notes(logged(pour)) == ["ricing", "seizing", "overheating"]


async def test_a_plan_is_poured_though_its_log_could_never_be_made(
    tmp_path: Path, known: Known, clock: FakeClock, disk: Disk
) -> None:
    disk.fails(FULL, "write", below=tmp_path / "bench")
    pour = new_desk(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, pour) as (pilot, _screen):
        assert "NOT SAVED: the plan's page (in the backup folder)" in on_screen(pilot)
        await pilot.press("space", "r")
        assert "NOT SAVED: last 2 keys" in on_screen(pilot)
    dies(pour)
    disk.heals()
    clock.passes(60)
    carried = again(tmp_path, known, clock)
    assert notes(logged(carried)) == ["ricing"]
    assert carried.now() == pytest.approx(60)
    assert list((tmp_path / "spill").rglob("*.toml")) == []


async def test_a_log_that_cannot_come_home_is_carried_on_from_the_spill_folder(
    tmp_path: Path, known: Known, clock: FakeClock, disk: Disk
) -> None:
    disk.fails(FULL, "write", below=tmp_path / "bench")
    pour = new_desk(tmp_path, known, clock)
    pour.lye_meets_oils()
    pour.note("base", "ricing")
    dies(pour)
    clock.passes(90)
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test(size=(100, 30)) as pilot:
        assert [log.path for log in app.stranded] == [pour.log.path]
        app.take(CarryOn(app.stranded[0].path))
        await pilot.pause()
        await ticks(pilot, clock, 0)
        assert app.desk is not None
        assert not app.desk.watching
        assert app.desk.now() == pytest.approx(90)
        assert "NOT SAVED" in on_screen(pilot)
        disk.heals()
        await ticks(pilot, clock)
        assert "NOT SAVED" not in on_screen(pilot)
        assert notes(logged(app.desk)) == ["ricing"]


async def test_the_set_out_says_it_too(
    tmp_path: Path, known: Known, clock: FakeClock, disk: Disk
) -> None:
    pour = new_desk(tmp_path, known, clock)
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test() as pilot:
        app.desk = pour
        await app.switch_screen(SetOutScreen(pour))
        disk.fails(FULL, "write", below=tmp_path / "bench")
        await pilot.press("space", "space")
        line = app.screen.query_one("#keeping", Static)
        assert "NOT SAVED: last 2 keys" in str(line.render())
        assert line.display


class HangingLog(BatchLog):
    """A log whose disk takes an entry only once it is let."""

    def __init__(self, *args: object) -> None:
        self.let = threading.Event()
        self.let.set()
        super().__init__(*args)  # type: ignore[arg-type]

    def _write(self, text: bytes) -> None:
        assert self.let.wait(20)
        super()._write(text)


async def test_a_disk_that_hangs_never_holds_up_the_pour(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    pour = new_desk(tmp_path, known, clock)
    read = pour.log.path
    slow = HangingLog.carry_on(read)
    assert isinstance(slow, HangingLog)
    # Long enough that a busy machine's sound disk is never taken for one that hangs.
    pour.log = PatientLog(slow, patience_s=0.5)
    async with pour_screen(tmp_path, clock, pour) as (pilot, screen):
        await pilot.press("space", "r")
        assert "NOT SAVED" not in on_screen(pilot)
        slow.let.clear()
        for key in ("z", "h", "space"):
            await pilot.press(key)
        assert re.search(rf"last [34] keys \(still in memory\): {NO_ANSWER}", on_screen(pilot))
        assert "2 of" in on_screen(pilot)
        clock.passes(2.5)
        screen._tick()  # a retry does not wait for the disk either
        assert notes(logged(pour)) == ["ricing"]
        slow.let.set()
        await ticks(pilot, clock)
        assert "NOT SAVED" not in on_screen(pilot)
        assert notes(logged(pour)) == ["ricing", "seizing", "overheating"]
        assert [e.id for e in logged(pour)] == [e.id for e in pour.log.events]


def test_the_disk_is_asked_again_only_every_two_seconds(
    tmp_path: Path, known: Known, clock: FakeClock, disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    pour = new_desk(tmp_path, known, clock)
    pour.lye_meets_oils()
    disk.fails(FULL, "write")
    pour.note("base", "ricing")
    asked = []
    monkeypatch.setattr(PatientLog, "retry", lambda self: asked.append(clock.boot_s))
    for _ in range(40):
        clock.passes(0.25)
        pour.tend()
    assert len(asked) == 5
    assert min(b - a for a, b in itertools.pairwise(asked)) >= 2.0


def test_a_log_let_go_of_takes_events_all_the_same(tmp_path: Path) -> None:
    clock, before = FakeClock(), set(threading.enumerate())
    log = PatientLog(BatchLog.create(tmp_path, Header("b", "Quay Wall", clock.wall, "1"), None))
    log.append(Event(clock.wall, 0.0, Kind.NOTE, values={"text": "a"}))
    log.close()
    log.append(Event(clock.wall, 1.0, Kind.NOTE, values={"text": "b"}))
    log.close()
    assert log.answered(5.0)
    assert notes(read_log(log.path).events) == ["a", "b"]
    for thread in set(threading.enumerate()) - before:
        thread.join(5)
        assert not thread.is_alive()
