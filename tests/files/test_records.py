"""Text of a log: written as TOML, read back whole, damage set aside and nothing else lost.

What is valid TOML is checked against ``tomllib``, the standard library's reader of TOML 1.0.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from zlib import crc32

import pytest
import tomli_w
from disk_fakes import PLAN, event, header, text_of
from hypothesis import given, settings
from hypothesis import strategies as st

from soapbench.figures import Figures
from soapbench.log import Event, Kind
from soapbench.logfile.records import (
    EARLIEST,
    LATEST,
    LONGEST_S,
    Header,
    event_text,
    header_text,
    read_bytes,
)
from soapbench.logfile.tomltext import parse, plain, table_text

FEW = [event(i, text=f"note {i}", seconds=2.5) for i in range(4)]


def test_a_log_is_toml_after_every_event() -> None:
    data = header_text(header())
    for n, one in enumerate(FEW, start=1):
        data += event_text(one)
        read = tomllib.loads(data.decode())
        assert len(read["event"]) == n
        assert read["plan"] == PLAN
        assert read["event"][-1]["t"] == one.t


def test_checksum_is_the_crc_of_the_text_before_it() -> None:
    """CRC-32 as in RFC 1952, whose check value for '123456789' is CBF43926."""
    assert crc32(b"123456789") == 0xCBF43926
    text = event_text(FEW[0]).lstrip(b"\n")
    body, _, end = text.rpartition(b"sum = ")
    assert end == b'"%08x"\n' % crc32(body)


def test_cut_at_every_byte_of_the_last_record() -> None:
    kept, last = text_of(*FEW[:3]), event_text(FEW[3])
    for cut in range(len(last) + 1):
        read = read_bytes(kept + last[:cut])
        whole = cut >= len(last) - 1  # only the last line end is missing
        assert read.events == tuple(FEW if whole else FEW[:3]), cut
        assert read.header == header()
        assert bool(read.damaged) is (1 < cut < len(last) - 1), cut


def test_cut_at_every_byte_of_the_header() -> None:
    head = header_text(header())
    for cut in range(len(head) - 1):
        read = read_bytes(head[:cut] + event_text(FEW[0]))
        assert read.header is None
        assert read.events == (FEW[0],)
        assert read.damaged[0].start == 0


def test_any_byte_changed_costs_its_own_record_only() -> None:
    parts = [header_text(header()), *map(event_text, FEW)]
    data = b"".join(parts)
    starts = [sum(map(len, parts[:i])) for i in range(len(parts))]
    for at in range(len(data)):
        for bad in (data[at] ^ 1, data[at] ^ 0x80, 0, 10):
            if bad == data[at]:
                continue
            hit = max(i for i, s in enumerate(starts) if s <= at)
            read = read_bytes(data[:at] + bytes([bad]) + data[at + 1 :])
            others = [e for i, e in enumerate(FEW, start=1) if i != hit]
            assert list(read.events) in (others, FEW), (at, bad)  # all: a byte between records
            assert hit == 0 or read.header == header(), (at, bad)


@pytest.mark.parametrize(
    "junk",
    [
        b"\x00" * 4096,
        b"\xff\xfe\x80",
        b"[[event]]\nat = 2024-05-01 19:02:03+02:00\nt = 1",
        b"<<<<<<< mine\n",
        b'[[event]]\nkind = "note"\nsum = "00000000"\n',
        b"[[event]]\n[[event]]\n",
        b'sum = "',
    ],
    ids=["nuls", "not utf-8", "torn", "merge mark", "wrong sum", "bare heads", "bare sum"],
)
@pytest.mark.parametrize("place", range(5))
def test_junk_between_records_is_named_and_costs_nothing(junk: bytes, place: int) -> None:
    parts = [header_text(header()), *map(event_text, FEW)]
    before = b"".join(parts[: place + 1])
    read = read_bytes(before + junk + b"".join(parts[place + 1 :]))
    assert read.events == tuple(FEW)
    assert read.header == header()
    (damage,) = read.damaged
    assert damage.start == len(before)
    assert damage.line == before.count(b"\n") + 1
    assert damage.end >= damage.start + len(junk.rstrip(b"\n"))
    assert damage.why


def test_junk_before_the_header_names_no_wrong_event() -> None:
    read = read_bytes(b"junk\n" + text_of(*FEW))
    assert read.header is None
    assert read.events == tuple(FEW)


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d.replace(b"\n", b"\r\n"),
        lambda d: b"\xef\xbb\xbf" + d,
        lambda d: d + b"\n\n# x\n",
    ],
    ids=["windows line ends", "byte order mark", "comment"],
)
def test_what_editors_and_git_do_is_no_damage(change: Any) -> None:
    read = read_bytes(change(text_of(*FEW)))
    assert (read.header, read.events, read.damaged) == (header(), tuple(FEW), ())


def test_offsets_hold_with_windows_line_ends() -> None:
    before = text_of(*FEW[:2]).replace(b"\n", b"\r\n")
    torn = event_text(FEW[2])[:-20].replace(b"\n", b"\r\n")
    (damage,) = read_bytes(before + torn).damaged
    assert (damage.start, damage.end) == (len(before) + 2, len(before + torn))


def test_one_id_counts_once_and_unknown_kinds_are_kept_aside() -> None:
    newer = event_text(event(9, text="from a newer version")).lstrip(b"\n")
    body = newer.replace(b'kind = "note"', b'kind = "sung to"').rpartition(b"sum = ")[0]
    foreign = b"\n" + body + b'sum = "%08x"\n' % crc32(body)
    read = read_bytes(text_of(FEW[0], FEW[1], FEW[0]) + foreign + event_text(FEW[2]))
    assert read.events == tuple(FEW[:3])
    assert read.damaged == ()
    assert [u["kind"] for u in read.unknown] == ["sung to"]


def test_events_without_an_id_are_each_counted() -> None:
    made_by_hand = [replace(event(n), id="") for n in range(2)]
    assert read_bytes(text_of(*made_by_hand)).events == tuple(made_by_hand)


@given(st.binary(max_size=400))
def test_any_bytes_can_be_read(data: bytes) -> None:
    for whole in (data, text_of(FEW[0]) + data, data + event_text(FEW[0])):
        read = read_bytes(whole)
        assert read.events in ((), (FEW[0],))


def test_deep_nesting_with_a_true_checksum_is_told_not_raised() -> None:
    body = b"[[event]]\nvalues.x = " + b"[" * 100_000 + b"]" * 100_000 + b"\n"
    read = read_bytes(text_of(FEW[0]) + b"\n" + body + b'sum = "%08x"\n' % crc32(body))
    assert read.events == (FEW[0],)
    assert "not TOML" in read.damaged[0].why


HOSTILE = st.one_of(
    st.text(max_size=30),
    st.sampled_from(
        [
            '"',
            "\\",
            "\n[[event]]\n",
            'sum = "00000000"',
            "\x00\x1b]0;x\x07",
            "\x7f\x85\u2028",
            "'''",
        ]
    ),
)
NUMBER = st.one_of(st.integers(-(2**62), 2**62), st.floats(allow_nan=False), st.booleans())
VALUE = st.one_of(HOSTILE, NUMBER, st.lists(st.one_of(HOSTILE, NUMBER), max_size=4))
OFFSETS = st.integers(-1439, 1439).map(lambda m: timezone(timedelta(minutes=m)))
EVENTS = st.builds(
    Event,
    at=st.datetimes(datetime(1970, 1, 2), datetime(2200, 1, 1), timezones=OFFSETS),
    t=st.floats(-LONGEST_S, LONGEST_S, exclude_min=True, exclude_max=True),
    kind=st.sampled_from(Kind),
    pot=st.none() | HOSTILE,
    values=st.dictionaries(HOSTILE, VALUE, max_size=5),
    boot_s=st.floats(0, 1e9),
    boot_id=HOSTILE,
    id=HOSTILE.filter(bool),
)


@settings(max_examples=300)
@given(st.lists(EVENTS, max_size=4, unique_by=lambda e: e.id))
def test_events_come_back_as_they_were(events: list[Event]) -> None:
    data = text_of(*events)
    tomllib.loads(data.decode())
    read = read_bytes(data)
    assert read.events == tuple(events)
    assert [e.at.utcoffset() for e in read.events] == [e.at.utcoffset() for e in events]
    assert read.damaged == ()


def test_a_log_says_the_format_that_every_version_wrote() -> None:
    """1 since the first release: a reader of another day may go by it."""
    assert tomllib.loads(header_text(header()).decode())["batch"]["format"] == 1


def test_events_are_read_though_nothing_of_the_header_is_left() -> None:
    data = b"".join(event_text(event(i)) for i in range(3))
    assert data.startswith(b"\n"), "as they are appended"
    read = read_bytes(data)
    assert read.events == tuple(event(i) for i in range(3))
    assert read.header is None
    assert [damage.why for damage in read.damaged] == ["no header"]


TREE = st.recursive(
    st.one_of(HOSTILE, NUMBER, st.datetimes(datetime(1900, 1, 1)), st.dates()),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(HOSTILE, inner, max_size=3),
    max_leaves=12,
)


@settings(max_examples=300)
@given(st.dictionaries(HOSTILE, TREE, max_size=4), HOSTILE)
def test_headers_come_back_and_the_quick_reader_agrees_with_tomllib(
    plan: dict[str, Any], title: str
) -> None:
    one = Header("b", title, event(0).at, "0.1", plan, Figures(chance=0.5))
    data = header_text(one)
    read = read_bytes(data)
    assert read.header == one
    assert parse(data.decode()) == tomllib.loads(data.decode())


@settings(max_examples=200)
@given(st.dictionaries(st.from_regex(r"[a-z_-]{1,6}", fullmatch=True), TREE, max_size=4))
def test_quick_reader_reads_the_librarys_own_writing(table: dict[str, Any]) -> None:
    text = tomli_w.dumps(table)
    assert parse(text) == tomllib.loads(text)


def test_what_toml_cannot_hold_is_written_all_the_same() -> None:
    odd = event(1, inf=math.inf, none=None, lone="\ud800", deep=[{"a": 1}], table={"a": 1})  # type: ignore[arg-type, list-item]
    (read,) = read_bytes(text_of(odd)).events
    assert read.values == {
        "inf": math.inf,
        "lone": "\ufffd",
        "deep": ["{'a': 1}"],
        "table": "{'a': 1}",
        "none": "None",
    }


def test_times_toml_cannot_write_keep_their_moment() -> None:
    local_mean = timezone(timedelta(minutes=19, seconds=32))
    for at in (datetime(1971, 1, 1, tzinfo=local_mean), datetime(2024, 5, 1, 12, 0)):
        one = Event(at, 0.0, Kind.NOTE, id="x")
        (read,) = read_bytes(text_of(one)).events
        assert read.at == (at if at.tzinfo else at.replace(tzinfo=UTC))


def test_plain_drops_none_and_keeps_tables_apart() -> None:
    assert plain({"a": None, "b": (1, None, {"c": 2})}) == {"b": [1, {"c": 2}]}
    text = table_text("plan", {"pots": [{"name": "base"}, {"name": "foam"}]})
    assert text.count("[[plan.pots]]") == 2


def test_a_date_no_clock_shows_is_bounded_and_the_entry_stays() -> None:
    for digits, read_as in (("0001", EARLIEST), ("9999", LATEST)):
        raw = event_text(FEW[0]).strip(b"\n")
        year = str(FEW[0].at.year).encode()
        raw = raw[: raw.rindex(b'sum = "')].replace(b"at = " + year, b"at = " + digits.encode())
        (read,) = read_bytes(text_of() + b"\n" + raw + b'sum = "%08x"\n' % crc32(raw)).events
        assert read.at == read_as
        assert (read.t, read.values) == (FEW[0].t, FEW[0].values)
