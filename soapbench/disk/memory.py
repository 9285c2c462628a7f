"""What a bench's batches taught, kept ready: lessons in the index, the fit in a file beside it.

Both are derived from the logs alone and can be deleted at any time.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soapbench import __version__
from soapbench.disk.bench import Bench, Listing
from soapbench.disk.index import Derive, Progress
from soapbench.disk.records import ReadLog

if TYPE_CHECKING:
    from soapbench.advice import Known
    from soapbench.lessons import Lesson

LESSON_VERSION = "3"


@dataclass(frozen=True, slots=True)
class Memory:
    """What the bench knows, and the lessons it knows it from."""

    known: Known
    lessons: tuple[Lesson, ...]


def open_bench(folder: Path, spill: Path | None = None) -> Bench:
    """A bench whose index keeps each log's lesson."""
    return Bench(folder, spill, Derive(LESSON_VERSION, _lesson_of))


def _lesson_of(log: ReadLog) -> Any:
    from soapbench.disk.tables import swirls
    from soapbench.lessons import as_data, lesson

    if log.header is None:
        return None
    try:
        found = lesson(
            log.header.id, log.header.plan, log.header.foreseen, log.events, swirls(None)
        )
    except (ValueError, KeyError, TypeError, AttributeError):
        return None  # a header no version can use teaches nothing; the log itself stays as it is
    return as_data(found) if found else None


def remember(
    bench: Bench,
    warn_below: float | None = None,
    progress: Progress | None = None,
    own_tables: bool = True,
) -> Memory:
    """Fit, pace and tables of ``bench``. Raises FileFaults for a faulty table of its own."""
    from soapbench.advice import WARN_BELOW, Known
    from soapbench.aftercare.sinking import learn as learn_sinking
    from soapbench.disk.tables import colourants, oils, swirls
    from soapbench.lessons import from_data
    from soapbench.pace import learn

    def finished() -> tuple[Listing, tuple[Lesson, ...]]:
        # A pour under way must not teach the model that foresees it: carrying on would change it.
        listing = Listing(tuple(row for row in bench.batches(progress).rows if row.finished))
        return listing, tuple(from_data(data) for data in bench.histories(listing))

    try:
        listing, lessons = finished()
    except (LookupError, TypeError, ValueError, AttributeError):
        bench.forget_derived()  # another program's index, or a damaged one: made anew
        listing, lessons = finished()
    own = bench.folder / "tables" if own_tables else None
    known = Known(
        fit=_fit(bench, listing, lessons),
        pace=learn(stage for found in lessons for stage in found.timed),
        swirls=swirls(own),
        oils=oils(own),
        colourants=colourants(own),
        warn_below=WARN_BELOW if warn_below is None else warn_below,
        sinking=learn_sinking(found.drops for found in lessons),
    )
    return Memory(known, lessons)


def _fit(bench: Bench, listing: Listing, lessons: Sequence[Lesson]) -> Any:
    """The fit of these lessons; the one kept is used while the logs are the same."""
    from soapbench.disk.durable import save_text
    from soapbench.thickening.fit import as_data, fit, from_data, no_batches

    if not any(lesson.history.pots for lesson in lessons):
        return no_batches()
    stamp = hashlib.blake2b(digest_size=16)
    stamp.update(f"{__version__}\0{LESSON_VERSION}\0{no_batches().priors}".encode())
    for row in sorted(listing.rows, key=lambda row: row.path):
        stamp.update(f"{row.path}\0{row.mtime_ns}\0{row.size}\n".encode())
    kept = bench.folder / ".derived" / "fit.json"
    try:
        data = json.loads(kept.read_text("utf-8"))
        if data["stamp"] == stamp.hexdigest():
            return from_data(data["fit"])
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        pass  # missing, torn or of another version: made anew
    found = fit([lesson.history for lesson in lessons if lesson.history.pots])
    with contextlib.suppress(OSError):  # only slower next time
        save_text(kept, json.dumps({"stamp": stamp.hexdigest(), "fit": as_data(found)}))
    return found
