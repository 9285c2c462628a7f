"""A batch log on a disk that may hang (a network folder, a worn stick): nobody waits for it long.

One thread of its own does all the writing, in order, so an event is still durable before
``append`` returns as long as the disk answers in time.
"""

from __future__ import annotations

import contextlib
import os
import threading
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue

from soapbench.log import Event
from soapbench.logfile.batchlog import BatchLog, Unsaved
from soapbench.logfile.durable import make_folder, write_new
from soapbench.logfile.patience import NO_ANSWER
from soapbench.logfile.records import event_text

PATIENCE_S = 1.0
"""A working disk takes milliseconds; a maker with a pot in hand notices a second (ours)."""


SPILL_S = 0.2
"""So long a sound disk elsewhere is waited for, so that the screen can say at once where it is."""


class PatientLog:
    """``log`` with its writing on a thread. Never raises OSError: see ``unsaved``.

    ``new``: its file is still to be made. While the disk hangs a copy of all of it is kept in
    the spill folder, which mostly lies on another one.
    """

    def __init__(self, log: BatchLog, patience_s: float = PATIENCE_S, new: bool = False) -> None:
        self.path = log.path
        self.damaged = log.damaged
        self._log = log
        self._patience_s = patience_s
        self._events = {e.id: e for e in log.events}
        self._waiting: dict[str, Event] = {}
        self._unsaved = log.unsaved
        self._jobs: SimpleQueue[Event | str] = SimpleQueue()
        self._state = threading.Condition()
        self._open_jobs = 0
        self._hangs = False
        self._writing = False
        self._spilling = self._spill_again = False
        self._spilled_to: Path | None = None
        if new:
            self._do("begin")

    @property
    def events(self) -> tuple[Event, ...]:
        """Every event of the log, saved or not, in order."""
        return tuple(self._events.values())

    @property
    def unsaved(self) -> Unsaved | None:
        """What the file does not hold, and why; None when all is durable."""
        with self._state:
            if not self._waiting and not self._hangs:
                return self._unsaved
            known = {e.id: e for e in self._unsaved.events} if self._unsaved else {}
            events = tuple((known | self._waiting).values())
            return Unsaved(events, NO_ANSWER, self._spilled_to)

    def append(self, event: Event) -> Event:
        """Write one event, durable on return unless ``unsaved`` says otherwise."""
        if not event.id:
            event = replace(event, id=self._new_id())
        if event.id in self._events:
            return self._events[event.id]
        self._events[event.id] = event
        with self._state:
            self._waiting[event.id] = event
        self._do(event)
        return event

    def _do(self, job: Event | str) -> None:
        self._give(job)
        # While it hangs, waiting again would cost every key the whole patience.
        if not self.answered(0.0 if self._hangs else self._patience_s):
            with self._state:
                self._hangs = bool(self._open_jobs)
            self._spill_soon()

    def retry(self) -> bool:
        """Have what is unsaved tried again, without waiting for it; True when all is durable."""
        if self.unsaved and self.answered(0.0):
            self._give("retry")
        return self.unsaved is None

    def close(self) -> None:
        """Let go of the file; waits for the disk no longer than for an event."""
        self._give("close")
        self.answered(self._patience_s)

    def answered(self, within_s: float) -> bool:
        """Whether the writer has done all it was given, waiting for that if need be."""
        with self._state:
            return self._state.wait_for(lambda: not self._open_jobs, within_s)

    def _new_id(self) -> str:
        while (new := os.urandom(4).hex()) in self._events:
            pass
        return new

    def _give(self, job: Event | str) -> None:
        self._jobs.put(job)
        with self._state:
            self._open_jobs += 1
            if not self._writing:
                self._writing = True
                # A daemon: a disk that never answers must not keep the program from ending.
                threading.Thread(target=self._write, name="batch log", daemon=True).start()

    def _write(self) -> None:
        while True:
            job = self._jobs.get()
            if isinstance(job, Event):
                self._log.append(job)
            elif job == "begin":
                self._log.begin()
            elif job == "retry":
                self._log.retry()
            else:
                self._log.close()
            with self._state:
                if isinstance(job, Event):
                    self._waiting.pop(job.id, None)
                self._unsaved = self._log.unsaved
                self._open_jobs -= 1
                self._hangs = self._hangs and bool(self._open_jobs)
                if self._spilled_to and not self._hangs and self._unsaved is None:
                    with contextlib.suppress(OSError):  # left over it does no harm: ids are known
                        self._spilled_to.unlink()
                    self._spilled_to = None
                self._writing = job != "close"
                self._state.notify_all()
                if not self._writing:
                    return

    def _spill_soon(self) -> None:
        """Keep a copy elsewhere, on a thread of its own: the writing one is stuck."""
        if self._log.spill is None:
            return
        with self._state:
            self._spill_again = True
            if self._spilling:
                return
            self._spilling = True
        threading.Thread(target=self._spill, name="spill", daemon=True).start()
        with self._state:
            self._state.wait_for(lambda: not self._spilling, SPILL_S)

    def _spill(self) -> None:
        path = self._log.spill
        while path is not None:
            with self._state:
                if not self._spill_again or not self._hangs:
                    break
                self._spill_again = False
                texts = [event_text(event) for event in self._events.values()]
            try:
                make_folder(path.parent)
                write_new(path, self._log.head + b"".join(texts), over=True)
                done = True
            except OSError:
                done = False
            with self._state:
                self._spilled_to = path if done else None
        with self._state:
            self._spilling = False
            self._state.notify_all()
