"""The append-only log of one batch on disk: durable before ``append`` returns, or known not to be.

A pour cannot wait for a disk. What cannot be written stays in memory and in a spill file
elsewhere, is told by ``unsaved``, and is written as soon as that is possible again.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import threading
import unicodedata
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from soapbench.log import Event
from soapbench.logfile.door import open_file, read_file
from soapbench.logfile.durable import make_folder, sync, write_all, write_new
from soapbench.logfile.records import (
    Damage,
    Header,
    ReadLog,
    event_text,
    header_text,
    pieces,
    read_bytes,
)

LARGEST_LOG = 50_000_000
"""Bytes; a long pour with its years of aftercare has some fifty thousand."""


@dataclass(frozen=True, slots=True)
class Unsaved:
    """What is not in the log file yet."""

    events: tuple[Event, ...]
    """Empty when only the header is missing."""
    why: str
    """The system's own words."""
    spilled_to: Path | None
    """A whole copy of the log that holds them; None: they are in memory only."""


def read_log(path: Path) -> ReadLog:
    """The log in ``path``, damaged parts named and set aside. OSError if it cannot be opened."""
    return read_bytes(read_file(path, LARGEST_LOG))


def log_name(title: str, created: datetime) -> str:
    """A file name no other log has: UTC time, the title in plain letters, a random tail."""
    ascii_title = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^a-z0-9]+", "-", ascii_title.lower())[:40].strip("-") or "batch"
    return f"{created.astimezone(UTC):%Y%m%dT%H%M%SZ}-{slug}-{os.urandom(5).hex()}.toml"


class BatchLog:
    """The one writer of one log; take its hold (``soapbench.logfile.hold``) first.

    ``create`` and ``carry_on`` make one. Neither ``create`` nor ``append`` nor ``retry`` raises
    OSError: see ``unsaved``.
    """

    def __init__(self, path: Path, head: bytes, read: ReadLog, spill: Path | None) -> None:
        self.path = path
        self.damaged: tuple[Damage, ...] = read.damaged
        """Parts of the file set aside when the log was opened."""
        self._events = {e.id: e for e in read.events}
        self._texts = {e.id: event_text(e) for e in read.events}
        self._head = head
        self._header_saved = False
        self._unsaved: dict[str, Event] = {}
        self._why = ""
        self._spill = spill / path.name if spill else None
        self._spilled = False
        self._fd: int | None = None
        self._place: tuple[int, int] | None = None
        self._end = 0
        self._tried = b""
        self._lock = threading.Lock()

    @classmethod
    def create(cls, folder: Path, header: Header, spill: Path | None = None) -> BatchLog:
        """A new log in ``folder`` (made if missing), its header durable unless ``unsaved``."""
        log = cls.prepare(folder, header, spill)
        log.begin()
        return log

    @classmethod
    def prepare(cls, folder: Path, header: Header, spill: Path | None = None) -> BatchLog:
        """As ``create``, but the disk hears of it with ``begin`` only."""
        path = folder / log_name(header.title, header.created)
        return cls(path, header_text(header), ReadLog(header, ()), spill)

    def begin(self) -> None:
        """Make the file, its folder too."""
        with contextlib.suppress(OSError):  # writing the header meets the same, and tells it
            make_folder(self.path.parent)
        self.retry()

    @classmethod
    def carry_on(cls, path: Path, spill: Path | None = None) -> BatchLog:
        """An earlier log, to be appended to; a torn end is put aside in a comment first.

        Events that only reached the spill file are brought home. FileNotFoundError if there
        is neither the log nor a spill file of it; OSError if the log cannot be read.
        """
        spilled = spill / path.name if spill else None
        spare = read_file(spilled, LARGEST_LOG) if spilled and spilled.exists() else b""
        try:
            data = read_file(path, LARGEST_LOG)
        except FileNotFoundError:
            if not spare:
                raise
            data = b""
        whole = _records(data or spare)
        head = (data or spare)[: whole[0][0] if whole else None]
        log = cls(path, head.rstrip(b"\n") + b"\n", read_bytes(data), spill)
        log._spilled = bool(spare)
        for event in read_bytes(spare).events:
            log._note(event)
        log.retry()
        return log

    @property
    def head(self) -> bytes:
        """All that stands before the first event."""
        return self._head

    @property
    def spill(self) -> Path | None:
        """Where a whole copy goes when the file cannot be written."""
        return self._spill

    @property
    def events(self) -> tuple[Event, ...]:
        """Every event of the log, saved or not, in order."""
        return tuple(self._events.values())

    @property
    def unsaved(self) -> Unsaved | None:
        """What the file does not hold, and why; None when all is durable."""
        if not self._why:
            return None
        where = self._spill if self._spilled else None
        return Unsaved(tuple(self._unsaved.values()), self._why, where)

    def append(self, event: Event) -> Event:
        """Write one event, durable on return unless ``unsaved`` says otherwise.

        Returns the event as logged: given an id if it had none. An id already in the log is
        not written twice.
        """
        with self._lock:
            if not event.id:
                event = replace(event, id=self._new_id())
            if event.id in self._events:
                return self._events[event.id]
            self._note(event)
            self._flush()
            return event

    def retry(self) -> bool:
        """Try again to write what is unsaved; True when all is durable."""
        with self._lock:
            if self._unsaved or self._why or not self._header_saved:
                self._flush()
            return not self._why

    def close(self) -> None:
        """Let go of the file. What is unsaved stays in the spill file."""
        with self._lock:
            self._let_go()

    def _new_id(self) -> str:
        while (new := os.urandom(4).hex()) in self._events:
            pass
        return new

    def _note(self, event: Event) -> None:
        if event.id not in self._events:
            self._events[event.id] = event
            self._texts[event.id] = event_text(event)
            self._unsaved[event.id] = event

    def _flush(self) -> None:
        try:
            self._attach()
            self._write(b"".join(self._texts[i] for i in self._unsaved))
        except OSError as error:
            self._let_go()
            self._why = error.strerror or str(error)
            self._spill_all()
            return
        self._unsaved.clear()
        self._header_saved = True
        self._why = ""
        if self._spilled and self._spill:
            self._spilled = False
            with contextlib.suppress(OSError):  # a copy left over does no harm: ids are known
                self._spill.unlink()

    def _attach(self) -> None:
        """Have the file open, its end where we left it; repair it or make it anew if not."""
        if self._fd is not None:
            with contextlib.suppress(FileNotFoundError):
                now = os.stat(self.path)
                if (now.st_dev, now.st_ino) == self._place and now.st_size == self._end:
                    return
            self._let_go()
        try:
            self._fd = open_file(self.path, os.O_RDWR | os.O_APPEND)
        except FileNotFoundError:
            # The folder is never made anew here: it may be a disk that will come back.
            write_new(self.path, self._head + b"".join(self._texts.values()))
            self._fd = open_file(self.path, os.O_RDWR | os.O_APPEND)
        self._repair(self._fd)

    def _repair(self, fd: int) -> None:
        here = os.fstat(fd)
        data = b""
        while block := os.read(fd, 1 << 20):
            data += block
        keep = self._end
        left = data[keep:]
        ours = bool(keep and left) and self._tried.startswith(left)  # our own write, cut short
        if not ours:
            keep = _keep(data)
        if torn := data[keep:].strip(b"\n"):
            os.ftruncate(fd, keep)
            if not ours:
                aside = json.dumps(torn.decode("utf-8", "backslashreplace"))
                write_all(fd, f"\n# torn, set aside: {aside}\n".encode())
        self._place = (here.st_dev, here.st_ino)
        self._end = os.fstat(fd).st_size
        held = {i for _, _, i in _records(data[:keep])}
        self._unsaved = {i: e for i, e in self._events.items() if i not in held}

    def _write(self, text: bytes) -> None:
        if self._fd is None or not text:
            return
        self._tried = text
        try:
            write_all(self._fd, text)
            sync(self._fd)
        except OSError:
            # Cut back at once so that the file stays valid; after a failed fsync the bytes
            # may never reach the disk though they can be read, so they are written again.
            with contextlib.suppress(OSError):
                os.ftruncate(self._fd, self._end)
            raise
        self._end += len(text)

    def _spill_all(self) -> None:
        if self._spill is None:
            return
        try:
            make_folder(self._spill.parent)
            write_new(self._spill, self._head + b"".join(self._texts.values()), over=True)
        except OSError as error:
            self._spilled = False
            self._why += f"; nor in {self._spill.parent}: {error.strerror or error}"
        else:
            self._spilled = True

    def _let_go(self) -> None:
        if self._fd is not None:
            fd, self._fd = self._fd, None
            with contextlib.suppress(OSError):  # whatever is amiss shows at the next write
                os.close(fd)


def _records(data: bytes) -> list[tuple[int, int, str]]:
    """Start, end and id of every whole event."""
    events = ((p, p.table["event"][0]) for p in pieces(data) if "event" in p.table)
    return [(p.start, p.end, str(table.get("id", ""))) for p, table in events]


def _keep(data: bytes) -> int:
    """Where the part to be kept ends: all of it, unless the end is torn."""
    last = max(pieces(data), key=lambda p: p.end, default=None)
    return last.start if last and last.why else len(data)
