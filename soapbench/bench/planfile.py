"""Reading a pour plan from its TOML file, with every fault found at its line."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from heapq import nsmallest
from pathlib import Path
from typing import Any

from pydantic_core import ValidationError

from soapbench.bench import tables
from soapbench.bench.planfaults import counted_right, fault_of, line_of
from soapbench.logfile.batchlog import LARGEST_LOG
from soapbench.logfile.door import read_file
from soapbench.logfile.records import Header
from soapbench.logfile.tomlfile import Location, key_lines, parse_text, read_text
from soapbench.plan import Plan
from soapbench.plan.reader import read_poured, read_tables
from soapbench.reading.faults import MOST_FAULTS, Fault, FileFaults
from soapbench.reading.safetext import clean
from soapbench.sheet.weighing import Weighed, weighed
from soapbench.swirls.stages import step_problems
from soapbench.swirls.table import SwirlTable


def read_plan(path: Path, oils: Iterable[str], swirls: Iterable[str]) -> Plan:
    """The plan in ``path``. Raises FileFaults with all that is wrong with it."""
    return plan_from_text(read_text(path), str(path), oils, swirls)


def weigh_out(path: Path, own: Path) -> Weighed:
    """The plan in ``path`` weighed out, with the maker's ``own`` tables. Raises FileFaults."""
    known, ways = tables.oils(own), tables.swirls(own)
    plan = read_plan(path, known, ways.kinds)
    colourants, additives = tables.colourants(own), tables.additives(own)
    return weighed(plan, known, colourants, ways, tables.cautions(), additives)


def plan_from_text(text: str, file: str, oils: Iterable[str], swirls: Iterable[str]) -> Plan:
    """A plan from TOML text; ``file`` is what messages call it. Raises FileFaults."""
    if not text.strip():
        raise FileFaults(file, [Fault("", "it is empty", 'start with title = "…"')])
    return _plan(parse_text(text, file), file, oils, swirls, lambda: key_lines(text))


def plan_in_log(header: Header, log: Path, oils: Iterable[str], swirls: SwirlTable) -> Plan:
    """The plan at the top of a batch's log, one that can be poured. Raises FileFaults."""
    file = clean(log.name, 80)
    written = dict(header.plan)
    plan = _plan(written, file, oils, swirls.kinds, lambda: _lines_in(log), read_poured)
    if wrong := step_problems(plan, swirls):
        line = _lines_in(log).get(("swirl", "steps"))
        fault = Fault("swirl.steps", clean(wrong[0]), "the plan it was poured by", line)
        raise FileFaults(file, [fault])
    return plan


def _lines_in(log: Path) -> dict[Location, int]:
    """The lines of the plan in a log, that of its own table for what stands nowhere."""
    try:
        header, _, _ = read_file(log, LARGEST_LOG).partition(b"\n[[event]]")
    except OSError:  # gone meanwhile
        return {}
    lines = key_lines(header.decode("utf-8-sig", "replace"))
    return {keys[1:]: line for keys, line in lines.items() if keys[0] == "plan"}


def _plan(
    written: dict[str, Any],
    file: str,
    oils: Iterable[str],
    swirls: Iterable[str],
    lines_of: Callable[[], dict[Location, int]],
    reader: Callable[..., Plan] = read_tables,
) -> Plan:
    context = {"oils": frozenset(oils), "swirls": frozenset(swirls)}
    try:
        return reader(written, context)
    except ValidationError as refused:
        lines = lines_of()
        errors = counted_right(refused.errors(include_url=False, include_input=False))
        count = len(errors)
        if count > MOST_FAULTS:  # each takes a while to be said well
            errors = nsmallest(MOST_FAULTS, errors, key=lambda e: line_of(e, written, lines) or 0)
        faults = [fault_of(error, written, lines) for error in errors]
        more = count - len(faults)
        raise FileFaults(file, sorted(faults, key=lambda f: (f.line or 0, f.key)), more) from None
