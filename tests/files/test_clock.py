"""Time since an event: the boot clock on the same boot, the wall clock otherwise."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

import pytest
from disk_fakes import event

from soapbench.log import Event, Kind
from soapbench.logfile.clock import Reading, SystemClock, boot_seconds, elapsed_since, this_boot

SEVEN = datetime(2024, 5, 1, 19, 0, tzinfo=timezone(timedelta(hours=2)))
WHEN_LYE_MET = Event(SEVEN, 0.0, Kind.LYE_MEETS_OILS, boot_s=1000.0, boot_id="boot-a", id="1")


def after(wall_s: float, boot_s: float, boot_id: str = "boot-a", hours: float = 2) -> Reading:
    at = (SEVEN + timedelta(seconds=wall_s)).astimezone(timezone(timedelta(hours=hours)))
    return Reading(at, boot_s, boot_id)


@pytest.mark.parametrize(
    ("now", "seconds", "by_boot"),
    [
        (after(600, 1600), 600, True),
        (after(3600, 4600), 3600, True),
        (after(600 - 86400, 1600), 600, True),
        (after(600 + 7200, 1600), 600, True),
        (after(600, 1600, hours=-7), 600, True),
        (after(900, 35, "boot-b"), 900, False),
        (after(900, 35, "boot-b", hours=9), 900, False),
        (after(-3600, 35, "boot-b"), 0, False),
        (after(900, 400), 900, False),
        (after(900, 1900, ""), 900, False),
    ],
    ids=[
        "ordinary",
        "lid shut: both clocks went on",
        "wall clock set back a day",
        "wall clock put forward two hours",
        "another time zone",
        "rebooted",
        "rebooted in another time zone",
        "rebooted with the wall clock wrong: never negative",
        "virtual machine put back: boot clock ran backwards",
        "a machine that does not tell its boot",
    ],
)
def test_elapsed(now: Reading, seconds: float, by_boot: bool) -> None:
    elapsed = elapsed_since(WHEN_LYE_MET, now)
    assert elapsed.seconds == pytest.approx(seconds)
    assert elapsed.by_boot_clock is by_boot


def test_two_unnamed_boots_are_not_taken_for_one() -> None:
    then = Event(SEVEN, 0.0, Kind.LYE_MEETS_OILS, boot_s=1000.0, boot_id="")
    assert elapsed_since(then, after(900, 1100, "")).seconds == 900


@dataclass
class Machine:
    """A machine whose lid can be shut and whose wall clock can be set."""

    wall: float = SEVEN.timestamp()
    boot: float = 1000.0

    def sleep(self, seconds: float) -> None:
        self.wall += seconds
        self.boot += seconds


def test_a_pour_through_lid_and_clock_steps() -> None:
    machine = Machine()
    clock = SystemClock(lambda: machine.wall, lambda: machine.boot, "boot-a")
    begun = clock.read()
    machine.sleep(120)
    machine.wall -= 3600  # summer time done by hand
    machine.sleep(180)
    assert elapsed_since(begun, clock.read()).seconds == 300
    machine.boot = 12.0
    machine.wall += 3600
    rebooted = SystemClock(lambda: machine.wall, lambda: machine.boot, "boot-b")
    elapsed = elapsed_since(begun, rebooted.read())
    assert (elapsed.seconds, elapsed.by_boot_clock) == (300, False)


def test_this_machines_clock() -> None:
    reading = SystemClock().read()
    assert reading.at.utcoffset() is not None
    assert abs((datetime.now(UTC) - reading.at).total_seconds()) < 60
    assert 0 <= boot_seconds() - reading.boot_s < 60
    assert event(0).boot_id != reading.boot_id


@pytest.mark.skipif(sys.platform != "linux", reason="against Linux's own accounts")
def test_boot_clock_and_boot_id_agree_with_the_kernel() -> None:
    """``/proc/uptime`` counts suspend too (man 5 proc); boot_id is one for all processes."""
    with open("/proc/uptime", encoding="ascii") as file:
        uptime = float(file.read().split()[0])
    assert boot_seconds() == pytest.approx(uptime, abs=5)
    assert this_boot() == this_boot()
    assert boot_seconds() >= time.monotonic() - 1
