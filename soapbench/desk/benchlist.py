"""What the bench screen lists, in the order it matters, and how a word finds things in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.reading.safetext import clean

if TYPE_CHECKING:
    from soapbench.bench.folder import Bench, Listing
    from soapbench.bench.learned import Memory
    from soapbench.bench.summary import Row
    from soapbench.fragrances.shelf import Scent

HEADING, SAMPLE, PLAN = "heading", "sample", "plan"
CARRY_ON, BATCH, MIND = "carry on", "batch", "mind"
COUNTED_FROM = 9
SAMPLES = "Sample plans, invented"


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
    resting: frozenset[str] = frozenset()
    """Ids of batches still curing."""
    joined: tuple[str, ...] = ()
    """What came of copies of logs that a file sync left."""
    stranded: tuple[Path, ...] = ()
    """Logs in the spill folder, for this bench could not be written."""
    problem: str = ""
    """Why the bench itself cannot be read."""
    whole: bool = False
    """Nothing more is being read."""

    @property
    def troubles(self) -> tuple[str, ...]:
        """What the maker must know of files that are damaged or cannot be read."""
        told = (self.problem, *self.joined, *(self.batches.troubles if self.batches else ()))
        return tuple(trouble for trouble in told if trouble)

    @property
    def empty(self) -> bool:
        return not self.plans and not (self.batches and self.batches.rows)


def plan_files(paths: Iterable[Path]) -> tuple[PlanFile, ...]:
    """Title and fragrances of each plan, read no further than that."""
    from soapbench.logfile.tomlfile import parse_text, read_text
    from soapbench.reading.faults import FileFaults

    found = []
    for path in paths:
        try:
            tables = parse_text(read_text(path), path.name)
        except FileFaults as refused:
            found.append(PlanFile(path, path.stem, problem=refused.faults[0].wrong))
            continue
        said = tables.get("fragrance")
        several = said if isinstance(said, list) else [said]
        names = tuple(str(f["name"]) for f in several if isinstance(f, dict) and f.get("name"))
        found.append(PlanFile(path, str(tables.get("title") or path.stem), names))
    return tuple(sorted(found, key=lambda plan: plan.title.casefold()))


def due_lines(bench: Bench, listing: Listing, memory: Memory, now: datetime) -> tuple[Line, ...]:
    """What is due by the end of today, longest due first."""
    from soapbench.aftercare.due import due_today, due_words
    from soapbench.bench.tables import practice

    paths = {row.batch: bench.path(row) for row in listing.rows}
    rests = [lesson.resting for lesson in memory.lessons if lesson.resting]
    return tuple(
        Line(BATCH, due_words(item, now), item.title, paths.get(item.batch))
        for item in due_today(rests, now, practice(bench.folder / "tables"))
    )


def resting_ids(bench: Bench, memory: Memory, now: datetime) -> frozenset[str]:
    """Batches still to be looked after."""
    from soapbench.aftercare.due import is_resting
    from soapbench.bench.tables import practice

    times = practice(bench.folder / "tables")
    rests = [lesson.resting for lesson in memory.lessons if lesson.resting]
    return frozenset(rest.batch for rest in rests if is_resting(rest, now, times))


def mind_lines(plans: Iterable[PlanFile], shelf: Mapping[str, Scent]) -> tuple[Line, ...]:
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
            tuple(f"{line.words} {line.more}".casefold() for line in group),
            heading == SAMPLES and bool(on.plans),
        )
        for heading, group in _groups(on)
    )


def lines(made: Iterable[Group], wanted: str = "") -> list[Line]:
    """The whole list, or with ``wanted`` every line that holds all of its words."""
    words = wanted.casefold().split()
    found: list[Line] = []
    for group in made:
        kept: Sequence[Line] = group.lines
        if words:
            by = zip(group.lines, group.found_by, strict=True)
            kept = [line for line, text in by if all(word in text for word in words)]
        if kept and (words or not group.only_found):
            count = f" {len(kept):,}" if len(kept) >= COUNTED_FROM else ""
            found += [Line(HEADING, f"{group.heading}{count}"), *kept]
    return found


def _groups(on: OnTheBench) -> Iterable[tuple[str, Sequence[Line]]]:
    rows = on.batches.rows if on.batches else ()
    yield (
        "Carry on",
        [
            *(_row_line(CARRY_ON, row) for row in rows if row.unfinished),
            *(Line(CARRY_ON, path.stem, "in the spill folder", path) for path in on.stranded),
        ],
    )
    yield "Due", on.due
    yield "Mind", on.mind
    yield "Plans", [_plan_line(plan) for plan in on.plans]
    named = (on.samples or {}).items()
    yield SAMPLES, [Line(SAMPLE, _title(text), name=name) for name, text in named]
    poured = [row for row in rows if row.finished]
    yield "Resting", [_row_line(BATCH, row) for row in poured if row.batch in on.resting]
    yield "Poured", [_row_line(BATCH, row) for row in poured if row.batch not in on.resting]
    yield "Damaged", [Line(BATCH, clean(row.title), row.problem) for row in rows if row.problem]


def _plan_line(plan: PlanFile) -> Line:
    more = f"cannot be read: {plan.problem}" if plan.problem else ", ".join(plan.fragrances)
    return Line(PLAN, plan.title, more, plan.path)


def _row_line(kind: str, row: Row) -> Line:
    day = (row.started or row.created)[:10]
    parts = [day, ", ".join(row.fragrances), row.verdict]
    return Line(kind, row.title, "  ".join(part for part in parts if part), Path(row.path))


def _title(text: str) -> str:
    """A sample's title: its first line of TOML."""
    said = next((line for line in text.splitlines() if line.startswith("title")), "")
    return said.partition("=")[2].strip().strip('"') or "a plan"
