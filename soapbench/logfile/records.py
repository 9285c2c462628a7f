"""The text of a batch log: how a header and an event are written, and how they are read back.

A log is TOML. Its header (``[batch]``, ``[plan]``, ``[foreseen]``) ends with ``[check]`` and a
checksum; then one ``[[event]]`` table a fact, each ending with a checksum of its own text. A
record cut short can still be valid TOML with a wrong number in it, so a record counts only if
its checksum (CRC-32 as in gzip and PNG, RFC 1952) holds. What lies between whole records is
set aside and named, and costs nothing before or after it.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, NamedTuple
from zlib import crc32

from soapbench.figures import Figures, as_table, figures_of
from soapbench.log import Event, Kind
from soapbench.logfile.tomltext import parse, plain, table_text

FORMAT = 1
LONGEST_S = 1e12
"""More than the calendar holds; keeps infinity and NaN out of every sum."""
EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2201, 1, 1, tzinfo=UTC)
"""A wall clock outside of these is wrong (ours); what happened then is still told by its ``t``."""
_EVENT = b"[[event]]\n"
_SUM = b'sum = "'
_KINDS = {kind.value: kind for kind in Kind}


@dataclass(frozen=True, slots=True)
class Header:
    """What stands before the first event of a log."""

    id: str
    """Unique among all batches of all benches."""
    title: str
    created: datetime
    version: str
    """Version of the program that wrote it."""
    plan: Mapping[str, Any] = field(default_factory=dict)
    """The whole plan as resolved."""
    foreseen: Figures = field(default_factory=Figures)
    """Figures shown before the pour."""
    format: int = FORMAT


class Damage(NamedTuple):
    """A part of a log that is no whole record."""

    start: int
    """Offset of its first byte."""
    end: int
    """Offset after its last byte."""
    line: int
    """Line of the file it begins on, from 1."""
    why: str


@dataclass(frozen=True, slots=True)
class ReadLog:
    """All that could be read of a log."""

    header: Header | None
    """None: torn, changed or missing."""
    events: tuple[Event, ...]
    """In the order of the file; of two with the same id the first."""
    damaged: tuple[Damage, ...] = ()
    unknown: tuple[Mapping[str, Any], ...] = ()
    """Whole events of kinds this version does not know, as plain tables."""


class Piece(NamedTuple):
    """One stretch of a log's bytes: a whole record (``table`` set) or damage (``why`` set)."""

    start: int
    end: int
    table: Mapping[str, Any]
    why: str = ""


def header_text(header: Header) -> bytes:
    """The header's bytes, checksum included."""
    batch = {
        "id": header.id,
        "title": header.title,
        "created": header.created,
        "version": header.version,
        "format": header.format,
    }
    return tables_text({"batch": batch, "plan": header.plan, "foreseen": as_table(header.foreseen)})


def tables_text(tables: Mapping[str, Mapping[str, Any]]) -> bytes:
    """The bytes of a header's tables, checksum included."""
    text = "\n".join(table_text(name, plain(table)) for name, table in tables.items())
    raw = text.encode() + b"\n[check]\n"
    return raw + _sum_line(raw)


def event_text(event: Event) -> bytes:
    """The event's bytes as appended: a blank line, its table, its checksum."""
    import tomli_w

    at = event.at if event.at.tzinfo else event.at.replace(tzinfo=UTC)
    flat = {"at": at, "t": float(event.t), "kind": event.kind.value}
    if event.pot is not None:
        flat["pot"] = event.pot
    flat |= {"boot_s": float(event.boot_s), "boot_id": event.boot_id, "id": event.id}
    lines = ["[[event]]\n", tomli_w.dumps(plain(flat))]
    for key, value in event.values.items():
        value = plain(value)
        if isinstance(value, list):  # a table in an array would end the event's own table
            value = [str(v) if isinstance(v, Mapping) else v for v in value]
        elif isinstance(value, Mapping):
            value = str(value)
        lines.append("values." + tomli_w.dumps({plain(str(key)): value}))
    raw = "".join(lines).encode()
    return b"\n" + raw + _sum_line(raw)


def _sum_line(raw: bytes) -> bytes:
    return b'sum = "%08x"\n' % crc32(raw)


def read_bytes(data: bytes) -> ReadLog:
    """What the bytes of a log say. Never raises, whatever they are."""
    header: Header | None = None
    events: list[Event] = []
    unknown: list[Mapping[str, Any]] = []
    damaged: list[Damage] = []
    whole: set[str] = set()
    for piece in pieces(data):
        why = piece.why
        if not why:
            try:
                if "event" not in piece.table:
                    header = header or _header(piece.table)
                    continue
                table = piece.table["event"][0]
                if table["kind"] not in _KINDS:
                    unknown.append(table)
                    continue
                event = _event(table)
            except (LookupError, TypeError, ValueError, OverflowError) as error:
                why = f"whole, but not to be understood ({type(error).__name__}: {error})"
            else:
                if not event.id or event.id not in whole:
                    events.append(event)
                    whole.add(event.id)
                continue
        line = data.count(b"\n", 0, piece.start) + 1
        damaged.append(Damage(piece.start, piece.end, line, why))
    if header is None and not any(d.start in (0, 3) for d in damaged):
        damaged.insert(0, Damage(0, 0, 1, "no header"))
    return ReadLog(header, tuple(events), tuple(damaged), tuple(unknown))


def _header(table: Mapping[str, Any]) -> Header:
    batch = table["batch"]
    return Header(
        id=str(batch["id"]),
        title=str(batch["title"]),
        created=_aware(batch["created"]),
        version=str(batch["version"]),
        plan=dict(table["plan"]),
        foreseen=figures_of(table["foreseen"]),
        format=int(batch["format"]),
    )


def _event(table: Mapping[str, Any]) -> Event:
    pot = table.get("pot")
    return Event(
        at=_aware(table["at"]),
        t=_time(table["t"]),
        kind=_KINDS[table["kind"]],
        pot=pot if pot is None else str(pot),
        values=dict(table.get("values", {})),
        boot_s=_time(table["boot_s"]),
        boot_id=str(table["boot_id"]),
        id=str(table["id"]),
    )


def _time(seconds: Any) -> float:
    if not abs(float(seconds)) < LONGEST_S:
        raise ValueError("a time no clock shows")
    return float(seconds)


def _aware(at: object) -> datetime:
    if not isinstance(at, datetime):
        raise TypeError("a date and time is wanted")
    if not EARLIEST.year <= at.year < LATEST.year:
        # The one place where a date comes out of a log: weeks and months are added to it later.
        return EARLIEST if at.year < EARLIEST.year else LATEST
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def pieces(data: bytes) -> Iterator[Piece]:
    """Whole records and the damaged stretches between them, in the order of ``data``."""
    if b"\r\n" not in data:
        yield from _unix_pieces(data)
        return
    # None is ever written: a file sync or git has changed the line ends. Read them as written
    # and give the offsets they have in ``data``.
    ends = [m.start() - i for i, m in enumerate(re.finditer(rb"\r\n", data))]
    for p in _unix_pieces(data.replace(b"\r\n", b"\n")):
        start, end = (n + bisect_left(ends, n) for n in (p.start, p.end))
        yield p._replace(start=start, end=end)


def _unix_pieces(data: bytes) -> Iterator[Piece]:
    start = 3 if data.startswith(b"\xef\xbb\xbf") else 0  # a byte order mark an editor put there
    end = start  # of the last whole record
    while start < len(data):
        after = _next_event(data, start + 1)
        piece = _record(data, start, after)
        if piece:
            if damage := _gap(data, end, start):
                yield damage
            yield piece
            end = piece.end
        start = after
    if damage := _gap(data, end, len(data)):
        yield damage


def _next_event(data: bytes, start: int) -> int:
    at = data.find(b"\n" + _EVENT, start - 1)
    return len(data) if at < 0 else at + 1


def _record(data: bytes, start: int, stop: int) -> Piece | None:
    """The whole record that begins at ``start`` and ends at or before ``stop``, if there is one."""
    is_event = data.startswith(_EVENT, start)
    at = summed = start
    crc = 0  # carried on from line to line: a file of nothing but such lines takes no longer
    while (at := data.find(b"\n" + _SUM, at, stop)) >= 0:
        at += 1  # the checksum line begins here
        digits = at + len(_SUM)
        crc, summed = crc32(data[summed:at], crc), at
        if data[digits : digits + 9] != b'%08x"' % crc:
            continue
        raw = data[start:at]
        if is_event or raw.endswith(b"\n[check]\n"):
            end = digits + 9
            end += data.startswith(b"\n", end)
            try:
                return Piece(start, end, parse(raw.decode()))
            except ValueError as error:
                return Piece(start, end, {}, f"its checksum holds, yet not TOML: {error}")
    return None


def _gap(data: bytes, start: int, end: int) -> Piece | None:
    """What lies between two whole records, unless it is only blank lines and comments."""
    junk = data[start:end]
    lead = len(junk) - len(junk.lstrip(b"\n"))
    if all(not line.strip() or line.startswith(b"#") for line in junk.split(b"\n")):
        return None
    if start in (0, 3):
        why = "the header is torn or was changed"
    elif b"\n" + _SUM in junk:
        why = "a checksum does not hold: torn or changed by hand"
    elif end == len(data):
        why = "the last record stops before its checksum"
    else:
        why = "not a whole record"
    return Piece(start + lead, end, {}, why)
