"""What the bench's list says of a pour, and which batch a title means; no screen."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from soapbench.bench import batchfile
from soapbench.bench.folder import Bench, Listing
from soapbench.bench.summary import Row
from soapbench.desk.benchlist import OnTheBench, groups, lines

NOW = datetime(2026, 11, 26, 12, 0, tzinfo=UTC)


def row(name: str, started: datetime | None = None) -> Row:
    return Row(
        f"batches/{name}.toml", 0, 0, name, "Harbour at Dusk", NOW.isoformat(),
        started.isoformat() if started else "", ("Kelp & Fig",), False, "", 3, 0, "", False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("ago", "more"),
    [
        (timedelta(hours=2), "Kelp & Fig"),
        (timedelta(days=3), "left for 3 days  Kelp & Fig"),
        (timedelta(days=304), "left for 10 months  Kelp & Fig"),
    ],
)
def test_a_pour_left_for_days_says_for_how_long(ago: timedelta, more: str) -> None:
    on = OnTheBench(batches=Listing((row("a", NOW - ago),)), now=NOW)
    assert [line.more for line in lines(groups(on)) if line.name == "" and line.path] == [more]


def test_a_title_means_the_batch_that_was_poured(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One got ready and left has the same title."""
    rows = (row("left"), row("poured", NOW))
    bench = Bench(tmp_path)
    monkeypatch.setattr(Bench, "batches", lambda self: Listing(rows))
    assert batchfile.find_batch(bench, "dusk").name == "poured.toml"
    assert batchfile.find_batch(bench, "left").name == "left.toml"
