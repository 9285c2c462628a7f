"""TOML files as makers write them, at their bounds: what is refused, and the line of each key."""

from __future__ import annotations

import errno
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
from soapbench.reading.faults import Fault, FileFaults


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
