"""Who holds a pour where there are no locks, and which processes are alive: case by case."""

from __future__ import annotations

import errno
import json
import os
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from disk_fakes import files
from hold_kit import BOOT, ELSEWHERE, HERE, MINE, NOBODY_SURE, with_words

from soapbench.logfile import hold
from soapbench.logfile.hold import (
    JUST_MADE_S,
    LARGEST_WORDS,
    Hold,
    Holder,
    hold_path,
    holder,
    take,
)

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="driven by what Linux has")


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "x.toml"


@pytest.fixture
def no_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hold, "_lock", lambda fd: None)


@pytest.mark.usefixtures("no_locks")
def test_without_locks_the_one_that_made_the_file_has_it(log: Path) -> None:
    mine = take(log, BOOT)
    assert isinstance(mine, Hold)
    assert mine.problem == "this file system has no locks"
    assert (
        take(log, BOOT)
        == take(log, BOOT, override=True)
        == holder(log, BOOT)
        == Holder(os.getpid(), HERE, BOOT)
    )
    mine.release()
    assert holder(log, BOOT) is None


@pytest.mark.usefixtures("no_locks")
@pytest.mark.parametrize(
    ("words", "met", "overridden"),
    [
        (MINE, Holder(os.getpid(), HERE, BOOT), False),
        (MINE | {"began": hold._began(os.getpid())}, Holder(os.getpid(), HERE, BOOT), False),
        (MINE | {"began": hold._began(os.getpid()) + 1}, None, True),
        (MINE | {"boot_id": "earlier"}, None, True),
        (MINE | {"pid": 2**22 + 1}, None, True),
        (ELSEWHERE, Holder(7, "the other laptop", "boot-x", sure=False), True),
        (b"junk", NOBODY_SURE, True),
    ],
    ids=["alive", "alive and the same", "its number given out again", "an earlier boot", "dead",
         "another machine", "junk"],
)  # fmt: skip
def test_without_locks_words_hold_while_their_process_may_be_alive(
    log: Path, words: dict[str, object] | bytes, met: Holder | None, overridden: bool
) -> None:
    with_words(log, words)
    assert holder(log, BOOT) == met
    if met is not None:
        assert take(log, BOOT) == met
    hold_of_ours = take(log, BOOT, override=True)
    assert isinstance(hold_of_ours, Hold) is overridden
    if isinstance(hold_of_ours, Hold):
        hold_of_ours.release()
        assert files(log.parent) == [], "what held nobody is gone too"


@pytest.mark.usefixtures("no_locks")
def test_an_empty_file_is_somebodys_for_five_seconds(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between making it and writing its words lie milliseconds (ours)."""
    assert JUST_MADE_S == 5.0
    for text in (b"", b"  \n"):
        for now, held in ((1004.9, True), (1005.0, False), (995.1, True), (995.0, False)):
            with_words(log, text)
            os.utime(hold_path(log), (1000, 1000))
            monkeypatch.setattr(hold, "time", SimpleNamespace(time=lambda now=now: now))
            assert holder(log, BOOT) == (Holder(0, HERE, BOOT) if held else None)


def test_what_holds_nobody_is_put_aside_and_a_newer_one_is_not(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = hold_path(log)
    path.write_bytes(b"old")
    hold._put_aside(path, b"old")
    assert files(log.parent) == []
    path.write_bytes(b"newer")
    hold._put_aside(path, b"old")
    assert path.read_bytes() == b"newer"
    assert files(log.parent) == ["x.toml.hold"]
    # A third one has made it meanwhile: two would be one too many.
    real = hold.read_file

    def read(aside: Path, most: int) -> bytes:
        path.write_bytes(b"third")
        return real(aside, most)

    monkeypatch.setattr(hold, "read_file", read)
    hold._put_aside(path, b"old")
    assert (path.read_bytes(), files(log.parent)) == (b"third", ["x.toml.hold"])


def test_words_have_four_kilobytes(log: Path, no_locks: None) -> None:
    assert LARGEST_WORDS == 4096
    text = json.dumps(MINE)
    with_words(log, text.ljust(4096).encode())
    assert holder(log, BOOT) == Holder(os.getpid(), HERE, BOOT)
    with_words(log, text.rjust(4097).encode())
    assert holder(log, BOOT) == NOBODY_SURE, "its last letter is not read"


# ---------------------------------------------------------------- processes


def test_a_process_is_alive_where_the_system_does_not_say_no(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def alive(error: OSError | None, began: int = 0) -> bool:
        def kill(pid: int, number: int) -> None:
            assert (pid, number) == (7, 0)
            if error:
                raise error

        monkeypatch.setattr(hold, "_began", lambda pid: 55)
        monkeypatch.setattr(os, "kill", kill)
        return hold._alive(Holder(7, HERE, BOOT, began=began))

    assert alive(None)
    assert alive(PermissionError()), "another's"
    assert not alive(ProcessLookupError())
    assert alive(None, began=55)
    assert not alive(None, began=54)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="no /proc here")
def test_this_process_began_some_time_since_boot() -> None:
    """man 5 proc: in clock ticks since boot."""
    began = hold._began(os.getpid()) / os.sysconf("SC_CLK_TCK")
    assert 0.0 < began <= time.clock_gettime(time.CLOCK_BOOTTIME)
    assert hold._began(2**22 + 1) == 0


def test_a_folder_that_refuses_is_told_in_its_own_words(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for error, why in ((OSError(errno.EROFS, "Read-only"), "Read-only"), (OSError("odd"), "odd")):

        def refuse(*_: object, error: OSError = error) -> int:
            raise error

        monkeypatch.setattr(hold, "open_file", refuse)
        mine = take(log, BOOT)
        assert isinstance(mine, Hold)
        assert (mine.fd, mine.problem) == (None, why)
        mine.release()
