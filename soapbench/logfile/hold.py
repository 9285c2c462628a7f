"""Who owns a live pour: one program writes a log, any other only watches.

The hold is an operating-system lock on a small file beside the log, so the death of its owner
ends it, whatever the file says. Where the file system has no locks, the file's own words
decide: which machine, which boot, which process.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import socket
import sys
from dataclasses import dataclass
from pathlib import Path

from soapbench.logfile.door import open_file
from soapbench.logfile.durable import write_all

_FAR = 1 << 30  # Windows bars reading the locked byte: lock one far behind the words


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds a pour, as far as the file tells."""

    pid: int
    host: str
    boot_id: str
    sure: bool = True
    """False: another machine's word in a synced folder; it may be long over."""


@dataclass(slots=True)
class Hold:
    """The right to write one log. A context manager: leaving it releases the hold."""

    path: Path
    fd: int | None
    problem: str = ""
    """Why the hold could not be made sure; the pour goes on without."""

    def release(self) -> None:
        """Give the hold up and remove its file. Safe to call twice."""
        if self.fd is None:
            return
        fd, self.fd = self.fd, None
        with contextlib.suppress(OSError):
            if sys.platform == "win32":  # an open file cannot be removed there
                os.close(fd)
                self.path.unlink()
            else:  # removed while still held, so that nobody locks a file about to go
                self.path.unlink()
        if sys.platform != "win32":
            os.close(fd)

    def __enter__(self) -> Hold:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()


def hold_path(log: Path) -> Path:
    return log.with_name(log.name + ".hold")


def take(log: Path, boot_id: str, *, override: bool = False) -> Hold | Holder:
    """Hold ``log`` for this process, or say who holds it.

    A hold whose owner has died is taken over. ``override`` also takes one over that another
    machine left in a synced folder; it never breaks a lock that is alive here. A folder that
    cannot be written gives a ``Hold`` with a ``problem``, never an error.
    """
    path = hold_path(log)
    host = socket.gethostname()
    while True:
        try:
            fd = open_file(path, os.O_RDWR | os.O_CREAT)
        except OSError as error:
            return Hold(path, None, error.strerror or str(error))
        words = _words(fd)
        locked = _lock(fd)
        if locked is False:
            os.close(fd)
            return words or Holder(0, host, boot_id)
        if not _still_there(fd, path):
            os.close(fd)  # its owner removed it while we waited our turn
            continue
        if words and not override and _may_live(words, host, boot_id, locked):
            os.close(fd)
            return words
        with contextlib.suppress(OSError):  # the lock counts; the words only tell who
            os.ftruncate(fd, 0)
            os.lseek(fd, 0, os.SEEK_SET)
            mine = {"pid": os.getpid(), "host": host, "boot_id": boot_id}
            write_all(fd, json.dumps(mine).encode())
        return Hold(path, fd, "" if locked else "this file system has no locks")


def holder(log: Path, boot_id: str) -> Holder | None:
    """Who holds ``log`` now; None if nobody. Takes nothing and leaves nothing behind."""
    path = hold_path(log)
    try:
        fd = open_file(path, os.O_RDWR)
    except OSError:
        return None
    try:
        words = _words(fd)
        locked = _lock(fd)
        host = socket.gethostname()
        if locked is False:
            return words or Holder(0, host, boot_id)
        return words if words and _may_live(words, host, boot_id, locked) else None
    finally:
        os.close(fd)


def _may_live(words: Holder, host: str, boot_id: str, locked: bool | None) -> bool:
    """Whether the owner the file names may be at work though no lock of his was met."""
    if words.host != host:
        return True
    if locked:  # on this machine the lock knows
        return False
    return words.boot_id == boot_id and _alive(words.pid)


def _alive(pid: int) -> bool:
    if sys.platform == "win32":  # os.kill would end the process there
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        pass
    return True


def _words(fd: int) -> Holder | None:
    try:
        said = json.loads(os.read(fd, 4096))
        pid, host, boot_id = int(said["pid"]), str(said["host"]), str(said["boot_id"])
    except (OSError, ValueError, TypeError, LookupError, RecursionError):
        return None
    return Holder(pid, host, boot_id, sure=host == socket.gethostname())


def _lock(fd: int) -> bool | None:
    """True: locked. False: another has it. None: no locks here."""
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(fd, _FAR, os.SEEK_SET)
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        busy = error.errno in (errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES, errno.EDEADLK)
        return False if busy else None
    return True


def _still_there(fd: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(fd), os.stat(path))
    except OSError:
        return False
