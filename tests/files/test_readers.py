"""Helpers that read logs: the same records as without them, and never left behind."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from disk_fakes import event, header, text_of

from soapbench.bench import readers
from soapbench.bench.folder import Bench
from soapbench.bench.learned import lesson_of
from soapbench.bench.readers import Helper, read_here, read_many
from soapbench.bench.summary import Derive
from soapbench.log import Kind, Standing
from soapbench.logfile.records import ReadLog

LESSONS = Derive(lambda: "1", lesson_of)
PATIENCE_S = 20.0
"""Only a failing test waits so long."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    batches = tmp_path / "batches"
    batches.mkdir()
    for n in range(11):
        head = header(f"Batch {n}", f"id-{n}")
        whole = text_of(event(0, Kind.LYE_MEETS_OILS), event(1, Kind.POUR_ENDED), head=head)
        (batches / f"{n:02}.toml").write_bytes(whole)
    (batches / "11-torn.toml").write_bytes(whole[:-40])
    (batches / "12-junk.toml").write_bytes(b"\x00\xff" * 50)
    (batches / "13-földer.toml").mkdir()
    return tmp_path


@pytest.fixture
def few_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readers, "MANY", 1)
    monkeypatch.setattr(readers, "CHUNK", 3)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)


def paths(folder: Path) -> list[str]:
    names = sorted(path.name for path in (folder / "batches").iterdir())
    return [f"batches/{name}" for name in (*names, "gone.toml")]


def all_of(folder: Path, derive: Derive | None) -> list[object]:
    return [r for some in read_many(folder, paths(folder), derive) for r in some]


def words(folder: Path, log: ReadLog, facts: Standing) -> object:
    return log.events[0].kind.value


@pytest.mark.usefixtures("few_at_a_time")
@pytest.mark.parametrize(
    "derive",
    [None, LESSONS, Derive(lambda: "1", lambda folder, log, facts: words(folder, log, facts))],
    ids=["rows only", "lessons", "a function no helper can find"],
)
def test_records_are_the_same_and_in_order(folder: Path, derive: Derive | None) -> None:
    here = read_here(folder, paths(folder), derive)
    assert len(here) == 14
    assert all_of(folder, derive) == here


@pytest.mark.usefixtures("few_at_a_time")
def test_helpers_do_the_reading(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here = read_here(folder, paths(folder), LESSONS)
    monkeypatch.setattr(readers, "digest", None)  # reading in this process would fail
    assert all_of(folder, LESSONS) == here


@pytest.mark.usefixtures("few_at_a_time")
@pytest.mark.parametrize(
    "program",
    ["/no/such/python", "", "/bin/true", "{folder}/nonsense", "{folder}/dies"],
    ids=["not there", "not known", "ends at once", "talks nonsense", "ends after one answer"],
)
def test_without_helpers_this_process_reads(
    folder: Path, program: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "nonsense").write_text("#!/bin/sh\nwhile read line; do echo '[3]'; done\n")
    (folder / "dies").write_text(
        f'#!/bin/sh\nhead -n 1 | {sys.executable} "$@"\n'  # the rest finds nobody
    )
    for script in ("nonsense", "dies"):
        (folder / script).chmod(0o755)
    here = read_here(folder, paths(folder), LESSONS)
    monkeypatch.setattr(sys, "executable", program.format(folder=folder))
    assert all_of(folder, LESSONS) == here


@pytest.mark.usefixtures("few_at_a_time")
def test_an_index_made_by_helpers_lists_the_same(folder: Path) -> None:
    progress: list[tuple[int, int]] = []
    bench = Bench(folder, derive=LESSONS)
    by_helpers = bench.batches(lambda done, of: progress.append((done, of)))
    assert progress == [(n, 13) for n in (3, 6, 9, 12, 13)]
    assert [row.batch for row in by_helpers.rows].count("id-3") == 1
    bench.close()
    again = Bench(folder, derive=LESSONS)
    again.batches(lambda *_: pytest.fail("read again"))
    bench.forget_derived()
    readers.MANY = 1000
    assert bench.batches() == by_helpers


@pytest.mark.usefixtures("few_at_a_time")
def test_a_reader_that_stops_early_leaves_no_helper(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[Helper] = []
    monkeypatch.setattr(
        readers, "Helper", lambda *args: (started.append(Helper(*args)), started[-1])[1]
    )
    reading = read_many(folder, paths(folder), None)
    assert len(next(reading)) == 3
    reading.close()
    assert len(started) == 2
    assert all(helper._process and helper._process.returncode is not None for helper in started)


KILLED = """
import json, sys
from pathlib import Path
from soapbench.bench.readers import Helper
helpers = [Helper(Path(sys.argv[1]), ":") for _ in range(2)]
answers = [helper.ask(["batches/00.toml"]) for helper in helpers]
print(json.dumps([helper._process.pid for helper in helpers]), flush=True)
if sys.argv[2] == "reading":
    helpers[0].ask(["batches/00.toml"] * 2000)
sys.stdin.read()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="watches other processes through /proc")
@pytest.mark.parametrize("doing", ["waiting", "reading"])
def test_no_helper_outlives_a_killed_program_or_holds_a_terminal(folder: Path, doing: str) -> None:
    program = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(folder), doing],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parents[2],
    )
    assert program.stdout is not None
    helpers = json.loads(program.stdout.readline())
    watched = [os.pidfd_open(pid) for pid in helpers]
    try:
        for pid in helpers:
            open_files = [os.readlink(f"/proc/{pid}/fd/{fd}") for fd in range(3)]
            assert [name.partition(":")[0] for name in open_files] == ["pipe", "pipe", "/dev/null"]
            assert os.getsid(pid) == pid
        assert select.select(watched, [], [], 0)[0] == []
        program.send_signal(signal.SIGKILL)
        for fd in watched:
            assert select.select([fd], [], [], PATIENCE_S)[0] == [fd]
    finally:
        program.communicate()
        for fd in watched:
            os.close(fd)
