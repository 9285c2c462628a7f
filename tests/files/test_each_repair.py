"""The log's file changed behind its writer's back, or torn: what stays and what is written anew."""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path

import pytest
from disk_fakes import Disk, event, header, text_of

from soapbench.logfile.batchlog import BatchLog, _keep, _records, read_log
from soapbench.logfile.records import event_text, header_text

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="folders are synced elsewhere")
ONE, TWO, THREE = (event(n) for n in range(3))


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    return Disk(monkeypatch)


@pytest.fixture
def log(tmp_path: Path, disk: Disk) -> BatchLog:
    return BatchLog.create(tmp_path / "batches", header(), tmp_path / "spill")


def test_a_file_of_the_same_size_that_is_another_is_noticed(log: BatchLog) -> None:
    log.append(ONE)
    other = text_of(TWO)
    assert len(other) == log.path.stat().st_size
    log.path.rename(log.path.with_suffix(".old"))
    log.path.write_bytes(other)
    log.append(THREE)
    assert read_log(log.path).events == (TWO, ONE, THREE)


def test_what_another_added_stays_and_what_it_cut_is_written_again(log: BatchLog) -> None:
    log.append(ONE)
    with log.path.open("ab") as file:
        file.write(event_text(TWO))
    log.append(THREE)
    assert read_log(log.path).events == (ONE, TWO, THREE)
    os.truncate(log.path, len(text_of(ONE)))
    log.append(event(7))
    assert read_log(log.path).events == (ONE, THREE, event(7))


def test_a_torn_end_is_put_aside_where_it_is_not_our_own(tmp_path: Path) -> None:
    torn = event_text(TWO)[:-30]
    path = tmp_path / "x.toml"
    path.write_bytes(text_of(ONE) + torn)
    log = BatchLog.carry_on(path)
    log.append(THREE)
    assert read_log(path).events == (ONE, THREE)
    assert path.read_text().count("# torn, set aside: ") == 1
    assert [damage.start for damage in log.damaged] == [len(text_of(ONE)) + 1]


def test_our_own_write_cut_short_is_written_anew_without_a_word(
    log: BatchLog, disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full after some bytes, and cannot be cut back either."""
    log.append(ONE)
    real, cut = os.write, os.ftruncate

    def short(fd: int, data: bytes) -> int:
        if len(data) < len(event_text(TWO)):
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(fd, data[:40])

    def refuse(fd: int, size: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "write", short)
    monkeypatch.setattr(os, "ftruncate", refuse)
    disk.fails = ("spill",)
    log.append(TWO)
    assert log.unsaved is not None
    monkeypatch.setattr(os, "write", real)
    monkeypatch.setattr(os, "ftruncate", cut)
    disk.fails = ()
    log.append(THREE)
    assert log.path.read_bytes() == text_of(ONE, TWO, THREE)


def test_a_closed_log_has_let_go_of_its_file_and_can_still_be_written(log: BatchLog) -> None:
    log.append(ONE)
    fd = log._fd
    assert fd is not None
    log.close()
    with pytest.raises(OSError, match="Bad file descriptor"):
        os.fstat(fd)
    log.close()
    log.append(TWO)
    assert read_log(log.path).events == (ONE, TWO)


def test_where_the_part_to_be_kept_ends() -> None:
    whole = text_of(ONE, TWO)
    torn = event_text(THREE)[:-30]
    assert _keep(whole) == len(whole)
    assert _keep(whole + torn) == len(whole) + 1, "a blank line before it belongs to nobody"
    assert _keep(b"junk\n" + event_text(ONE)) == len(b"junk\n" + event_text(ONE))
    assert _keep(b"") == 0
    ends = len(text_of(ONE))
    assert _records(whole) == [
        (len(header_text(header())) + 1, ends, ONE.id), (ends + 1, len(whole), TWO.id),
    ]  # fmt: skip
