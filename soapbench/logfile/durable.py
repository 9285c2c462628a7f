"""Writing so that it survives a power cut."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import sys
from pathlib import Path

from soapbench.logfile.door import BINARY


def write_all(fd: int, data: bytes) -> None:
    """All of ``data``; one write may take only a part when the disk is nearly full."""
    while data:
        data = data[os.write(fd, data) :]


def sync(fd: int) -> None:
    """To the disk itself: macOS leaves data in the drive's cache unless asked (man 2 fsync)."""
    if sys.platform == "darwin":
        import fcntl

        try:
            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
        except OSError:
            pass  # not every file system knows it
        else:
            return
    os.fsync(fd)


def write_new(path: Path, data: bytes, over: bool = False) -> None:
    """``data`` in a new file, whole and durable or not there at all.

    ``over``: in place of what is there; a link stays one, and who may read it stays so.
    """
    mode = None
    with contextlib.suppress(OSError):  # nothing there, most often
        if over and path.is_symlink():
            path = path.resolve()
        mode = stat.S_IMODE(path.stat().st_mode)
    part = path.with_name(f".{path.name}.part")
    _remove(part)  # left by one who was killed; whatever else it is, it is not written into
    fd = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o644)
    try:
        try:
            if mode is not None and sys.platform != "win32":
                os.fchmod(fd, mode)
            write_all(fd, data)
            sync(fd)
        finally:
            os.close(fd)
        if not over and path.exists():
            raise FileExistsError(f"{path.name} is there already")
        os.replace(part, path)
    except OSError:
        _remove(part)
        raise
    _sync_folder(path.parent)


def make_folder(folder: Path) -> None:
    """Have ``folder`` and all above it, each durable in the one it lies in. Raises OSError.

    A power cut just after could otherwise take a new folder away with everything in it.
    """
    missing = []
    here = folder
    while not here.exists() and here != here.parent:
        missing.append(here)
        here = here.parent
    folder.mkdir(parents=True, exist_ok=True)
    for new in reversed(missing):
        _sync_folder(new.parent)


def _sync_folder(folder: Path) -> None:
    if sys.platform == "win32":
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some file systems have no such
            raise
    finally:
        os.close(fd)


def _remove(path: Path) -> None:
    with contextlib.suppress(OSError):  # the error that brought us here is the one to tell
        path.unlink(missing_ok=True)


def save_text(path: Path, text: str) -> None:
    """Write a small file whole and durable, replacing what was there (plans, tables)."""
    make_folder(path.parent)
    write_new(path, text.encode(), over=True)
