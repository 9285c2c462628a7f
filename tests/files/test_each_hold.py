"""Who holds a pour, condition by condition: words, locks, and places that have none."""

from __future__ import annotations

import errno
import fcntl
import json
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from disk_fakes import files
from hold_kit import BOOT, ELSEWHERE, HERE, MINE, with_words
from windows_fakes import locks

from soapbench.logfile import hold
from soapbench.logfile.hold import (
    MOST_PROCESSES,
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
def locked(log: Path) -> Iterator[Callable[[bytes], None]]:
    """Has somebody else lock a file of these words."""
    opened: list[int] = []

    def lock(text: bytes) -> None:
        hold_path(log).write_bytes(text)
        fd = os.open(hold_path(log), os.O_RDWR)
        fcntl.flock(fd, fcntl.LOCK_EX)
        opened.append(fd)

    yield lock
    for fd in opened:
        os.close(fd)


# ---------------------------------------------------------------- words


def test_words_name_a_process_a_machine_and_a_boot() -> None:
    assert Holder(1, "a", "b").sure
    assert Holder(1, "a", "b", began=3) == Holder(1, "a", "b", began=4), "it only tells twins"
    words = hold._words(json.dumps(MINE | {"began": 99}).encode())
    assert words == Holder(os.getpid(), HERE, BOOT)
    assert words is not None
    assert (words.began, words.sure) == (99, True)
    other = hold._words(json.dumps(ELSEWHERE).encode())
    assert other == Holder(7, "the other laptop", "boot-x", sure=False)
    assert other is not None
    assert other.began == 0


@pytest.mark.parametrize(
    ("pid", "host", "names"),
    [(1, "h", True), (0, "h", False), (-1, "h", False), (1, "", False),
     (2**32, "h", True), (2**32 + 1, "h", False)],
)  # fmt: skip
def test_words_that_cannot_be_name_nobody(pid: int, host: str, names: bool) -> None:
    assert MOST_PROCESSES == 2**32
    text = json.dumps({"pid": pid, "host": host, "boot_id": ""}).encode()
    assert (hold._words(text) is not None) is names
    assert hold._words(b"not json") is None


def test_what_is_taken_says_who_took_it(log: Path) -> None:
    mine = take(log, BOOT)
    assert isinstance(mine, Hold)
    assert (mine.path, mine.problem) == (hold_path(log), "")
    assert hold_path(log).name == "x.toml.hold"
    read = json.loads(hold_path(log).read_text())
    assert read == MINE | {"began": hold._began(os.getpid())}
    fd = mine.fd
    assert fd is not None
    mine.release()
    assert mine.fd is None
    with pytest.raises(OSError, match="Bad file descriptor"):
        os.fstat(fd)
    mine.release()
    assert files(log.parent) == []


# ---------------------------------------------------------------- with locks


def test_a_lock_counts_whatever_the_words_say(log: Path, locked: Callable[[bytes], None]) -> None:
    for text, met in (
        (b"", Holder(0, HERE, BOOT)),
        (b"junk", Holder(0, HERE, BOOT)),
        (json.dumps(ELSEWHERE).encode(), Holder(7, "the other laptop", "boot-x", sure=False)),
        (json.dumps(MINE).encode(), Holder(os.getpid(), HERE, BOOT)),
    ):
        locked(text)
        assert take(log, BOOT) == take(log, BOOT, override=True) == holder(log, BOOT) == met
        assert hold_path(log).read_bytes() == text
        hold_path(log).unlink()


@pytest.mark.parametrize(
    ("words", "met"),
    [(b"", False), (b"junk", False), (MINE, False), (MINE | {"boot_id": "earlier"}, False),
     (ELSEWHERE, True)],
    ids=["empty", "junk", "mine", "an earlier boot's", "another machine's"],
)  # fmt: skip
def test_without_anybodys_lock_only_another_machines_words_hold(
    log: Path, words: dict[str, object] | bytes, met: bool
) -> None:
    with_words(log, words)
    other = Holder(7, "the other laptop", "boot-x", sure=False)
    assert holder(log, BOOT) == (other if met else None)
    if met:
        assert take(log, BOOT) == other
    mine = take(log, BOOT, override=met)
    assert isinstance(mine, Hold)
    assert json.loads(hold_path(log).read_text())["pid"] == os.getpid()
    mine.release()


def test_nobody_holds_what_has_no_file(log: Path) -> None:
    assert holder(log, BOOT) is None
    assert files(log.parent) == []


@pytest.mark.parametrize(
    ("code", "held"),
    [(errno.EWOULDBLOCK, False), (errno.EACCES, False), (errno.EDEADLK, False),
     (errno.ENOLCK, None), (errno.EOPNOTSUPP, None)],
)  # fmt: skip
def test_a_lock_that_is_refused_is_anothers_or_there_are_none(
    code: int, held: bool | None, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(fd: int, how: int) -> None:
        assert how == fcntl.LOCK_EX | fcntl.LOCK_NB
        raise OSError(code, "as the system says")

    monkeypatch.setattr(fcntl, "flock", refuse)
    assert hold._lock(0) is held


def test_on_windows_a_byte_behind_the_words_is_locked(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By what is made up to be like it (``windows_fakes``), which takes one byte behind 4096."""
    monkeypatch.setattr(hold, "sys", SimpleNamespace(platform="win32"))
    monkeypatch.setitem(sys.modules, "msvcrt", locks())
    mine = take(log, BOOT)
    assert isinstance(mine, Hold)
    assert isinstance(take(log, BOOT), Holder)
    assert hold_path(log).stat().st_size < 4096
    fd, closed = mine.fd, []
    real = os.close
    monkeypatch.setattr(hold.os, "close", lambda fd: (closed.append(fd), real(fd)))
    real_unlink = Path.unlink

    def unlink(path: Path, missing_ok: bool = False) -> None:
        assert closed == [fd], "an open file cannot be removed there"
        real_unlink(path, missing_ok)

    monkeypatch.setattr(Path, "unlink", unlink)
    mine.release()
    assert closed == [fd], "once"
    assert files(log.parent) == []
    assert hold._alive(Holder(2**22 + 1, HERE, BOOT)), "there is no way to ask"


def test_a_file_that_is_gone_or_another_by_now_is_not_the_one_that_was_locked(log: Path) -> None:
    log.write_bytes(b"")
    fd = os.open(log, os.O_RDWR)
    try:
        assert hold._still_there(fd, log)
        log.unlink()
        assert not hold._still_there(fd, log)
        log.write_bytes(b"")
        assert not hold._still_there(fd, log)
    finally:
        os.close(fd)
