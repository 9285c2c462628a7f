"""A disk that hangs: what is begun, carried on, watched or set waits a moment, never for ever."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from safety_kit import bench_of, dies, new_desk, notes, on_screen, pour_screen, ticks

from soapbench.advice.known import Known
from soapbench.desk import starting
from soapbench.desk.starting import CannotCarryOn, carry_on
from soapbench.logfile.batchlog import read_log
from soapbench.logfile.clock import SystemClock
from soapbench.logfile.patience import NO_ANSWER, Asked, NoAnswer, within
from soapbench.ui import signals
from soapbench.ui.settings import SettingsScreen
from tests.fakes import FakeClock
from tests.stress.terminal import Terminal


class HungDisk:
    """Opening anything below a folder waits until it is let."""

    def __init__(self, below: Path, patch: pytest.MonkeyPatch) -> None:
        self.let = threading.Event()
        self._below, self._patch = str(below), patch

    def hangs(self) -> None:
        for name in ("open", "mkdir", "unlink"):
            self._patch.setattr(os, name, self._hanging(getattr(os, name)))

    def _hanging(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(path: Any, *rest: Any, **more: Any) -> Any:
            if not isinstance(path, int) and str(path).startswith(self._below):
                here = threading.current_thread() is threading.main_thread()
                assert self.let.is_set() or not here, f"the screen would wait for {path}"
                self.let.wait(60)
            return real(path, *rest, **more)

        return call


@pytest.fixture
def hung(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> Iterator[HungDisk]:
    where = getattr(request, "param", "batches")
    monkeypatch.setattr(starting, "OPEN_S", 0.5)
    disk = HungDisk(tmp_path / "bench" / where, monkeypatch)
    yield disk
    disk.let.set()
    for thread in threading.enumerate():
        if thread.name in ("patience", "a look", "spill"):
            thread.join(10)


def test_what_comes_in_time_comes_and_what_comes_late_is_let_go_of() -> None:
    go, gone = threading.Event(), threading.Event()
    assert within(5.0, lambda: 3) == 3
    with pytest.raises(ZeroDivisionError):
        within(5.0, lambda: 1 // 0)
    with pytest.raises(NoAnswer, match=NO_ANSWER):
        within(0.01, lambda: go.wait(10), lambda _: gone.set())
    go.set()
    assert gone.wait(10)


def test_a_look_gives_the_last_answer_meanwhile() -> None:
    go = threading.Event()
    answers = iter([1, 2])
    look = Asked(lambda: go.wait(10) and next(answers), 0, patience_s=0.01)
    assert look() == 0
    go.set()
    assert look._asking is not None
    look._asking.join(10)
    look._patience_s = 10.0
    assert look() == 2


def test_a_pour_is_begun_and_kept_elsewhere(
    tmp_path: Path, known: Known, clock: FakeClock, hung: HungDisk
) -> None:
    hung.hangs()
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    desk.note("base", "ricing")
    assert desk.log.unsaved is not None
    assert desk.log.unsaved.why == NO_ANSWER
    assert len(desk.log.unsaved.events) == 2
    waiting = [t for t in threading.enumerate() if t.name in ("batch log", "spill")]
    assert waiting
    assert all(thread.daemon for thread in waiting), "the program can still be left"
    spilled = desk.log.unsaved.spilled_to
    assert spilled is not None
    assert notes(read_log(spilled).events) == ["ricing"]
    hung.let.set()
    assert desk.log.answered(10.0)  # type: ignore[attr-defined]
    assert desk.log.unsaved is None
    assert notes(read_log(desk.log.path).events) == ["ricing"]  # type: ignore[attr-defined]
    assert not spilled.exists()
    desk.close()


def test_a_pour_that_cannot_be_opened_is_told(
    tmp_path: Path, known: Known, clock: FakeClock, hung: HungDisk
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    dies(desk)
    path = desk.log.path  # type: ignore[attr-defined]
    bench = bench_of(tmp_path)
    hung.hangs()
    with pytest.raises(CannotCarryOn, match=NO_ANSWER):
        carry_on(bench, clock, lambda: known, path)
    hung.let.set()
    for thread in threading.enumerate():
        if thread.name == "patience":
            thread.join(10)
    again = carry_on(bench, clock, lambda: known, path)
    assert not again.watching, "what came too late let go of the pour"
    again.close()


def test_a_watched_pour_waits_for_no_look(
    tmp_path: Path, known: Known, clock: FakeClock, hung: HungDisk
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    watching = carry_on(bench_of(tmp_path), clock, lambda: known, desk.log.path)  # type: ignore[attr-defined]
    assert watching.watching
    hung.hangs()
    for _ in range(3):
        clock.passes(2.5)
        began = time.monotonic()
        watching.tend()
        assert time.monotonic() - began < 5.0
    assert watching.state.begun
    with pytest.raises(NoAnswer):
        watching.take_over()
    hung.let.set()
    desk.close()


@pytest.mark.parametrize("hung", [""], indirect=True)
async def test_settings_that_cannot_be_saved_are_told(
    tmp_path: Path, known: Known, clock: FakeClock, hung: HungDisk
) -> None:
    pour = new_desk(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, pour) as (pilot, _):
        await pilot.app.push_screen(SettingsScreen())
        hung.hangs()
        screen = pilot.app.screen
        assert isinstance(screen, SettingsScreen)
        screen._as_everybody("sound", "")
        await pilot.pause()
        assert on_screen(pilot) == f"NOT SAVED: {NO_ANSWER}"
        hung.let.set()
        pilot.app.pop_screen()
        await ticks(pilot, clock, 0)
    pour.close()


STRESS = Path(__file__).parent.parent / "stress"


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")
def test_told_to_end_while_it_hangs_the_terminal_is_given_back(
    tmp_path: Path, known: Known
) -> None:
    desk = new_desk(tmp_path, known, SystemClock())  # type: ignore[arg-type]
    desk.lye_meets_oils()
    dies(desk)
    log: Path = desk.log.path  # type: ignore[attr-defined]
    run = Terminal([sys.executable, str(STRESS / "hung_disk.py"), str(log)], tmp_path / "bench")
    try:
        run.wait("of lye, slowly")
        run.send("r")
        run.wait("base: ricing")
        log.with_name("hang").touch()
        run.send("z")
        run.wait("NOT SAVED")
        run.signal(signal.SIGTERM)
        run.gone()
        assert run.left_as_found() == []
    finally:
        run.close()
    assert notes(read_log(log).events) == ["ricing"]
    spilled = list((tmp_path / "state").rglob("*.toml"))
    assert [notes(read_log(copy).events) for copy in spilled] == [["ricing", "seizing"]]


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")
@pytest.mark.parametrize(
    ("command", "shown"),
    [([], "Your bench can't be read: the disk does not answer"), (["pour", "Harbour"], "")],
)
def test_a_bench_that_never_answers_is_told_at_the_start_and_ends_when_told_to(
    tmp_path: Path, command: list[str], shown: str
) -> None:
    run = Terminal([sys.executable, str(STRESS / "hung_bench.py"), *command], tmp_path / "bench")
    try:
        run.wait("waiting for the disk of")
        if shown:
            run.wait(shown)
        run.signal(signal.SIGTERM)
        assert run.gone() == (0 if shown else -signal.SIGTERM)
        assert not shown or run.left_as_found() == []
    finally:
        run.close()


@pytest.mark.skipif(sys.platform == "win32", reason="other signals there")
def test_told_to_end_while_the_screens_own_thread_hangs_it_is_heard() -> None:
    heard: list[str] = []
    done = threading.Event()

    def act() -> None:
        heard.append(threading.current_thread().name)
        done.set()

    before = signal.signal(signal.SIGUSR1, lambda *_: None)
    try:
        signals._hear_anyhow(frozenset([signal.SIGUSR1]), act)
        os.kill(os.getpid(), signal.SIGUSR1)
        assert done.wait(10)
    finally:
        signal.set_wakeup_fd(-1)
        signal.signal(signal.SIGUSR1, before)
    assert heard == ["signals"]
