"""What a bench's batches taught, kept ready: lessons in the index, what follows from them all in
a file beside it.

Both are derived from the logs alone and can be deleted at any time.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from soapbench import __version__
from soapbench.bench.folder import Bench, Listing
from soapbench.bench.summary import Derive, Progress
from soapbench.logfile.door import read_file
from soapbench.logfile.records import ReadLog
from soapbench.logfile.tomlfile import LARGEST_FILE
from soapbench.settings import Risk

if TYPE_CHECKING:
    from soapbench.advice.known import Known
    from soapbench.batter import ByOthers
    from soapbench.lessons import Lesson
    from soapbench.log import Standing
    from soapbench.pace import Pace
    from soapbench.sinking import Sinking
    from soapbench.swirls.table import SwirlTable
    from soapbench.thickening.fitted import Fit

LESSON_VERSION = "14"
"""To be raised when a log teaches something else, or lessons together do, or when the form in
which either is kept changes."""
DAMAGED = (LookupError, TypeError, ValueError, AttributeError, RecursionError)
"""What reading something else than was kept may raise."""
LARGEST_KEPT = 20_000_000
"""Bytes of what 10,000 batches came to, many times over."""


@dataclass(frozen=True, slots=True)
class Memory:
    """What the bench knows, and the lessons it knows it from."""

    known: Known
    _lessons: Callable[[], tuple[Lesson, ...]] = field(repr=False)

    @property
    def lessons(self) -> tuple[Lesson, ...]:
        """Of every finished batch, oldest first; read when first asked for (10,000: 1 s)."""
        return self._lessons()


class Learnt(NamedTuple):
    """What all lessons of a bench come to: what is known of them without reading them again."""

    fit: Fit
    pace: Pace
    sinking: Sinking


def open_bench(folder: Path, spill: Path | None = None) -> Bench:
    """A bench whose index keeps each log's lesson. No disk is looked at yet."""
    return Bench(folder, spill, Derive(cache(lambda: _version(folder)), lesson_of))


def _version(folder: Path) -> str:
    """What lessons depend on besides their logs: this program's rules and the maker's own swirls,
    by which a pour of one of those is understood."""
    own = hashlib.blake2b(_own_swirls(folder), digest_size=8).hexdigest()
    return f"{LESSON_VERSION} {own}"


def _own_swirls(folder: Path) -> bytes:
    try:
        return read_file(folder / "tables" / "swirls.toml", LARGEST_FILE)
    except OSError:
        return b""


@lru_cache(maxsize=4)
def _swirls_at(folder: Path, version: str) -> SwirlTable:
    from soapbench.bench.tables import swirls
    from soapbench.reading.faults import FileFaults

    try:
        return swirls(folder / "tables")
    except FileFaults:  # told where the bench is opened; pours of our own swirls still teach
        return swirls(None)


def lesson_of(folder: Path, log: ReadLog, facts: Standing) -> Any:
    """What the index of the bench in ``folder`` keeps of a log; None where it teaches nothing.

    Of a rehearsal, for which nothing was foreseen: how late its taps came, s.
    """
    from soapbench.lessons import as_data, late_taps, lesson

    if log.header is None:
        return None
    if log.header.foreseen.mix is None:
        return late_taps(facts) or None
    table = _swirls_at(folder, _version(folder))
    try:
        taught = lesson(log.header.id, log.header.plan, log.header.foreseen, facts, table)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None  # a header no version can use teaches nothing; the log itself stays as it is
    return as_data(taught) if taught else None


def remember(
    bench: Bench,
    risk: Risk = Risk.USUAL,
    progress: Progress | None = None,
    own_tables: bool = True,
) -> Memory:
    """Fit, pace and tables of ``bench``. Raises FileFaults for a faulty table of its own."""
    from soapbench.advice.known import Known
    from soapbench.bench.tables import additives, colourants, oils, swirls

    try:
        listing = _finished(bench, progress)
    except DAMAGED:
        bench.forget_derived()  # another program's index, or a damaged one: made anew
        listing = _finished(bench, progress)
    lessons = cache(lambda: _lessons(bench, listing))
    learnt = _learnt(bench, listing, lessons)
    own = bench.folder / "tables" if own_tables else None
    known = Known(
        fit=replace(learnt.fit, by_others=_figures(own)),
        pace=learnt.pace,
        swirls=swirls(own),
        oils=oils(own),
        colourants=colourants(own),
        risk=risk,
        sinking=learnt.sinking,
        additives=additives(own),
    )
    return Memory(known, lessons)


def _figures(tables: Path | None) -> dict[str, ByOthers]:
    """What other makers found of fragrances; a faulty table is told where it is opened."""
    from soapbench.bench.tables import fragrances
    from soapbench.reading.faults import FileFaults

    try:
        return {
            name: facts.by_others for name, facts in fragrances(tables).items() if facts.by_others
        }
    except FileFaults:
        return {}


def _finished(bench: Bench, progress: Progress | None) -> Listing:
    # A pour under way must not teach the model that foresees it: carrying on would change it.
    return Listing(tuple(row for row in bench.batches(progress).rows if row.finished))


def _lessons(bench: Bench, listing: Listing) -> tuple[Lesson, ...]:
    from soapbench.lessons import from_data

    def read(kept: Any) -> Lesson | None:
        try:
            return from_data(kept)
        except DAMAGED:
            return None

    lessons = bench.histories(listing, read)
    if None in lessons:  # of another version, or damaged: made anew
        bench.forget_derived()
        bench.batches()
        lessons = bench.histories(listing, read)
    return tuple(lesson for lesson in lessons if lesson)  # one that is odd must not cost the others


def _rehearsed(bench: Bench) -> Listing:
    """Rehearsals that tell how late this maker taps."""
    return Listing(tuple(row for row in bench.rehearsals().rows if row.has_history))


def _late_taps(bench: Bench, rehearsed: Listing) -> list[float]:
    """How late each tap came, oldest rehearsal first, s."""
    return [
        late
        for kept in bench.histories(rehearsed)
        if isinstance(kept, list)
        for late in kept
        if isinstance(late, int | float)
    ]


def learn(lessons: tuple[Lesson, ...], late_s: Sequence[float] = ()) -> Learnt:
    """What these lessons come to, oldest first. ``late_s``: of each tap in rehearsals."""
    from soapbench import pace, sinking
    from soapbench.thickening.fitting import fit

    return Learnt(
        fit([lesson.history for lesson in lessons if lesson.history.pots], late_s=late_s),
        pace.learn(stage for lesson in lessons for stage in lesson.timed),
        sinking.learn(lesson.drops for lesson in lessons),
    )


def _learnt(bench: Bench, listing: Listing, lessons: Callable[[], tuple[Lesson, ...]]) -> Learnt:
    """What the lessons come to; the one kept is used while the logs are the same."""
    from soapbench.logfile.durable import save_text
    from soapbench.pace import Pace
    from soapbench.sinking import Sinking
    from soapbench.thickening.fitted import as_data, from_data, no_batches

    rehearsed = _rehearsed(bench)
    if not listing.rows and not rehearsed.rows:
        return learn(())
    stamp = hashlib.blake2b(digest_size=16)
    # The version the index was opened with: its lessons are by the swirls of that time.
    made_by = bench.derive.version() if bench.derive else ""
    stamp.update(f"{__version__}\0{made_by}\0{no_batches().priors}".encode())
    for row in sorted((*listing.rows, *rehearsed.rows), key=lambda row: row.path):
        stamp.update(os.fsencode(f"{row.path}\0{row.mtime_ns}\0{row.size}\n"))
    kept = bench.folder / ".derived" / "fit.json"
    try:
        data = json.loads(read_file(kept, LARGEST_KEPT))
        if data["stamp"] == stamp.hexdigest():
            return Learnt(
                from_data(data["fit"]), Pace.from_data(data["pace"]), Sinking(**data["sinking"])
            )
    except (OSError, *DAMAGED):
        pass  # missing, torn or of another version: made anew
    learnt = learn(lessons(), _late_taps(bench, rehearsed))
    data = {
        "stamp": stamp.hexdigest(),
        "fit": as_data(learnt.fit),
        "pace": asdict(learnt.pace),
        "sinking": asdict(learnt.sinking),
    }
    with contextlib.suppress(OSError):  # only slower next time
        save_text(kept, json.dumps(data))
    return learnt
