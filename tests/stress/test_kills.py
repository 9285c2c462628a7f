"""kill -9 at any instant loses nothing the screen has acknowledged.

The short form runs always; the long one, 500 kills, with ``pytest -m long tests/stress``.
"""

from __future__ import annotations

import random
import time
from pathlib import Path

import pytest

from soapbench.advice.known import Known
from soapbench.bench.learned import open_bench
from soapbench.bench.tables import cautions
from soapbench.desk.keys import NOTES
from soapbench.desk.starting import begin
from soapbench.log import Kind
from soapbench.logfile.batchlog import read_log
from soapbench.logfile.clock import SystemClock
from soapbench.sheet.plansheet import plan_sheet
from tests.plans import plan
from tests.stress.terminal import Terminal, straight_to_pour

WORDS = {act.key: act.note or str(act.trouble) for act in NOTES}
"""What the screen says once a key is in the log."""


def pour_under_way(folder: Path, known: Known) -> Path:
    """The log of a pour that was just begun and then left."""
    bench = open_bench(folder)
    desk = begin(bench, SystemClock(), known, plan_sheet(plan(), known, cautions(), levers=False))
    desk.lye_meets_oils()
    desk.close()
    (log,) = (folder / "batches").glob("*.toml")
    return log


def told_in(log: Path) -> list[str]:
    """The log's notes and troubles, as the screen says them."""
    read = read_log(log)
    assert read.header is not None
    assert len({e.id for e in read.events}) == len(read.events)
    events = [e for e in read.events if e.kind in (Kind.NOTE, Kind.TROUBLE)]
    return [str(e.values.get("text") or e.values["trouble"]) for e in events]


def one_kill(log: Path, bench: Path, rng: random.Random) -> tuple[list[str], list[str]]:
    """Press keys, kill at some instant; what was acknowledged, and what the log holds of it."""
    before = len(told_in(log))
    terminal = Terminal(straight_to_pour(log), bench)
    acknowledged: list[str] = []
    try:
        terminal.wait("of lye, slowly")
        last = ""
        for _ in range(rng.randint(1, 6)):
            last = rng.choice([k for k in WORDS if k != last])
            terminal.send(last)
            terminal.wait(lambda text, words=f": {WORDS[last]}": words in text)
            acknowledged.append(WORDS[last])
        last = rng.choice([k for k in WORDS if k != last])
        terminal.send(last)
        end = time.perf_counter() + rng.uniform(0.0, 0.02)  # anywhere in the key's own life
        while time.perf_counter() < end:
            pass
        terminal.kill()
        terminal.drain(0.1)  # what it wrote before it died was seen, too
        if f": {WORDS[last]}" in terminal.text():
            acknowledged.append(WORDS[last])
    finally:
        terminal.close()
    return acknowledged, told_in(log)[before:]


def kills(runs: int, tmp_path: Path, known: Known) -> tuple[int, int]:
    """Acknowledged and lost over ``runs`` kills of one pour."""
    bench = tmp_path / "bench"
    log = pour_under_way(bench, known)
    rng = random.Random(runs)
    count = lost = 0
    for _ in range(runs):
        acknowledged, kept = one_kill(log, bench, rng)
        count += len(acknowledged)
        lost += sum(a != b for a, b in zip(acknowledged, kept, strict=False))
        lost += max(0, len(acknowledged) - len(kept))
        assert len(kept) <= len(acknowledged) + 1, "something is in the log twice"
    return count, lost


def test_no_acknowledged_key_is_lost_in_eight_kills(tmp_path: Path, known: Known) -> None:
    count, lost = kills(8, tmp_path, known)
    assert count >= 8
    assert lost == 0


@pytest.mark.long
def test_no_acknowledged_key_is_lost_in_500_kills(tmp_path: Path, known: Known) -> None:
    count, lost = kills(500, tmp_path, known)
    print(f"500 kills: {count} acknowledged, {lost} lost")
    assert lost == 0
