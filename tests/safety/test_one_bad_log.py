"""One bad log is set aside and named; it never costs the others."""

from __future__ import annotations

import os
import random
import re
from collections.abc import Callable
from pathlib import Path
from zlib import crc32

import pytest
from safety_kit import CALM, bench_of, bench_read, new_desk

from soapbench.advice.known import Known
from soapbench.bench.learned import remember
from soapbench.cli import main
from soapbench.log import Kind
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.home import HomeScreen
from tests.fakes import FakeClock
from tests.plans import plan

HALF = rb'"\\ud800"'
BAD: dict[str, Callable[[bytes], bytes]] = {
    "half a character as title": lambda log: re.sub(
        rb'(?m)^title = ".*"$', b"title = " + HALF, log
    ),
    "half a character as id": lambda log: re.sub(rb'(?m)^id = ".*"$', b"id = " + HALF, log),
    "half a character as verdict": lambda log: re.sub(rb'(?m)"as wished"$', HALF, log),
    "shares that are no numbers": lambda log: re.sub(rb"(?m)^share = .*$", b"share = nan", log),
    "no plan": lambda log: re.sub(rb"(?ms)^\[plan\].*?(?=^\[foreseen\])", b"[plan]\n", log),
    "a title of a megabyte": lambda log: log.replace(b'"Quay Wall"', b'"%s"' % (b"x" * 10**6)),
    "years ago": lambda log: re.sub(rb"(?m)^at = \d{4}", b"at = 0001", log),
    "years ahead": lambda log: re.sub(rb"(?m)^at = \d{4}-..-..", b"at = 9999-12-31", log),
    "bytes": lambda log: random.Random(1).randbytes(20_000),
}


def summed(log: bytes) -> bytes:
    """A log with the checksum of every record put right."""
    first, *events = log.split(b"\n[[event]]\n")
    records = [first, *(b"[[event]]\n" + event for event in events)]
    raws = [record[: record.rfind(b'sum = "')] for record in records]
    return b"\n".join(raw + b'sum = "%08x"\n' % crc32(raw) for raw in raws)


def poured(folder: Path, known: Known, clock: FakeClock) -> Path:
    """The log of a pour that was ended."""
    desk = new_desk(folder, known, clock, plan(CALM))
    desk.lye_meets_oils()
    clock.passes(600)
    desk.record(Kind.POUR_ENDED, finished=True)
    desk.record(Kind.VERDICT, verdict="as wished")
    desk.close()
    return Path(desk.log.path)  # type: ignore[attr-defined]


def test_a_log_is_the_same_once_summed(tmp_path: Path, known: Known, clock: FakeClock) -> None:
    log = poured(tmp_path, known, clock).read_bytes()
    assert summed(log) == log


@pytest.mark.parametrize(
    ("spoil", "name"),
    [
        *(pytest.param(spoil, b"bad.toml", id=what) for what, spoil in BAD.items()),
        pytest.param(BAD["no plan"], b"\xff\xfe.toml", id="a name of no encoding"),
    ],
)
async def test_the_others_are_as_they_were(
    tmp_path: Path,
    known: Known,
    clock: FakeClock,
    spoil: Callable[[bytes], bytes],
    name: bytes,
    capsys: pytest.CaptureFixture[str],
) -> None:
    good = poured(tmp_path, known, clock)
    bad = spoil(good.read_bytes().replace(good.stem.encode(), b"another"))
    bad = re.sub(rb'(?m)\A(\[batch\]\nid = ")', rb"\1other-", bad)
    with open(os.fsencode(good.parent) + b"/" + name, "wb") as file:
        file.write(summed(bad) if bad.startswith(b"[batch]") else bad)
    bench = ["--bench", str(tmp_path / "bench")]
    paper = ["-o", str(tmp_path / "paper")]
    for words in (["fragrances"], ["report", good.stem, *paper], ["calendar", good.stem, *paper]):
        assert main([*words, *bench]) == 0, capsys.readouterr().err
    for words in (["report", "other", *paper], ["calendar", "other", *paper]):
        assert main([*words, *bench]) in (0, 2)
    opened = bench_of(tmp_path)
    assert len(remember(opened).lessons) in (1, 2)
    app = SoapbenchApp(bench_of(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await bench_read(pilot)
        assert isinstance(app.screen, HomeScreen)
        assert app.faults == {}
        assert any(line.words == "Quay Wall" for line in app.screen.lines)
