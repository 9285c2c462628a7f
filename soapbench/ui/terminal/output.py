"""Writing to a terminal that may take nothing, or be gone, without ever waiting for it.

The toolkit's own queue (Textual 8.2) holds 30 writes and then makes the whole app wait: neither
a key nor a signal is heard any more.
"""

from __future__ import annotations

import os
import select
import threading
from collections.abc import Callable

MOST_WAITING = 400_000
"""Bytes; some fifty whole screens. A terminal that far behind is drawn anew once it takes again."""
SHORT = 64
"""Bytes; a switch of the terminal's, never left out."""
BLOCK = 4096


class Output:
    """``lost``: called once when the terminal is gone. ``caught_up``: draw all anew.

    Both are called on the writing thread.
    """

    def __init__(
        self, fd: int, lost: Callable[[], object], caught_up: Callable[[], object]
    ) -> None:
        self._fd = fd
        self._lost, self._caught_up = lost, caught_up
        self._state = threading.Condition()
        self._waiting: list[bytes] = []
        self._bytes = 0
        self._behind = False
        self._busy = False
        self._over = False
        self._thread = threading.Thread(target=self._run, name="terminal output", daemon=True)
        self._thread.start()

    def write(self, data: bytes) -> None:
        """Have ``data`` written, whole or not at all. Never waits, never raises."""
        with self._state:
            if self._over:
                return
            self._behind = self._behind or self._bytes > MOST_WAITING
            if self._behind and len(data) > SHORT:
                return
            self._waiting.append(data)
            self._bytes += len(data)
            self._state.notify_all()

    def drop_drawings(self) -> None:
        """Forget what waits, if it is much: the screen is about to be given back."""
        with self._state:
            if self._behind or self._bytes > BLOCK:
                self._waiting = [data for data in self._waiting if len(data) <= SHORT]
                self._bytes = sum(map(len, self._waiting))
            self._behind = False

    def drained(self, within_s: float) -> bool:
        """Whether all is written, waiting for that if need be."""
        with self._state:
            return self._state.wait_for(lambda: not self._waiting and not self._busy, within_s)

    def close(self, within_s: float) -> bool:
        """Write what waits and end; False when the terminal took it not in time."""
        done = self.drained(within_s)
        with self._state:
            self._over = True
            self._waiting.clear()
            self._state.notify_all()
        return done

    def _run(self) -> None:
        while True:
            with self._state:
                self._state.wait_for(lambda: self._waiting or self._over)
                if self._over:
                    return
                data = b"".join(self._waiting)
                self._waiting.clear()
                self._bytes, self._busy = len(data), True
            try:
                self._write(data)
            except OSError:
                with self._state:
                    self._over, self._busy = True, False
                    self._waiting.clear()
                    self._state.notify_all()
                self._lost()
                return
            with self._state:
                self._bytes = sum(map(len, self._waiting))
                self._busy = False
                again = self._behind and not self._waiting
                self._behind = self._behind and not again
                self._state.notify_all()
            if again:
                self._caught_up()

    def _write(self, data: bytes) -> None:
        rest = memoryview(data)
        while rest and not self._over:
            try:
                rest = rest[os.write(self._fd, rest[:BLOCK]) :]
            except BlockingIOError:  # whoever shares this terminal has made it so
                select.select([], [self._fd], [], 0.5)
