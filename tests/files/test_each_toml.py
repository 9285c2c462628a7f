"""TOML as logs are written in and makers write it, at the bounds of the quick reader.

What is TOML is checked against ``tomllib``, the standard library's reader of TOML 1.0.
"""

from __future__ import annotations

import errno
import tomllib
from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from soapbench.logfile import tomlfile
from soapbench.logfile.door import NotAFile
from soapbench.logfile.tomlfile import (
    DEEPEST_KEY,
    LARGEST_FILE,
    key_lines,
    loads,
    parse_text,
    read_text,
)
from soapbench.logfile.tomltext import _bare, _quick, key_text, parse, plain, table_text
from soapbench.reading.faults import Fault, FileFaults

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
    found = plain(at)
    assert found == at
    assert found.utcoffset() == (offset if kept else timedelta(0))


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
        'a = "x\n', 'a = "\n', "a = tru\n", "a = 12:30:00\n", "a = 2024-05-01\n",
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
        with pytest.raises(ValueError, match="not a Unicode scalar|Escaped character|scalar"):
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


# ---------------------------------------------------------------- files as makers write them


def faults_of(path: Path) -> list[Fault]:
    with pytest.raises(FileFaults) as refused:
        read_text(path)
    assert refused.value.file == str(path)
    return list(refused.value.faults)


def test_a_small_text_is_read_with_or_without_a_mark(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    for data in ("x = 1  # ä\n".encode(), b"\xef\xbb\xbf" + "x = 1  # ä\n".encode()):
        path.write_bytes(data)
        assert read_text(path) == "x = 1  # ä\n"


def test_a_file_may_have_a_million_bytes(tmp_path: Path) -> None:
    """What a person writes has a few thousand (ours)."""
    assert LARGEST_FILE == 1_000_000
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * 1_000_000)
    assert len(read_text(path)) == 1_000_000
    path.write_bytes(b"#" * 1_000_001)
    assert [fault.wrong for fault in faults_of(path)] == ["it is far too large"]


@pytest.mark.parametrize(
    ("error", "wrong"),
    [
        (NotAFile(errno.EINVAL, "it is a folder"), "it is a folder"),
        (NotAFile(), ""),
        (FileNotFoundError(), "there is no such file"),
        (PermissionError(), "not readable"),
        (OSError(errno.EFBIG, "far too large"), "it is far too large"),
        (OSError(errno.EIO, "Input/output error"),
         "it cannot be read: [Errno 5] Input/output error"),
        (ValueError("embedded null byte"), "it cannot be read: embedded null byte"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_told(
    error: Exception, wrong: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, most: int) -> bytes:
        assert most == LARGEST_FILE
        raise error

    monkeypatch.setattr(tomlfile, "read_file", refuse)
    (fault,) = faults_of(tmp_path / "a.toml")
    assert (fault.wrong, fault.key, fault.line) == (wrong, "", None)
    assert fault.right


@pytest.mark.parametrize(("data", "line"), [(b"\xff", 1), (b"a\n\nb\xff\n", 3), (b"a\n\xff", 2)])
def test_what_is_not_utf_8_is_pointed_at(data: bytes, line: int, tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(data)
    (fault,) = faults_of(tmp_path / "a.toml")
    assert (fault.wrong, fault.line) == ("it is not UTF-8 text", line)


def fault_in(text: str) -> Fault:
    with pytest.raises(FileFaults) as refused:
        parse_text(text, "a plan")
    (fault,) = refused.value.faults
    assert refused.value.file == "a plan"
    return fault


def test_text_that_is_no_toml_is_pointed_at_in_the_readers_words() -> None:
    assert parse_text("x = 1\n", "a plan") == {"x": 1}
    fault = fault_in("x = 1\ny = \n")
    assert fault.line == 2
    assert fault.wrong.startswith("it is not TOML: ")
    assert "at line" not in fault.wrong
    assert len(fault.wrong) > len("it is not TOML: ") + 5
    assert fault_in('x = "\ud800"\n').line is None
    assert fault_in('x = "\ud800"\n').wrong == "it is not TOML: half a character in it"


def test_a_fault_told_at_length_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(text: str) -> dict[str, Any]:
        raise ValueError("x" * 300)

    monkeypatch.setattr(tomlfile, "loads", refuse)
    assert fault_in("").wrong == f"it is not TOML: {'x' * 199}…"


def test_a_key_has_fifty_dots_at_the_most() -> None:
    """Plans and tables need two (ours)."""
    assert DEEPEST_KEY == 50
    assert loads("a" + ".a" * 50 + " = 1\n")
    with pytest.raises(ValueError, match=r"nested too deeply \(at line 2\)"):
        loads("x = 1\na" + ".a" * 51 + " = 1\n")
    dotted = "." * 60
    assert loads(f'x = "{dotted}"\n') == {"x": dotted}, "dots in a value are no key's"
    with pytest.raises(ValueError, match=r"\(at line 1\)"):
        loads("a" + ".a" * 51 + ' = "."\n')


def test_brackets_too_deep_are_pointed_at() -> None:
    deep = "[" * 5000 + "]" * 5000
    for text, line in ((f"x = 1\ny = [[[]]]\nz = {deep}\n", 3), (f"x = {deep}\ny = [[]]\n", 1)):
        with pytest.raises(ValueError, match=rf"nested too deeply \(at line {line}\)"):
            loads(text)
    inline = "x = [[]]\ny = " + "{a = " * 3000 + "1" + "}" * 3000 + "\n"
    with pytest.raises(ValueError, match=r"nested too deeply \(at line 2\)"):
        loads(inline)


def test_every_key_and_table_has_its_line() -> None:
    text = (
        'title = "x"\n'  # 1
        "[mould]  # the long one\n"  # 2
        "volume = 1\n"  # 3
        "[[oils]]\n"  # 4
        'name = "a"\n'  # 5
        "[[oils]]\n"  # 6
        'name = "b"\n'  # 7
        "[[pots]]\n"  # 8
        '"odd key" = 1\n'  # 9
        "[[pots.colourants]]\n"  # 10
        "dose.g = 1\n"  # 11
        "[[pots.colourants]]\n"  # 12
        "[pots.look]\n"  # 13
        "x = 2\n"  # 14
        '["a".b]\n'  # 15
        "  y  =  [\n"  # 16
        "  1 ]\n"  # 17
        "title = 2\n"  # 18
        "title = 3\n"  # 19
    )
    assert key_lines(text) == {
        ("title",): 1,
        ("mould",): 2,
        ("mould", "volume"): 3,
        ("oils",): 4,
        ("oils", 0): 4,
        ("oils", 0, "name"): 5,
        ("oils", 1): 6,
        ("oils", 1, "name"): 7,
        ("pots",): 8,
        ("pots", 0): 8,
        ("pots", 0, "odd key"): 9,
        ("pots", 0, "colourants"): 10,
        ("pots", 0, "colourants", 0): 10,
        ("pots", 0, "colourants", 0, "dose", "g"): 11,
        ("pots", 0, "colourants", 1): 12,
        ("pots", 0, "look"): 13,
        ("pots", 0, "look", "x"): 14,
        ("a",): 15,
        ("a", "b"): 15,
        ("a", "b", "y"): 16,
        ("a", "b", "title"): 18,
    }


def test_a_bracket_that_heads_no_table_is_passed_over() -> None:
    assert key_lines("[\nx = 1\n[] \ny = 2\n") == {("x",): 2, ("y",): 4}
