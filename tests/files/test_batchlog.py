"""The log's writer: durable, never in the way of a pour, nothing lost and nothing doubled."""

from __future__ import annotations

import errno
import os
import random
import signal
import stat
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from disk_fakes import event, files, header, pour, text_of

from soapbench.log import Event, Kind, standing
from soapbench.logfile.batchlog import BatchLog, log_name, read_log
from soapbench.logfile.records import event_text

FULL = OSError(errno.ENOSPC, "No space left on device")


def whole(path: Path) -> tuple[Event, ...]:
    """Events of a log that must be undamaged and valid TOML as a whole."""
    read = read_log(path)
    assert read.damaged == ()
    tomllib.loads(path.read_text("utf-8"))
    return read.events


@pytest.fixture
def log(tmp_path: Path) -> BatchLog:
    return BatchLog.create(tmp_path / "batches", header(), tmp_path / "spill")


class Faults:
    """Makes the next calls of an ``os`` function fail."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.patch = patch

    def always(self, name: str, error: OSError) -> Callable[[], None]:
        real = getattr(os, name)

        def fail(*_: object, **__: object) -> object:
            raise error

        self.patch.setattr(os, name, fail)
        return lambda: self.patch.setattr(os, name, real)

    def short_write(self, taken: int) -> Callable[[], None]:
        """A disk with room for ``taken`` more bytes."""
        real = os.write
        room = [taken]

        def write(fd: int, data: bytes) -> int:
            if not room[0]:
                raise FULL
            part = real(fd, data[: room[0]])
            room[0] -= part
            return part

        self.patch.setattr(os, "write", write)
        return lambda: self.patch.setattr(os, "write", real)


@pytest.fixture
def faults(monkeypatch: pytest.MonkeyPatch) -> Faults:
    return Faults(monkeypatch)


def test_durable_before_append_returns(log: BatchLog, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[bytes] = []
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda fd: (real(fd), synced.append(log.path.read_bytes())))
    one = log.append(event(1))
    assert event_text(one) in synced[-1]
    assert log.unsaved is None
    assert read_log(log.path).header == header()


def test_a_new_log_is_durable_file_and_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[str] = []
    real = os.fsync

    def fsync(fd: int) -> None:
        synced.append("folder" if stat.S_ISDIR(os.fstat(fd).st_mode) else "file")
        real(fd)

    monkeypatch.setattr(os, "fsync", fsync)
    log = BatchLog.create(tmp_path, header())
    assert synced[:2] == (["file", "folder"] if sys.platform != "win32" else ["file"])
    assert files(tmp_path) == [log.path.name]


def test_a_new_log_is_whole_or_not_there(tmp_path: Path, faults: Faults) -> None:
    heal = faults.short_write(100)
    log = BatchLog.create(tmp_path / "batches", header())
    heal()
    assert log.unsaved is not None
    assert log.unsaved.events == ()
    assert files(tmp_path / "batches") == []
    log.append(event(1))
    assert log.unsaved is None
    assert whole(log.path) == (event(1),)
    assert read_log(log.path).header == header()


def test_ids_are_given_and_nothing_doubles(log: BatchLog) -> None:
    first = log.append(Event(event(0).at, 0.0, Kind.NOTE))
    second = log.append(Event(event(0).at, 0.0, Kind.NOTE))
    assert first.id
    assert first.id != second.id
    assert log.append(first) == first
    assert whole(log.path) == (first, second) == log.events


def test_undo_of_undo_through_the_file(log: BatchLog) -> None:
    note = log.append(event(1, text="wrong pot"))
    undo = log.append(event(2, Kind.UNDO, of=note.id))
    assert standing(whole(log.path)) == ()
    log.append(event(3, Kind.UNDO, of=undo.id))
    assert standing(whole(log.path)) == (note,)


@pytest.mark.parametrize(
    ("title", "slug"),
    [
        ("Harbour at Dusk", "harbour-at-dusk"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\nul\x00", "c-nul"),
        ("Žluťoučký kůň", "zlutoucky-kun"),
        ("石鹸", "batch"),
        ("", "batch"),
        ("x" * 500, "x" * 40),
    ],
)
def test_names_stay_in_the_folder_and_never_collide(title: str, slug: str) -> None:
    names = {log_name(title, header().created) for _ in range(50)}
    assert len(names) == 50
    for name in names:
        assert name.startswith(f"20240501T185500Z-{slug}-")
        assert Path(name).name == name


@pytest.mark.parametrize("call", ["write", "fsync", "open", "stat"])
@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.EROFS, errno.EACCES])
def test_a_failing_disk_never_raises_and_is_told(
    log: BatchLog, faults: Faults, call: str, code: int
) -> None:
    log.append(event(1))
    heal = faults.always(call, OSError(code, os.strerror(code)))
    log.append(event(2))
    log.append(event(3))
    unsaved = log.unsaved
    heal()
    if call in ("open", "stat"):  # the open file is enough, or opening it again is
        assert unsaved is None
    else:
        assert unsaved is not None
        assert unsaved.events == (event(2), event(3))
        assert os.strerror(code) in unsaved.why
    assert log.retry()
    assert log.unsaved is None
    log.append(event(4))
    assert whole(log.path) == tuple(event(n) for n in (1, 2, 3, 4))


@pytest.mark.parametrize("taken", [0, 1, 2, 11, 60, 120, 150])
@pytest.mark.parametrize("truncates", [True, False], ids=["truncates", "cannot truncate"])
def test_short_writes_are_repaired(
    log: BatchLog, faults: Faults, taken: int, truncates: bool
) -> None:
    log.append(event(1))
    heal_room = faults.short_write(taken)
    heal_cut = (lambda: None) if truncates else faults.always("ftruncate", FULL)
    log.append(event(2))
    heal_room()
    heal_cut()
    assert log.unsaved is not None
    if truncates:
        assert whole(log.path) == (event(1),)  # valid at once, not only after the next append
    log.append(event(3))
    assert log.unsaved is None
    assert whole(log.path) == (event(1), event(2), event(3))


@pytest.mark.skipif(sys.platform == "win32", reason="no file size limit there")
@pytest.mark.parametrize("room", [0, 1, 90])
def test_a_write_the_kernel_itself_cuts_short(log: BatchLog, room: int) -> None:
    """Nothing faked: ``setrlimit(2)`` makes the kernel take only so many bytes, then refuse."""
    import resource

    log.append(event(1))
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (log.path.stat().st_size + room, hard))
    try:
        log.append(event(2))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert log.unsaved is not None
    assert os.strerror(errno.EFBIG) in log.unsaved.why
    assert whole(log.path) == (event(1),)
    log.append(event(3))
    assert whole(log.path) == (event(1), event(2), event(3))


def test_after_a_failed_fsync_the_bytes_are_written_again(log: BatchLog, faults: Faults) -> None:
    heal = faults.always("fsync", OSError(errno.EIO, "Input/output error"))
    heal_cut = faults.always("ftruncate", OSError(errno.EIO, "Input/output error"))
    log.append(event(1))
    heal()
    heal_cut()
    assert read_log(log.path).events == (event(1),)  # to be read, yet perhaps never on the disk
    written: list[bytes] = []
    real = os.write
    faults.patch.setattr(os, "write", lambda fd, d: (written.append(bytes(d)), real(fd, d))[1])
    assert log.retry()
    assert written == [event_text(event(1))]
    assert whole(log.path) == (event(1),)


def test_folder_gone_mid_pour_waits_in_the_spill_file(log: BatchLog, tmp_path: Path) -> None:
    log.append(event(1))
    away = tmp_path / "away"
    log.path.parent.rename(away)
    log.append(event(2))
    unsaved = log.unsaved
    assert unsaved is not None
    assert unsaved.events == (event(2),)
    assert unsaved.spilled_to == tmp_path / "spill" / log.path.name
    assert whole(unsaved.spilled_to) == (event(1), event(2))
    assert not log.path.parent.exists()  # it may be a disk that comes back
    away.rename(log.path.parent)
    log.append(event(3))
    assert log.unsaved is None
    assert whole(log.path) == (event(1), event(2), event(3))
    assert files(tmp_path / "spill") == []


def test_spill_outlives_the_program(log: BatchLog, tmp_path: Path) -> None:
    log.append(event(1))
    log.path.parent.rename(tmp_path / "away")
    log.append(event(2))
    log.close()
    (tmp_path / "away").rename(log.path.parent)
    again = BatchLog.carry_on(log.path, tmp_path / "spill")
    assert again.unsaved is None
    assert whole(log.path) == (event(1), event(2)) == again.events
    assert files(tmp_path / "spill") == []


def test_a_log_that_is_in_the_spill_alone_comes_home_with_every_event_once(
    log: BatchLog, tmp_path: Path
) -> None:
    log.append(event(1))
    log.path.parent.rename(tmp_path / "away")
    log.append(event(2))
    log.close()
    log.path.parent.mkdir()
    again = BatchLog.carry_on(log.path, tmp_path / "spill")
    assert again.head == log.head
    assert whole(log.path) == (event(1), event(2)) == again.events
    assert log.path.read_bytes().count(b"[[event]]") == 2


def test_no_place_at_all_keeps_events_in_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "bench").write_text("a file where the folder should be")
    log = BatchLog.create(tmp_path / "bench" / "batches", header(), tmp_path / "bench" / "spill")
    log.append(event(1))
    unsaved = log.unsaved
    assert unsaved is not None
    assert unsaved.events == (event(1),)
    assert unsaved.spilled_to is None
    (tmp_path / "bench").unlink()
    (tmp_path / "bench" / "batches").mkdir(parents=True)
    assert log.retry()
    assert whole(log.path) == (event(1),)


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="rights are kept otherwise here")
def test_permission_denied_for_real(tmp_path: Path) -> None:
    folder = tmp_path / "batches"
    folder.mkdir(mode=0o500)
    me = os.geteuid()
    if me == 0:  # the system refuses root nothing
        os.seteuid(65534)
    try:
        log = BatchLog.create(folder, header(), tmp_path / "spill")
        log.append(event(1))
        assert log.unsaved is not None
        assert log.unsaved.events == (event(1),)
        assert "Permission denied" in log.unsaved.why
    finally:
        if me == 0:
            os.seteuid(0)
    folder.chmod(0o700)
    assert log.retry()
    assert whole(log.path) == (event(1),)


def test_file_removed_or_replaced_by_a_sync_is_made_good(log: BatchLog) -> None:
    log.append(event(1))
    older = log.path.read_bytes()
    log.append(event(2))
    log.path.unlink()
    log.append(event(3))
    assert whole(log.path) == (event(1), event(2), event(3))
    log.path.unlink()
    log.path.write_bytes(older)
    log.append(event(4))
    assert whole(log.path) == (event(1), event(2), event(3), event(4))


def test_a_file_another_program_cut_or_scribbled_on_is_made_good(log: BatchLog) -> None:
    log.append(event(1))
    log.append(event(2))
    os.truncate(log.path, log.path.stat().st_size - 40)
    log.append(event(3))
    assert whole(log.path) == (event(1), event(2), event(3))
    with log.path.open("ab") as file:
        file.write(b'\n[[event]]\nkind = "no')
    log.append(event(4))
    assert whole(log.path) == (event(1), event(2), event(3), event(4))


def test_every_torn_end_is_put_aside_and_kept(tmp_path: Path) -> None:
    last = event_text(event(2, text="half a note"))
    for cut in range(2, len(last) - 1, 7):
        path = tmp_path / f"{cut}.toml"
        path.write_bytes(text_of(event(1)) + last[:cut])
        log = BatchLog.carry_on(path)
        assert len(log.damaged) == 1
        log.append(event(3))
        log.close()
        again = BatchLog.carry_on(path)
        again.append(event(4))
        assert whole(path) == (event(1), event(3), event(4))
        assert path.read_text().count("# torn, set aside: ") == 1
        assert "[[event]]" in path.read_text().partition("# torn, set aside: ")[2]


def test_carry_on_keeps_damage_in_the_middle_and_windows_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    data = text_of(event(1)) + b"\x00\x00junk\n" + event_text(event(2))
    path.write_bytes(data.replace(b"\n", b"\r\n"))
    log = BatchLog.carry_on(path)
    log.append(event(3))
    assert path.read_bytes().startswith(data.replace(b"\n", b"\r\n"))
    read = read_log(path)
    assert read.events == (event(1), event(2), event(3))
    assert len(read.damaged) == 1


def test_carry_on_without_a_log_says_so(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        BatchLog.carry_on(tmp_path / "none.toml", tmp_path / "spill")
    assert files(tmp_path) == []


WRITER = """
import sys
from pathlib import Path
from disk_fakes import event, header
from soapbench.logfile.batchlog import BatchLog
log = BatchLog.create(Path(sys.argv[1]), header())
print(log.path, flush=True)
for n in range(10**6):
    print(log.append(event(n, text="x" * (n % 700))).id, flush=True)
"""


def killed(folder: Path, after: int, jitter: float) -> tuple[Path, list[str]]:
    """A writer killed some time after so many acknowledged events; its log, and those events."""
    here = Path(__file__).parent
    env = os.environ | {"PYTHONPATH": os.pathsep.join([str(here), str(here.parents[1])])}
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder)], stdout=subprocess.PIPE, text=True, env=env
    )
    assert writer.stdout is not None
    path = Path(writer.stdout.readline().strip())
    lines = [writer.stdout.readline().strip() for _ in range(after)]
    for _ in range(int(jitter * 20_000)):  # a moment that falls anywhere within an append
        pass
    writer.send_signal(signal.SIGKILL)
    rest, _ = writer.communicate()
    lines += [line for line in rest.split("\n") if len(line) == 8]
    return path, lines


def prove_kills(tmp_path: Path, runs: int) -> None:
    dice = random.Random(4)
    acknowledged = 0
    for _ in range(runs):
        path, lines = killed(tmp_path, dice.randrange(1, 40), dice.random())
        read = read_log(path)
        assert set(lines) <= {e.id for e in read.events}
        assert len(read.events) <= len(lines) + 1
        assert [e.id for e in read.events] == [f"{n:08x}" for n in range(len(read.events))]
        log = BatchLog.carry_on(path)
        assert whole(path) == read.events
        log.append(event(10**7))
        assert whole(path)[-1] == event(10**7)
        acknowledged += len(lines)
    assert acknowledged > runs


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no kill -9 here")
def test_no_acknowledged_event_is_lost_to_kill_9(tmp_path: Path) -> None:
    prove_kills(tmp_path, 25)


@pytest.mark.long
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no kill -9 here")
def test_no_acknowledged_event_is_lost_to_500_kills(tmp_path: Path) -> None:
    prove_kills(tmp_path, 500)


def test_a_finished_pour_reads_back(log: BatchLog) -> None:
    pour(log)
    assert [e.kind for e in whole(log.path)] == [Kind.LYE_MEETS_OILS, Kind.NOTE, Kind.POUR_ENDED]
