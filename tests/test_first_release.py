"""A bench of the first release opens, carries on, teaches and is written up."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from math import exp
from pathlib import Path

import pytest

from soapbench.batter import Trace
from soapbench.bench.folder import Bench
from soapbench.bench.learned import Memory, open_bench, remember
from soapbench.bench.settingsfile import read_settings
from soapbench.cli import main
from soapbench.desk.keys import ACTS
from soapbench.desk.starting import carry_on
from soapbench.log import Kind
from soapbench.logfile.clock import Reading
from tests.fakes import FakeClock

KEPT = Path(__file__).parent / "kept" / "first_release"
LEFT = "20260127T190000Z-harbour-at-dusk-1c0aa28889.toml"
"""Lye met oils at 19:05 that day; left 112 s later."""


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    assert len(list((KEPT / "batches").glob("*.toml"))) == 5
    shutil.copytree(KEPT, tmp_path / "bench")
    return open_bench(tmp_path / "bench")


@pytest.fixture
def memory(bench: Bench) -> Memory:
    return remember(bench)


def test_it_opens_with_nothing_set_aside(bench: Bench, memory: Memory) -> None:
    assert not bench.batches().troubles
    before = {path.name: path.read_bytes() for path in (KEPT / "batches").iterdir()}
    assert {p.name: p.read_bytes() for p in (bench.folder / "batches").glob("*.toml")} == before


def test_it_teaches(memory: Memory) -> None:
    fit = memory.known.fit
    assert fit.batches == 4
    assert fit.fragrances["Tar & Thyme"].batches == 3
    # Its batters thickened four times faster, by the simulated truth they were made with.
    assert 2.0 < exp(memory.known.fit.fragrances["Tar & Thyme"].log_af) < 8.0
    outcomes = [lesson.ended for lesson in memory.lessons if lesson.ended]
    assert len(outcomes) == 4


def test_its_pour_is_carried_on_with_the_clock_still_running(bench: Bench, memory: Memory) -> None:
    clock = FakeClock(wall=datetime(2026, 1, 27, 19, 10, tzinfo=UTC), boot_id="another boot")
    desk = carry_on(bench, clock, lambda: memory.known, bench.folder / "batches" / LEFT)
    assert 250 < desk.now() < 310
    assert [d.stage.action for d in desk.state.done] == ["lye into oils", "emulsify"]
    assert desk.state.pots["base"].trace is Trace.EMULSION
    live = desk.advise()
    assert 0 <= live.outlook.chance <= 1
    desk.trace_seen("base", Trace.LIGHT)
    desk.stage_done()
    assert desk.log.events[-1].kind is Kind.STAGE_DONE
    desk.close()
    assert isinstance(clock.read(), Reading)


@pytest.mark.parametrize("command", ["report", "calendar", "export", "batchsheet", "label"])
def test_its_batch_is_written_up(bench: Bench, tmp_path: Path, command: str) -> None:
    out = tmp_path / "paper"
    batch = str(bench.folder / "batches" / "20260120T190000Z-harbour-at-dusk-102c61faf6.toml")
    assert main([command, batch, "-o", str(out), "--bench", str(bench.folder)]) == 0
    assert "Harbour at Dusk" in out.read_text() or command in ("export", "label")
    assert out.stat().st_size > 200


def test_its_settings_are_read_quietly(bench: Bench) -> None:
    settings, faults = read_settings(bench.folder, [act.name for act in ACTS])
    assert not faults
    assert (settings.units, settings.keys["done"]) == ("US", "pagedown")
