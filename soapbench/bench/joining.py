"""Several files of one batch, as a file sync leaves them where two machines wrote: their entries
are brought together by their ids, into the longest of them. No file is taken away.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soapbench.logfile.hold import Hold, take
from soapbench.reading.safetext import clean, counted

if TYPE_CHECKING:
    from soapbench.bench.folder import Bench, Listing
    from soapbench.bench.summary import Row

MOST_COPIES = 200
"""Looked through at a start, the newest first; a folder copied into itself has thousands."""


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
    longest = {row.batch: row for row in listing.rows}
    newest = sorted(listing.copies, key=lambda row: row.mtime_ns, reverse=True)[:MOST_COPIES]
    return tuple(_joined(bench, longest, newest, boot_id))


def _joined(
    bench: Bench, longest: dict[str, Row], copies: list[Row], boot_id: str
) -> Iterator[Joined]:
    for copy in copies:
        row = longest[copy.batch]
        path = bench.path(row)
        try:
            held = {event.id for event in bench.read(path).events}
            lacking = [e for e in bench.read(bench.path(copy)).events if e.id not in held]
            if not lacking:
                continue
            hold = take(path, boot_id)
            if not isinstance(hold, Hold):
                why = "it is open elsewhere"
                yield Joined(row.title, copy.path, len(lacking), why)
                continue
            with hold:
                log = bench.carry_on(path)
                for event in lacking:
                    log.append(event)
                log.close()
            unsaved = log.unsaved
            yield Joined(row.title, copy.path, len(lacking), unsaved.why if unsaved else "")
        except OSError as error:
            yield Joined(row.title, copy.path, 0, error.strerror or str(error))
