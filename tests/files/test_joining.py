"""Two files of one batch, as a file sync leaves them: nothing that either holds is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from disk_fakes import event, header, text_of

from soapbench.bench.folder import Bench
from soapbench.bench.joining import join_copies
from soapbench.cli import main
from soapbench.log import Kind
from soapbench.logfile.batchlog import read_log
from soapbench.logfile.hold import Hold, take

LYE, RICING, HEATING, SPRAY, CUT = (
    event(0, Kind.LYE_MEETS_OILS),
    event(1, text="ricing"),
    event(2, text="heating up"),
    event(3, Kind.SPRAY),
    event(4, Kind.CUT),
)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    folder = tmp_path / "batches"
    folder.mkdir()
    (folder / "quay.toml").write_bytes(text_of(LYE, RICING, SPRAY))
    (folder / "quay.sync-conflict-2.toml").write_bytes(text_of(LYE, RICING, HEATING, SPRAY, CUT))
    (folder / "other.toml").write_bytes(text_of(LYE, head=header(id="b2")))
    return Bench(tmp_path)


def held(bench: Bench, name: str) -> set[str]:
    return {e.id for e in read_log(bench.folder / "batches" / name).events}


def test_the_longer_one_is_the_batch_and_takes_what_the_other_has(bench: Bench) -> None:
    (bench.folder / "batches" / "quay.toml").write_bytes(text_of(LYE, event(7, text="air"), SPRAY))
    listing = bench.batches()
    assert [row.path for row in listing.copies] == ["batches/quay.toml"]
    (joined,) = join_copies(bench, listing, "boot")
    assert joined.words == (
        "Harbour at Dusk (invented): 1 entry from batches/quay.toml: now joined"
    )
    assert {event(7).id, CUT.id} < held(bench, "quay.sync-conflict-2.toml")
    assert len(held(bench, "quay.toml")) == 3  # as the sync left it
    assert join_copies(bench, bench.batches(), "boot") == ()


def test_a_copy_with_nothing_of_its_own_is_no_news(bench: Bench) -> None:
    before = (bench.folder / "batches" / "quay.toml").read_bytes()
    assert join_copies(bench, bench.batches(), "boot") == ()
    assert (bench.folder / "batches" / "quay.toml").read_bytes() == before


def test_of_two_alike_the_one_with_the_shorter_name_is_the_batch(bench: Bench) -> None:
    folder = bench.folder / "batches"
    (folder / "quay.toml").write_bytes((folder / "quay.sync-conflict-2.toml").read_bytes())
    assert {row.path for row in bench.batches().rows} == {"batches/quay.toml", "batches/other.toml"}


def test_a_log_open_elsewhere_is_left_alone_and_told(bench: Bench) -> None:
    folder = bench.folder / "batches"
    (folder / "quay.toml").write_bytes(text_of(LYE, event(7, text="air")))
    hold = take(folder / "quay.sync-conflict-2.toml", "boot")
    assert isinstance(hold, Hold)
    with hold:
        (left,) = join_copies(bench, bench.batches(), "boot")
    assert "only in batches/quay.toml, not joined: it is open elsewhere" in left.words
    assert event(7).id not in held(bench, "quay.sync-conflict-2.toml")


def test_a_bench_that_cannot_be_written_tells_it(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = bench.folder / "batches"
    (folder / "quay.toml").write_bytes(text_of(LYE, event(7, text="air")))
    listing = bench.batches()

    def full(*_: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.write", full)
    (left,) = join_copies(bench, listing, "boot")
    monkeypatch.undo()
    assert "not joined: No space left" in left.words
    assert read_log(folder / "quay.sync-conflict-2.toml").damaged == ()


@pytest.mark.parametrize(
    "command", [["export", "quay.sync-conflict-2.toml", "-o", "-"], ["fragrances"]]
)
def test_a_command_tells_it_and_writes_nothing(
    command: list[str], bench: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = bench.folder / "batches" / "quay.toml"
    copy.write_bytes(text_of(LYE, event(7, text="air"), SPRAY))
    longest = bench.folder / "batches" / "quay.sync-conflict-2.toml"
    before = longest.read_bytes()
    assert main([*command, "--bench", str(bench.folder)]) == 0
    assert capsys.readouterr().err == (
        "soapbench: Harbour at Dusk (invented): 1 entry only in batches/quay.toml, "
        "not joined: a command only reads; opening the bench joins them\n"
    )
    assert longest.read_bytes() == before
    copy.write_bytes(text_of(LYE, SPRAY))
    assert main([*command, "--bench", str(bench.folder)]) == 0
    assert capsys.readouterr().err == ""
