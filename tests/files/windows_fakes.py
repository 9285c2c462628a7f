"""A system made up to be like Windows where it matters here; nothing here was seen on Windows.

What it refuses is from Microsoft's pages on CreateFile, DeleteFile, LockFile and _locking and
from Python's own documentation of os and msvcrt, as remembered; not verified.
"""

from __future__ import annotations

import ctypes
import errno
import fcntl
import os
import queue
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

NOT_THERE = frozenset(
    {"fork", "fchmod", "killpg", "setsid", "getuid", "geteuid", "sysconf", "O_NONBLOCK", "O_NOCTTY"}
)


class Like:
    """A module with something else in its place, seen by this package's modules only."""

    def __init__(self, module: ModuleType, gone: frozenset[str] = frozenset(), **own: Any) -> None:
        self.__dict__.update(own, _module=module, _gone=gone)

    def __getattr__(self, name: str) -> Any:
        if name in self._gone:
            raise AttributeError(name)
        return getattr(self._module, name)


def locks() -> ModuleType:
    """``msvcrt``, as far as a log's hold uses it."""
    msvcrt: Any = ModuleType("msvcrt")
    msvcrt.LK_NBLCK = 2
    msvcrt.get_osfhandle = lambda fd: fd

    def locking(fd: int, mode: int, count: int) -> None:
        assert (mode, count) == (msvcrt.LK_NBLCK, 1)
        at = os.lseek(fd, 0, os.SEEK_CUR)
        assert at > 4096, "a locked byte can be read by nobody else: not one of the words"
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise PermissionError(errno.EACCES, "Permission denied") from None

    msvcrt.locking = locking
    return msvcrt


def held_open(path: object) -> bool:
    """Whether this program has a file open: it can then be neither removed nor replaced."""
    wanted = os.path.abspath(os.fsdecode(path))  # type: ignore[arg-type]
    for fd in os.listdir("/proc/self/fd"):
        try:
            if os.readlink(f"/proc/self/fd/{fd}") == wanted:
                return True
        except OSError:
            continue
    return False


def refusing(act: Callable[..., Any], paths: int) -> Callable[..., Any]:
    def acts(*given: Any, **more: Any) -> Any:
        for path in given[:paths]:
            if not isinstance(path, int) and held_open(path):
                raise PermissionError(errno.EACCES, "in use by another process", str(path))
        if act.__name__ == "rename" and os.path.lexists(given[1]):
            raise FileExistsError(errno.EEXIST, "there already", str(given[1]))
        return act(*given, **more)

    return acts


KEY_EVENT = 1


class Console:
    """``kernel32`` with a console: each list of characters is what one reading gives."""

    def __init__(self) -> None:
        self.typed: queue.Queue[str] = queue.Queue()

    def __getattr__(self, name: str) -> Any:
        own = {"WaitForMultipleObjects": self.waits, "ReadConsoleInputW": self.reads}.get(name)

        def call(*given: Any) -> int:
            return own(*given) if own else 1

        self.__dict__[name] = call  # the toolkit gives each function its types
        return call

    def waits(self, *given: Any) -> int:
        try:
            self._next = self.typed.get(timeout=0.02)
        except queue.Empty:
            return 0x102
        return 0

    def reads(self, handle: Any, records: Any, most: int, count: Any) -> int:
        for record, character in zip(records._obj, self._next, strict=False):
            record.EventType = KEY_EVENT
            record.Event.KeyEvent.bKeyDown = 1
            record.Event.KeyEvent.dwControlKeyState = 0
            record.Event.KeyEvent.uChar.UnicodeChar = character
        count._obj.value = len(self._next)
        return 1


def with_console(monkeypatch: pytest.MonkeyPatch) -> Console:
    """The toolkit's driver of Windows can be loaded, upon a console that is made up."""
    console = Console()
    monkeypatch.setattr(ctypes, "WinDLL", lambda *_, **more: console, raising=False)
    monkeypatch.setitem(sys.modules, "msvcrt", locks())
    for name in DRIVERS:
        monkeypatch.delitem(sys.modules, name, raising=False)
        package, _, module = name.rpartition(".")
        if package in sys.modules:  # else that of an earlier console would be given out
            monkeypatch.delattr(sys.modules[package], module, raising=False)
    return console


DRIVERS = (
    "textual.drivers.win32",
    "textual.drivers.windows_driver",
    "soapbench.ui.terminal.windows",
)


def like_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every module of the package that is loaded takes the system for Windows."""
    for act, paths in (("unlink", 1), ("remove", 1), ("rename", 2), ("replace", 2)):
        monkeypatch.setattr(os, act, refusing(getattr(os, act), paths))
    with_console(monkeypatch)
    monkeypatch.setitem(sys.modules, "fcntl", None)
    monkeypatch.setitem(sys.modules, "termios", None)

    def end(pid: int, number: int) -> None:
        raise AssertionError("it would end the process there")

    its_sys, its_os = Like(sys, platform="win32"), Like(os, NOT_THERE, name="nt", kill=end)
    for name, module in list(sys.modules.items()):
        if name.split(".")[0] == "soapbench" and module is not None:
            for at, own in (("sys", its_sys), ("os", its_os)):
                if getattr(module, at, None) in (sys, os):
                    monkeypatch.setattr(module, at, own)
    from soapbench.logfile import door

    monkeypatch.setattr(door, "NEVER_WAIT", 0)


def contents(folder: Path) -> set[str]:
    return {path.name for path in folder.rglob("*") if path.is_file()}
