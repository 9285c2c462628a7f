"""TOML as logs are written in and makers write it, at the bounds of the quick reader.

What is TOML is checked against ``tomllib``, the standard library's reader of TOML 1.0.
"""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from soapbench.logfile.tomltext import _bare, _quick, key_text, parse, plain, table_text

# ---------------------------------------------------------------- plain values


def test_what_toml_knows_stays_as_it_is() -> None:
    noon, day = time(12, 30), date(2026, 3, 1)
    for value in (True, False, 7, 2.5, "text", noon, day):
        assert plain(value) == value
        assert type(plain(value)) is type(value)
    assert type(plain(Fraction(1, 2))) is float
    assert plain(Decimal("0.5")) == "0.5", "no real number of Python's"
    zoned = noon.replace(tzinfo=UTC)
    assert plain(zoned) == str(zoned)
    assert plain("half \ud800") == "half \ufffd"


@pytest.mark.parametrize(
    ("offset", "kept"),
    [
        (timedelta(hours=2), True), (timedelta(minutes=61), True), (timedelta(0), True),
        (timedelta(minutes=19, seconds=32), False), (timedelta(seconds=61), False),
        (timedelta(seconds=1), False), (None, True),
    ],
)  # fmt: skip
def test_offsets_of_whole_minutes_are_kept_and_others_become_utc(
    offset: timedelta | None, kept: bool
) -> None:
    at = datetime(1950, 1, 1, 12, tzinfo=None if offset is None else timezone(offset))
    read_back = plain(at)
    assert read_back == at
    assert read_back.utcoffset() == (offset if kept else timedelta(0))


def test_nothing_is_left_out_of_tables_and_lists_but_none() -> None:
    assert plain({"a": None, "b": 0, "c": {"d": None, "e": ""}}) == {"b": 0, "c": {"e": ""}}
    assert plain([None, 0, False, (1, None)]) == [0, False, [1]]
    assert plain({1: 2}) == {"1": 2}


def test_tables_are_written_one_below_the_other() -> None:
    table = {
        "a": 1, "empty": [], "mixed": [1, {"x": 2}], "in it": {"b": 2, "deep": {"c": 3}},
        "many": [{"d": 4}, {"e": {"f": 5}}],
    }  # fmt: skip
    text = table_text("top", table)
    assert tomllib.loads(text) == {"top": table}
    heads = [line for line in text.splitlines() if line.startswith("[")]
    assert heads == [
        "[top]", '[top."in it"]', '[top."in it".deep]', "[[top.many]]", "[[top.many]]",
        "[top.many.e]",
    ]  # fmt: skip
    assert text.startswith("[top]\na = 1\nempty = []\n")


@pytest.mark.parametrize(
    ("key", "written"), [("a", "a"), ("a-b_c", "a-b_c"), ("a b", '"a b"'), ("", '""'), ("0", "0")]
)
def test_a_key_is_quoted_where_it_must_be(key: str, written: str) -> None:
    assert key_text(key) == written


# ---------------------------------------------------------------- the quick reader


@pytest.mark.parametrize(
    "text",
    [
        "a = true\nb = false\n",
        "a = 17\nb = -3\nc = 2.5\nd = 1e3\ne = inf\n",
        "a = 123456789012345678\nb = 12345678901234567890.5\nc = 0.00000000000000000001\n",
        "a = 2024-05-01T19:02:03+02:00\nb = 2024-05-01T19:02:03\nc = 2024-05-01T19:02:03.5Z\n",
        'a = ""\nb = "x"\nc = "x y"\nd = "a # b"\ne = "a = b"\n',
        'a = "q\\"q"\nb = "\\u00e4\\n"\n',
        'a = []\nb = [1, 2]\nc = ["x", "y"]\nd = [\n    1,\n    2,\n]\n'
        'e = [\n    "x",\n    "y, z",\n]\n',
        '"a b" = 1\n"" = 2\n"a.b" = 3\n"a = b" = 4\n',
        "a-b = 1\na_c = 2\n",
        "values.a = 1\nvalues.b = 2\nother.a = 3\n",
        "[a]\nx = 1\n\n[b]\n\nx = 2\n[a.c]\nx = 3\n",
        "[[a]]\nx = 1\n[[a]]\n[a.b]\nx = 2\n[[a.c]]\nx = 3\n[[a.c]]\ny = 4\n",
        '[a."b c"]\nx = 1\n[[d."e f"]]\nx = 2\n[[d."e f"]]\nx = 3\n[a.""]\ny = 1\n',
        "[a.b.c]\nx = 1\n[a-b]\nx = 2\n",
        "",
    ],
)
def test_what_is_written_the_regular_way_is_read_as_the_standard_reader_does(text: str) -> None:
    assert _quick(text) == tomllib.loads(text)
    assert parse(text) == tomllib.loads(text)


@pytest.mark.parametrize(
    "text",
    [
        "a\n", "a =\n", "a= 1\n", "a = 1_0\n", "a = \u0661\n", "a = 'x'\n", 'a = "x" # y\n',
        "a.b.c = 1\n", "a b = 1\n", "a = 1\na = 2\n", '"a" = 1\na = 2\n',
        '"a\\tb" = 1\n', '"a"b" = 1\n', "[a] # x\n", "[a b]\n", "[ a ]\n", "[a]\n[a]\n",
        '[a."b]\n', '[a."b"c"]\n', '[a."b\\tc"]\n', "[a. b]\n", '["a"]\n', "[a\n",
        "[[a]\n", "a = [\n    [1],\n]\n", "a = [\n    1,\n", "# x\n", "a = 0x1f\n",
        'a = "x\n', 'a = "x"y\n', 'a = x"\n', 'a = ""x"\n',
        'a = "\n', "a = tru\n", "a = 12:30:00\n", "a = 2024-05-01\n",
        'a = "\\d"\n',
    ],
)  # fmt: skip
def test_what_is_not_is_left_to_the_standard_reader(text: str) -> None:
    with pytest.raises((ValueError, LookupError, TypeError, AttributeError)):
        _quick(text)
    try:
        read: dict[str, Any] | None = tomllib.loads(text)
    except ValueError:
        read = None
    if read is not None:
        assert parse(text) == read
    else:
        with pytest.raises(ValueError):  # noqa: PT011 - of many kinds
            parse(text)


def test_half_a_character_is_no_toml_though_json_knows_it() -> None:
    for half in ("\\ud800", "\\uD83e\\udDfc", "\\udfff"):
        with pytest.raises(ValueError, match=r"scalar|Escaped"):
            parse(f'a = "{half}"\n')
    assert parse('a = "\\ud7ff\\ue000"\n') == {"a": "\ud7ff\ue000"}


def test_bare_values() -> None:
    assert _bare("true") is True
    assert _bare("false") is False
    assert (_bare("12"), type(_bare("12"))) == (12, int)
    assert (_bare("12.0"), type(_bare("12.0"))) == (12.0, float)
    assert _bare("2024-05-01T19:02:03") == datetime(2024, 5, 1, 19, 2, 3)
    assert _bare("-123456789012345678") == -123456789012345678
    assert _bare("1234567890123456789") == 1234567890123456789
    assert _bare("1e-0000000000000000001") == 0.1
    for bad in ("1_000", "\u0661\u0662", "x"):
        with pytest.raises(ValueError):  # noqa: PT011 - of int, float and our own
            _bare(bad)
