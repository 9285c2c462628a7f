"""Time since lye under every clock that misbehaves: lid, wall steps, zones, reboots, late ticks."""

from __future__ import annotations

from datetime import timedelta, timezone
from pathlib import Path

import pytest
from safety_kit import again, dies, logged, new_desk, on_screen, pour_screen, ticks

from soapbench.advice.known import Known
from soapbench.desk.pourdesk import SILENCE_S
from soapbench.log import Kind
from tests.fakes import FakeClock


def test_the_lid_shut_for_three_minutes_counts(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    clock.passes(180)  # the boot clock runs on in suspend
    assert desk.now() == 180
    desk.note("base", "ricing")
    assert logged(desk)[-1].t == 180


@pytest.mark.parametrize("step", [3600.0, -3600.0, -86400.0 * 400], ids=str)
def test_steps_of_the_wall_clock_count_for_nothing(
    tmp_path: Path, known: Known, clock: FakeClock, step: float
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    clock.passes(60)
    clock.wall_steps(step)
    clock.passes(30)
    assert desk.now() == 90
    desk.note("base", "ricing")
    dies(desk)
    clock.wall_steps(-step / 2)
    clock.passes(10)
    assert again(tmp_path, known, clock).now() == 100


def test_another_time_zone_is_the_same_time(tmp_path: Path, known: Known, clock: FakeClock) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    clock.wall = clock.wall.astimezone(timezone(timedelta(hours=13)))
    clock.passes(45)
    assert desk.now() == 45
    dies(desk)
    clock.reboots(20)
    clock.wall = clock.wall.astimezone(timezone(timedelta(hours=-11)))
    assert again(tmp_path, known, clock).now() == pytest.approx(65)


def test_after_a_reboot_the_wall_clock_tells_how_long_it_was_off_and_steps_count_no_more(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    clock.passes(60)
    clock.wall_steps(7200)  # put right in the middle of the pour: not seven thousand seconds
    desk.note("base", "ricing")
    dies(desk)
    clock.reboots(90)
    carried = again(tmp_path, known, clock)
    assert carried.by_wall_clock
    assert carried.now() == pytest.approx(150)
    clock.wall_steps(-7200)
    clock.passes(10)
    assert carried.now() == pytest.approx(160)
    carried.note("base", "seizing")
    dies(carried)
    clock.wall_steps(999)
    clock.passes(5)
    third = again(tmp_path, known, clock)
    assert not third.by_wall_clock
    assert third.now() == pytest.approx(165)


def test_a_wall_clock_that_fell_back_at_the_reboot_never_turns_the_pour_back(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    clock.passes(300)
    desk.note("base", "ricing")
    dies(desk)
    clock.reboots(-86400 * 9000)
    carried = again(tmp_path, known, clock)
    assert carried.now() == pytest.approx(300)
    clock.passes(7)
    carried.note("base", "air bubbles")
    assert [e.t for e in logged(carried)] == pytest.approx([0, 300, 307])


def test_a_wall_clock_put_right_later_is_looked_at_again(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    clock.passes(300)
    desk.note("base", "ricing")
    dies(desk)
    clock.reboots(-5000)
    carried = again(tmp_path, known, clock)
    assert carried.clock_behind
    clock.passes(10)
    carried.tend()
    assert carried.now() == pytest.approx(310)  # nothing better is known yet
    clock.wall_steps(5000 + 80)
    clock.passes(5)
    carried.tend()
    assert not carried.clock_behind
    assert carried.now() == pytest.approx(300 + 80 + 15)
    carried.note("base", "air bubbles")
    clock.wall_steps(-9000)  # from the first entry on no step counts any more
    carried.tend()
    assert carried.now() == pytest.approx(395)


async def test_the_screen_says_that_the_clock_is_behind(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    dies(desk)
    clock.reboots(-75)
    carried = again(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, carried, size=(120, 40)) as (pilot, _screen):
        assert "is behind your last entry" in on_screen(pilot)


def test_a_clock_in_the_far_future_is_shown_and_read_back(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    dies(desk)
    clock.reboots(86400 * 365 * 7000)
    carried = again(tmp_path, known, clock)
    carried.note("base", "ricing")
    carried.advise()
    assert len(logged(carried)) == 2


async def test_the_screen_says_that_the_wall_clock_had_to_be_believed(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    dies(desk)
    clock.reboots(75)
    async with pour_screen(tmp_path, clock, again(tmp_path, known, clock)) as (pilot, _screen):
        assert "1:15" in on_screen(pilot)
        assert "goes by the time of day" in on_screen(pilot)


async def test_a_late_tick_draws_the_time_that_is_and_every_tick_from_the_clock(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, desk) as (pilot, screen):
        await pilot.press("space")
        await ticks(pilot, clock, 0.25)
        await ticks(pilot, clock, 200)
        assert screen.facts().step_s == 200
        for _ in range(5):
            screen._tick()  # ticks without time: nothing is counted
        assert screen.facts().step_s == 200


async def test_a_machine_put_back_to_an_earlier_state_still_gets_advice(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    async with pour_screen(tmp_path, clock, desk) as (pilot, screen):
        await pilot.press("space")
        clock.passes(100)
        await pilot.press("r")
        await ticks(pilot, clock, 0)
        assert screen.desk.live is not None
        screen.desk.live = None
        clock.boot_s -= 60
        await ticks(pilot, clock, SILENCE_S + 1)
        assert screen.desk.live is not None
        await pilot.press("z")
        kinds = [e.kind for e in logged(desk)]
        assert kinds.count(Kind.TROUBLE) == 2


def test_started_on_a_machine_put_back_to_an_earlier_state(
    tmp_path: Path, known: Known, clock: FakeClock
) -> None:
    desk = new_desk(tmp_path, known, clock)
    desk.lye_meets_oils()
    clock.passes(100)
    desk.note("base", "ricing")
    dies(desk)
    clock.passes(20)
    clock.boot_s -= 60  # a virtual machine taken back; its wall clock is right
    assert again(tmp_path, known, clock).now() == pytest.approx(120)
