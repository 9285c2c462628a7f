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
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapbench.disk.batchlog import read_log
from soapbench.disk.records import ReadLog
from soapbench.log import Kind, standing

VERSION = 1
_CHUNK = 500  # rows a transaction: what a broken-off rebuild may have to do again
_BUSY_S = 2.0

Progress = Callable[[int, int], None]
"""Called with logs read so far and logs to read."""


@dataclass(frozen=True, slots=True)
class Derive:
    """What else the index keeps of each log, for its caller; changed ``version``: made anew."""

    version: str
    history: Callable[[ReadLog], Any]
    """Anything JSON can hold; None: nothing to keep of this log."""


@dataclass(frozen=True, slots=True)
class Row:
    """One log as the index knows it."""

    path: str
    """Relative to the bench, with ``/``."""
    mtime_ns: int
    size: int
    batch: str
    """The header's id; the file's name where the header is lost."""
    title: str
    created: str
    """ISO 8601; empty where the header is lost."""
    started: str
    """When lye met oils, ISO 8601; empty: it has not."""
    fragrances: tuple[str, ...]
    finished: bool
    """The pour has ended."""
    verdict: str
    events: int
    damaged: int
    """Parts of the file set aside."""
    problem: str
    """Why the file could not be opened; empty: it was read."""
    has_history: bool

    @property
    def unfinished(self) -> bool:
        """Lye has met oils and the pour has not ended: to be carried on or closed."""
        return bool(self.started) and not self.finished


_COLUMNS = (
    "path, mtime_ns, size, batch, title, created, started, fragrances, finished, verdict, "
    "events, damaged, problem"
)
_TABLE = f"CREATE TABLE IF NOT EXISTS logs ({_COLUMNS}, history, PRIMARY KEY (path))"
_PROBLEM = 12  # place of ``problem`` in a record
_MARKS = ", ".join("?" * 14)
_NONE = (None,) * 13
Record = tuple[Any, ...]
"""The columns above, then the history as JSON or None."""


def _unread(path: str, stamp: tuple[int, int], problem: str) -> Record:
    name = Path(path).stem
    return (path, *stamp, name, name, "", "", "[]", False, "", 0, 0, problem, None)


def _summary(
    path: str, stamp: tuple[int, int], log: ReadLog, history: Any, problem: str = ""
) -> Record:
    header = log.header
    facts = standing(log.events)
    started = next((e.at for e in facts if e.kind is Kind.LYE_MEETS_OILS), None)
    verdict = next((e for e in reversed(facts) if e.kind is Kind.VERDICT), None)
    said = "" if verdict is None else verdict.values.get("verdict", verdict.values.get("text", ""))
    name = Path(path).stem
    return (
        path,
        *stamp,
        header.id if header else name,
        header.title if header else name,
        header.created.isoformat() if header else "",
        started.isoformat() if started else "",
        json.dumps(_fragrances(header.plan if header else {})),
        any(e.kind is Kind.POUR_ENDED for e in facts),
        str(said),
        len(log.events),
        len(log.damaged),
        problem,
        None if history is None else json.dumps(history, separators=(",", ":")),
    )


def _fragrances(plan: Mapping[str, Any]) -> list[str]:
    """Names of the plan's fragrance, or of each where it has several."""
    said = plan.get("fragrance")
    several = said if isinstance(said, list) else [said]
    return [str(f["name"]) for f in several if isinstance(f, Mapping) and f.get("name")]


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

    def histories(self, folder: str) -> list[tuple[str, Any]]:
        """Path and what ``derive.history`` kept of each log, by name, as of the last ``rows``."""
        with self._turn:
            try:
                return self._histories(folder)
            except (sqlite3.DatabaseError, ValueError):
                self._throw_away()
                self.rows(folder)
                return self._histories(folder)

    def _histories(self, folder: str) -> list[tuple[str, Any]]:
        found: dict[str, Any] = {}
        if self._db is not None:
            query = "SELECT path, history FROM logs WHERE history IS NOT NULL AND path GLOB ?"
            found = dict(self._db.execute(query, (folder + "/*",)))
        found |= {p: r[-1] for p, r in self._loose.items() if p.startswith(folder + "/")}
        return [(path, json.loads(h)) for path, h in sorted(found.items()) if h is not None]

    def _refresh(self, folder: str, progress: Progress | None) -> list[Row]:
        there = _logs(self._bench, folder)
        known = self._known(folder, bool(there))
        stale = [path for path, stamp in there.items() if known.get(path, _NONE)[1:3] != stamp]
        gone = [path for path in known if path not in there]
        for path in gone:
            del known[path]
            self._loose.pop(path, None)
        if gone:
            self._write("DELETE FROM logs WHERE path = ?", [(path,) for path in gone])
        for start in range(0, len(stale), _CHUNK):
            read = (self._read(path) for path in stale[start : start + _CHUNK])
            records = [r for r in read if r is not None]
            known |= {r[0]: (*r[:-1], r[-1] is not None) for r in records}
            keep = [r for r in records if not r[_PROBLEM]]  # a problem is looked at every time
            if self._write(f"INSERT OR REPLACE INTO logs VALUES ({_MARKS})", keep):
                for record in keep:
                    self._loose.pop(record[0], None)
            else:
                self._loose |= {r[0]: r for r in keep}
            if progress:
                progress(min(start + _CHUNK, len(stale)), len(stale))
        return [_row(known[path]) for path in sorted(known)]

    def _known(self, folder: str, make: bool) -> dict[str, Record]:
        if self._db is None and self._usable and (make or os.path.exists(self._file)):
            self._open()
        known: dict[str, Record] = {}
        if self._db is not None:
            query = f"SELECT {_COLUMNS}, history IS NOT NULL FROM logs WHERE path GLOB ?"
            known = {r[0]: r for r in self._db.execute(query, (folder + "/*",))}
        loose = ((p, r) for p, r in self._loose.items() if p.startswith(folder + "/"))
        return known | {p: (*r[:-1], r[-1] is not None) for p, r in loose}

    def _read(self, path: str) -> Record | None:
        file = self._bench / path
        stamp = (0, 0)
        try:
            status = file.stat()  # before reading: what is appended meanwhile shows next time
            stamp = (status.st_mtime_ns, status.st_size)
            log = read_log(file)
        except FileNotFoundError:
            return None
        except OSError as error:
            return _unread(path, stamp, error.strerror or str(error))
        history: Any = None
        if self._derive is not None:
            try:
                history = self._derive.history(log)
            except (ValueError, TypeError, LookupError, ArithmeticError, AttributeError) as error:
                return _summary(path, stamp, log, None, f"not understood: {error!r}")
        return _summary(path, stamp, log, history)

    def _open(self) -> None:
        try:
            self._file.parent.mkdir(exist_ok=True)
            db = sqlite3.connect(self._file, timeout=_BUSY_S, check_same_thread=False)
        except (OSError, sqlite3.OperationalError):
            return  # a bench that cannot be written: in memory, then
        try:
            mine = self._derive.version if self._derive else ""
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
    found: dict[str, tuple[int, int]] = {}
    for entry in entries:
        if entry.name.endswith(".toml") and not entry.name.startswith("."):
            with contextlib.suppress(OSError):  # gone since, or a link to nowhere
                if entry.is_file():
                    status = entry.stat()
                    found[f"{folder}/{entry.name}"] = (status.st_mtime_ns, status.st_size)
    return found


def _row(record: Record) -> Row:
    path, mtime_ns, size, batch, title, created, started, scents, finished, *rest = record
    verdict, events, damaged, problem, has_history = rest
    scents = tuple(json.loads(scents))
    return Row(
        path, mtime_ns, size, batch, title, created, started, scents, bool(finished),
        verdict, events, damaged, problem, bool(has_history),
    )  # fmt: skip
