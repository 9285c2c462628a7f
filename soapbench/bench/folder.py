"""The bench: the maker's folder of plans, batches, rehearsals and own tables.

Batches and rehearsals never mix. Everything derived is under ``.derived`` and may be deleted.
Nothing is made on disk until something is written.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, NamedTuple
from zlib import crc32

from soapbench.bench.summary import Derive, Progress, Row
from soapbench.logfile.batchlog import BatchLog, read_log
from soapbench.logfile.durable import make_folder
from soapbench.logfile.hold import Hold, holder, take
from soapbench.logfile.records import Header, ReadLog
from soapbench.reading.safetext import clean

if TYPE_CHECKING:
    from soapbench.bench.index import Index

BATCHES = "batches"
REHEARSALS = "rehearsals"


def bench_folder(asked: str | None, environ: Mapping[str, str]) -> Path:
    """The bench to open: what was said, else ``SOAPBENCH_DIR``, else the platform's data folder."""
    chosen = asked or environ.get("SOAPBENCH_DIR")
    if chosen:
        return Path(chosen).expanduser()
    from platformdirs import user_data_path

    return user_data_path("soapbench", appauthor=False)


def spill_folder() -> Path:
    """Where events wait that their bench cannot take: the platform's state folder."""
    from platformdirs import user_state_path

    return user_state_path("soapbench", appauthor=False) / "unsaved"


class Listing(NamedTuple):
    """The logs of one folder."""

    rows: tuple[Row, ...]
    """Newest first; of several copies of one batch the one with most events."""
    copies: tuple[Row, ...] = ()
    """The other copies, as a file sync makes them; they count for nothing."""

    @property
    def unfinished(self) -> tuple[Row, ...]:
        return tuple(row for row in self.rows if row.unfinished)

    @property
    def troubles(self) -> tuple[str, ...]:
        """Every log that is damaged or cannot be read, by its file, for the maker."""
        lines = []
        for row in (*self.rows, *self.copies):
            name = clean(row.path, 80)
            if row.problem:
                lines.append(f"{name}: {clean(row.problem, 120)}")
            elif row.damaged:
                parts = "a part" if row.damaged == 1 else f"{row.damaged} parts"
                fine = "1 entry is" if row.events == 1 else f"{row.events:,} entries are"
                lines.append(f"{name}: {parts} damaged, skipped; {fine} fine")
        return tuple(lines)


@dataclass(slots=True)
class Bench:
    """One bench. ``spill``: a folder elsewhere for events the bench cannot take just then."""

    folder: Path
    spill: Path | None = None
    derive: Derive | None = None
    _open_index: Index | None = field(default=None, init=False, repr=False)
    _turn: Lock = field(default_factory=Lock, init=False, repr=False)

    @property
    def _index(self) -> Index:
        """Loaded when something is first asked of it: a pour is there without it."""
        from soapbench.bench.index import Index

        with self._turn:
            if self._open_index is None:
                self._open_index = Index(self.folder, self.derive)
            return self._open_index

    def plans(self) -> tuple[Path, ...]:
        """The plan files, by name."""
        return _toml_files(self.folder / "plans")

    def tables(self) -> tuple[Path, ...]:
        """The maker's own tables, by name."""
        return _toml_files(self.folder / "tables")

    def batches(self, progress: Progress | None = None) -> Listing:
        """Every batch, read again only where its file has changed."""
        return _listing(self._index.rows(BATCHES, progress))

    def rehearsals(self, progress: Progress | None = None) -> Listing:
        """Every rehearsal; none of them is ever among ``batches``."""
        return _listing(self._index.rows(REHEARSALS, progress))

    def unfinished(self) -> tuple[Row, ...]:
        """Batches whose pour has begun and not ended, newest first, to be carried on."""
        return self.batches().unfinished

    def histories(
        self, listing: Listing, read: Callable[[Any], Any] = lambda kept: kept
    ) -> list[Any]:
        """What ``derive.history`` kept of each batch listed, in the order of the file names.

        Each is passed through ``read`` before the next is fetched.
        """
        wanted = {row.path for row in listing.rows if row.has_history}
        folders = sorted({path.partition("/")[0] for path in wanted})
        return [h for f in folders for h in self._index.histories(f, wanted, read)]

    def forget_derived(self) -> None:
        """Throw the index away; it is made anew from the logs when next needed."""
        self._index.forget()

    def path(self, row: Row) -> Path:
        """The file of a listed log."""
        return self.folder / row.path

    def problem(self) -> str:
        """Why the bench itself cannot be read; empty while it can, or is not there yet."""
        for folder in (self.folder, self.folder / BATCHES, self.folder / "plans"):
            try:
                with os.scandir(folder):
                    pass
            except FileNotFoundError:
                continue
            except OSError as error:
                return clean(f"{folder} cannot be read: {error.strerror or error}", 160)
        return ""

    def begin(self, header: Header, *, rehearsal: bool = False) -> BatchLog:
        """A new log. Never raises OSError: see ``BatchLog.unsaved``."""
        folder = REHEARSALS if rehearsal else BATCHES
        return BatchLog.create(self.folder / folder, header, self._spill(folder))

    def prepare(self, header: Header, *, rehearsal: bool = False) -> BatchLog:
        """A new log of which the disk does not know yet: see ``BatchLog.begin``."""
        folder = REHEARSALS if rehearsal else BATCHES
        return BatchLog.prepare(self.folder / folder, header, self._spill(folder))

    def read(self, path: Path) -> ReadLog:
        """A log of this bench, from the spill folder where it has not come home yet.

        OSError if it is in neither.
        """
        try:
            return read_log(path)
        except FileNotFoundError:
            spill = self._spill(path.parent.name)
            if spill is None:
                raise
            return read_log(spill / path.name)

    def carry_on(self, path: Path) -> BatchLog:
        """An earlier log, to be appended to; take its hold first. OSError if unreadable."""
        return BatchLog.carry_on(path, self._spill(path.parent.name))

    def bring_home(self, boot_id: str) -> tuple[BatchLog, ...]:
        """Write events that only reached the spill folder into their logs.

        Returns the logs that had any, closed; ``unsaved`` tells which still could not be
        written. Logs somebody holds are left to him.
        """
        done: list[BatchLog] = []
        for folder in (BATCHES, REHEARSALS):
            place = self._spill(folder)
            for spilled in _toml_files(place) if place else ():
                path = self.folder / folder / spilled.name
                if self.folder.is_dir():  # else it may be a disk that is not here just now
                    with contextlib.suppress(OSError):
                        make_folder(path.parent)
                hold = take(path, boot_id) if path.parent.is_dir() else Hold(path, None)
                if not isinstance(hold, Hold):
                    continue
                with hold:
                    try:
                        log = BatchLog.carry_on(path, place)
                    except OSError:
                        continue  # tried again at the next start; the spill file stays
                    log.close()
                done.append(log)
        return tuple(done)

    def held(self, path: Path, boot_id: str) -> bool:
        """Whether some program is pouring into this log now."""
        return holder(path, boot_id) is not None

    def close(self) -> None:
        if self._open_index is not None:
            self._open_index.close()

    def _spill(self, folder: str) -> Path | None:
        if self.spill is None:
            return None
        bench = crc32(str(self.folder.absolute()).encode("utf-8", "surrogateescape"))
        return self.spill / f"{bench:08x}" / folder


def _toml_files(folder: Path) -> tuple[Path, ...]:
    try:
        files = sorted(folder.glob("*.toml"))
    except OSError:
        return ()
    return tuple(f for f in files if not f.name.startswith(".") and f.is_file())


def _longer(row: Row, other: Row) -> bool:
    """A sync's copy has the longer name; of two with the same entries it is the copy."""
    return (row.events, -len(row.path)) > (other.events, -len(other.path))


def _listing(rows: list[Row]) -> Listing:
    best: dict[str, Row] = {}
    copies: list[Row] = []
    for row in rows:
        other = best.get(row.batch)
        if other is None or _longer(row, other):
            best[row.batch] = row
            if other is not None:
                copies.append(other)
        else:
            copies.append(row)
    newest = sorted(best.values(), key=lambda r: (r.path.rpartition("/")[2], r.batch), reverse=True)
    return Listing(tuple(newest), tuple(copies))
