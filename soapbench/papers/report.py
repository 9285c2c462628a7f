"""The report of a batch as one HTML file that needs nothing else: no script, no font, no picture
from elsewhere. Whatever a log or a plan says is escaped.
"""

from __future__ import annotations

import base64
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.reading.safetext import clean

if TYPE_CHECKING:
    from collections.abc import Mapping

    from jinja2 import Environment

    from soapbench.barface.words import Showing
    from soapbench.bench.batchfile import BatchFile
    from soapbench.bench.folder import Bench
    from soapbench.papers.batchsheet import BatchSheet
    from soapbench.papers.record import BatchReport


def report_of(bench: Bench, batch: BatchFile) -> BatchReport:
    """The batch's report by what the bench knows. Raises FileFaults for a faulty own table."""
    from soapbench.bench.learned import remember
    from soapbench.bench.tables import cautions, practice
    from soapbench.papers.record import batch_report

    own = practice(bench.folder / "tables")
    return batch_report(batch, remember(bench).known, own, cautions())


def _pages() -> Environment:
    """Templates of pages; whatever is put into one is escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    from soapbench.words import numbers
    from soapbench.words.acts import liquid_words
    from soapbench.words.chances import clock, percent
    from soapbench.words.events import GEL_CHOSEN
    from soapbench.words.review import shown

    pages = Environment(
        loader=PackageLoader("soapbench", "papers/templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    pages.filters.update(clean=lambda words: clean(str(words), 2000), clock=clock, percent=percent)
    pages.filters.update(
        ml=numbers.ml, g=numbers.g, share=numbers.share, share_to=numbers.share_span,
        written_share=numbers.written_share, celsius=numbers.celsius,
    )  # fmt: skip
    pages.filters["shown"] = shown
    pages.filters["mixed_in"] = lambda c: liquid_words(c.liquid_ml, c.oil, c.on_top)
    pages.filters["gel"] = lambda gel: GEL_CHOSEN.get(gel, gel)
    pages.filters["when"] = lambda at: f"{at:%Y-%m-%d %H:%M}"
    return pages


def sheet_html(sheet: BatchSheet, keeps_source: str, now: datetime) -> str:
    """The batch sheet as HTML. ``keeps_source``: what the time it keeps rests on."""
    from markupsafe import Markup

    from soapbench.papers.batchsheet import RULES
    from soapbench.papers.label import label_svg

    page = _pages().get_template("batchsheet.html.j2")
    label = Markup(label_svg(sheet))
    return page.render(sheet=sheet, now=now, rules=RULES, label=label, keeps_source=keeps_source)


def report_html(report: BatchReport, now: datetime, photos_from: Path | None = None) -> str:
    """The report as HTML. ``photos_from``: folder that relative photo paths start from."""
    from markupsafe import Markup

    from soapbench.aftercare.due import weighings
    from soapbench.barface.words import face_svg
    from soapbench.papers.charts import charts
    from soapbench.papers.chartsvg import chart_figure

    drawn = charts(report, weighings(report.resting) if report.resting else ())
    pots = drawn["pots"]
    return (
        _pages()
        .get_template("report.html.j2")
        .render(
            report=report,
            now=now,
            pour_chart=Markup(chart_figure(chart)) if (chart := report.pour_chart) else "",
            timeline=Markup(drawn["timeline"]),
            pot_charts={name: Markup(svg) for name, svg in pots.items()}
            if isinstance(pots, dict)
            else {},
            drying=Markup(drawn["drying"]),
            faces=[(loaf, Markup(face_svg(loaf, loaf.label))) for loaf in _faces(report)],
            photos=_photos(report.review.photos, photos_from),
            photo_faces={part: Markup(svg) for part, svg in _beside_photos(report).items()},
        )
    )


def _faces(report: BatchReport) -> list[Showing]:
    """As poured and as foreseen; as poured once cured, where it browns."""
    faces = list(report.loaves)
    if faces and faces[0].cured:
        words = "browned by vanillin; how brown is our guess"
        faces.append(replace(faces[0], label="after the cure", design=faces[0].cured, words=words))
    return faces


def _beside_photos(report: BatchReport) -> dict[str, str]:
    """The face as poured at every place of the loaf that was photographed, as SVG."""
    from soapbench.barface.words import face_svg, place_of

    if not report.loaves:
        return {}
    places = {part: place_of(part, report.bars) for part in report.review.photos}
    drawn = report.loaves[0]
    return {
        part: face_svg(drawn, f"Drawn as poured, {part}", where)
        for part, where in places.items()
        if where is not None
    }


def _photos(
    paths: Mapping[str, tuple[str, ...]], start: Path | None
) -> dict[str, list[tuple[str, str | None]]]:
    """By part: the path in the log, and the picture as a data URL where it can be put in."""
    return {
        part: [(path, _picture(path, start)) for path in named] for part, named in paths.items()
    }


def _picture(path: str, start: Path | None) -> str | None:
    """Small, and only from within the bench: a log from elsewhere could name any file."""
    from soapbench.bench.photofile import NotAPhotograph, small_jpeg, within

    file = within(start, path) if start else None
    if file is None:
        return None
    try:
        return f"data:image/jpeg;base64,{base64.b64encode(small_jpeg(file)).decode()}"
    except NotAPhotograph:
        return None
