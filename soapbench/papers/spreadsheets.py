"""CSV for spreadsheets (RFC 4180): a batch's events, and what each fragrance taught.

A cell that a spreadsheet would take for a formula gets an apostrophe before it (the first
characters listed by OWASP, "CSV injection"): names and notes may come from other people's files.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from soapbench.batter import TRACE_WORDS
from soapbench.reading.safetext import clean
from soapbench.words.review import shown

if TYPE_CHECKING:
    from soapbench.lessons import Lesson
    from soapbench.log import Event
    from soapbench.thickening.fitted import Fit

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
EVENT_COLUMNS = ("time", "seconds since lye", "what", "pot", "counts", "details", "id")
FRAGRANCE_COLUMNS = (
    "fragrance", "described as", "batches", "times faster", "poured", "finished", "as planned",
    "again", "not again", "last verdict", "next time",
)  # fmt: skip


def cell(value: object) -> str | int | float:
    """A value as a cell; text that could be taken for a formula is made plain text."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return value if math.isfinite(value) else ""
    raw = "" if value is None else str(value)
    words = clean(raw, 2000)
    risky = raw.startswith(FORMULA_STARTS) or words.lstrip().startswith(FORMULA_STARTS)
    return f"'{words}" if risky else words


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A header and the rows, with CRLF line ends as RFC 4180 has them."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([cell(value) for value in row] for row in rows)
    return out.getvalue()


def events_csv(events: Sequence[Event]) -> str:
    """Every event of a log, undone ones too: column ``counts`` tells which hold."""
    from soapbench.log import standing
    from soapbench.words.events import SAID

    counted = {event.id for event in standing(events)}
    return csv_text(
        EVENT_COLUMNS,
        (
            (
                event.at.isoformat(),
                round(event.t, 3),
                SAID[event.kind],
                event.pot,
                event.id in counted,
                _values(event.values),
                event.id,
            )
            for event in events
        ),
    )


def _values(values: Mapping[str, Any]) -> str:
    pairs = ((key, _plain(key, value)) for key, value in values.items())
    return "; ".join(f"{key.replace('_', ' ')}: {words}" for key, words in pairs if words)


def _plain(key: str, value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if key == "state" and isinstance(value, int) and 0 <= value < len(TRACE_WORDS):
        return TRACE_WORDS[value]
    return " + ".join(map(str, value)) if isinstance(value, list) else shown(str(value))


def fragrances_csv(fit: Fit, lessons: Iterable[Lesson]) -> str:
    """One row a fragrance: how much faster it made batters, and what became of its swirls."""
    outcomes = [lesson.ended for lesson in lessons if lesson.ended is not None]
    rows = []
    for name, learnt in sorted(fit.fragrances.items()):
        mine = [outcome for outcome in outcomes if name in outcome.fragrances]
        judged = [outcome for outcome in mine if outcome.verdict]
        rows.append(
            (
                name,
                learnt.reputation.value,
                learnt.batches,
                round(math.exp(learnt.log_af), 2),
                len(mine),
                sum(o.finished for o in mine),
                sum(o.as_planned for o in mine),
                sum(o.verdict.startswith("again") for o in judged),
                sum(o.verdict == "not again" for o in judged),
                shown(judged[-1].verdict) if judged else "",
                judged[-1].next_time if judged else "",
            )
        )
    return csv_text(FRAGRANCE_COLUMNS, rows)
