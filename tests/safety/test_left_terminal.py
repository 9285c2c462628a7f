"""Resized, hung up, ended, stopped: the terminal is left as it was found and nothing is lost."""

from __future__ import annotations

import os
import select
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from safety_kit import dies, new_desk, notes

from soapbench.advice.known import Known
from soapbench.logfile.batchlog import read_log
from soapbench.logfile.clock import SystemClock
from soapbench.logfile.hold import Holder, holder
from tests.stress.terminal import Terminal, soapbench, straight_to_pour

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")


@pytest.fixture
def log(tmp_path: Path, known: Known) -> Path:
    """A pour left a moment ago."""
    desk = new_desk(tmp_path, known, SystemClock())  # type: ignore[arg-type]
    desk.lye_meets_oils()
    dies(desk)
    path = desk.log.path  # type: ignore[attr-defined]
    assert isinstance(path, Path)
    return path


@pytest.fixture
def terminal(log: Path, tmp_path: Path) -> Iterator[Terminal]:
    run = Terminal(straight_to_pour(log), tmp_path / "bench")
    try:
        run.wait("of lye, slowly")
        run.send("r")
        run.wait("base: ricing")
        yield run
    finally:
        run.close()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_signal_ends_it_cleanly(terminal: Terminal, log: Path, number: signal.Signals) -> None:
    terminal.send("z")
    terminal.wait(": seizing")
    terminal.signal(number)
    terminal.gone()
    assert terminal.left_as_found() == []
    assert "Traceback" not in terminal.raw.decode("utf-8", "replace")
    assert notes(read_log(log).events) == ["ricing", "seizing"]
    assert list(log.parent.glob("*.hold")) == []


def test_a_closed_window_ends_it_and_nothing_is_lost(terminal: Terminal, log: Path) -> None:
    terminal.hang_up()
    for _ in range(100):
        if not terminal.process.isalive():
            break
        select.select([], [], [], 0.1)
    assert not terminal.process.isalive()
    assert read_log(log).damaged == ()
    assert notes(read_log(log).events) == ["ricing"]


def test_a_terminal_gone_without_a_word_ends_it(log: Path, tmp_path: Path) -> None:
    """No hang-up reaches a program that the terminal does not control: it has to notice."""
    run = Terminal(["setsid", "--wait", *straight_to_pour(log)], tmp_path / "bench")
    try:
        run.wait("of lye, slowly")
        run.send("r")
        run.wait("base: ricing")
        (pid,) = [holder.pid for holder in [holder_of(log)] if holder]
        run.hang_up()
        assert gone_within(pid, 10.0)
    finally:
        run.close()
    assert read_log(log).damaged == ()
    assert notes(read_log(log).events) == ["ricing"]
    assert list(log.parent.glob("*.hold")) == []


@pytest.mark.parametrize(
    "number", [signal.SIGTERM, pytest.param(signal.SIGHUP, marks=pytest.mark.long)]
)
def test_a_terminal_that_takes_nothing_is_no_reason_to_stay(
    terminal: Terminal, log: Path, number: signal.Signals
) -> None:
    flood(terminal)
    terminal.send("z")  # heard though nothing can be shown
    for _ in range(100):
        if notes(read_log(log).events) == ["ricing", "seizing"]:
            break
        select.select([], [], [], 0.05)
    terminal.signal(number)
    assert gone_within(terminal.process.pid, 10.0)
    assert notes(read_log(log).events) == ["ricing", "seizing"]
    assert list(log.parent.glob("*.hold")) == []


def test_a_terminal_that_takes_again_is_drawn_anew(terminal: Terminal) -> None:
    flood(terminal)
    terminal.drain(0.5)
    terminal.send("z")
    assert "of lye, slowly" in terminal.wait(": seizing")


def flood(terminal: Terminal) -> None:
    """Have whole screens written, more than the system keeps for one who reads none of them."""
    for size in range(70):
        terminal.resize(50, 200 - size % 2)
        select.select([], [], [], 0.03)


def holder_of(log: Path) -> Holder | None:
    return holder(log, SystemClock().boot_id)


def gone_within(pid: int, seconds: float) -> bool:
    """Whether a process ends in time; its parent may not have asked for its end yet."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            if Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z":
                return True
        except OSError:
            return True
        select.select([], [], [], 0.05)
    return False


def test_ctrl_c_and_ctrl_z_do_not_end_a_pour(terminal: Terminal, log: Path) -> None:
    terminal.send("\x03\x1a")
    terminal.send("h")
    terminal.wait(": overheating")
    terminal.send("\x11")
    terminal.wait("Quit during a pour?")
    terminal.send("y")
    assert terminal.gone() == 0
    assert terminal.left_as_found() == []
    assert notes(read_log(log).events) == ["ricing", "overheating"]


def test_stopped_and_gone_on_with(terminal: Terminal, log: Path) -> None:
    terminal.signal(signal.SIGTSTP)
    stopped, status = os.waitpid(terminal.process.pid, os.WUNTRACED)
    assert stopped
    assert os.WIFSTOPPED(status)
    terminal.drain(0.2)
    assert terminal.left_as_found() == []  # the shell has its terminal back meanwhile
    terminal.signal(signal.SIGCONT)
    terminal.wait(lambda _: terminal.raw.count(b"\x1b[?1049h") == 2)
    terminal.drain(0.5)
    terminal.send("z")
    terminal.wait(": seizing")
    terminal.send("\x11")
    terminal.wait("Quit during a pour?")
    terminal.send("y")
    assert terminal.gone() == 0
    assert terminal.left_as_found() == []
    assert notes(read_log(log).events) == ["ricing", "seizing"]


def test_resized_to_almost_nothing_and_back(terminal: Terminal, log: Path) -> None:
    for rows, columns in ((5, 20), (1, 1), (2, 300), (50, 3), (24, 80)):
        terminal.resize(rows, columns)
        terminal.pump(0.3)
        terminal.send("h" if rows == 5 else "a")
        terminal.drain(0.3)
    assert "of lye, slowly" in terminal.wait(": air bubbles")
    terminal.signal(signal.SIGTERM)
    assert terminal.gone() == 0
    assert terminal.left_as_found() == []
    kept = notes(read_log(log).events)
    assert kept == [
        "ricing",
        "overheating",
        "air bubbles",
        "air bubbles",
        "air bubbles",
        "air bubbles",
    ]


def test_two_windows_for_real(terminal: Terminal, log: Path, tmp_path: Path) -> None:
    second = Terminal(straight_to_pour(log), tmp_path / "bench")
    try:
        second.wait("the pour runs in another window")
        second.send("d")
        terminal.send("3")
        terminal.drain(0.5)  # asked once more, if the model has answered by then
        terminal.send("3")
        terminal.wait("base marked: medium trace")
        second.wait("last look: base")
        terminal.kill()
        second.wait("Enter: carry on here")
        second.send("\r")
        second.wait("running this pour now")
        second.send("z")
        second.wait(": seizing")
        second.signal(signal.SIGTERM)
        assert second.gone() == 0
        assert second.left_as_found() == []
        assert notes(read_log(log).events) == ["ricing", "seizing"]
    finally:
        second.close()


def test_the_next_start_offers_it(log: Path, tmp_path: Path) -> None:
    run = Terminal(soapbench(), tmp_path / "bench", size=(30, 100))
    try:
        run.wait("Quay Wall")
        run.send("\r")
        run.wait("of lye, slowly")
        run.send("\x11")
        run.wait("Quit during a pour?")
        run.send("y")
        assert run.gone() == 0
        assert run.left_as_found() == []
    finally:
        run.close()


def test_frozen_from_outside_and_let_go_again(terminal: Terminal, log: Path) -> None:
    terminal.signal(signal.SIGSTOP)
    stopped, status = os.waitpid(terminal.process.pid, os.WUNTRACED)
    assert stopped
    assert os.WIFSTOPPED(status)
    terminal.signal(signal.SIGCONT)
    terminal.drain(0.5)
    for key, words in (("z", "seizing"), ("h", "overheating"), ("a", "air bubbles")):
        terminal.send(key)
        terminal.wait(f": {words}")
    terminal.signal(signal.SIGTERM)
    assert terminal.gone() == 0
    assert terminal.left_as_found() == []
    assert notes(read_log(log).events) == ["ricing", "seizing", "overheating", "air bubbles"]
