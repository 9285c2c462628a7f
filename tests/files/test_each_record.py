"""Records at their bounds: what is whole, what is damage, where it lies and what it is called."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from zlib import crc32

import pytest
from disk_fakes import CREATED, event, header, text_of

from soapbench.log import Event, Kind
from soapbench.logfile import records
from soapbench.logfile.records import (
    EARLIEST,
    FORMAT,
    LATEST,
    LONGEST_S,
    Damage,
    Piece,
    event_text,
    header_text,
    pieces,
    read_bytes,
    tables_text,
)
from soapbench.logfile.tomltext import table_text

ONE, TWO, THREE = (event(n, text=f"note {n}") for n in range(3))
BOM = b"\xef\xbb\xbf"


def summed(body: bytes) -> bytes:
    """A record of one's own, its checksum as records have it."""
    return body + b'sum = "%08x"\n' % crc32(body)


def table(**changed: Any) -> bytes:
    """The first event with some of its keys changed; None leaves one out."""
    read = tomllib.loads(event_text(ONE).decode())["event"][0]
    del read["sum"]
    kept = {key: value for key, value in (read | changed).items() if value is not None}
    text = table_text("event", kept).replace("[event]", "[[event]]", 1)
    return b"\n" + summed(text.encode())


def head_with(**changed: Any) -> bytes:
    read = tomllib.loads(header_text(header()).decode())
    return tables_text({"batch": read["batch"] | changed, "plan": {}, "foreseen": {}})


# ---------------------------------------------------------------- dates and times


def test_a_clock_is_believed_from_1970_to_2200() -> None:
    """Years outside of these: a wrong clock (ours)."""
    assert datetime.fromisoformat("1970-01-01T00:00:00+00:00") == EARLIEST
    assert datetime.fromisoformat("2201-01-01T00:00:00+00:00") == LATEST
    for year, read_as in ((1969, EARLIEST), (1970, None), (2200, None), (2201, LATEST)):
        at = datetime(year, 6, 1, 12, tzinfo=UTC)
        (event,) = read_bytes(text_of() + table(at=at)).events
        assert event.at == (read_as or at)


def test_a_moment_without_a_zone_is_one_of_utc_and_with_one_keeps_it() -> None:
    east = timezone(timedelta(hours=5, minutes=45))
    bare = datetime(2024, 5, 1, 12, 0)
    for at, wanted in ((bare, bare.replace(tzinfo=UTC)), (bare.replace(tzinfo=east),) * 2):
        (read,) = read_bytes(text_of() + table(at=at)).events
        assert read.at == wanted
        assert read.at.utcoffset() == wanted.utcoffset()
        (written,) = read_bytes(text_of(replace(ONE, at=at))).events
        assert written.at == wanted
        assert written.at.utcoffset() == wanted.utcoffset()
    assert read_bytes(text_of() + table(at="2024-05-01")).events == ()


def test_times_no_clock_shows_are_no_times() -> None:
    """Short of 10¹² s either way, some 30,000 years."""
    assert LONGEST_S == 1e12
    for t, whole in ((9.9e11, True), (-9.9e11, True), (1e12, False), (-1e12, False),
                     (float("nan"), False), (float("inf"), False), ("soon", False)):  # fmt: skip
        for key in ("t", "boot_s"):
            read = read_bytes(text_of() + table(**{key: t}))
            assert len(read.events) == whole
            assert len(read.damaged) == (not whole)


# ---------------------------------------------------------------- what an event holds


def test_an_event_may_be_of_no_pot_and_hold_no_values() -> None:
    bare = replace(ONE, pot=None, values={})
    assert b"pot" not in event_text(bare)
    (read,) = read_bytes(text_of(bare)).events
    assert read == bare
    assert read.pot is None
    (read,) = read_bytes(text_of() + table(pot=7)).events
    assert read.pot == "7", "what is written by hand is taken as text"


def test_values_are_written_under_their_keys_and_tables_in_lists_as_text() -> None:
    several = event(1, some=[1, {"a": 2}, "x"], plain=[1, 2])  # type: ignore[list-item]
    (read,) = read_bytes(text_of(several)).events
    assert read.values == {"some": [1, "{'a': 2}", "x"], "plain": [1, 2]}
    lines = event_text(several).decode().splitlines()
    assert [line.partition(" =")[0] for line in lines if line.startswith("values")] == [
        "values.some", "values.plain",
    ]  # fmt: skip


@pytest.mark.parametrize("key", ["at", "t", "kind", "boot_s", "boot_id", "id"])
def test_an_event_without_one_of_its_keys_is_named_and_costs_itself_alone(key: str) -> None:
    read = read_bytes(text_of(TWO) + table(**{key: None}) + event_text(THREE))
    assert read.events == (TWO, THREE)
    (damage,) = read.damaged
    assert damage.why.startswith("whole, but not to be understood (KeyError:")


def test_of_two_events_of_one_id_the_first_counts_and_of_none_each() -> None:
    other = replace(TWO, id=ONE.id)
    assert read_bytes(text_of(ONE, other, THREE)).events == (ONE, THREE)
    nameless = [replace(one, id="") for one in (ONE, TWO)]
    assert read_bytes(text_of(*nameless, THREE)).events == (*nameless, THREE)


def test_a_kind_of_another_day_is_kept_aside() -> None:
    read = read_bytes(text_of(ONE) + table(kind="sung to", id="x") + event_text(TWO))
    assert read.events == (ONE, TWO)
    assert [one["kind"] for one in read.unknown] == ["sung to"]
    assert read.damaged == ()


# ---------------------------------------------------------------- the header


def test_a_header_says_what_it_was_made_with() -> None:
    read = read_bytes(header_text(header()))
    assert (read.header, read.damaged) == (header(), ())
    assert FORMAT == 1
    assert read.header is not None
    assert (read.header.format, read.header.created) == (1, CREATED)
    newer = read_bytes(head_with(format=7)).header
    assert newer is not None
    assert newer.format == 7


def test_of_two_headers_the_first_counts() -> None:
    second = header_text(header("Another", "b2"))
    assert read_bytes(text_of(ONE) + second).header == header()
    assert read_bytes(second + text_of(ONE)).header == header("Another", "b2")


def test_a_header_that_is_whole_and_yet_none_is_told_once() -> None:
    read = read_bytes(head_with(created="yesterday") + event_text(ONE))
    assert (read.header, read.events) == (None, (ONE,))
    (damage,) = read.damaged
    assert (damage.start, damage.line) == (0, 1)
    assert damage.why.startswith("whole, but not to be understood (TypeError:")
    marked = read_bytes(BOM + head_with(created="yesterday") + event_text(ONE))
    assert [one.start for one in marked.damaged] == [3]


def test_a_log_without_a_header_says_so_beside_other_damage() -> None:
    assert read_bytes(b"").damaged == (Damage(0, 0, 1, "no header"),)
    assert [d.why for d in read_bytes(event_text(ONE)).damaged] == ["no header"]
    torn = event_text(ONE) + event_text(TWO)[:-30]
    whys = [(d.start, d.why) for d in read_bytes(torn).damaged]
    assert whys == [
        (0, "no header"), (len(event_text(ONE)) + 1, "the last record stops before its checksum"),
    ]  # fmt: skip
    assert [d.start for d in read_bytes(b"junk\n" + event_text(ONE)).damaged] == [0]
    assert [d.start for d in read_bytes(BOM + b"junk\n" + event_text(ONE)).damaged] == [3]


# ---------------------------------------------------------------- damage and its place

TORN = event_text(TWO)[1:-30]


@pytest.mark.parametrize(
    ("between", "why"),
    [
        (b"junk\n", "not a whole record"),
        (TORN + b"\n", "not a whole record"),
        (event_text(TWO)[1:].replace(b"note 1", b"note 2"),
         "a checksum does not hold: torn or changed by hand"),
    ],
    ids=["junk", "torn", "changed"],
)  # fmt: skip
def test_damage_between_records_has_its_place_line_and_reason(between: bytes, why: str) -> None:
    before, after = text_of(ONE), event_text(THREE)
    read = read_bytes(before + b"\n" + between + after)
    assert read.events == (ONE, THREE)
    (damage,) = read.damaged
    start = len(before) + 1
    assert (damage.start, damage.why) == (start, why)
    assert damage.end == start + len(between) + 1, "up to the record after it"
    assert damage.line == (before + b"\n").count(b"\n") + 1


def test_the_end_of_a_log_may_be_cut_off() -> None:
    before = text_of(ONE)
    (damage,) = read_bytes(before + b"\n" + TORN).damaged
    assert damage == Damage(len(before) + 1, len(before) + 1 + len(TORN),
                            before.count(b"\n") + 2,
                            "the last record stops before its checksum")  # fmt: skip


def test_the_head_may_be_torn() -> None:
    torn = header_text(header())[:-20]
    read = read_bytes(torn + event_text(ONE))
    assert read.events == (ONE,)
    assert read.damaged == (Damage(0, len(torn) + 1, 1, "the header is torn or was changed"),)
    marked = read_bytes(BOM + torn + event_text(ONE))
    assert [(d.start, d.why) for d in marked.damaged] == [(3, "the header is torn or was changed")]


@pytest.mark.parametrize("harmless", [b"", b"\n", b"\n\n# a comment\n", b"# one\n# two\n", b"  \n"])
def test_blank_lines_and_comments_are_no_damage(harmless: bytes) -> None:
    for data in (text_of(ONE) + harmless, text_of(ONE) + harmless + event_text(TWO)):
        assert read_bytes(data).damaged == ()
    assert read_bytes(harmless + text_of(ONE)[len(header_text(header())) :]).events == (ONE,)


def test_a_comment_excuses_no_junk_beside_it() -> None:
    assert len(read_bytes(text_of(ONE) + b"# a comment\njunk\n").damaged) == 1
    assert len(read_bytes(text_of(ONE) + b"junk\n# a comment\n").damaged) == 1


def test_pieces_lie_end_to_end_over_the_whole_file() -> None:
    head, one, two = header_text(header()), event_text(ONE), event_text(TWO)
    listed = list(pieces(head + one + two))
    spans = [(piece.start, piece.end) for piece in listed]
    a, b = len(head), len(head) + len(one)
    assert spans == [(0, a), (a + 1, b), (b + 1, b + len(two))]
    assert [set(piece.table) for piece in listed] == [
        {"batch", "plan", "foreseen", "check"}, {"event"}, {"event"},
    ]  # fmt: skip
    assert list(pieces(b"")) == []
    assert list(pieces(b"x")) == [Piece(0, 1, {}, "the header is torn or was changed")]


def test_the_last_line_end_may_be_missing_and_the_sum_may_not() -> None:
    whole = text_of(ONE)
    assert read_bytes(whole[:-1]).events == (ONE,)
    assert read_bytes(whole[:-2]).events == ()
    assert [p.end for p in pieces(whole[:-1])][-1] == len(whole) - 1
    bigger = whole[:-2] + b'0"\n'
    assert read_bytes(bigger).events == (), "nine characters, no more"


def test_a_sum_in_a_value_ends_no_record() -> None:
    sly = replace(ONE, values={"text": 'x"\nsum = "00000000"\ny'})
    (read,) = read_bytes(text_of(sly)).events
    assert read == sly
    # A line that looks like a checksum and is none: the record goes on to its own.
    body = event_text(ONE)[1:].rpartition(b"sum = ")[0]
    two_sums = summed(body + b'sum = "00000000"\n')
    (piece,) = pieces(two_sums)
    assert (piece.start, piece.end) == (0, len(two_sums))
    assert (piece.why, piece.table["event"][0]["id"]) == ("", ONE.id)


def test_only_a_header_or_an_event_is_a_record() -> None:
    """A checksum that holds is not enough."""
    stray = summed(b"x = 1\n")
    assert [piece.why for piece in pieces(stray)] == ["the header is torn or was changed"]
    read = read_bytes(text_of(ONE) + stray + event_text(TWO))
    assert read.events == (ONE, TWO)
    assert [d.why for d in read.damaged] == ["a checksum does not hold: torn or changed by hand"]


def test_offsets_are_those_of_the_file_with_windows_line_ends_and_a_mark() -> None:
    head, one = header_text(header()), event_text(ONE)
    data = (head + one + event_text(TWO)).replace(b"\n", b"\r\n")
    a = len(head.replace(b"\n", b"\r\n"))
    b = a + len(one.replace(b"\n", b"\r\n"))
    assert [(p.start, p.end) for p in pieces(data)] == [(0, a), (a + 2, b), (b + 2, len(data))]
    marked = list(pieces(BOM + data))
    assert [(p.start, p.end) for p in marked] == [
        (3, a + 3),
        (a + 5, b + 3),
        (b + 5, len(data) + 3),
    ]
    assert read_bytes(BOM + data).events == (ONE, TWO)


def test_a_record_of_every_kind_is_known() -> None:
    every = [replace(ONE, kind=kind, id=kind.value) for kind in Kind]
    read = read_bytes(text_of(*every))
    assert read.events == tuple(every)
    assert {kind.value: kind for kind in Kind} == records._KINDS
    assert isinstance(read.events[0], Event)
