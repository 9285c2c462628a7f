"""What the bench screen lists, in the order it matters, and how a word finds things in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.figures import LONGEST_POUR_S
from soapbench.reading.safetext import clean
from soapbench.words import bench as words
from soapbench.words.chances import about_words
from soapbench.words.days import short_day
from soapbench.words.review import shown

if TYPE_CHECKING:
    from soapbench.bench.folder import Bench, Listing
    from soapbench.bench.learned import Memory
    from soapbench.bench.summary import Row
    from soapbench.fragrances.shelf import ShelfFragrance

HEADING, SAMPLE, PLAN = "heading", "sample", "plan"
CARRY_ON, BATCH, MIND, DUE = "carry on", "batch", "heads-up", "due"
COUNTED_FROM = 9


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the bench: what it is, what it says, where it leads."""

    kind: str
    words: str
    more: str = ""
    """Said after the words, less loudly."""
    path: Path | None = None
    name: str = ""
    """Of a sample plan or a fragrance."""
    day: str = ""
    """When it was poured; told to the minute where another of its name was poured that day."""
    cured: float | None = None
    """How much of its cure is over, 0 to 1; None: it has none."""
    found_by: str = ""
    """What it is found by beside what it says."""


@dataclass(frozen=True, slots=True)
class Curing:
    """How far a batch is: the share of its cure that is over, and what is said of its end."""

    done: float
    ready: str


@dataclass(frozen=True, slots=True)
class PlanFile:
    """A plan file as the bench lists it; ``problem``: why it cannot be read."""

    path: Path
    title: str
    fragrances: tuple[str, ...] = ()
    problem: str = ""


@dataclass(frozen=True, slots=True)
class OnTheBench:
    """Everything the bench screen shows; parts still being read are empty."""

    plans: tuple[PlanFile, ...] = ()
    samples: Mapping[str, str] | None = None
    batches: Listing | None = None
    due: tuple[Line, ...] = ()
    mind: tuple[Line, ...] = ()
    curing: Mapping[str, Curing] = field(default_factory=dict)
    """Batches still curing, by their id."""
    now: datetime | None = None
    """In the maker's own time zone; None: days are told with their year."""
    joined: tuple[str, ...] = ()
    """What came of copies of logs that a file sync left."""
    stranded: tuple[Path, ...] = ()
    """Logs in the spill folder, for this bench could not be written."""
    problem: str = ""
    """Why the bench itself cannot be read."""
    record: str = ""
    """What became of its pours and of what was advised in them, in a line."""
    whole: bool = False
    """Nothing more is being read."""

    @property
    def troubles(self) -> tuple[str, ...]:
        """What the maker must know of files that are damaged or cannot be read."""
        everything = (self.problem, *self.joined, *(self.batches.troubles if self.batches else ()))
        return tuple(trouble for trouble in everything if trouble)

    @property
    def empty(self) -> bool:
        return not self.plans and not (self.batches and self.batches.rows)


def plan_files(paths: Iterable[Path]) -> tuple[PlanFile, ...]:
    """Title and fragrances of each plan, read no further than that."""
    from soapbench.logfile.tomlfile import parse_text, read_text
    from soapbench.reading.faults import FileFaults

    plans = []
    for path in paths:
        try:
            tables = parse_text(read_text(path), path.name)
        except FileFaults as refused:
            plans.append(PlanFile(path, path.stem, problem=refused.faults[0].wrong))
            continue
        given = tables.get("fragrance")
        several = given if isinstance(given, list) else [given]
        names = tuple(str(f["name"]) for f in several if isinstance(f, dict) and f.get("name"))
        plans.append(PlanFile(path, str(tables.get("title") or path.stem), names))
    return tuple(sorted(plans, key=lambda plan: plan.title.casefold()))


def due_lines(bench: Bench, listing: Listing, memory: Memory, now: datetime) -> tuple[Line, ...]:
    """What is due by the end of today, longest due first."""
    from soapbench.aftercare.due import due_today, due_words
    from soapbench.bench.tables import practice

    rows = {row.batch: row for row in listing.rows}
    days = _days(listing.rows, now)
    rests = [lesson.resting for lesson in memory.lessons if lesson.resting]
    return tuple(
        Line(
            DUE,
            due_words(item, now),
            f"{item.title}, {days[item.batch]}" if item.batch in rows else item.title,
            bench.path(rows[item.batch]) if item.batch in rows else None,
        )
        for item in due_today(rests, now, practice(bench.folder / "tables"))
    )


def record_line(memory: Memory) -> str:
    """What became of all pours that have ended, and of what was advised in them."""
    from soapbench.fragrances.score import record, short_record

    return short_record(record(lesson.ended for lesson in memory.lessons if lesson.ended))


def curing(bench: Bench, memory: Memory, now: datetime) -> dict[str, Curing]:
    """Batches still to be looked after, and how far each is."""
    from soapbench.aftercare.due import is_resting, ready
    from soapbench.bench.tables import practice

    times = practice(bench.folder / "tables")
    batches = {}
    for lesson in memory.lessons:
        batch = lesson.resting
        if batch is None or not is_resting(batch, now, times):
            continue
        if batch.cut is None or (ends := ready(batch, times)) is None:
            batches[batch.batch] = Curing(0.0, words.NOT_CUT)
            continue
        whole = (ends.about - batch.cut).total_seconds() or 1.0
        done = min(max((now - batch.cut).total_seconds() / whole, 0.0), 1.0)
        about = short_day(ends.about.astimezone(now.tzinfo), now)
        batches[batch.batch] = Curing(done, words.CURED if done >= 1 else words.ready_about(about))
    return batches


def _began(row: Row) -> datetime | None:
    """When it was poured or, failing that, begun; None: its header is damaged."""
    try:
        return datetime.fromisoformat(row.started or row.created).astimezone()
    except ValueError:
        return None


def _days(rows: Iterable[Row], now: datetime | None) -> dict[str, str]:
    """When each batch was poured or begun, told apart from others of its title."""
    at = {}
    for row in rows:
        if began := _began(row):
            at[row.batch] = (row.title, began)
    zone = now.tzinfo if now else None
    local = {batch: (title, when.astimezone(zone)) for batch, (title, when) in at.items()}
    count = Counter((title, when.date()) for title, when in local.values())
    return {
        batch: short_day(when, now) + (f" {when:%H:%M}" if count[title, when.date()] > 1 else "")
        for batch, (title, when) in local.items()
    }


def mind_lines(plans: Iterable[PlanFile], shelf: Mapping[str, ShelfFragrance]) -> tuple[Line, ...]:
    """Plans whose fragrance has spoilt swirls on this bench, or is said to."""
    from soapbench.fragrances.shelf import trouble_words, troubled

    return tuple(
        Line(MIND, plan.title, trouble_words(shelf[name]), plan.path, name)
        for plan in plans
        for name in plan.fragrances
        if name in shelf and troubled(shelf[name])
    )


@dataclass(frozen=True, slots=True)
class Group:
    """Lines under one heading, and beside each what a word is looked for in."""

    heading: str
    lines: tuple[Line, ...]
    found_by: tuple[str, ...]
    only_found: bool = False
    """Shown only when looked for."""


def groups(on: OnTheBench) -> tuple[Group, ...]:
    """The whole list, made once; ``lines`` picks from it at every key."""
    return tuple(
        Group(
            heading,
            tuple(group),
            tuple(
                f"{line.words} {line.day} {line.more} {line.found_by}".casefold() for line in group
            ),
            heading == words.SAMPLES and bool(on.plans),
        )
        for heading, group in _groups(on)
    )


def lines(groups: Iterable[Group], wanted: str = "") -> list[Line]:
    """The whole list, or with ``wanted`` every line that holds all of its words."""
    sought = wanted.casefold().split()
    shown: list[Line] = []
    for group in groups:
        kept: Sequence[Line] = group.lines
        if sought:
            by = zip(group.lines, group.found_by, strict=True)
            kept = [line for line, text in by if all(word in text for word in sought)]
        if kept and (sought or not group.only_found):
            count = f" {len(kept):,}" if len(kept) >= COUNTED_FROM else ""
            shown += [Line(HEADING, f"{group.heading}{count}"), *kept]
    return shown


def _groups(on: OnTheBench) -> Iterable[tuple[str, Sequence[Line]]]:
    rows = on.batches.rows if on.batches else ()
    days = _days(rows, on.now)

    def line(kind: str, row: Row) -> Line:
        curing = on.curing.get(row.batch)
        first = curing.ready if curing else _left(row, on.now)
        about = [first, ", ".join(row.fragrances), shown(row.verdict)]
        more = "  ".join(part for part in about if part)
        done = curing.done if curing else None
        sought = f"{row.started or row.created} {row.batch}"
        day = days.get(row.batch, "")
        return Line(kind, row.title, more, Path(row.path), "", day, done, sought)

    yield (
        words.RUNNING,
        [
            *(line(CARRY_ON, row) for row in rows if row.unfinished),
            *(Line(CARRY_ON, path.stem, words.IN_BACKUP, path) for path in on.stranded),
        ],
    )
    yield words.DUE, on.due
    yield words.HEADS_UP, on.mind
    yield words.PLANS, [_plan_line(plan) for plan in on.plans]
    named = (on.samples or {}).items()
    yield words.SAMPLES, [Line(SAMPLE, _title(text), name=name) for name, text in named]
    poured = [row for row in rows if row.finished]
    yield words.CURING, [line(BATCH, row) for row in poured if row.batch in on.curing]
    yield words.FINISHED, [line(BATCH, row) for row in poured if row.batch not in on.curing]
    yield words.DAMAGED, [Line(BATCH, clean(row.title), row.problem) for row in rows if row.problem]


def _left(row: Row, now: datetime | None) -> str:
    """For how long a pour has been left that nobody ended; empty: it may well go on."""
    began = _began(row)
    if not row.unfinished or now is None or began is None:
        return ""
    since = (now - began).total_seconds()
    return words.left_for(about_words(since)) if since > LONGEST_POUR_S else ""


def _plan_line(plan: PlanFile) -> Line:
    more = words.unreadable(plan.problem) if plan.problem else ", ".join(plan.fragrances)
    return Line(PLAN, plan.title, more, plan.path)


def _title(text: str) -> str:
    """A sample's title: its first line of TOML."""
    given = next((line for line in text.splitlines() if line.startswith("title")), "")
    return given.partition("=")[2].strip().strip('"') or words.A_PLAN
