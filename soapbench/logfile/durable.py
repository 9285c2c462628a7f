"""Writing so that it survives a power cut."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from pathlib import Path

BINARY: int = getattr(os, "O_BINARY", 0)
"""Keeps Windows from changing line ends; nothing elsewhere."""


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
    """``data`` in a new file, whole and durable or not there at all."""
    part = path.with_name(f".{path.name}.part")
    fd = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | BINARY, 0o644)
    try:
        try:
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
    if sys.platform != "win32":
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some file systems have no such
                raise
        finally:
            os.close(folder)


def _remove(path: Path) -> None:
    with contextlib.suppress(OSError):  # the error that brought us here is the one to tell
        path.unlink(missing_ok=True)


def save_text(path: Path, text: str) -> None:
    """Write a small file whole and durable, replacing what was there (plans, tables)."""
    path.parent.mkdir(parents=True, exist_ok=True)
    write_new(path, text.encode(), over=True)
