"""Two programs on one bench: one pours, the other watches, and takes over when it may."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

from safety_kit import again, dies, logged, new_desk, notes, on_screen, pour_screen, ticks

from soapbench.advice.known import Known
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind
from soapbench.logfile.hold import Holder, hold_path
from tests.fakes import FakeClock


def file_of(desk: Desk) -> Path:
    path = desk.log.path  # type: ignore[attr-defined]
    assert isinstance(path, Path)
    return path


def elsewhere(desk: Desk, host: str = "another-laptop") -> None:
    """The hold's file as a synced folder brings it from another machine."""
    dies(desk)
    words = {"pid": 4711, "host": host, "boot_id": "their-boot"}
    hold_path(file_of(desk)).write_text(json.dumps(words))


def test_the_second_only_watches_and_follows(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    first = new_desk(tmp_path, known, clock)
    first.lye_meets_oils()
    second = again(tmp_path, known, clock)
    assert second.watching
    assert second.holder is not None
    assert second.record(Kind.NOTE, text="not mine") is None
    clock.passes(3)
    first.stage_done()
    first.note("base", "ricing")
    assert second.state != first.state
    assert second.tend()
    assert second.state == first.state
    assert second.now() == first.now()
    clock.passes(3)
    assert not second.tend()
    assert not second.take_over()
    assert notes(logged(first)) == ["ricing"]


def test_no_warning_is_logged_by_a_watcher(tmp_path: Path, known: Known, clock: FakeClock) -> None:
    from tests.plans import plan

    first = new_desk(tmp_path, known, clock, plan())
    first.lye_meets_oils()
    second = again(tmp_path, known, clock)
    clock.passes(1500)
    live = second.advise()
    assert live.advice is not None
    assert second.heed(replace(live, advice=replace(live.advice, warns=True, why="too late")))
    assert all(e.kind is not Kind.WARNING_SHOWN for e in logged(first))


def test_a_pour_whose_holder_died_is_taken_over_and_nothing_is_lost(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    first = new_desk(tmp_path, known, clock)
    first.lye_meets_oils()
    second = again(tmp_path, known, clock)
    first.note("base", "ricing")  # not seen by the second when the first dies
    dies(first)
    clock.passes(3)
    second.tend()
    assert second.holder is None
    assert second.take_over()
    assert notes(second.log.events) == ["ricing"]
    second.note("base", "seizing")
    assert notes(logged(second)) == ["ricing", "seizing"]
    third = again(tmp_path, known, clock)
    assert third.watching


def test_a_hold_left_by_a_dead_process_of_this_machine_is_no_hold(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    import socket

    first = new_desk(tmp_path, known, clock)
    first.lye_meets_oils()
    elsewhere(first, socket.gethostname())
    assert not again(tmp_path, known, clock).watching


async def test_the_watching_screen_follows_takes_no_keys_and_offers_to_take_over(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    first = new_desk(tmp_path, known, clock)
    first.lye_meets_oils()
    async with pour_screen(tmp_path, clock, again(tmp_path, known, clock)) as (pilot, screen):
        assert "runs in another window" in on_screen(pilot)
        await pilot.press("space", "r", "u", "k", "f", "b")
        assert len(logged(first)) == 1
        clock.passes(20)
        first.stage_done()
        await ticks(pilot, clock)
        assert screen.facts().step[0] == 2
        await pilot.press("enter")
        assert screen.desk.watching
        dies(first)
        await ticks(pilot, clock)
        assert "Enter: carry on here" in on_screen(pilot)
        await pilot.press("enter")
        assert not screen.desk.watching
        assert "You're running this pour now" in on_screen(pilot)
        await pilot.press("r")
        assert notes(logged(screen.desk)) == ["ricing"]


async def test_a_hold_of_another_machine_is_taken_over_only_when_that_is_sure(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    first = new_desk(tmp_path, known, clock)
    first.lye_meets_oils()
    elsewhere(first)
    async with pour_screen(tmp_path, clock, again(tmp_path, known, clock)) as (pilot, screen):
        assert screen.desk.holder == Holder(4711, "another-laptop", "their-boot", sure=False)
        assert "another-laptop had this last" in on_screen(pilot)
        await pilot.press("enter", "n")
        assert screen.desk.watching
        await pilot.press("enter", "y")
        assert not screen.desk.watching
        await pilot.press("r")
        assert notes(logged(screen.desk)) == ["ricing"]


async def test_a_host_name_cannot_steer_the_terminal(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    first = new_desk(tmp_path, known, clock)
    first.lye_meets_oils()
    elsewhere(first, "\x1b]0;pwned\x07[red]" + "x" * 500)
    async with pour_screen(tmp_path, clock, again(tmp_path, known, clock)) as (pilot, screen):
        assert "\x1b" not in on_screen(pilot)
        assert "[red]" in on_screen(pilot)
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("n")
        await ticks(pilot, clock)
        assert screen.desk.watching
