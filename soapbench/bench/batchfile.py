"""One batch found by what a maker calls it, and read for a report, a calendar or an export."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.reading.safetext import clean
from soapbench.words import commands as words

if TYPE_CHECKING:
    from soapbench.aftercare.resting import Resting
    from soapbench.bench.folder import Bench
    from soapbench.bench.summary import Row
    from soapbench.logfile.records import Header, ReadLog
    from soapbench.plan import Plan
    from soapbench.recipe.amounts import Amounts

MOST_NAMED = 8


class NoSuchBatch(Exception):
    """No batch, several of them, or none that can be used; the text is for the maker."""


@dataclass(frozen=True, slots=True)
class BatchFile:
    """A batch's log with its plan and amounts worked out again."""

    path: Path
    log: ReadLog
    header: Header
    plan: Plan
    amounts: Amounts


def find_batch(bench: Bench, asked: str) -> Path:
    """The log ``asked`` means: a path, a file name in the bench's batches, or a unique part of a
    name, title or id (capitals do not matter). Raises NoSuchBatch.
    """
    if not asked.strip():
        raise NoSuchBatch(words.WHICH_BATCH)
    try:
        if Path(asked).is_file():
            return Path(asked)
    except (OSError, ValueError):  # too long for a path, a null byte in it: a name, then
        pass
    rows = bench.batches().rows
    wanted = asked.casefold()
    exact = [
        r for r in rows if wanted in (_file(r).casefold(), _stem(r).casefold(), r.batch.casefold())
    ]
    matches = exact or [
        r for r in rows if any(wanted in name.casefold() for name in (_file(r), r.title, r.batch))
    ]
    if len(matches) > 1:  # got ready and left is no batch that anybody means
        matches = [r for r in matches if r.started] or matches
    if len(matches) == 1:
        return bench.path(matches[0])
    raise NoSuchBatch(_no_one_batch(asked, matches, rows))


def _no_one_batch(asked: str, matches: Sequence[Row], rows: Sequence[Row]) -> str:
    if matches:
        lines = [words.several_batches(clean(asked, 60), len(matches))]
    else:
        lines = [words.no_batch(clean(asked, 60))]
        lines.append(words.LATEST if rows else words.NO_BATCHES)
    listed = matches or rows
    lines += [f"  {clean(_stem(r), 80)}   {clean(r.title, 60)}" for r in listed[:MOST_NAMED]]
    if len(listed) > MOST_NAMED:
        lines.append(f"  … and {len(listed) - MOST_NAMED} more")
    return "\n".join(lines)


def _file(row: Row) -> str:
    return row.path.rpartition("/")[2]


def _stem(row: Row) -> str:
    return _file(row).removesuffix(".toml")


def read_batch(bench: Bench, path: Path) -> BatchFile:
    """The batch in ``path``. Raises NoSuchBatch when its header cannot be used."""
    from soapbench.bench.planfile import plan_in_log
    from soapbench.bench.tables import additives, colourants, oils, swirls
    from soapbench.logfile.batchlog import read_log
    from soapbench.reading.faults import FileFaults
    from soapbench.recipe.amounts import amounts

    name = clean(path.name, 80)
    try:
        log = read_log(path)
    except OSError as error:
        raise NoSuchBatch(f"{name} cannot be read: {error.strerror}") from None
    if log.header is None:
        line = f", line {log.damaged[0].line}" if log.damaged else ""
        raise NoSuchBatch(f"{name}{line}: no batch, or its plan at the top is damaged.")
    own = bench.folder / "tables"
    known_oils, known_swirls, known_colourants = oils(own), swirls(own), colourants(own)
    try:
        plan = plan_in_log(log.header, path, known_oils, known_swirls)
        weighed = amounts(plan, known_oils, known_colourants, additives(own))
    except FileFaults as refused:
        wrong = refused.faults[0]
        trouble = f"{wrong.place(name)}: its plan cannot be used: {wrong.key} {wrong.wrong}"
        raise NoSuchBatch(trouble) from None
    except (ArithmeticError, LookupError, TypeError, ValueError) as error:
        raise NoSuchBatch(f"{name}: its plan cannot be used: {clean(str(error), 120)}") from None
    return BatchFile(path, log, log.header, plan, weighed)


def resting_in(bench: Bench, batch: BatchFile) -> Resting | None:
    """The batch after its pour; None while that has not ended."""
    from soapbench.aftercare.resting import resting_of
    from soapbench.bench.tables import swirls
    from soapbench.log import standing
    from soapbench.pour.events import state_of
    from soapbench.recipe.amounts import pot_ml

    table = swirls(bench.folder / "tables")
    facts = standing(batch.log.events)
    steps = state_of(batch.plan, pot_ml(batch.amounts), table, facts).steps
    return resting_of(batch.header.id, batch.plan, batch.header.foreseen, facts, steps, table)
