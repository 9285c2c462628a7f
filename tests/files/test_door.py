"""What is no file is never waited for, and what has no end is never read to it."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from soapbench.advice.known import Known
from soapbench.cli import INTERRUPTED, UNREADABLE, main
from soapbench.logfile import durable
from soapbench.logfile.batchlog import BatchLog
from soapbench.logfile.clock import SystemClock
from soapbench.logfile.door import NotAFile, read_file
from soapbench.logfile.durable import make_folder, save_text, write_new
from soapbench.logfile.hold import Hold, holder, take
from tests.fakes import SAMPLES
from tests.stress.test_kills import pour_under_way

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pipes by name there")
PLAN = str(sorted(SAMPLES.glob("*.toml"))[0])


def pipe(path: Path) -> None:
    os.mkfifo(path)


def zero(path: Path) -> None:
    path.symlink_to("/dev/zero")


def huge(path: Path) -> None:
    """A terabyte that takes no room."""
    with path.open("wb") as file:
        file.truncate(1 << 40)


def endless(path: Path) -> None:
    """Says that it is empty, and is not."""
    path.symlink_to("/proc/self/smaps")


ODD: tuple[Callable[[Path], None], ...] = (pipe, zero, huge, Path.mkdir)


@pytest.mark.parametrize("odd", [*ODD, endless])
def test_no_file_is_waited_for_or_read_without_end(
    tmp_path: Path, odd: Callable[[Path], None]
) -> None:
    odd(tmp_path / "f")
    with pytest.raises(OSError, match=r"folder|device|large"):
        read_file(tmp_path / "f", 1000)


def test_a_pipe_is_no_file_and_a_file_is_read_whole(tmp_path: Path) -> None:
    pipe(tmp_path / "p")
    with pytest.raises(NotAFile):
        read_file(tmp_path / "p", 10)
    (tmp_path / "f").write_bytes(b"x" * 10)
    assert read_file(tmp_path / "f", 10) == b"x" * 10
    with pytest.raises(OSError, match="large"):
        read_file(tmp_path / "f", 9)


@pytest.mark.parametrize("odd", ODD)
def test_as_a_plan(
    tmp_path: Path, odd: Callable[[Path], None], capsys: pytest.CaptureFixture[str]
) -> None:
    odd(tmp_path / "plan.toml")
    assert main(["check", str(tmp_path / "plan.toml")]) == UNREADABLE
    assert "plan.toml: it is" in capsys.readouterr().err


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize(
    "name", ["tables/oils.toml", "tables/swirls.toml", "tables/fragrances.toml", "settings.toml"]
)
def test_as_a_table_of_the_makers_own(
    tmp_path: Path, odd: Callable[[Path], None], name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "bench" / name
    file.parent.mkdir(parents=True)
    odd(file)
    for words in (["check", PLAN], ["fragrances"]):
        main(words)
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", ["fit.json", "index.sqlite", "sheets"])
def test_as_something_derived(
    tmp_path: Path,
    known: Known,
    odd: Callable[[Path], None],
    name: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    log = pour_under_way(tmp_path / "bench", known)
    (tmp_path / "bench" / ".derived").mkdir(exist_ok=True)
    odd(tmp_path / "bench" / ".derived" / name)
    assert main(["check", PLAN]) in (0, 1)
    assert main(["report", log.stem, "-o", str(tmp_path / "r.html")]) == 0
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize("odd", [pipe, zero])
def test_as_a_log_or_its_lock(tmp_path: Path, odd: Callable[[Path], None]) -> None:
    odd(tmp_path / "l.toml")
    with pytest.raises(OSError, match="device"):
        BatchLog.carry_on(tmp_path / "l.toml")
    odd(tmp_path / "l.toml.hold")
    held = take(tmp_path / "l.toml", SystemClock().boot_id)
    assert isinstance(held, Hold)
    assert held.problem
    assert holder(tmp_path / "l.toml", SystemClock().boot_id) is None


def test_nothing_is_written_into_a_pipe_somebody_put_in_the_way(tmp_path: Path) -> None:
    pipe(tmp_path / ".plan.toml.part")
    save_text(tmp_path / "plan.toml", "x = 1\n")
    assert (tmp_path / "plan.toml").read_text() == "x = 1\n"


def test_a_link_stays_and_so_do_rights(tmp_path: Path) -> None:
    kept = tmp_path / "elsewhere" / "report.html"
    kept.parent.mkdir()
    kept.write_text("old")
    kept.chmod(0o600)
    link = tmp_path / "report.html"
    link.symlink_to(kept)
    write_new(link, b"new", over=True)
    assert link.is_symlink()
    assert kept.read_text() == "new"
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600


def test_a_new_folder_is_made_durable_in_the_one_it_lies_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[str] = []
    real = os.fsync

    def fsync(fd: int) -> None:
        synced.append(os.readlink(f"/proc/self/fd/{fd}"))
        real(fd)

    monkeypatch.setattr(durable.os, "fsync", fsync)
    make_folder(tmp_path / "a" / "b" / "c")
    assert synced == [str(tmp_path), str(tmp_path / "a"), str(tmp_path / "a" / "b")]
    make_folder(tmp_path / "a" / "b" / "c")
    assert len(synced) == 3


# ---- the command line itself


def test_ctrl_c_says_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(*_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setitem(sys.modules["soapbench.cli"].COMMANDS, "check", interrupted)
    assert main(["check", PLAN]) == INTERRUPTED
    assert capsys.readouterr() == ("", "")


def test_standard_output_closed(
    tmp_path: Path,
    known: Known,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    log = pour_under_way(tmp_path / "bench", known)
    monkeypatch.setattr(sys, "stdout", None)
    assert main(["report", log.stem, "-o", "-"]) == UNREADABLE
    assert "closed" in capsys.readouterr().err


def test_a_time_zone_that_is_none(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import time

    monkeypatch.setenv("TZ", "UTC+25")
    time.tzset()
    try:
        assert main(["check", PLAN]) in (0, 1)
        assert 'no time zone "UTC+25"' in capsys.readouterr().err
        assert SystemClock().read().at.utcoffset() is not None
    finally:
        monkeypatch.undo()
        time.tzset()
