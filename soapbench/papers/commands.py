"""What is made of a poured batch: report, calendar, CSV; each a file's bytes."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.bench.batchfile import NoSuchBatch, find_batch, read_batch, resting_in
from soapbench.bench.learned import open_bench
from soapbench.words import commands as words

if TYPE_CHECKING:
    from soapbench.advice.known import Known
    from soapbench.papers.batchsheet import BatchSheet
    from soapbench.sheet.plansheet import PlanSheet

Made = tuple[str, bytes]
"""A file name to use when none was said, and what goes into it."""


def report(folder: Path, wanted: str, now: datetime) -> Made:
    """The report of the batch ``wanted`` means. Raises NoSuchBatch, FileFaults."""
    from soapbench.papers.report import report_html, report_of

    bench = open_bench(folder)
    batch = read_batch(bench, find_batch(bench, wanted))
    html = report_html(report_of(bench, batch), now, photos_from=folder)
    return f"{batch.path.stem}.html", html.encode()


def calendar(folder: Path, wanted: str, now: datetime) -> Made:
    """Its dates ahead. Raises NoSuchBatch, also when there are none, and FileFaults."""
    from soapbench.aftercare.dates import entries
    from soapbench.bench.tables import cautions, practice
    from soapbench.papers.calendar import calendar_text

    bench = open_bench(folder)
    batch = read_batch(bench, find_batch(bench, wanted))
    rests = resting_in(bench, batch)
    if rests is None:
        raise NoSuchBatch(words.still_poured(batch.path.stem))
    dates = entries(rests, practice(folder / "tables"))
    if not dates:
        raise NoSuchBatch(words.no_dates(batch.path.stem))
    return f"{batch.path.stem}.ics", calendar_text(rests, dates, cautions(), now)


def batch_sheet(folder: Path, wanted: str, now: datetime) -> Made:
    """Its batch sheet, to sell by. Raises NoSuchBatch, FileFaults."""
    from soapbench.papers.report import sheet_html

    stem, sheet, keeps = _sheet(folder, wanted)
    return f"{stem}-sheet.html", sheet_html(sheet, keeps, now).encode()


def label(folder: Path, wanted: str, now: datetime) -> Made:
    """The text of its label as a small SVG. Raises NoSuchBatch, FileFaults."""
    from soapbench.papers.label import label_svg

    stem, sheet, _ = _sheet(folder, wanted)
    return f"{stem}-label.svg", label_svg(sheet).encode()


def _sheet(folder: Path, wanted: str) -> tuple[str, BatchSheet, str]:
    """File name, sheet, and what the time it keeps rests on."""
    from soapbench.bench.tables import colourants, fragrances, oils, practice
    from soapbench.papers.batchsheet import batch_sheet as sheet_of
    from soapbench.papers.report import report_of

    bench = open_bench(folder)
    batch = read_batch(bench, find_batch(bench, wanted))
    own = folder / "tables"
    times = practice(own)
    sheet = sheet_of(report_of(bench, batch), times, oils(own), colourants(own), fragrances(own))
    return batch.path.stem, sheet, times.source


def events(folder: Path, wanted: str, now: datetime) -> Made:
    """Its events as CSV, also where its plan cannot be used any more. Raises NoSuchBatch."""
    from soapbench.logfile.batchlog import read_log
    from soapbench.papers.spreadsheets import events_csv

    path = find_batch(open_bench(folder), wanted)
    try:
        log = read_log(path)
    except OSError as error:
        raise NoSuchBatch(f"{path.name} cannot be read: {error.strerror}") from None
    if log.header is None and not log.events:
        raise NoSuchBatch(f"{path.name} is no batch.")
    return f"{path.stem}.csv", _for_spreadsheets(events_csv(log.events))


def fragrances(folder: Path, wanted: str, now: datetime) -> Made:
    """The fragrance book of the bench as CSV. Raises FileFaults."""
    from soapbench.bench.learned import remember
    from soapbench.papers.spreadsheets import fragrances_csv

    memory = remember(open_bench(folder))
    return "fragrance-book.csv", _for_spreadsheets(fragrances_csv(memory.known.fit, memory.lessons))


def face(file: Path, sheet: PlanSheet, known: Known) -> str:
    """Draw the sheet's cut face into ``file``; why that cannot be, if so."""
    from soapbench.barface.words import face_png, face_svg, showings
    from soapbench.logfile.durable import write_new
    from soapbench.reading.safetext import clean

    suffix = file.suffix.lower()
    why = "" if suffix in (".svg", ".png") else words.FACE_SUFFIX
    if sheet.outlook is None:
        why = words.NO_ORDER
    if not why:
        (shown,) = showings(sheet.plan, known, sheet.amounts, late=0)
        data = face_png(shown) if suffix == ".png" else face_svg(shown, sheet.plan.title).encode()
        try:
            write_new(file, data, over=True)
        except OSError as error:
            why = error.strerror or str(error)
    return words.not_drawn(clean(str(file)), why) if why else ""


def selling_papers(bench: Path, log: Path, now: datetime) -> tuple[Path, ...]:
    """Its batch sheet and label, made anew in the bench's ``reports``.

    Raises NoSuchBatch, FileFaults, OSError.
    """
    return _written(bench, [batch_sheet(bench, str(log), now), label(bench, str(log), now)])


def papers(bench: Path, log: Path, now: datetime) -> tuple[Path, ...]:
    """Its report and, where dates lie ahead, its calendar, made anew in the bench's ``reports``.

    Raises NoSuchBatch, FileFaults, OSError.
    """
    written = [report(bench, str(log), now)]
    with contextlib.suppress(NoSuchBatch):  # nothing lies ahead
        written.append(calendar(bench, str(log), now))
    return _written(bench, written)


def _written(bench: Path, written: Sequence[Made]) -> tuple[Path, ...]:
    from soapbench.logfile.durable import make_folder, write_new

    folder = bench / "reports"
    make_folder(folder)
    for name, data in written:
        write_new(folder / name, data, over=True)
    return tuple(folder / name for name, _ in written)


def _for_spreadsheets(text: str) -> bytes:
    """UTF-8 with a byte order mark: without it spreadsheets guess another encoding."""
    return text.encode("utf-8-sig")
