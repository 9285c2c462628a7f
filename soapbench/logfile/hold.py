"""Who owns a live pour: one program writes a log, any other only watches.

The hold is an operating-system lock on a small file beside the log, so the death of its owner
ends it, whatever the file says. Where the file system has no locks, the file's own words
decide: which machine, which boot, which process. By hand, since the lock itself is two calls of the
standard library; what takes care are those places without locks, and saying who holds it.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import socket
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from soapbench.logfile.door import open_file, read_file
from soapbench.logfile.durable import write_all

MOST_PROCESSES = 1 << 32
"""Above any system's highest process number (Linux: 1 << 22, man 5 proc; elsewhere from memory)."""
LARGEST_WORDS = 4096
JUST_MADE_S = 5.0
"""Between making the file and writing its words lie milliseconds."""
_FAR = 1 << 30  # Windows bars reading the locked byte: lock one far behind the words


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds a pour, as far as the file tells."""

    pid: int
    host: str
    boot_id: str
    sure: bool = True
    """False: another machine's word in a synced folder, or a damaged one; it may be long over."""
    began: int = field(default=0, compare=False)
    """When the process began, in ticks since boot; 0: not told."""


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
    machine left in a synced folder, or whose words are damaged where there are no locks; it
    never breaks a lock that is alive here. A folder that cannot be written gives a ``Hold`` with
    a ``problem``, never an error.
    """
    path = hold_path(log)
    host = socket.gethostname()
    while True:
        try:
            fd, ours = _open(path)
        except FileNotFoundError:  # removed between two looks
            continue
        except OSError as error:
            return Hold(path, None, error.strerror or str(error))
        text = _text(fd)
        words = _words(text)
        locked = _lock(fd)
        if locked is False:
            os.close(fd)
            return words or Holder(0, host, boot_id)
        if not _still_there(fd, path):
            os.close(fd)  # its owner removed it while we waited our turn
            continue
        if locked is None and not ours:
            met = _met_without_locks(fd, text, words, host, boot_id)
            os.close(fd)
            if met and (met.sure or not override):
                return met
            _put_aside(path, text)
            continue
        if words and not override and words.host != host:
            os.close(fd)
            return words
        with contextlib.suppress(OSError):  # the lock counts; the words only tell who
            os.ftruncate(fd, 0)
            os.lseek(fd, 0, os.SEEK_SET)
            mine = {"pid": os.getpid(), "host": host, "boot_id": boot_id}
            write_all(fd, json.dumps(mine | {"began": _began(os.getpid())}).encode())
        return Hold(path, fd, "" if locked else "this file system has no locks")


def holder(log: Path, boot_id: str) -> Holder | None:
    """Who holds ``log`` now; None if nobody. Takes nothing and leaves nothing behind."""
    try:
        fd = open_file(hold_path(log), os.O_RDWR)
    except OSError:
        return None
    try:
        text = _text(fd)
        words = _words(text)
        locked = _lock(fd)
        host = socket.gethostname()
        if locked is False:
            return words or Holder(0, host, boot_id)
        if locked is None:
            return _met_without_locks(fd, text, words, host, boot_id)
        return words if words and words.host != host else None
    finally:
        os.close(fd)


def _open(path: Path) -> tuple[int, bool]:
    """The file, and whether it was made just now, by us alone."""
    try:
        return open_file(path, os.O_RDWR | os.O_CREAT | os.O_EXCL), True
    except FileExistsError:
        return open_file(path, os.O_RDWR), False


def _met_without_locks(
    fd: int, text: bytes, words: Holder | None, host: str, boot_id: str
) -> Holder | None:
    """Who may be at work where only the file's words can tell."""
    if words:
        if words.host == host and (words.boot_id != boot_id or not _alive(words)):
            return None
        return words
    if not text.strip():  # made just now, its owner about to write; or he died before he could
        young = abs(time.time() - os.fstat(fd).st_mtime) < JUST_MADE_S
        return Holder(0, host, boot_id) if young else None
    return Holder(0, "", "", sure=False)


def _put_aside(path: Path, text: bytes) -> None:
    """Remove a file that holds nobody; of several who would, one does. Never a newer one's."""
    aside = path.with_name(f".{path.name}.{os.urandom(4).hex()}")
    with contextlib.suppress(OSError):
        path.rename(aside)
        if read_file(aside, LARGEST_WORDS) == text or path.exists():
            aside.unlink()
        else:
            aside.rename(path)


def _alive(words: Holder) -> bool:
    """Whether the process of this machine still is the one that wrote the words."""
    if sys.platform == "win32":  # os.kill would end the process there
        return True
    try:
        os.kill(words.pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        pass
    # The system gives a number out again after some time, at once after a restart.
    return not words.began or words.began == _began(words.pid)


def _began(pid: int) -> int:
    """When a process began, in ticks since boot (man 5 proc); 0 where the system does not tell."""
    try:
        return int(Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[19])
    except (OSError, ValueError, IndexError):
        return 0


def _text(fd: int) -> bytes:
    try:
        return os.read(fd, LARGEST_WORDS)
    except OSError:
        return b""


def _words(text: bytes) -> Holder | None:
    """Whom the words name; None where they name nobody, as damaged ones do."""
    try:
        entry = json.loads(text)
        pid, host, boot_id = int(entry["pid"]), str(entry["host"]), str(entry["boot_id"])
        began = int(entry.get("began", 0))
    except (ValueError, TypeError, LookupError, AttributeError, RecursionError, OverflowError):
        return None
    if not 0 < pid <= MOST_PROCESSES or not host:
        return None
    return Holder(pid, host, boot_id, sure=host == socket.gethostname(), began=began)


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
