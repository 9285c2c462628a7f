"""Several files of one batch, as a file sync leaves them where two machines wrote: their entries
are brought together by their ids, into the longest of them. No file is taken away.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.logfile.hold import Hold, take
from soapbench.reading.safetext import clean, counted

if TYPE_CHECKING:
    from soapbench.bench.folder import Bench, Listing
    from soapbench.log import Event

MOST_COPIES = 200
"""Looked through at a start, the newest first; a folder copied into itself has thousands."""
ONLY_READS = "a command only reads; opening the bench joins them"


@dataclass(frozen=True, slots=True)
class Joined:
    """What came of one copy."""

    title: str
    copy: str
    """Its path in the bench."""
    entries: int
    """That the batch's own log lacked."""
    why_not: str = ""
    """Why they could not be joined; empty: they were."""

    @property
    def words(self) -> str:
        named = f"{clean(self.title, 40)}: {counted(self.entries, 'entry', 'entries')}"
        if self.why_not:
            return f"{named} only in {clean(self.copy, 80)}, not joined: {clean(self.why_not, 80)}"
        return f"{named} from {clean(self.copy, 80)}: now joined"


def join_copies(bench: Bench, listing: Listing, boot_id: str) -> tuple[Joined, ...]:
    """Bring home what only a copy of a log holds; a log somebody writes just now is left alone."""
    return _each(bench, listing, lambda path, lacking: _join(bench, path, lacking, boot_id))


def not_joined(bench: Bench, listing: Listing) -> tuple[Joined, ...]:
    """What only a copy of a log holds, for those who only read; nothing is written."""
    return _each(bench, listing, lambda _path, _lacking: ONLY_READS)


def _each(
    bench: Bench, listing: Listing, act: Callable[[Path, list[Event]], str]
) -> tuple[Joined, ...]:
    """``act`` gets a batch's log and the entries only a copy holds; returns why they stay there."""
    longest = {row.batch: row for row in listing.rows}
    newest = sorted(listing.copies, key=lambda row: row.mtime_ns, reverse=True)[:MOST_COPIES]
    joined = []
    for copy in newest:
        row = longest[copy.batch]
        path = bench.path(row)
        try:
            held = {event.id for event in bench.read(path).events}
            lacking = [e for e in bench.read(bench.path(copy)).events if e.id not in held]
            if lacking:
                joined.append(Joined(row.title, copy.path, len(lacking), act(path, lacking)))
        except OSError as error:
            joined.append(Joined(row.title, copy.path, 0, error.strerror or str(error)))
    return tuple(joined)


def _join(bench: Bench, path: Path, lacking: list[Event], boot_id: str) -> str:
    hold = take(path, boot_id)
    if not isinstance(hold, Hold):
        return "it is open elsewhere"
    with hold:
        log = bench.carry_on(path)
        for event in lacking:
            log.append(event)
        log.close()
    return log.unsaved.why if log.unsaved else ""
