"""Pins against advisories; every advisory and package in here is invented."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.advisories import LOCKS, known, main, pinned

LOCK = """\
# invented
reed-boat==2.4.1 \\
    --hash=sha256:00
Tide.Table==1.0rc1 ; python_version < '3.12' \\
    --hash=sha256:00
"""


def advisory(*events: dict[str, str], name: str = "Reed_Boat", **more: Any) -> dict[str, Any]:
    """One of the OSV schema (from memory)."""
    ranges = [{"type": "ECOSYSTEM", "events": list(events)}]
    affected = {"package": {"ecosystem": "PyPI", "name": name}, "ranges": ranges}
    return {"id": "INVENTED-2026-1", "summary": "it leaks", "affected": [affected | more]}


HOLDS = {
    "mended later": ([{"introduced": "0"}, {"fixed": "2.4.2"}], True),
    "mended in this one": ([{"introduced": "0"}, {"fixed": "2.4.1"}], False),
    "mended before": ([{"introduced": "1.0"}, {"fixed": "2.0"}], False),
    "never mended": ([{"introduced": "2.0"}], True),
    "not yet there": ([{"introduced": "2.5"}], False),
    "up to this one": ([{"introduced": "0"}, {"last_affected": "2.4.1"}], True),
    "up to the one before": ([{"introduced": "0"}, {"last_affected": "2.4"}], False),
    "come back": ([{"introduced": "0"}, {"fixed": "1.0"}, {"introduced": "2.4"}], True),
    "in any order": ([{"fixed": "2.10"}, {"introduced": "2.2"}], True),
}


@pytest.mark.parametrize("case", HOLDS)
def test_ranges_as_the_osv_schema_evaluates_them(case: str) -> None:
    events, holds = HOLDS[case]
    assert bool(list(known(pinned(LOCK), [advisory(*events)]))) is holds


def test_versions_named_one_by_one_and_what_was_withdrawn() -> None:
    pins = pinned(LOCK)
    assert pins == {("reed-boat", "2.4.1"), ("tide-table", "1.0rc1")}
    named = advisory(name="tide_table", versions=["1.0rc1"])
    (one,) = known(pins, [named, {**named, "withdrawn": "2026-03-01T00:00:00Z"}])
    assert one.words == "tide-table 1.0rc1: INVENTED-2026-1 it leaks"
    elsewhere = advisory({"introduced": "0"}, package={"ecosystem": "npm", "name": "reed-boat"})
    assert not list(known(pins, [elsewhere]))


def test_the_command_reads_a_file_a_folder_and_a_zip(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lock, file, packed = tmp_path / "a.lock", tmp_path / "all" / "a.json", tmp_path / "all.zip"
    lock.write_text(LOCK)
    file.parent.mkdir()
    file.write_text(json.dumps(advisory({"introduced": "0"}, {"fixed": "3"})))
    with zipfile.ZipFile(packed, "w") as held:
        held.write(file, "a.json")
    for place in (file, file.parent, packed):
        assert main(["--advisories", str(place), "--lock", str(lock)]) == 1
        output = capsys.readouterr().out
        assert "reed-boat 2.4.1: INVENTED-2026-1 it leaks; mended in 3" in output
        assert "1 advisories, 2 pins, 1 known" in output
    file.write_text('{"vulns": []}')
    assert main(["--advisories", str(file), "--lock", str(lock)]) == 0
    file.write_text("[1]")
    assert main(["--advisories", str(file), "--lock", str(lock)]) == 2


def test_every_pin_of_both_lock_files_is_read() -> None:
    for lock in LOCKS:
        text = lock.read_text("utf-8")
        pins = pinned(text)
        assert len(pins) == sum("==" in line.partition(";")[0] for line in text.splitlines())
        assert len([name for name, _ in pins if name == "numpy"]) == 2  # one for each Python
