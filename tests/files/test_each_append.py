"""The log's writer condition by condition: what is unsaved, why, and where it waits meanwhile."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from disk_fakes import CREATED, Disk, event, files, header, text_of

from soapbench.logfile import batchlog
from soapbench.logfile.batchlog import LARGEST_LOG, BatchLog, log_name, read_log
from soapbench.logfile.records import header_text

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="folders are synced elsewhere")
ONE, TWO, THREE = (event(n) for n in range(3))


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    return Disk(monkeypatch)


@pytest.fixture
def log(tmp_path: Path, disk: Disk) -> BatchLog:
    return BatchLog.create(tmp_path / "batches", header(), tmp_path / "spill")


def test_a_log_may_have_fifty_megabytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A long pour with its years of aftercare has some fifty thousand bytes (ours)."""
    asked: list[int] = []
    monkeypatch.setattr(batchlog, "read_file", lambda path, most: (asked.append(most), b"")[1])
    read_log(tmp_path / "x.toml")
    assert asked == [50_000_000] == [LARGEST_LOG]


@pytest.mark.parametrize(
    ("title", "slug"),
    [("A" * 40, "a" * 40), ("A" * 41, "a" * 40), ("a" * 39 + " b", "a" * 39), ("§", "batch"),
     ("- a -", "a"), ("Ä 1", "a-1")],
)  # fmt: skip
def test_a_name_has_forty_letters_of_the_title(title: str, slug: str) -> None:
    start, tail = log_name(title, CREATED).rsplit("-", 1)
    assert start == f"20240501T185500Z-{slug}"
    assert len(tail) == 10 + len(".toml")


# ---------------------------------------------------------------- begun


def test_what_is_only_prepared_is_not_on_the_disk(tmp_path: Path, disk: Disk) -> None:
    log = BatchLog.prepare(tmp_path / "batches", header(), tmp_path / "spill")
    assert files(tmp_path) == []
    assert log.path.parent == tmp_path / "batches"
    assert (log.spill, log.head) == (tmp_path / "spill" / log.path.name, header_text(header()))
    log.begin()
    assert log.path.read_bytes() == header_text(header())
    assert log.unsaved is None
    assert disk.syncs == 3, "the folder above, the file, its folder; nothing twice"
    assert BatchLog.prepare(tmp_path, header()).spill is None


def test_a_header_that_is_not_saved_is_unsaved_though_no_event_is(
    tmp_path: Path, disk: Disk
) -> None:
    disk.fails = ("batches",)
    log = BatchLog.create(tmp_path / "batches", header())
    assert log.unsaved is not None
    assert (log.unsaved.events, log.unsaved.why) == ((), "Input/output error")
    assert log.unsaved.spilled_to is None
    assert not log.retry()
    disk.fails = ()
    assert log.retry()
    assert log.unsaved is None
    assert log.path.read_bytes() == header_text(header())


def test_what_is_saved_is_not_looked_at_again(
    log: BatchLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    log.append(ONE)
    monkeypatch.setattr(log, "_flush", lambda: pytest.fail("the disk is asked again"))
    assert log.retry()
    monkeypatch.undo()
    monkeypatch.setattr(batchlog, "open_file", lambda *_: pytest.fail("it is opened again"))
    log.append(TWO)
    assert log.unsaved is None


# ---------------------------------------------------------------- events


def test_an_event_without_an_id_is_given_one_of_eight_signs_that_no_other_has(
    log: BatchLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = iter([bytes.fromhex("00000000"), bytes.fromhex("0000000a")])

    def urandom(count: int) -> bytes:
        assert count == 4
        return next(drawn)

    log.append(ONE)
    assert ONE.id == "00000000"
    monkeypatch.setattr(batchlog.os, "urandom", urandom)
    assert log.append(replace(TWO, id="")).id == "0000000a"
    assert log.append(THREE) == THREE


def test_an_id_is_written_once_and_the_first_is_what_counts(log: BatchLog) -> None:
    assert log.append(ONE) == ONE
    assert log.append(replace(TWO, id=ONE.id)) == ONE
    log.append(TWO)
    assert log.events == read_log(log.path).events == (ONE, TWO)
    assert log.path.read_bytes() == text_of(ONE, TWO)


# ---------------------------------------------------------------- unsaved, spilled, brought home


def test_what_cannot_be_written_is_told_and_spilled_whole(
    log: BatchLog, disk: Disk, tmp_path: Path
) -> None:
    log.append(ONE)
    disk.fails = ("batches",)
    log.append(TWO)
    log.append(THREE)
    assert log.unsaved is not None
    assert (log.unsaved.events, log.unsaved.why) == ((TWO, THREE), "Input/output error")
    assert log.unsaved.spilled_to == tmp_path / "spill" / log.path.name
    assert log.unsaved.spilled_to.read_bytes() == text_of(ONE, TWO, THREE)
    assert log.path.read_bytes() == text_of(ONE), "cut back at once"
    disk.fails = ()
    assert log.retry()
    assert log.path.read_bytes() == text_of(ONE, TWO, THREE)
    assert files(tmp_path / "spill") == []
    # Once home it is spilled no more: another failure has to spill it again.
    disk.fails = ("batches", "spill")
    log.append(event(9))
    assert log.unsaved is not None
    assert log.unsaved.spilled_to is None


def test_what_can_be_spilled_nowhere_is_told_to_be_in_memory(
    log: BatchLog, disk: Disk, tmp_path: Path
) -> None:
    disk.fails = ("batches", "spill")
    log.append(ONE)
    assert log.unsaved is not None
    assert log.unsaved.spilled_to is None
    assert log.unsaved.why == f"Input/output error; nor in {tmp_path / 'spill'}: Input/output error"
    disk.fails = ("batches",)
    log.append(TWO)
    assert log.unsaved.spilled_to is not None
    disk.fails = ("batches", "spill")
    log.append(THREE)
    assert log.unsaved.spilled_to is None, "what stands there is not all of it"


def test_without_a_place_to_spill_events_are_in_memory(tmp_path: Path, disk: Disk) -> None:
    log = BatchLog.create(tmp_path / "batches", header())
    disk.fails = ("batches",)
    disk.error = OSError("odd")
    log.append(ONE)
    assert log.unsaved is not None
    assert (log.unsaved.why, log.unsaved.spilled_to) == ("odd", None)
    disk.fails = ()
    assert log.retry()
    assert read_log(log.path).events == (ONE,)


def test_a_log_is_carried_on_from_itself_its_spill_or_both(
    log: BatchLog, disk: Disk, tmp_path: Path
) -> None:
    log.append(ONE)
    disk.fails = ("batches",)
    log.append(TWO)
    log.close()
    disk.fails = ()
    spill = tmp_path / "spill"
    alone = BatchLog.carry_on(log.path)
    assert (alone.events, alone.spill) == ((ONE,), None)
    alone.close()
    both = BatchLog.carry_on(log.path, spill)
    assert both.events == (ONE, TWO)
    assert (both.head, both.unsaved) == (header_text(header()), None)
    assert both.path.read_bytes() == text_of(ONE, TWO)
    assert files(spill) == [], "it is home"
    both.close()
    moved = spill / log.path.name
    log.path.rename(moved)
    spilled = BatchLog.carry_on(log.path, spill)
    assert spilled.path.read_bytes() == text_of(ONE, TWO)
    assert spilled.head == header_text(header())
    spilled.append(THREE)
    assert read_log(log.path).events == (ONE, TWO, THREE)
    spilled.close()
    log.path.unlink()
    with pytest.raises(FileNotFoundError):
        BatchLog.carry_on(log.path, spill)
    with pytest.raises(FileNotFoundError):
        BatchLog.carry_on(log.path)


def test_a_log_without_any_event_is_carried_on(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(header_text(header()) + b"\n\n")
    log = BatchLog.carry_on(path, tmp_path / "spill")
    assert log.head == header_text(header())
    log.append(ONE)
    assert read_log(path).events == (ONE,)
