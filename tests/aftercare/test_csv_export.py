"""CSV for spreadsheets: read back as written, and no cell of it is a formula."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from aftercare_kit import Finished
from hypothesis import given
from hypothesis import strategies as st

from soapbench.bench.learned import open_bench, remember
from soapbench.log import Event, Kind
from soapbench.logfile.batchlog import read_log
from soapbench.papers.spreadsheets import (
    EVENT_COLUMNS,
    FRAGRANCE_COLUMNS,
    cell,
    events_csv,
    fragrances_csv,
)

# First characters that make spreadsheets run a cell: OWASP, "CSV injection" (from memory).
STARTS = ("=", "+", "-", "@", "\t", "\r")


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("start", STARTS)
@pytest.mark.parametrize("before", ["", " ", "\u200b", "\t"])
def test_no_text_becomes_a_formula(start: str, before: str) -> None:
    shown = cell(f'{before}{start}HYPERLINK("http://example.org")')
    assert isinstance(shown, str)
    assert not shown.lstrip(" \u200b\t").startswith(STARTS)


@given(st.text(max_size=40))
def test_never_whatever_the_text(text: str) -> None:
    shown = str(cell(text))
    assert not shown.startswith(STARTS)
    assert shown.isprintable()


def test_numbers_stay_numbers() -> None:
    assert [cell(v) for v in (-3.5, 0, 12, True, None, float("nan"))] == [
        -3.5,
        0,
        12,
        "yes",
        "",
        "",
    ]


def test_every_event_is_a_row_undone_ones_told_apart(finished: Finished) -> None:
    events = list(read_log(finished.whole).events)
    undo = Event(events[-1].at, events[-1].t, Kind.UNDO, None, {"of": events[0].id}, id="zz")
    evil = replace(events[1], id="yy", pot="=1+1", values={"text": '=cmd|"/c calc"!A0'})
    read = rows(events_csv([*events, evil, undo]))
    assert list(read[0]) == list(EVENT_COLUMNS)
    assert len(read) == len(events) + 2
    assert [r["counts"] for r in read].count("no") == 2, "the undone one and the undo itself"
    assert (read[0]["counts"], read[0]["id"]) == ("no", events[0].id)
    assert read[-2]["pot"] == "'=1+1"
    assert float(read[5]["seconds since lye"]) == pytest.approx(events[5].t, abs=1e-3)


def test_lines_end_as_rfc_4180_wants_them(finished: Finished) -> None:
    text = events_csv(read_log(finished.whole).events)
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")


def test_the_fragrance_book_tells_what_each_fragrance_did(finished: Finished) -> None:
    memory = remember(open_bench(finished.folder))
    read = {r["fragrance"]: r for r in rows(fragrances_csv(memory.known.fit, memory.lessons))}
    assert set(read) == {"Warm Thrift", "Kelp & Fig"}
    warm = read["Warm Thrift"]
    assert list(warm) == list(FRAGRANCE_COLUMNS)
    assert (warm["batches"], warm["poured"], warm["again"], warm["not again"]) == (
        "1",
        "1",
        "1",
        "0",
    )
    assert warm["last verdict"] == "again"
    assert float(warm["times faster"]) > 0
    assert read["Kelp & Fig"]["last verdict"] == ""
