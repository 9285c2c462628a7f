"""TOML files as makers write them: reading their text, and the line each key stands on.

Nothing slow is imported here: the tables are read before the first screen.
"""

from __future__ import annotations

import errno
import re
import tomllib
from pathlib import Path
from typing import Any

from soapbench.logfile.door import NotAFile, read_file
from soapbench.reading.faults import Fault, FileFaults
from soapbench.reading.safetext import clean

LARGEST_FILE = 1_000_000
"""Bytes; what a person writes has a few thousand."""
DEEPEST_KEY = 50
"""Dots in one key; plans and tables need two."""
Location = tuple[int | str, ...]


def read_text(path: Path) -> str:
    """The text of a small UTF-8 file. Raises FileFaults when it is no such thing."""

    def refuse(wrong: str, right: str, line: int | None = None) -> FileFaults:
        return FileFaults(str(path), [Fault("", wrong, right, line)])

    try:
        data = read_file(path, LARGEST_FILE)
    except NotAFile as error:
        raise refuse(error.strerror or "", "name a file ending in .toml") from None
    except FileNotFoundError:
        raise refuse(
            "there is no such file", "check the name; the bench lists your plans"
        ) from None
    except PermissionError:
        raise refuse("not readable", "check its permissions") from None
    except (OSError, ValueError) as error:
        if isinstance(error, OSError) and error.errno == errno.EFBIG:
            raise refuse("it is far too large", "a page of TOML text") from None
        raise refuse(f"it cannot be read: {error}", "check the disk and the name") from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise refuse("it is not UTF-8 text", "save it as UTF-8 text", line) from None


def parse_text(text: str, file: str) -> dict[str, Any]:
    """The tables of TOML text; ``file`` is what messages call it. Raises FileFaults."""
    try:
        return loads(text)
    except ValueError as error:
        where = re.search(r"at line (\d+)", str(error))
        line = int(where.group(1)) if where else None
        wrong = re.sub(r"\s*\(at .*\)", "", clean(str(error), 200))
        raise FileFaults(
            file, [Fault("", f"it is not TOML: {wrong}", 'key = "value", text in quotes', line)]
        ) from None


def loads(text: str) -> dict[str, Any]:
    """TOML text read by the standard reader. Raises ValueError for whatever it cannot read.

    That reader's time grows with the square of a key's parts: a key of 400,000 would take hours.
    """
    try:
        text.encode()
    except UnicodeEncodeError:
        raise ValueError("half a character in it") from None
    lines = text.splitlines()
    for number, line in enumerate(lines, 1):
        if line.count(".") > DEEPEST_KEY and line.partition("=")[0].count(".") > DEEPEST_KEY:
            raise ValueError(f"nested too deeply (at line {number})")
    try:
        return tomllib.loads(text)
    except RecursionError:
        deepest = max(range(len(lines)), key=lambda i: lines[i].count("[") + lines[i].count("{"))
        raise ValueError(f"nested too deeply (at line {deepest + 1})") from None


_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*[A-Za-z0-9_-]+)*)\s*=""")


def key_lines(text: str) -> dict[Location, int]:
    """Line numbers (from 1) of the tables and keys of TOML text.

    A plain scan for pointing at faults: keys inside inline tables point at the line's own key.
    """
    lines: dict[Location, int] = {}
    counts: dict[Location, int] = {}
    table: Location = ()
    for number, line in enumerate(text.splitlines(), 1):
        if line.lstrip().startswith("[") and (header := _HEADER.match(line)):
            names = [name.strip().strip("\"'") for name in header.group(2).split(".")]
            table = ()
            for i, name in enumerate(names):
                table += (name,)
                lines.setdefault(table, number)
                if header.group(1) == "[[" and i == len(names) - 1:
                    counts[table] = counts.get(table, -1) + 1
                if table in counts:
                    table += (counts[table],)
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            names = [name.strip().strip("\"'") for name in key.group(1).split(".")]
            lines.setdefault(table + tuple(names), number)
    return lines
