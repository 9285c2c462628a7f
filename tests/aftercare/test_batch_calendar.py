"""The calendar file: by RFC 5545's own rules, and read back by another library (vobject)."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
import vobject
from aftercare_kit import EVENING

from soapbench.aftercare.dates import entries
from soapbench.aftercare.due import What
from soapbench.aftercare.resting import Resting
from soapbench.bench.tables import cautions, practice
from soapbench.papers.calendar import calendar_text

P = practice()
POURED = EVENING.astimezone(timezone(timedelta(hours=2)))
BATCH = Resting("b1", "Fig, salt; and \\ tide: a long title of the Saltmarsh workshop",
                POURED, "allow", 0.4, 0.33, 0.2)  # fmt: skip
CUT = replace(BATCH, unmoulded=POURED, cut=POURED + timedelta(hours=30))


def text(batch: Resting, now: datetime = EVENING) -> bytes:
    return calendar_text(batch, entries(batch, P), cautions(), now)


def unfolded(data: bytes) -> list[str]:
    return data.decode().replace("\r\n ", "").replace("\r\n\t", "").split("\r\n")


def test_lines_as_rfc_5545_wants_them() -> None:
    """3.1: CRLF, at most 75 octets a line; 3.6: what a calendar and an event must hold."""
    data = text(BATCH)
    assert data.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert max(len(line) for line in data.split(b"\r\n")) <= 75
    lines = unfolded(data)
    assert lines.count("BEGIN:VCALENDAR") == 1
    for needed in ("VERSION:2.0", "PRODID:"):
        assert sum(line.startswith(needed) for line in lines) == 1
    events = "\n".join(lines).split("BEGIN:VEVENT")[1:]
    assert len(events) == len(entries(BATCH, P))
    for event in events:
        for needed in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY"):
            assert sum(line.startswith(needed) for line in event.split("\n")) == 1
        assert "DTSTAMP:20240501T190000Z" in event, "3.8.7.2: in UTC"


def test_text_is_escaped_as_rfc_5545_wants_it() -> None:
    """3.3.11: backslash, semicolon and comma are escaped, a colon is not."""
    summary = next(line for line in unfolded(text(BATCH)) if line.startswith("SUMMARY"))
    assert summary.startswith(r"SUMMARY:Fig\, salt\; and \\ tide: a long title")


def test_another_library_reads_the_same_dates_and_words() -> None:
    listed = entries(BATCH, P)
    read = next(vobject.readComponents(text(BATCH).decode())).vevent_list
    assert len(read) == len(listed)
    for entry, event in zip(listed, read, strict=True):
        assert event.summary.value.endswith(f": {entry.what}")
        assert event.summary.value.startswith("Fig, salt; and \\ tide:")
        assert entry.words in event.description.value
        starts, ends = event.dtstart.value, event.dtend.value
        if isinstance(entry.starts, datetime):
            assert starts == entry.starts.astimezone(UTC)
        else:
            assert starts == entry.starts
            assert type(starts) is date
        assert ends > starts


def test_dates_of_a_batch_just_poured() -> None:
    """Cut window in hours; weighings and end of cure on the days of the pour's own offset."""
    listed = entries(BATCH, P)
    assert [e.what for e in listed[:2]] == [What.UNMOULD, What.CUT]
    assert listed[1].starts == POURED + timedelta(hours=P.cut_h["allow"][0])
    days = [e.starts for e in listed if e.what is What.WEIGH]
    assert days[0] == date(2024, 5, 2)
    assert {(b - a).days for a, b in itertools.pairwise(days)} == {7}
    assert listed[-1].what is What.CURE_OVER
    assert listed[-1].starts == date(2024, 5, 2) + timedelta(weeks=6)
    assert all(isinstance(day, date) and day <= listed[-1].starts for day in days)


def test_ids_stay_so_that_a_calendar_updates_and_batches_never_share_one() -> None:
    def ids(batch: Resting, now: datetime = EVENING) -> dict[str, str]:
        read = next(vobject.readComponents(text(batch, now).decode())).vevent_list
        return {e.uid.value: e.summary.value for e in read}

    first, later = ids(BATCH), ids(CUT, EVENING + timedelta(days=2))
    assert len(first) == len(entries(BATCH, P)), "all different"
    assert set(later) < set(first)
    assert not set(ids(replace(BATCH, batch="b2"))) & set(first)


def test_only_what_lies_ahead() -> None:
    assert CUT.cut is not None
    weighed = replace(CUT, weighed=((CUT.cut, 1000.0), (CUT.cut + timedelta(days=7), 960.0)))
    listed = entries(weighed, P)
    assert What.CUT not in {e.what for e in listed}
    assert listed[0].starts == CUT.cut.date() + timedelta(days=14)
    assert entries(replace(CUT, cured=EVENING), P) == ()


def test_fresh_soap_is_minded_at_the_cut_and_iso_456_at_the_end() -> None:
    read = next(vobject.readComponents(text(BATCH).decode())).vevent_list
    assert "gloves" in read[1].description.value
    assert "ISO 456" in read[-1].description.value


@pytest.mark.parametrize("title", ["\x1b]0;x\x07 bell", "a\r\nBEGIN:VEVENT\r\nb", "ümläut " * 20])
def test_no_title_can_break_the_file(title: str) -> None:
    data = text(replace(BATCH, title=title))
    lines = unfolded(data)
    assert lines.count("BEGIN:VEVENT") == len(entries(BATCH, P))
    assert b"\x1b" not in data
    assert b"\x07" not in data
    assert max(len(line) for line in data.split(b"\r\n")) <= 75
