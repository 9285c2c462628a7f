"""A batch's dates as an iCalendar file (RFC 5545) for any calendar."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from soapbench.reading.safetext import clean

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from soapbench.aftercare.dates import Entry
    from soapbench.aftercare.resting import Resting

OURS = UUID("5b5f6d3e-2d0a-5c57-9d0e-5a2f7f1f6c11")
"""Name space of the entries' ids; any fixed UUID serves."""


def calendar_text(
    batch: Resting, dates: Iterable[Entry], texts: Mapping[str, Mapping[str, str]], now: datetime
) -> bytes:
    """The file; ``texts``: the table of cautions.

    Ids stay the same from one export to the next, so that a calendar updates its entries. Hours
    are in UTC and weighings are whole days, so that no time zone has to be described.
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//soapbench//aftercare//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")  # RFC 5546: to be shown, nobody is asked anything
    title = clean(batch.title, 60)
    for entry in dates:
        event = Event()
        event.add("uid", str(uuid5(OURS, f"{batch.batch}\0{entry.key}")))
        event.add("dtstamp", now.astimezone(UTC).replace(microsecond=0))
        event.add("dtstart", _stamp(entry.starts))
        event.add("dtend", _stamp(entry.ends))
        event.add("summary", f"{title}: {entry.what}")
        mind = [clean(texts[id_]["text"]) for id_ in entry.cautions]
        event.add("description", "\n".join([clean(entry.words), *mind]))
        event.add("transp", "TRANSPARENT")  # a window of hours does not fill the maker's day
        event.add("categories", ["soap"])
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _stamp(at: object) -> object:
    return at.astimezone(UTC).replace(microsecond=0) if isinstance(at, datetime) else at
