"""A disk that hangs, condition by condition: who waits, how long, and where events are meanwhile.

Nothing here waits on the clock: a disk answers when it is let, and how long would have been
waited is noted.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from disk_fakes import event, header
from hung_kit import LONG_S, Hung, Named, Noted

from soapbench.log import Event
from soapbench.logfile import slowdisk
from soapbench.logfile.batchlog import BatchLog, Unsaved
from soapbench.logfile.patience import NO_ANSWER
from soapbench.logfile.records import event_text, read_bytes
from soapbench.logfile.slowdisk import PatientLog

End = Callable[[PatientLog, Hung], None]
ONE, TWO, THREE = (event(n) for n in range(3))


@pytest.fixture(autouse=True)
def ended(named: Named) -> Iterator[None]:
    yield
    for name in ("batch log", "spill"):
        for thread in named(name):
            thread.join(LONG_S)


@pytest.fixture
def hung(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Hung]:
    monkeypatch.setattr(slowdisk, "SPILL_S", LONG_S)  # so that a copy is there on return
    log = Hung(tmp_path / "x.toml", tmp_path / "spill" / "x.toml")
    yield log
    log.let(50)


@pytest.fixture
def end(named: Named) -> End:
    """Lets the disk answer, closes the log and waits until its thread is gone."""

    def end(log: PatientLog, hung: Hung) -> None:
        hung.let(50)
        log.close()
        for thread in named("batch log"):
            thread.join(LONG_S)

    return end


def spilled(hung: Hung) -> tuple[Event, ...]:
    assert hung.spill is not None
    data = hung.spill.read_bytes()
    assert data.startswith(hung.head)
    return read_bytes(data).events


# ---------------------------------------------------------------- a disk that answers


def test_on_a_disk_that_answers_an_event_is_durable_on_return(
    hung: Hung, named: Named, end: End
) -> None:
    hung.let(50)
    log = Noted(hung, waits_s=LONG_S)
    assert log.unsaved is None
    assert log.append(ONE) == ONE
    assert log.append(replace(TWO, id=ONE.id)) == ONE, "an id is written once"
    given = log.append(replace(TWO, id=""))
    assert len(given.id) == 8
    assert (log.events, log.unsaved) == ((ONE, given), None)
    assert hung.did == [ONE.id, given.id]
    assert log.retry()
    assert hung.did == [ONE.id, given.id], "nothing is unsaved"
    assert len(named("batch log")) == 1, "one thread writes, in order"
    assert not hung.spill.exists()  # type: ignore[union-attr]
    end(log, hung)
    assert named("batch log") == []


def test_a_working_disk_is_waited_for_a_second(hung: Hung) -> None:
    """A second is noticed, by a maker with a pot in hand; a fifth for a copy elsewhere (ours)."""
    assert PatientLog.__init__.__defaults__ == (1.0, False)
    hung.let(50)
    log = Noted(hung, waits_s=LONG_S)
    log.append(ONE)
    log.close()
    assert log.waited == [1.0, 1.0]


def test_a_copy_elsewhere_is_waited_for_a_fifth_of_a_second(
    tmp_path: Path, named: Named, end: End
) -> None:
    assert slowdisk.SPILL_S == 0.2
    hung = Hung(tmp_path / "x.toml", None)
    log = Noted(hung)
    log.append(ONE)
    assert log.unsaved == Unsaved((ONE,), NO_ANSWER, None), "there is no place for it"
    assert named("spill") == []
    end(log, hung)


def test_a_new_log_is_begun_and_an_earlier_one_is_not(hung: Hung, end: End) -> None:
    hung.let(50)
    log = Noted(hung, waits_s=LONG_S, new=True)
    log.append(ONE)
    end(log, hung)
    assert hung.did == ["begin", ONE.id, "close"]
    again = Noted(hung, waits_s=LONG_S)
    again.append(TWO)
    end(again, hung)
    assert hung.did[3:] == [TWO.id, "close"]


def test_a_closed_log_can_be_written_again(hung: Hung, end: End) -> None:
    hung.let(50)
    log = Noted(hung, waits_s=LONG_S)
    log.append(ONE)
    end(log, hung)
    log.append(TWO)
    assert log.unsaved is None
    end(log, hung)
    assert hung.did == [ONE.id, "close", TWO.id, "close"]


# ---------------------------------------------------------------- a disk that hangs


def test_while_it_hangs_all_is_copied_elsewhere_and_no_key_waits_twice(
    hung: Hung, monkeypatch: pytest.MonkeyPatch, named: Named, end: End
) -> None:
    writes: list[int] = []
    real = slowdisk.write_new

    def write_new(path: Path, data: bytes, over: bool = False) -> None:
        assert len(writes) < 5, "the same is written again and again"
        writes.append(data.count(b"[[event]]"))
        real(path, data, over)

    monkeypatch.setattr(slowdisk, "write_new", write_new)
    log = Noted(hung)
    log.append(ONE)
    assert log.unsaved == Unsaved((ONE,), NO_ANSWER, hung.spill)
    assert spilled(hung) == (ONE,)
    log.append(TWO)
    assert log.unsaved == Unsaved((ONE, TWO), NO_ANSWER, hung.spill)
    assert spilled(hung) == (ONE, TWO)
    assert log.waited == [1.0, 0.0], "the second time nobody waits"
    assert writes == [1, 2]
    assert not log.retry()
    assert all(thread.daemon for thread in named("batch log"))
    assert len(named("batch log")) == 1
    hung.let()
    log.until(lambda: ONE.id not in log._waiting)
    assert log.unsaved == Unsaved((TWO,), NO_ANSWER, hung.spill)
    assert spilled(hung) == (ONE, TWO), "it still hangs"
    hung.let()
    log.until(lambda: not log._waiting)
    assert log.unsaved is None
    assert not hung.spill.exists()  # type: ignore[union-attr]
    assert hung.did == [ONE.id, TWO.id]
    log.waits_s = LONG_S
    hung.let()
    log.append(THREE)
    assert log.waited[-1] == 1.0, "it is waited for again"
    assert log.unsaved is None
    end(log, hung)


def test_a_log_that_cannot_even_be_begun_is_unsaved_without_any_event(hung: Hung, end: End) -> None:
    log = Noted(hung, new=True)
    assert log.unsaved == Unsaved((), NO_ANSWER, hung.spill)
    assert spilled(hung) == ()
    hung.let()
    log.until(lambda: log._open_jobs == 0)
    assert log.unsaved is None
    end(log, hung)


def test_what_the_writer_could_not_write_is_told_beside_what_waits(hung: Hung, end: End) -> None:
    log = Noted(hung, waits_s=LONG_S)
    hung.unsaved = Unsaved((ONE,), "No space left on device", None)
    hung.let()
    log.append(ONE)
    assert log.unsaved == hung.unsaved
    log.waits_s = 0.0
    log.append(TWO)
    assert log.unsaved == Unsaved((ONE, TWO), NO_ANSWER, hung.spill)
    log.append(replace(ONE, id="again", t=ONE.t))
    hung.let(2)
    log.until(lambda: not log._waiting)
    assert log.unsaved == hung.unsaved
    assert spilled(hung)[:2] == (ONE, TWO), "it is not home yet: the copy stays"
    log.waits_s = LONG_S
    assert not log.retry()
    hung.unsaved = None
    hung.let()
    log.until(lambda: log._open_jobs == 0)
    assert log.retry()
    assert hung.did[-1] == "retry"
    assert hung.did.count("retry") == 1
    assert not hung.spill.exists()  # type: ignore[union-attr]
    end(log, hung)


def test_nothing_more_is_asked_of_a_disk_that_hangs(hung: Hung, end: End) -> None:
    log = Noted(hung)
    log.append(ONE)
    for _ in range(3):
        assert not log.retry()
    hung.let()
    log.until(lambda: log._open_jobs == 0)
    assert hung.did == [ONE.id]
    end(log, hung)
    assert hung.did == [ONE.id, "close"]


def test_a_copy_that_cannot_be_made_is_not_told_of(
    hung: Hung, monkeypatch: pytest.MonkeyPatch, end: End
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError("no room")

    real = slowdisk.write_new
    monkeypatch.setattr(slowdisk, "write_new", refuse)
    log = Noted(hung)
    log.append(ONE)
    assert log.unsaved == Unsaved((ONE,), NO_ANSWER, None)
    monkeypatch.setattr(slowdisk, "write_new", real)
    log.append(TWO)
    assert log.unsaved == Unsaved((ONE, TWO), NO_ANSWER, hung.spill)
    monkeypatch.setattr(slowdisk, "write_new", refuse)
    log.append(THREE)
    assert log.unsaved is not None
    assert log.unsaved.spilled_to is None, "what is there is not all of it"
    end(log, hung)


def test_one_thread_makes_the_copy_however_many_keys_are_pressed(
    hung: Hung, monkeypatch: pytest.MonkeyPatch, named: Named, end: End
) -> None:
    go, real = threading.Event(), slowdisk.write_new

    def write_new(path: Path, data: bytes, over: bool = False) -> None:
        assert go.wait(LONG_S)
        real(path, data, over)

    monkeypatch.setattr(slowdisk, "write_new", write_new)
    monkeypatch.setattr(slowdisk, "SPILL_S", 0.0)
    log = Noted(hung)
    for one in (ONE, TWO, THREE):
        log.append(one)
    assert len(named("spill")) == 1
    assert all(thread.daemon for thread in named("spill"))
    go.set()
    log.until(lambda: not log._spilling)
    assert spilled(hung) == (ONE, TWO, THREE), "what came meanwhile is copied after it"
    end(log, hung)


def test_once_the_disk_answers_no_copy_is_begun(hung: Hung, end: End) -> None:
    hung.let(50)
    log = Noted(hung, waits_s=LONG_S)
    log.append(ONE)
    log._spill_again = log._spilling = True
    log._spill()
    assert not hung.spill.exists()  # type: ignore[union-attr]
    assert not log._spilling
    end(log, hung)


def test_a_real_log_is_written_by_it_as_it_is(tmp_path: Path) -> None:
    log = PatientLog(BatchLog.prepare(tmp_path, header()), patience_s=LONG_S, new=True)
    log.append(ONE)
    log.append(TWO)
    log.close()
    assert log.path.read_bytes().endswith(event_text(ONE) + event_text(TWO))
