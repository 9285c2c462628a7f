"""The toolkit's driver of a terminal with our own keyboard and output."""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import termios
from collections.abc import Callable
from typing import Any, Protocol, cast

from textual.drivers.linux_driver import LinuxDriver

from soapbench.ui.signals import end_anyhow
from soapbench.ui.terminal.keyboard import Keyboard
from soapbench.ui.terminal.output import Output

PATIENCE_S = 1.0
"""For a terminal to take the last of what is written."""
GIVEN_BACK = b"\x1b[?2004l\x1b[?7h\x1b[?1003l\x1b[?1000l\x1b[<u\x1b[?1049l\x1b[?25h\x1b[?1004l"
"""What puts a terminal back when nothing else can any more."""


class Leaves(Protocol):
    """An app that can be told its terminal is gone, or to draw all of it anew."""

    def terminal_gone(self) -> None: ...
    def draw_anew(self) -> None: ...


class Steady:
    """What both drivers share."""

    _app: Any
    _loop: asyncio.AbstractEventLoop
    _said_lost = False

    def _lost(self) -> None:
        """Nobody is there any more, on whatever thread that was noticed."""
        if not self._said_lost:
            self._said_lost = True
            end_anyhow()
            self._tell(cast(Leaves, self._app).terminal_gone)

    def _anew(self) -> None:
        self._tell(cast(Leaves, self._app).draw_anew)

    def _tell(self, act: Callable[[], None]) -> None:
        with contextlib.suppress(RuntimeError):  # closed: it is ending as it is
            self._loop.call_soon_threadsafe(act)


class TerminalDriver(Steady, LinuxDriver):
    """A terminal that may send anything, take nothing, or be gone."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self._shown_on = self._file.fileno() if self._file else 2
        self._output = Output(self._shown_on, self._lost, self._anew)

    def write(self, data: str) -> None:
        self._output.write(data.encode("utf-8", "replace"))

    def stop_application_mode(self) -> None:
        self._output.drop_drawings()
        super().stop_application_mode()
        self._output.drained(PATIENCE_S)

    def close(self) -> None:
        if self._app._exit:  # else it is only stopped, and will be gone on with
            end_anyhow(self.put_back)
            if not self._output.close(PATIENCE_S):
                with contextlib.suppress(OSError, termios.error):
                    termios.tcflush(self._shown_on, termios.TCOFLUSH)
        super().close()

    def put_back(self) -> None:
        """Put the terminal back as it was, as far as can be done without waiting for anything."""
        if self.attrs_before is not None:
            with contextlib.suppress(OSError, termios.error):
                termios.tcsetattr(self.fileno, termios.TCSANOW, self.attrs_before)
        with contextlib.suppress(OSError):
            if select.select([], [self._shown_on], [], 0)[1]:
                os.write(self._shown_on, GIVEN_BACK)

    def run_input_thread(self) -> None:
        keyboard = Keyboard()
        while not self.exit_event.is_set():
            try:
                if select.select([self.fileno], [], [], 0.1)[0]:
                    data = os.read(self.fileno, 4096)
                    if not data:
                        raise EOFError
                    for message in keyboard.feed(data):
                        self.process_message(message)
            except (OSError, ValueError, EOFError):
                self._lost()
                return
            for message in keyboard.tick():
                self.process_message(message)
