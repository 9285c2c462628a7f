"""The bench: lists, what is unfinished, the index, and merging by copying files."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from disk_fakes import event, files, header, pour, text_of

from soapbench.bench.folder import Bench, bench_folder
from soapbench.bench.summary import Derive
from soapbench.log import Kind, Standing
from soapbench.logfile.batchlog import read_log
from soapbench.logfile.hold import Hold, take
from soapbench.logfile.records import ReadLog, event_text


def count(folder: Path, log: ReadLog, facts: Standing) -> object:
    return {"events": len(log.events)}


COUNT = Derive(lambda: "1", count)


def batch(bench: Bench, n: int, *, ended: bool = True, rehearsal: bool = False) -> Path:
    log = bench.begin(header(f"Batch {n}", f"id-{n}"), rehearsal=rehearsal)
    pour(log, ended=ended)
    log.close()
    assert log.unsaved is None
    return log.path


def index(bench: Bench) -> Path:
    return bench.folder / ".derived" / "index.sqlite"


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench", tmp_path / "spill", COUNT)


def test_reading_makes_nothing(bench: Bench, tmp_path: Path) -> None:
    assert bench.batches().rows == bench.rehearsals().rows == bench.unfinished() == ()
    assert bench.plans() == bench.tables() == bench.bring_home("boot-a") == ()
    assert files(tmp_path) == []


def test_lists_and_unfinished(bench: Bench) -> None:
    batch(bench, 1)
    open_one = batch(bench, 2, ended=False)
    batch(bench, 3, ended=False, rehearsal=True)
    unmet = bench.begin(header("Set out only", "id-4"))
    unmet.close()
    rows = {row.title: row for row in bench.batches().rows}
    assert set(rows) == {"Batch 1", "Batch 2", "Set out only"}
    assert rows["Batch 1"].fragrances == ("Kelp & Fig",)
    assert rows["Batch 1"].started == event(0).at.isoformat()
    assert [bench.path(row) for row in bench.unfinished()] == [open_one]
    assert [row.title for row in bench.rehearsals().rows] == ["Batch 3"]
    log = bench.carry_on(open_one)
    log.append(event(9, Kind.POUR_ENDED))
    log.append(event(10, Kind.VERDICT, verdict="lovely"))
    log.close()
    assert bench.unfinished() == ()
    assert {row.verdict for row in bench.batches().rows} == {"", "lovely"}


def test_an_undone_end_is_no_end(bench: Bench) -> None:
    log = bench.begin(header())
    pour(log)
    log.append(event(5, Kind.UNDO, of=event(2).id))
    assert len(bench.unfinished()) == 1


def test_only_changed_files_are_read_again(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    paths = [batch(bench, n) for n in range(4)]
    progress: list[tuple[int, int]] = []
    bench.batches(lambda done, of: progress.append((done, of)))
    assert progress[-1] == (4, 4)
    read: list[Path] = []
    monkeypatch.setattr(
        "soapbench.bench.summary.read_log", lambda path: (read.append(path), read_log(path))[1]
    )
    again = Bench(bench.folder, derive=COUNT)
    assert again.histories(again.batches()) == [{"events": 3}] * 4
    assert read == []
    with paths[1].open("ab") as file:
        file.write(event_text(event(7)))
    paths[3].unlink()
    assert sorted(h["events"] for h in again.histories(again.batches())) == [3, 3, 4]
    assert read == [paths[1]]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda f: f.write_bytes(b"not a database, " * 300),
        lambda f: f.write_bytes(f.read_bytes()[:5000]),
        lambda f: f.write_bytes(f.read_bytes()[:4096] + b"\xa5" * (f.stat().st_size - 4096)),
        lambda f: f.write_bytes(b""),
        lambda f: shutil.rmtree(f.parent),
        lambda f: change(f, "UPDATE made_by SET version = 999"),
        lambda f: change(f, "UPDATE made_by SET derive = 'another'"),
        lambda f: change(f, "DROP TABLE made_by"),
        lambda f: change(f, "DELETE FROM made_by"),
        lambda f: change(f, "DROP TABLE logs"),
        lambda f: change(f, "ALTER TABLE logs DROP COLUMN verdict"),
        lambda f: change(f, "UPDATE logs SET fragrances = '['"),
        lambda f: change(f, "UPDATE logs SET history = '{'"),
    ],
    ids=[
        "junk", "torn", "overwritten", "empty", "deleted", "newer", "other derive", "unmarked",
        "no mark", "no table", "other columns", "bad fragrances", "bad history",
    ],
)  # fmt: skip
def test_a_spoilt_or_foreign_index_is_made_anew(bench: Bench, spoil: object) -> None:
    for n in range(3):
        batch(bench, n)
    before = bench.batches()
    kept = bench.histories(before)
    assert len(before.rows) == len(kept) == 3
    bench.close()
    assert index(bench).exists()
    spoil(index(bench))  # type: ignore[operator]
    for _ in range(2):
        again = Bench(bench.folder, derive=COUNT)
        listing = again.batches()
        assert listing == before
        assert again.histories(listing) == kept
        again.close()


def change(file: Path, sql: str) -> None:
    db = sqlite3.connect(file)
    with db:
        db.execute(sql)
    db.close()


def test_a_spoilt_index_that_cannot_be_removed_costs_no_list(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on Windows while another program has it open."""
    batch(bench, 1)
    bench.batches()
    bench.close()
    index(bench).write_bytes(b"not a database, " * 300)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "in use")

    monkeypatch.setattr(Path, "unlink", refuse)
    again = Bench(bench.folder, derive=COUNT)
    assert again.histories(again.batches()) == [{"events": 3}]


def test_without_derive_anothers_index_is_used_and_left_alone(bench: Bench) -> None:
    batch(bench, 1)
    bench.batches()
    batch(bench, 2)
    plain = Bench(bench.folder)
    assert len(plain.batches().rows) == 2
    plain.close()
    assert bench.histories(bench.batches()) == [{"events": 3}] * 2


def test_a_locked_index_or_one_that_cannot_be_made_costs_no_list(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("soapbench.bench.index._BUSY_S", 0.0)
    batch(bench, 1)
    bench.batches()
    bench.close()
    batch(bench, 2)
    other = sqlite3.connect(index(bench))
    other.execute("BEGIN IMMEDIATE")
    assert bench.histories(bench.batches()) == [{"events": 3}] * 2
    other.rollback()
    other.execute("BEGIN EXCLUSIVE")
    locked_out = Bench(bench.folder, derive=COUNT)
    assert locked_out.histories(locked_out.batches()) == [{"events": 3}] * 2
    other.rollback()
    other.close()
    assert sqlite3.connect(index(bench)).execute("SELECT count(*) FROM logs").fetchone() == (1,)
    bench.close()
    shutil.rmtree(bench.folder / ".derived")
    (bench.folder / ".derived").write_text("a file in the way")
    barred = Bench(bench.folder, derive=COUNT)
    assert barred.histories(barred.batches()) == [{"events": 3}] * 2


def test_two_programs_open_a_new_bench_at_once(bench: Bench) -> None:
    for n in range(30):
        batch(bench, n)
    code = (
        "import sys; from pathlib import Path; from soapbench.bench.folder import Bench\n"
        "print(len(Bench(Path(sys.argv[1])).batches().rows))"
    )
    both = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(bench.folder)],
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        )
        for _ in range(2)
    ]
    assert [p.communicate()[0] for p in both] == ["30\n", "30\n"]


def test_bad_files_never_stop_the_bench(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    good = batch(bench, 1)
    folder = good.parent
    (folder / "junk.toml").write_bytes(b"\x00\xff" * 500)
    (folder / "empty.toml").write_bytes(b"")
    (folder / "torn.toml").write_bytes(text_of(event(0, Kind.LYE_MEETS_OILS), event(1))[:-30])
    (folder / "folder.toml").mkdir()
    (folder / "nowhere.toml").symlink_to(folder / "nothing")
    (folder / ".20240501.toml.part").write_bytes(b"")
    (folder / "barred.toml").write_bytes(text_of(event(0), head=header(id="barred")))

    def read(path: Path) -> ReadLog:
        if path.name == "barred.toml":
            raise PermissionError(13, "Permission denied")
        return read_log(path)

    monkeypatch.setattr("soapbench.bench.summary.read_log", read)
    rows = {Path(row.path).name: row for row in bench.batches().rows}
    assert set(rows) == {good.name, "junk.toml", "empty.toml", "torn.toml", "barred.toml"}
    assert rows["junk.toml"].damaged == 1
    assert rows["torn.toml"].damaged == 1
    assert rows["torn.toml"].unfinished
    assert rows["barred.toml"].problem == "Permission denied"
    monkeypatch.undo()
    rows = {Path(row.path).name: row for row in bench.batches().rows}
    assert rows["barred.toml"].problem == ""


def test_a_log_the_caller_cannot_digest_is_told(tmp_path: Path) -> None:
    def history(folder: Path, log: ReadLog, facts: Standing) -> object:
        return log.events[0].values["seconds"] + 1  # type: ignore[operator]

    bench = Bench(tmp_path, derive=Derive(lambda: "1", history))
    batch(bench, 1)
    (row,) = bench.batches().rows
    assert row.problem.startswith("not understood: KeyError")
    assert bench.histories(bench.batches()) == []


def test_two_benches_merge_by_copying_files(tmp_path: Path) -> None:
    one, two = Bench(tmp_path / "one", derive=COUNT), Bench(tmp_path / "two", derive=COUNT)
    for n in range(5):
        batch(one, n)
        batch(two, 10 + n)  # the same titles and seconds may well meet: ids and names do not
    batch(two, 20, rehearsal=True)
    one.batches()
    shutil.copytree(two.folder, one.folder, dirs_exist_ok=True)
    assert {row.batch for row in one.batches().rows} == {
        f"id-{n}" for n in (0, 1, 2, 3, 4, 10, 11, 12, 13, 14)
    }
    assert len(one.rehearsals().rows) == 1
    assert len(one.histories(one.batches())) == 10
    theirs = {row.batch for row in two.batches().rows}
    assert theirs == {f"id-{n}" for n in range(10, 15)}


def test_a_syncs_second_copy_of_a_batch_counts_once(bench: Bench) -> None:
    path = batch(bench, 1, ended=False)
    shutil.copy(path, path.with_name(f"{path.stem} (conflicted copy).toml"))
    log = bench.carry_on(path)
    log.append(event(5, Kind.POUR_ENDED))
    listing = bench.batches()
    assert [bench.path(row) for row in listing.rows] == [path]
    assert len(listing.copies) == 1
    assert bench.unfinished() == ()
    assert bench.histories(listing) == [{"events": 3}]


def test_spilled_events_are_brought_home_unless_held(bench: Bench, tmp_path: Path) -> None:
    log = bench.begin(header())
    log.append(event(1))
    bench.folder.rename(tmp_path / "away")
    log.append(event(2))
    fresh = bench.begin(replace(header(), id="b2"))  # makes the folder anew: no disk there
    fresh.append(event(3))
    log.close()
    shutil.rmtree(bench.folder)
    (tmp_path / "away").rename(bench.folder)
    with take(log.path, "boot-a") as hold:  # type: ignore[union-attr]
        assert isinstance(hold, Hold)
        assert bench.held(log.path, "boot-a")
        assert bench.bring_home("boot-a") == ()
    (home,) = bench.bring_home("boot-a")
    assert home.unsaved is None
    assert read_log(log.path).events == (event(1), event(2))
    assert [f for f in files(tmp_path / "spill") if f.endswith(".toml")] == []


@pytest.mark.parametrize(
    ("asked", "environ", "expected"),
    [
        ("/a", {"SOAPBENCH_DIR": "/b"}, "/a"),
        (None, {"SOAPBENCH_DIR": "/b"}, "/b"),
    ],
)
def test_which_bench(asked: str | None, environ: dict[str, str], expected: str) -> None:
    assert bench_folder(asked, environ) == Path(expected)


def test_default_bench_is_the_platforms_data_folder(tmp_path: Path) -> None:
    """Against platformdirs, which follows the XDG base directories on Linux."""
    import platformdirs

    folder = bench_folder(None, {"SOAPBENCH_DIR": ""})
    assert folder == Path(platformdirs.user_data_dir("soapbench", appauthor=False))
