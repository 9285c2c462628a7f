"""Who owns a live pour."""

from __future__ import annotations

import errno
import json
import os
import signal
import socket
import subprocess
import sys
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


def words(log: Path, **said: object) -> None:
    mine = {"pid": os.getpid(), "host": socket.gethostname(), "boot_id": "boot-a"}
    hold_path(log).write_text(json.dumps(mine | said))


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
    ("said", "held"),
    [
        ({}, True),
        ({"boot_id": "an earlier boot"}, False),
        ({"pid": 2**22 + 1}, False),  # above Linux's highest process number (man 5 proc)
    ],
    ids=["alive", "earlier boot", "dead"],
)
def test_without_locks_the_words_decide(
    log: Path, monkeypatch: pytest.MonkeyPatch, said: dict[str, object], held: bool
) -> None:
    monkeypatch.setattr(hold, "_lock", lambda fd: None)
    words(log, **said)
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
