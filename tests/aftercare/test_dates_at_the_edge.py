"""Whatever dates a log holds, nothing that follows from them can overflow."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

from aftercare_kit import EVENING
from hypothesis import given, settings
from hypothesis import strategies as st

from soapbench.aftercare.dates import entries
from soapbench.aftercare.due import due, due_today, due_words, early_words, is_resting, ready
from soapbench.aftercare.page import sections
from soapbench.aftercare.resting import Resting, after_pour, as_data, from_data
from soapbench.bench.tables import cautions, practice
from soapbench.log import Event, Kind, standing
from soapbench.logfile.records import event_text, header_text, read_bytes
from soapbench.papers.calendar import calendar_text
from tests.files.disk_fakes import header

ZONES = st.integers(-23 * 60, 23 * 60).map(lambda m: timezone(timedelta(minutes=m)))
EDGES = st.sampled_from(
    [datetime.min, datetime.max, datetime(1, 1, 2), datetime(9999, 12, 30), datetime(1970, 1, 1)]
)
DATES = st.one_of(st.datetimes(), EDGES, st.datetimes(EVENING.replace(tzinfo=None)))
AFTER = (
    (Kind.SPRAY, {}),
    (Kind.GEL_SEEN, {"reach": "none"}),
    (Kind.UNMOULD, {}),
    (Kind.CUT, {"bars": 10}),
    (Kind.WEIGHING, {"g": 1200.0}),
    (Kind.WEIGHING, {"g": 1199.0}),
    (Kind.WEIGHING, {"g": 1e-300}),
    (Kind.WEIGHING, {"g": 1e300}),
    (Kind.VERDICT, {"verdict": "again"}),
)


@settings(max_examples=150, deadline=None)
@given(
    st.tuples(DATES, ZONES),
    st.lists(st.tuples(st.sampled_from(AFTER), DATES, ZONES), max_size=8),
    st.datetimes(datetime(1971, 1, 1), datetime(2900, 1, 1)),
)
def test_no_date_in_a_log_can_overflow(
    ended: tuple[datetime, timezone],
    later: list[tuple[tuple[Kind, dict[str, object]], datetime, timezone]],
    now: datetime,
) -> None:
    events = [Event(ended[0].replace(tzinfo=ended[1]), 900.0, Kind.POUR_ENDED, id="end")]
    for i, ((kind, values), at, zone) in enumerate(later):
        events.append(Event(at.replace(tzinfo=zone), 1000.0 + i, kind, None, values, id=f"e{i}"))  # type: ignore[arg-type]
    written = header_text(header()) + b"".join(map(event_text, events))
    facts = standing(read_bytes(written).events)
    known, texts, today = practice(None), cautions(), now.replace(tzinfo=UTC)
    end = facts.last(Kind.POUR_ENDED)
    if end is None:
        return  # its end lies where no date can be read
    batch = after_pour(Resting("b", "Harbour", end.at, "allow", 0.3, 0.33, 0.2), facts)
    ready(batch, known)
    for item in due(batch, known):
        assert due_words(item, today)
        early_words(batch, item.what, known, today)
    due_today([batch], today, known)
    is_resting(batch, today, known)
    assert calendar_text(batch, entries(batch, known), texts, today)
    assert sections(batch, known, today)
    assert from_data(as_data(batch)) == batch
