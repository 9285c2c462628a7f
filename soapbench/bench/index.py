"""The bench's index: what the lists and the model need of every log, without reading it again.

Everything in it comes from the logs. It may be deleted at any time; a damaged one, or one of
another version, is thrown away and made anew.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import threading
from collections.abc import Callable, Container
from itertools import count
from pathlib import Path
from typing import Any, TypeVar

from soapbench.bench.summary import COLUMNS, PROBLEM, Derive, Progress, Record, Row, row
from soapbench.logfile.tomltext import SURROGATE

VERSION = 2
_BUSY_S = 2.0

T = TypeVar("T")

_TABLE = f"CREATE TABLE IF NOT EXISTS logs ({COLUMNS}, history, PRIMARY KEY (path))"
_MARKS = ", ".join("?" * 14)
_NONE = (None,) * 13


class Index:
    """The rows of one bench, in SQLite where that can be written, else in memory only.

    Without ``derive`` an index another caller has filled is used as it is, never thrown away
    for lack of the same ``derive``.
    """

    def __init__(self, bench: Path, derive: Derive | None = None) -> None:
        self._bench = bench
        self._derive = derive
        self._file = bench / ".derived" / "index.sqlite"
        self._db: sqlite3.Connection | None = None
        self._store = True
        self._usable = True
        self._loose: dict[str, Record] = {}  # what could not be stored
        self._turn = threading.RLock()  # screens ask from several threads, one at a time

    def close(self) -> None:
        if self._db is not None:
            self._db.close()
            self._db = None

    def rows(self, folder: str, progress: Progress | None = None) -> list[Row]:
        """Every log in this folder of the bench, by name; read again only where one changed."""
        with self._turn:
            try:
                return self._refresh(folder, progress)
            except (sqlite3.DatabaseError, ValueError):
                self._throw_away()
                return self._refresh(folder, progress)

    def histories(self, folder: str, wanted: Container[str], read: Callable[[Any], T]) -> list[T]:
        """``read`` of what ``derive.history`` kept of each log wanted, by name, as of the last
        ``rows``; read one by one, for thousands are large.
        """
        with self._turn:
            try:
                return self._histories(folder, wanted, read)
            except (sqlite3.DatabaseError, ValueError):
                self._throw_away()
                self.rows(folder)
                return self._histories(folder, wanted, read)

    def _histories(self, folder: str, wanted: Container[str], read: Callable[[Any], T]) -> list[T]:
        self._be_open(False)
        histories: dict[str, Any] = {}
        if self._db is not None:
            query = "SELECT path, history FROM logs WHERE history IS NOT NULL AND path GLOB ?"
            histories = dict(self._db.execute(query, (folder + "/*",)))
        histories |= {p: r[-1] for p, r in self._loose.items() if p.startswith(folder + "/")}
        return [
            read(json.loads(kept))
            for path, kept in sorted(histories.items())
            if kept is not None and path in wanted
        ]

    def _refresh(self, folder: str, progress: Progress | None) -> list[Row]:
        there = _logs(self._bench, folder)
        known = self._known(folder, bool(there))
        stale = [path for path, stamp in there.items() if known.get(path, _NONE)[1:3] != stamp]
        gone = [path for path in known if path not in there]
        for path in gone:
            del known[path]
            self._loose.pop(path, None)
        if gone:
            named = [(path,) for path in gone if _storable((path,))]
            self._write("DELETE FROM logs WHERE path = ?", named)
        if stale:
            self._read(stale, known, progress)
        return [row(known[path]) for path in sorted(known)]

    def _read(self, stale: list[str], known: dict[str, Record], progress: Progress | None) -> None:
        """Read these logs into ``known`` and keep what was read."""
        from soapbench.bench import readers

        with contextlib.closing(readers.read_many(self._bench, stale, self._derive)) as read:
            for done, records in zip(count(readers.CHUNK, readers.CHUNK), read, strict=False):
                known |= {r[0]: (*r[:-1], r[-1] is not None) for r in records}
                self._keep(records)
                if progress:
                    progress(min(done, len(stale)), len(stale))

    def _keep(self, records: list[Record]) -> None:
        keep = [r for r in records if not r[PROBLEM]]  # a problem is looked at every time
        store = [r for r in keep if _storable(r)]
        if self._write(f"INSERT OR REPLACE INTO logs VALUES ({_MARKS})", store):
            for record in store:
                self._loose.pop(record[0], None)
            keep = [r for r in keep if not _storable(r)]
        self._loose |= {r[0]: r for r in keep}

    def _be_open(self, make: bool) -> None:
        if self._db is None and self._usable and (make or os.path.exists(self._file)):
            self._open()

    def _known(self, folder: str, make: bool) -> dict[str, Record]:
        self._be_open(make)
        known: dict[str, Record] = {}
        if self._db is not None:
            query = f"SELECT {COLUMNS}, history IS NOT NULL FROM logs WHERE path GLOB ?"
            known = {r[0]: r for r in self._db.execute(query, (folder + "/*",))}
        loose = ((p, r) for p, r in self._loose.items() if p.startswith(folder + "/"))
        return known | {p: (*r[:-1], r[-1] is not None) for p, r in loose}

    def _open(self) -> None:
        try:
            self._file.parent.mkdir(exist_ok=True)
            if os.path.lexists(self._file) and not self._file.is_file():
                return  # a pipe or a device would be waited for
            db = sqlite3.connect(self._file, timeout=_BUSY_S, check_same_thread=False)
        except (OSError, sqlite3.OperationalError):
            return  # a bench that cannot be written: in memory, then
        try:
            mine = self._derive.version() if self._derive else ""
            with db:
                if not db.execute("SELECT 1 FROM sqlite_master").fetchone():
                    db.execute("BEGIN IMMEDIATE")
                    db.execute(_TABLE)
                    db.execute("CREATE TABLE IF NOT EXISTS made_by (version, derive)")
                    if not db.execute("SELECT 1 FROM made_by").fetchone():
                        db.execute("INSERT INTO made_by VALUES (?, ?)", (VERSION, mine))
            version, derive = db.execute("SELECT version, derive FROM made_by").fetchone()
        except (sqlite3.DatabaseError, TypeError) as error:
            db.close()
            if _passing(error):
                return
            raise sqlite3.DatabaseError("not an index of ours") from error
        if version != VERSION or (self._derive and derive != mine):
            db.close()
            raise sqlite3.DatabaseError("an index of another version")
        self._db = db
        self._store = derive == mine

    def _write(self, sql: str, records: list[Record]) -> bool:
        if self._db is None or not self._store:
            return False
        try:
            with self._db:
                self._db.executemany(sql, records)
        except sqlite3.OperationalError as error:
            if not _passing(error):
                raise
            return False
        return True

    def forget(self) -> None:
        """Throw everything away, on the disk too; the next question makes it anew."""
        with self._turn:
            self._throw_away()
            self._loose.clear()

    def _throw_away(self) -> None:
        self.close()
        for file in (self._file, self._file.with_name(self._file.name + "-journal")):
            with contextlib.suppress(OSError):
                file.unlink()
        self._usable = not self._file.exists()  # Windows keeps a file another program has open


def _storable(record: Record) -> bool:
    """Whether SQLite can hold it: a file's name may be no text in any encoding."""
    return not any(isinstance(part, str) and SURROGATE.search(part) for part in record)


def _passing(error: Exception) -> bool:
    """Whether it is the place, not the index, that is at fault: locked, full, read-only."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in (
        sqlite3.SQLITE_BUSY,
        sqlite3.SQLITE_LOCKED,
        sqlite3.SQLITE_READONLY,
        sqlite3.SQLITE_FULL,
        sqlite3.SQLITE_CANTOPEN,
        sqlite3.SQLITE_IOERR,
    )


def _logs(bench: Path, folder: str) -> dict[str, tuple[int, int]]:
    """Time of change and size of every log, by its path in the bench."""
    try:
        entries = list(os.scandir(bench / folder))
    except OSError:
        return {}  # no such folder yet, or none that may be read: there is nothing to list
    stamps: dict[str, tuple[int, int]] = {}
    for entry in entries:
        if entry.name.endswith(".toml") and not entry.name.startswith("."):
            with contextlib.suppress(OSError):  # gone since, or a link to nowhere
                if entry.is_file():
                    status = entry.stat()
                    stamps[f"{folder}/{entry.name}"] = (status.st_mtime_ns, status.st_size)
    return stamps
