"""What the bench screen takes from files: its list, part after part, and plans to open or copy."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.desk import benchlist
from soapbench.desk.benchlist import MIND, PLAN, SAMPLE, Line, OnTheBench
from soapbench.reading.faults import Fault, FileFaults
from soapbench.ui.later import load_pour
from soapbench.words.bench import PLAN_DAMAGED

if TYPE_CHECKING:
    from soapbench.bench.summary import Progress
    from soapbench.desk.draft import Draft
    from soapbench.ui.host import Host


def read_bench(app: Host, progress: Progress) -> Iterator[OnTheBench]:
    """What is on the bench: first what its index has at hand, then what follows from it."""
    from soapbench.bench.samples import samples

    bench = app.bench
    plans = benchlist.plan_files(bench.plans())
    stranded = tuple(log.path for log in app.stranded)
    now = app.clock.read().at.astimezone()
    on = OnTheBench(plans, samples(), stranded=stranded, problem=bench.problem(), now=now)
    listing = bench.batches(progress)
    if listing.copies:
        from soapbench.bench.joining import join_copies

        joined = join_copies(bench, listing, app.clock.read().boot_id)
        if joined:
            listing = bench.batches(progress)
            app.forget()
            on = replace(on, joined=tuple(copy.words for copy in joined))
    on = replace(on, batches=listing)
    yield on
    if any(row.unfinished for row in listing.rows):
        load_pour()  # one that was left cannot wait for what else there is to tell
    if listing.rows or plans:
        memory = app.memory()
        on = replace(
            on,
            due=benchlist.due_lines(bench, listing, memory, now),
            curing=benchlist.curing(bench, memory, now),
            record=benchlist.record_line(memory),
        )
        yield on  # a faulty shelf must not hide what is due
        on = replace(on, mind=benchlist.mind_lines(plans, app.shelf()))
    yield replace(on, whole=True)


def plan_of(line: Line | None, on: OnTheBench, bench: Path) -> Path | None:
    """The plan file of a line; a sample is first put among the maker's own plans.

    Raises OSError when the bench cannot be written.
    """
    if line is None or line.kind not in (PLAN, MIND, SAMPLE):
        return None
    if line.kind != SAMPLE:
        return line.path
    from soapbench.logfile.durable import save_text

    path = bench / "plans" / f"{line.name}.toml"
    if not path.exists():
        save_text(path, (on.samples or {})[line.name])
    return path


def copy_of(line: Line, on: OnTheBench, bench: Path) -> Draft | None:
    """A new plan from a plan, a sample or a batch. Raises FileFaults or OSError."""
    from soapbench.desk.draft import again, copied, of_batch, opened
    from soapbench.logfile.batchlog import read_log

    if line.kind == SAMPLE:
        return copied((on.samples or {})[line.name], again(line.words))
    if line.path is None:
        return None
    if line.kind in (PLAN, MIND):
        return copied(opened(line.path).text, again(line.words))
    header = read_log(bench / line.path).header
    if header is None:
        fault = Fault("", *PLAN_DAMAGED)
        raise FileFaults(line.path.name, [fault])
    return of_batch(header.plan, header.id)
