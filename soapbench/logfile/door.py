"""The one door by which files come in: only regular files, and only so much of them.

A pipe, a device or a terminal in the place of a file would hold everything up for ever, and one
without end would take all the memory there is.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

BINARY: int = getattr(os, "O_BINARY", 0)
"""Keeps Windows from changing line ends; nothing elsewhere."""
NEVER_WAIT: int = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0)
"""Opening a pipe waits for its other end otherwise; a regular file does not mind."""
_BLOCK = 1 << 20


class NotAFile(OSError):
    """A folder, a pipe or a device where a file is wanted."""


def read_file(path: Path, most: int) -> bytes:
    """All of a regular file. Raises OSError: NotAFile, or one larger than ``most`` bytes, too."""
    # Looked at before it is opened, for opening some devices does something.
    _regular(os.stat(path).st_mode, path)
    fd = open_file(path, os.O_RDONLY)
    try:
        if os.fstat(fd).st_size > most:
            raise OSError(errno.EFBIG, "far too large", str(path))
        parts = []
        left = most + 1  # some regular files say that they are empty, and have no end
        while left and (part := os.read(fd, min(left, _BLOCK))):
            parts.append(part)
            left -= len(part)
        if not left:
            raise OSError(errno.EFBIG, "far too large", str(path))
        return b"".join(parts)
    finally:
        os.close(fd)


def open_file(path: Path, how: int) -> int:
    """A descriptor of a regular file, which is never waited for. OSError, NotAFile."""
    fd = os.open(path, how | BINARY | NEVER_WAIT, 0o644)
    try:
        _regular(os.fstat(fd).st_mode, path)
    except OSError:
        os.close(fd)
        raise
    return fd


def _regular(mode: int, path: Path) -> None:
    if not stat.S_ISREG(mode):
        what = "it is a folder" if stat.S_ISDIR(mode) else "it is a device or a pipe"
        raise NotAFile(errno.EINVAL, what, str(path))
