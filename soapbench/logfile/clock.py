"""Clocks of a pour: one that counts since boot, lid shut or not, and the wall clock for people."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple, Protocol

from soapbench.reading.safetext import clean


class Reading(NamedTuple):
    """Both clocks, read at the same moment."""

    at: datetime
    """Wall clock with its offset."""
    boot_s: float
    """Seconds on a clock that counts since boot, suspend included."""
    boot_id: str
    """Which boot ``boot_s`` belongs to."""


class Stamped(Protocol):
    """Anything that carries both clocks: a ``Reading``, an ``Event`` of the log."""

    @property
    def at(self) -> datetime: ...
    @property
    def boot_s(self) -> float: ...
    @property
    def boot_id(self) -> str: ...


class Clock(Protocol):
    """Where readings come from; tests pass their own."""

    def read(self) -> Reading: ...


class Elapsed(NamedTuple):
    """Time passed between two stamps."""

    seconds: float
    """Never negative."""
    by_boot_clock: bool
    """False: another boot, so the wall clock had to be believed."""


def elapsed_since(then: Stamped, now: Stamped) -> Elapsed:
    """Seconds from ``then`` to ``now``.

    On the same boot the boot clock decides and steps of the wall clock do not count. On
    another boot, or when the boot clock has run backwards (a virtual machine put back to an
    earlier state), the difference of the wall clocks in UTC is taken, never below zero.
    """
    if then.boot_id and then.boot_id == now.boot_id and now.boot_s >= then.boot_s:
        return Elapsed(now.boot_s - then.boot_s, by_boot_clock=True)
    return Elapsed(max(0.0, (now.at - then.at).total_seconds()), by_boot_clock=False)


def boot_seconds() -> float:
    """The platform's clock that keeps counting while the machine sleeps, s.

    Linux: CLOCK_BOOTTIME (``man 2 clock_gettime``; CLOCK_MONOTONIC stands still in suspend).
    macOS: CLOCK_MONOTONIC_RAW. Elsewhere ``time.monotonic``.
    """
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return time.clock_gettime(time.CLOCK_MONOTONIC_RAW)
    return time.monotonic()


def this_boot() -> str:
    """A name for the running boot, the same for every process of it where the system tells.

    Linux: ``/proc/sys/kernel/random/boot_id`` (``man 4 random``). Elsewhere, and where that
    cannot be read, a name for this process alone: within the process the boot clock is still
    believed, and after a restart of the program the wall clock is, which errs on the safe side.
    """
    if sys.platform == "linux":
        try:
            return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
        except (OSError, UnicodeDecodeError):
            pass
    return f"process-{os.urandom(16).hex()}"


def sound_time_zone() -> str:
    """Use UTC in place of a time zone no clock can have ("UTC+25"); says so where that was done."""
    try:
        datetime.now(UTC).astimezone()
    except (ValueError, OverflowError, OSError):
        given, os.environ["TZ"] = os.environ.get("TZ", ""), "UTC"
        if hasattr(time, "tzset"):
            time.tzset()
        return f'there is no time zone "{clean(given, 40)}": times are in UTC'
    return ""


@dataclass(frozen=True, slots=True)
class SystemClock:
    """This machine's clocks. The boot's name is read once, when the clock is made."""

    wall: Callable[[], float] = time.time
    boot: Callable[[], float] = boot_seconds
    boot_id: str = field(default_factory=this_boot)

    def read(self) -> Reading:
        at = datetime.fromtimestamp(self.wall(), UTC).astimezone()
        return Reading(at, self.boot(), self.boot_id)
