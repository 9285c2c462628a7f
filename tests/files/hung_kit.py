"""A log whose disk hangs until it is let, and the thread in front of it, told how long it waits."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from soapbench.log import Event
from soapbench.logfile.batchlog import Unsaved
from soapbench.logfile.slowdisk import PatientLog

Named = Callable[[str], list[threading.Thread]]
LONG_S = 20.0
"""Only a failing test waits so long."""


class Hung:
    """A log each of whose jobs waits until it is let."""

    def __init__(self, path: Path, spill: Path | None) -> None:
        self.path, self.spill, self.head = path, spill, b"# head\n"
        self.damaged = ()
        self.events: tuple[Event, ...] = ()
        self.unsaved: Unsaved | None = None
        self.did: list[object] = []
        self._let = threading.Semaphore(0)

    def let(self, jobs: int = 1) -> None:
        self._let.release(jobs)

    def _do(self, job: object) -> None:
        assert self._let.acquire(timeout=LONG_S)
        self.did.append(job)

    def append(self, event: Event) -> Event:
        self._do(event.id)
        return event

    def begin(self) -> None:
        self._do("begin")

    def retry(self) -> bool:
        self._do("retry")
        return True

    def close(self) -> None:
        self._do("close")


class Noted(PatientLog):
    """Notes how long it would have waited and waits for ``waits_s`` at the most."""

    def __init__(self, log: Hung, waits_s: float = 0.0, **more: object) -> None:
        self.waited: list[float] = []
        self.waits_s = waits_s
        super().__init__(log, **more)  # type: ignore[arg-type]

    def answered(self, within_s: float) -> bool:
        self.waited.append(within_s)
        return super().answered(min(within_s, self.waits_s))

    def until(self, done: Callable[[], bool]) -> None:
        with self._state:
            assert self._state.wait_for(done, LONG_S)
