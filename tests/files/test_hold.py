"""Who owns a live pour."""

from __future__ import annotations

import errno
import json
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from disk_fakes import files

from soapbench.logfile import hold
from soapbench.logfile.hold import Hold, Holder, hold_path, holder, take

OWNER = """
import sys, time
from pathlib import Path
from soapbench.logfile.hold import Hold, take
print(isinstance(take(Path(sys.argv[1]), "boot-a"), Hold), flush=True)
sys.stdin.read()
"""


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "x.toml"


def owner(log: Path) -> subprocess.Popen[str]:
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    process = subprocess.Popen(
        [sys.executable, "-c", OWNER, str(log)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=env,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "True\n"
    return process


def test_second_program_only_watches_and_a_dead_owner_is_no_owner(log: Path) -> None:
    process = owner(log)
    try:
        for override in (False, True):
            met = take(log, "boot-a", override=override)
            assert met == Holder(process.pid, socket.gethostname(), "boot-a")
        assert holder(log, "boot-a") == met
    finally:
        process.send_signal(signal.SIGKILL)
        process.communicate()
    assert hold_path(log).exists()
    assert holder(log, "boot-a") is None
    mine = take(log, "boot-a")
    assert isinstance(mine, Hold)
    assert mine.problem == ""
    mine.release()
    assert files(log.parent) == []


def test_held_twice_in_one_program_is_refused_and_release_frees(log: Path) -> None:
    with take(log, "boot-a") as first:  # type: ignore[union-attr]
        assert isinstance(take(log, "boot-a"), Holder)
    first.release()
    second = take(log, "boot-a")
    assert isinstance(second, Hold)
    second.release()


def words(log: Path, **values: object) -> None:
    mine = {"pid": os.getpid(), "host": socket.gethostname(), "boot_id": "boot-a"}
    hold_path(log).write_text(json.dumps(mine | values))


def test_another_machines_word_in_a_synced_folder_wants_an_override(log: Path) -> None:
    words(log, host="the other laptop")
    met = take(log, "boot-a")
    assert isinstance(met, Holder)
    assert met.sure is False
    mine = take(log, "boot-a", override=True)
    assert isinstance(mine, Hold)
    mine.release()


def test_a_file_removed_by_its_owner_just_before_we_lock_is_not_taken_for_held(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = hold._lock
    calls: list[int] = []

    def lock(fd: int) -> bool | None:
        if not calls:
            hold_path(log).unlink()
        calls.append(fd)
        return real(fd)

    monkeypatch.setattr(hold, "_lock", lock)
    mine = take(log, "boot-a")
    assert isinstance(mine, Hold)
    assert len(calls) == 2
    assert isinstance(take(log, "boot-a"), Holder)
    mine.release()


@pytest.mark.parametrize("junk", [b"", b"\x00\xff", b"{", b"[1]", b'{"pid": "x"}', b"[" * 9000])
def test_junk_in_the_file_holds_nobody_up(log: Path, junk: bytes) -> None:
    hold_path(log).write_bytes(junk)
    mine = take(log, "boot-a")
    assert isinstance(mine, Hold)
    mine.release()


@pytest.mark.parametrize(
    ("values", "held"),
    [
        ({}, True),
        ({"boot_id": "an earlier boot"}, False),
        ({"pid": 2**22 + 1}, False),  # above Linux's highest process number (man 5 proc)
    ],
    ids=["alive", "earlier boot", "dead"],
)
def test_without_locks_the_words_decide(
    log: Path, monkeypatch: pytest.MonkeyPatch, values: dict[str, object], held: bool
) -> None:
    monkeypatch.setattr(hold, "_lock", lambda fd: None)
    words(log, **values)
    met = take(log, "boot-a")
    assert isinstance(met, Holder) is held
    if isinstance(met, Hold):
        assert "no locks" in met.problem
        met.release()


def test_a_folder_that_cannot_be_written_is_told_not_raised(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> int:
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(os, "open", refuse)
    mine = take(log, "boot-a")
    monkeypatch.undo()
    assert isinstance(mine, Hold)
    assert mine.problem == "Read-only file system"
    mine.release()


@pytest.mark.parametrize(
    "pid", ["Infinity", "1e400", "NaN", "0", "-1", str(2**70), '"x"', "null", "[]"]
)
@pytest.mark.parametrize("locks", [True, False])
def test_a_damaged_number_holds_nobody_up(
    log: Path, monkeypatch: pytest.MonkeyPatch, pid: str, locks: bool
) -> None:
    if not locks:
        monkeypatch.setattr(hold, "_lock", lambda fd: None)
    here = json.dumps(socket.gethostname())
    hold_path(log).write_text(f'{{"pid": {pid}, "host": {here}, "boot_id": "boot-a"}}')
    met = take(log, "boot-a")
    if not locks:  # nobody can tell, so the maker is asked
        assert met == Holder(0, "", "", sure=False)
        assert holder(log, "boot-a") == met
        met = take(log, "boot-a", override=True)
    assert isinstance(met, Hold)
    assert holder(log, "boot-a") == Holder(os.getpid(), socket.gethostname(), "boot-a")
    met.release()
    assert files(log.parent) == []


def test_a_process_number_given_out_again_is_not_its_first_owner(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hold, "_lock", lambda fd: None)
    words(log, began=hold._began(os.getpid()))
    assert isinstance(take(log, "boot-a"), Holder)
    words(log, began=hold._began(os.getpid()) + 1)
    mine = take(log, "boot-a")
    assert isinstance(mine, Hold)
    mine.release()


@pytest.mark.skipif(sys.platform != "linux", reason="only there the system tells")
def test_when_a_process_began_is_told_in_ticks_since_boot() -> None:
    """man 5 proc: starttime, its 22nd field, in clock ticks, by the clock that counts suspend."""
    before = time.clock_gettime(time.CLOCK_BOOTTIME)
    child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    try:
        began = hold._began(child.pid) / os.sysconf("SC_CLK_TCK")
        assert began == pytest.approx(before, abs=5.0)
        assert hold._began(os.getpid()) < hold._began(child.pid)
    finally:
        child.communicate(b"\n")
    assert hold._began(child.pid) == 0, "there is none any more"


RACER = """
import sys, time
from pathlib import Path
from soapbench.logfile import hold
hold._lock = lambda fd: None
log = Path(sys.argv[1])
print("ready", flush=True)
start = float(sys.stdin.readline())
while time.time() < start:
    pass
print(isinstance(hold.take(log, "boot-a"), hold.Hold), flush=True)
sys.stdin.read()
"""


@pytest.mark.parametrize("left", [None, {"pid": 2**22 + 1}, {"boot_id": "earlier"}])
def test_without_locks_one_of_several_takes_it(log: Path, left: dict[str, object] | None) -> None:
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    racers = [
        subprocess.Popen(
            [sys.executable, "-c", RACER, str(log)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=env,
        )
        for _ in range(4)
    ]
    try:
        if left is not None:
            words(log, **left)
        for racer in racers:
            assert racer.stdout is not None
            assert racer.stdout.readline() == "ready\n"
        start = time.time() + 0.05
        for racer in racers:
            assert racer.stdin is not None
            racer.stdin.write(f"{start}\n")
            racer.stdin.flush()
        took = [racer.stdout.readline() for racer in racers if racer.stdout]
        assert took.count("True\n") == 1
    finally:
        for racer in racers:
            racer.kill()
            racer.communicate()
