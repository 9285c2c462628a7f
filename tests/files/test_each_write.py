"""Files read and written, condition by condition: the door, what is durable, the clocks."""

from __future__ import annotations

import errno
import fcntl
import os
import stat
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from disk_fakes import files

from soapbench.logfile import clock, door, durable
from soapbench.logfile.clock import Reading, boot_seconds, elapsed_since, this_boot
from soapbench.logfile.door import NotAFile, open_file, read_file
from soapbench.logfile.durable import make_folder, save_text, sync, write_all, write_new

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="driven by what Linux has")


@pytest.fixture
def mask() -> Iterator[None]:
    """Rights are those that are asked for."""
    before = os.umask(0)
    yield
    os.umask(before)


def system(name: str) -> SimpleNamespace:
    return SimpleNamespace(platform=name)


# ---------------------------------------------------------------- the door


@pytest.mark.parametrize("size", [0, 1, 999, 1000])
def test_a_file_is_read_whole_up_to_the_most(size: int, tmp_path: Path) -> None:
    (tmp_path / "f").write_bytes(b"x" * size)
    assert read_file(tmp_path / "f", 1000) == b"x" * size


def test_a_file_longer_than_a_block_is_read_whole(tmp_path: Path) -> None:
    data = os.urandom(64) * 20_000  # a quarter more than 1 MiB
    (tmp_path / "f").write_bytes(data)
    assert read_file(tmp_path / "f", len(data)) == data


def test_a_file_that_says_it_is_empty_is_read_no_further_than_the_most(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.fstat

    def empty(fd: int) -> SimpleNamespace:
        return SimpleNamespace(st_mode=real(fd).st_mode, st_size=0)

    monkeypatch.setattr(door.os, "fstat", empty)
    for size, whole in ((1000, True), (1001, False), (1002, False), (5000, False)):
        (tmp_path / "f").write_bytes(b"x" * size)
        if whole:
            assert len(read_file(tmp_path / "f", 1000)) == size
        else:
            with pytest.raises(OSError, match="far too large") as refused:
                read_file(tmp_path / "f", 1000)
            assert refused.value.errno == errno.EFBIG


def test_a_folder_is_told_from_a_device(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for odd, what in ((tmp_path, "it is a folder"), (tmp_path / "pipe", "device or a pipe")):
        with pytest.raises(NotAFile, match=what):
            read_file(odd, 1000)


def test_a_file_is_made_for_everybody_to_read(tmp_path: Path, mask: None) -> None:
    os.close(open_file(tmp_path / "f", os.O_RDWR | os.O_CREAT))
    write_new(tmp_path / "g", b"x")
    for name in "fg":
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o644


# ---------------------------------------------------------------- durable


def test_all_is_written_however_little_the_disk_takes_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.write
    monkeypatch.setattr(os, "write", lambda fd, data: real(fd, data[:3]))
    fd = os.open(tmp_path / "f", os.O_WRONLY | os.O_CREAT)
    write_all(fd, b"0123456789")
    os.close(fd)
    assert (tmp_path / "f").read_bytes() == b"0123456789"


@pytest.mark.parametrize(
    ("on", "knows", "asked"),
    [("linux", True, ["fsync"]), ("darwin", True, ["full"]), ("darwin", False, ["full", "fsync"])],
)
def test_a_mac_is_asked_to_leave_nothing_in_the_drive(
    on: str, knows: bool, asked: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """man 2 fsync there; not every file system knows it."""
    done: list[str] = []

    def full(fd: int, how: int) -> None:
        assert how == 51
        done.append("full")
        if not knows:
            raise OSError(errno.ENOTSUP, "not known")

    monkeypatch.setattr(durable, "sys", system(on))
    monkeypatch.setattr(fcntl, "F_FULLFSYNC", 51, raising=False)
    monkeypatch.setattr(fcntl, "fcntl", full)
    monkeypatch.setattr(os, "fsync", lambda fd: done.append("fsync"))
    sync(0)
    assert done == asked


def test_what_is_there_is_not_written_over_unless_that_is_meant(tmp_path: Path) -> None:
    path = tmp_path / "f"
    write_new(path, b"old")
    with pytest.raises(FileExistsError):
        write_new(path, b"new")
    assert (path.read_bytes(), files(tmp_path)) == (b"old", ["f"])
    write_new(path, b"new", over=True)
    assert (path.read_bytes(), files(tmp_path)) == (b"new", ["f"])
    save_text(path, "ä")
    assert path.read_bytes() == "ä".encode()
    save_text(tmp_path / "a" / "b", "x")
    assert (tmp_path / "a" / "b").read_bytes() == b"x"


def test_a_link_is_followed_only_to_write_over(tmp_path: Path) -> None:
    link, far = tmp_path / "link", tmp_path / "far"
    link.symlink_to(far)
    write_new(link, b"x")
    assert (link.is_symlink(), link.read_bytes(), far.exists()) == (False, b"x", False)
    link.unlink()
    link.symlink_to(far)
    write_new(link, b"y", over=True)
    assert (link.is_symlink(), far.read_bytes()) == (True, b"y")


def test_who_may_read_it_stays_so_where_the_system_can(
    tmp_path: Path, mask: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "f"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_new(path, b"new", over=True)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    monkeypatch.setattr(durable, "sys", system("win32"))
    monkeypatch.setattr(durable.os, "fchmod", lambda fd, mode: pytest.fail("there is none there"))
    write_new(path, b"newer", over=True)
    assert path.read_bytes() == b"newer"


def test_a_write_that_fails_leaves_nothing_but_what_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "f"
    path.write_bytes(b"old")
    (tmp_path / ".f.part").write_bytes(b"left by one who was killed")

    def refuse(fd: int) -> None:
        raise OSError(errno.EIO, "as the disk says")

    monkeypatch.setattr(durable, "sync", refuse)
    with pytest.raises(OSError, match="as the disk says"):
        write_new(path, b"new", over=True)
    assert (path.read_bytes(), files(tmp_path)) == (b"old", ["f"])


def synced(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    names: list[str] = []
    monkeypatch.setattr(os, "fsync", lambda fd: names.append(os.readlink(f"/proc/self/fd/{fd}")))
    return names


def test_folders_are_made_from_the_top_and_each_synced_in_the_one_above(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = synced(monkeypatch)
    make_folder(tmp_path / "a" / "b")
    assert names == [str(tmp_path), str(tmp_path / "a")]
    make_folder(tmp_path / "a" / "b")
    assert len(names) == 2
    monkeypatch.setattr(durable, "sys", system("win32"))
    make_folder(tmp_path / "c")
    assert (tmp_path / "c").is_dir()
    assert len(names) == 2, "there no folder is synced"


def test_where_nothing_seems_to_be_there_the_search_ends_at_the_top(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on a drive that is not there; or another program made the folder meanwhile."""
    names = synced(monkeypatch)
    monkeypatch.setattr(Path, "exists", lambda path: False)
    make_folder(tmp_path)
    assert names == [str(parent) for parent in reversed(tmp_path.parents)]


# ---------------------------------------------------------------- clocks

NOON = datetime(2024, 5, 1, 12, tzinfo=UTC)


def read(boot_s: float, boot: str = "a", wall_s: float = 0.0) -> Reading:
    return Reading(NOON + timedelta(seconds=wall_s), boot_s, boot)


@pytest.mark.parametrize(
    ("then", "now", "seconds", "by_boot"),
    [
        (read(100.0), read(160.0, wall_s=5.0), 60.0, True),
        (read(100.0), read(100.0, wall_s=5.0), 0.0, True),
        (read(100.0), read(99.9, wall_s=5.0), 5.0, False),
        (read(100.0), read(160.0, "b", 5.0), 5.0, False),
        (read(100.0, ""), read(160.0, "", 5.0), 5.0, False),
        (read(100.0), read(160.0, "b", -5.0), 0.0, False),
        (read(100.0, wall_s=2.0), read(9.0, "b", 7.0), 5.0, False),
    ],
)
def test_the_boot_clock_counts_within_one_boot_and_the_wall_clock_else(
    then: Reading, now: Reading, seconds: float, by_boot: bool
) -> None:
    elapsed = elapsed_since(then, now)
    assert (elapsed.seconds, elapsed.by_boot_clock) == (seconds, by_boot)


@pytest.mark.parametrize(
    ("on", "asked"), [("linux", "boottime"), ("darwin", "raw"), ("win32", "monotonic")]
)
def test_each_system_has_a_clock_that_counts_in_sleep(
    on: str, asked: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake = SimpleNamespace(
        CLOCK_BOOTTIME="boottime", CLOCK_MONOTONIC_RAW="raw",
        clock_gettime=lambda which: which, monotonic=lambda: "monotonic",
    )  # fmt: skip
    monkeypatch.setattr(clock, "sys", system(on))
    monkeypatch.setattr(clock, "time", fake)
    assert boot_seconds() == asked


def test_a_boot_is_named_by_linux_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    named = Path("/proc/sys/kernel/random/boot_id")
    if named.exists():
        assert this_boot() == named.read_text().strip()
    monkeypatch.setattr(clock, "sys", system("darwin"))
    assert this_boot().startswith("process-")
    assert this_boot() != this_boot()
    monkeypatch.setattr(clock, "sys", system("linux"))

    def refuse(*_: object) -> str:
        raise OSError(errno.EACCES, "refused")

    monkeypatch.setattr(Path, "read_text", refuse)
    assert this_boot().startswith("process-")


def test_only_this_machines_time_is_used() -> None:
    act: Callable[[], float] = time.time
    assert abs(clock.SystemClock().read().at.timestamp() - act()) < 60.0
