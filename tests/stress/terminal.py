"""A real program in a real pseudo-terminal, and a model of what that terminal shows."""

from __future__ import annotations

import os
import re
import select
import signal
import sys
import termios
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyte
from ptyprocess import PtyProcess

ROOT = Path(__file__).parent.parent.parent
RESTORED = {
    "alternate screen left": b"\x1b[?1049l",
    "cursor shown": b"\x1b[?25h",
    "mouse off": b"\x1b[?1003l",
    "paste off": b"\x1b[?2004l",
    "keyboard protocol off": b"\x1b[<u",
}
# What the terminal model does not swallow by itself.
_STRIP = re.compile(
    rb"\x1b\[[<>=][0-9;]*[a-zA-Z]|\x1b\[\?[0-9;]*\$p|\x1b\[\?[0-9;]*u|\x1b[_P].*?\x1b\\", re.S
)
_PARTIAL = re.compile(rb"\x1b(?:\[[0-9;?<>=:$ ]*|[_P\]][^\x1b\x07]*)?$")


class Terminal:
    """One run of a program. ``wait`` and ``drain`` feed what it writes to the screen model."""

    def __init__(self, argv: list[str], bench: Path, size: tuple[int, int] = (24, 80)) -> None:
        env = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES", "NO_COLOR")}
        env |= {
            "TERM": "xterm-256color",
            "SOAPBENCH_DIR": str(bench),
            "XDG_STATE_HOME": str(bench.parent / "state"),
            "PYTHONPATH": str(ROOT),
            "OMP_NUM_THREADS": "1",
        }
        self.screen = pyte.Screen(size[1], size[0])
        self._stream = pyte.ByteStream(self.screen)
        self._carry = b""
        self.raw = bytearray()
        self.ended = False
        self.stamp = time.perf_counter()
        """When the last of what it wrote came; at first, when it was begun."""
        self.process = PtyProcess.spawn(argv, dimensions=size, env=env)
        self.before = self.modes()

    def modes(self) -> list[Any]:
        """The line discipline as the terminal has it now."""
        return termios.tcgetattr(self.process.fd)

    def send(self, keys: str) -> None:
        self.send_bytes(keys.encode())

    def send_bytes(self, data: bytes) -> None:
        os.write(self.process.fd, data)

    def resize(self, rows: int, columns: int) -> None:
        self.process.setwinsize(rows, columns)
        self.screen.resize(rows, columns)

    def signal(self, number: signal.Signals) -> None:
        os.kill(self.process.pid, number)

    def text(self) -> str:
        return "\n".join(self.screen.display)

    def pump(self, seconds: float) -> bool:
        """Take in what comes within ``seconds``; False when nothing did."""
        if self.ended or not select.select([self.process.fd], [], [], seconds)[0]:
            return False
        try:
            data = os.read(self.process.fd, 1 << 16)
        except OSError:
            data = b""
        if not data:
            self.ended = True
            return False
        self.stamp = time.perf_counter()  # before the terminal's model, which is slow
        self.raw += data
        data = _STRIP.sub(b"", self._carry + data)
        partial = _PARTIAL.search(data)
        self._carry = data[partial.start() :] if partial else b""
        self._stream.feed(data[: partial.start()] if partial else data)
        return True

    def wait(self, until: Callable[[str], bool] | str, seconds: float = 30.0) -> str:
        """The screen once ``until`` holds of it; AssertionError if that never comes."""
        end = time.monotonic() + seconds
        held = until if callable(until) else (lambda text: until in text)
        while not held(self.text()):
            late = time.monotonic() > end or self.ended
            assert not late, f"never came:\n{self.text()}"
            self.pump(0.25)
        return self.text()

    def drain(self, seconds: float = 10.0, at_most: float = 60.0) -> None:
        """All that was written until the program ended, or went quiet for ``seconds``."""
        end = time.monotonic() + at_most
        while self.pump(seconds):
            assert time.monotonic() < end, f"never quiet:\n{self.text()}"

    def gone(self, seconds: float = 15.0) -> int:
        """Wait for the end of the program; its exit code, negative for a signal."""
        end = time.monotonic() + seconds
        while self.process.isalive():
            assert time.monotonic() < end, f"still there:\n{self.text()}"
            self.pump(0.05)
        self.drain(0.2)
        status, number = self.process.exitstatus, self.process.signalstatus
        return status if status is not None else -number

    def left_as_found(self) -> list[str]:
        """What of the terminal was not put back as it had been."""
        wrong = [what for what, sign in RESTORED.items() if sign not in self.raw]
        return wrong + (["line discipline"] if self.modes() != self.before else [])

    def kill(self) -> None:
        """End it at once, whatever it does; only ever the process begun here."""
        if self.process.isalive():
            self.process.kill(signal.SIGKILL)
            self.process.wait()

    def hang_up(self) -> None:
        """The window is closed: whatever the program writes from now on fails."""
        self.process.fileobj.close()
        self.ended = True

    def close(self) -> None:
        self.kill()
        self.process.close()


def soapbench(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "soapbench", *arguments]


def straight_to_pour(log: Path) -> list[str]:
    """The app, opened at the pour in ``log``."""
    return [sys.executable, str(Path(__file__).parent / "straight_to_pour.py"), str(log)]
