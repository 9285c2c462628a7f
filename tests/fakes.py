"""A clock in a test's hands, and where the sample plans are."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from soapbench.logfile.clock import Reading

SAMPLES = Path(__file__).parent.parent / "sample_plans"
assert SAMPLES.is_dir(), "the sample plans are part of the tests"


@dataclass
class FakeClock:
    """A clock in a test's hands: ``passes`` moves both clocks, ``wall_steps`` the wall only."""

    wall: datetime = field(default_factory=lambda: datetime(2026, 3, 1, 18, 0, tzinfo=UTC))
    boot_s: float = 1000.0
    boot_id: str = "boot-1"

    def read(self) -> Reading:
        return Reading(self.wall, self.boot_s, self.boot_id)

    def passes(self, seconds: float) -> None:
        self.boot_s += seconds
        self.wall += timedelta(seconds=seconds)

    def wall_steps(self, seconds: float) -> None:
        self.wall += timedelta(seconds=seconds)

    def reboots(self, seconds_off: float) -> None:
        self.wall += timedelta(seconds=seconds_off)
        self.boot_s, self.boot_id = 5.0, self.boot_id + "+"
