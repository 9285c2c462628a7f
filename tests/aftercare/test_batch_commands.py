"""report, calendar and export from the command line, and how a batch is named there."""

from __future__ import annotations

import csv
from pathlib import Path
from zlib import crc32

import pytest
from aftercare_kit import EVENING, Finished, begun

from soapbench.bench.batchfile import NoSuchBatch, find_batch, read_batch
from soapbench.bench.learned import open_bench
from soapbench.cli import main
from tests.fakes import FakeClock


@pytest.fixture
def bench(finished: Finished, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Finished:
    monkeypatch.setenv("SOAPBENCH_DIR", str(finished.folder))
    monkeypatch.chdir(tmp_path)
    return finished


NAMES = {
    "path": lambda f: str(f.whole),
    "file name": lambda f: f.whole.name,
    "file name without its end": lambda f: f.whole.stem,
    "part of the name": lambda f: "dune-lay",
    "part of the title, capitals or not": lambda f: "dUNE LAY",
    "id": lambda f: f.whole.stem[-10:],
}


@pytest.mark.parametrize("how", NAMES)
def test_a_batch_is_found_by(how: str, finished: Finished) -> None:
    assert find_batch(open_bench(finished.folder), NAMES[how](finished)) == finished.whole


NOT = {
    "nobody": ("zebra", 'No batch is called "zebra"'),
    "several": ("toml", "2 batches; be"),
    "nothing": ("", "Which batch?"),
    "an escape sequence": ("\x1b[31mx", 'No batch is called "[31mx"'),
    "no path at all": ("a\0b", "No batch is called"),
}


@pytest.mark.parametrize("how", NOT)
def test_not_found(how: str, finished: Finished) -> None:
    asked, words = NOT[how]
    with pytest.raises(NoSuchBatch, match=words.replace("[", r"\[")) as refused:
        find_batch(open_bench(finished.folder), asked)
    assert "\x1b" not in str(refused.value)
    if how == "several":
        assert "Dune Layers" in str(refused.value)
        assert "Harbour at Dusk" in str(refused.value)


@pytest.mark.parametrize("command", ["report", "calendar", "export"])
def test_unknown_batch_is_exit_2_and_nothing_written(
    command: str, bench: Finished, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([command, "zebra"]) == 2
    assert "No batch is called" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_files_named_after_the_batch_or_as_said(bench: Finished, tmp_path: Path) -> None:
    stem = bench.whole.stem
    assert main(["report", "dune"]) == 0
    assert main(["calendar", "dune"]) == 0
    assert main(["export", "dune"]) == 0
    assert main(["export", "--fragrances", "-o", "fragrances.csv"]) == 0
    assert {p.name for p in tmp_path.iterdir()} == {
        f"{stem}.html", f"{stem}.ics", f"{stem}.csv", "fragrances.csv",
    }  # fmt: skip
    assert (tmp_path / f"{stem}.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    assert (tmp_path / f"{stem}.ics").read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    with (tmp_path / "fragrances.csv").open(encoding="utf-8-sig", newline="") as file:
        assert {row["fragrance"] for row in csv.DictReader(file)} == {"Warm Thrift", "Kelp & Fig"}


def test_to_standard_output(bench: Finished, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["calendar", "harbour", "-o", "-"]) == 0
    assert capfdbinary.readouterr().out.endswith(b"END:VCALENDAR\r\n")


def test_a_place_that_cannot_be_written_is_exit_2(
    bench: Finished, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["report", "dune", "-o", "no/such/folder/x.html"]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_a_device_is_written_to_and_not_replaced(bench: Finished) -> None:
    assert main(["report", "dune", "-o", "/dev/null"]) == 0
    assert Path("/dev/null").is_char_device()


def test_no_calendar_before_the_pour_has_ended(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, desk = begun(folder, FakeClock(EVENING))
    desk.lye_meets_oils()
    desk.close()
    assert main(["--bench", str(folder), "calendar", "harbour"]) == 2
    assert "is still being poured" in capsys.readouterr().err


def test_a_file_that_is_no_log_is_exit_2(
    bench: Finished, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "note.toml").write_text("a = 1\n")
    for command in ("report", "calendar", "export"):
        assert main([command, "note.toml"]) == 2
        assert "no batch" in capsys.readouterr().err


SPOILT = {
    "a value": (b'gel = "allow"', b'gel = "boil"', b'gel = "boil"', "conditions.gel"),
    "a key that is gone": (b'title = "Dune Layers"\n', b"", b"[plan]", "title missing"),
}


@pytest.mark.parametrize("what", SPOILT)
def test_a_plan_in_a_log_that_cannot_be_used_is_refused_with_its_line(
    what: str, finished: Finished, tmp_path: Path
) -> None:
    old, new, where, key = SPOILT[what]
    header, mark, events = finished.whole.read_bytes().partition(b"\n[[event]]\n")
    assert old in header
    top, plan, rest = header.partition(b"[plan]")
    raw = (top + plan + rest.replace(old, new, 1)).rpartition(b'sum = "')[0]
    log = tmp_path / "spoilt.toml"
    log.write_bytes(raw + b'sum = "%08x"\n' % crc32(raw) + mark + events)
    line = next(n for n, written in enumerate(raw.splitlines(), 1) if written == where)
    with pytest.raises(NoSuchBatch, match=rf"spoilt\.toml, line {line}: .*{key}"):
        read_batch(open_bench(finished.folder), log)


def test_a_log_whose_top_is_damaged_is_refused_with_its_line(
    finished: Finished, tmp_path: Path
) -> None:
    log = tmp_path / "spoilt.toml"
    log.write_bytes(finished.whole.read_bytes().replace(b"allow", b"boil", 1))
    with pytest.raises(NoSuchBatch, match=r"spoilt\.toml, line 1: no batch"):
        read_batch(open_bench(finished.folder), log)
