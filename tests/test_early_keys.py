"""A key pressed before the pour's screen is there is the pour's, unless it only bounced."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual import events
from textual.pilot import Pilot

from soapbench.advice.known import Known
from soapbench.bench.learned import open_bench
from soapbench.log import Kind
from soapbench.logfile.batchlog import read_log
from soapbench.logfile.hold import take
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.dialogs import Ask
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.pour.setout import SetOutScreen
from tests.bench_screen.bench_kit import bench_app, poured
from tests.desks import desk
from tests.fakes import FakeClock
from tests.plans import plan


async def at_once(pilot: Pilot[int], *keys: str) -> None:
    """The keys, before anything could be done about the first."""
    for key in keys:
        pilot.app.post_message(events.Key(key, key if len(key) == 1 else None))
    await pilot.pause()
    await pilot.pause()


def left(bench: Path, clock: FakeClock) -> Path:
    """The log of a pour that was just begun and then left."""
    poured(bench, clock, ended=False)
    (log,) = (bench / "batches").glob("*.toml")
    return log


def in_log(log: Path) -> list[str]:
    """What was noted in ``log``."""
    noted = [e for e in read_log(log).events if e.kind in (Kind.NOTE, Kind.TROUBLE)]
    return [str(e.values.get("text") or e.values["trouble"]) for e in noted]


async def test_keys_sent_with_the_one_that_carries_on_are_noted_in_their_order(
    tmp_path: Path, clock: FakeClock
) -> None:
    log = left(tmp_path, clock)
    async with bench_app(tmp_path, clock) as (app, pilot):
        await at_once(pilot, "enter", "enter", "r", "l", "m")
        assert isinstance(app.screen, PourScreen)
        assert in_log(log) == ["ricing", "spilt", "smooth and pourable"]


async def test_the_key_that_opened_a_pour_held_elsewhere_does_not_take_it_over(
    tmp_path: Path, clock: FakeClock
) -> None:
    log = left(tmp_path, clock)
    hold = take(log, clock.boot_id)
    async with bench_app(tmp_path, clock) as (app, pilot):
        await at_once(pilot, "enter", "enter", "enter")
        assert isinstance(app.screen, PourScreen)
        assert app.screen.desk.watching
    hold.release()  # type: ignore[union-attr]


@pytest.mark.parametrize("ways", [("enter", "y"), ("enter", "y", "y")], ids=["once", "bounced"])
async def test_the_first_key_after_the_set_out_is_the_pours(
    tmp_path: Path, clock: FakeClock, known: Known, ways: tuple[str, ...]
) -> None:
    pour = desk(plan(), known, clock)
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await app.switch_screen(SetOutScreen(pour))
        await pilot.press("enter")
        assert isinstance(app.screen, Ask)
        await at_once(pilot, *ways[1:], "space", "b")
        assert isinstance(app.screen, PourScreen)
        assert [e.kind for e in pour.log.events] == [Kind.LYE_MEETS_OILS, Kind.BLENDER_ON]


async def test_a_key_sent_with_the_one_that_closes_a_question_is_the_pours(
    tmp_path: Path, clock: FakeClock, known: Known
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    app = SoapbenchApp(open_bench(tmp_path), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await app.switch_screen(PourScreen(pour))
        app.push_screen(Ask("Go on?"))
        await pilot.pause()
        await at_once(pilot, "escape", "escape", "b")
        assert pour.state.blender_on is not None


async def test_a_pour_that_cannot_be_opened_takes_no_key(tmp_path: Path, clock: FakeClock) -> None:
    log = left(tmp_path, clock)
    async with bench_app(tmp_path, clock) as (app, pilot):
        whole = log.read_bytes()
        log.write_bytes(b"plan = 1\n")
        await at_once(pilot, "enter", "r")
        assert not isinstance(app.screen, PourScreen)
        assert log.read_bytes() == b"plan = 1\n" != whole
        await at_once(pilot, "s")  # heard by the bench again
        assert type(app.screen).__name__ == "SettingsScreen"
