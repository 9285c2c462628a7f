"""TOML text of plain data, and a quick way to read it back.

A bench of 10,000 logs is read in one go when its index is rebuilt, and the standard reader
takes a few MB/s. What ``tomli_w`` writes for plain data is regular enough to be read line by
line, with JSON's reader for whatever is escaped; anything else is left to ``tomllib``.

``rtoml`` reads the same text in under half of our time (0.8 for 1.9 ms, five logs) and ``tomllib``
takes 7 ms; but a log's lesson takes longer than its text, so that making an index anew would gain
a quarter (0.70 for 0.93 s, 200 logs). That is not worth a compiled dependency.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time
from functools import lru_cache
from numbers import Integral, Real
from typing import Any

SURROGATE = re.compile("[\ud800-\udfff]")
HALF_ESCAPED = re.compile(r"\\u[dD][89a-fA-F]")


def plain(value: object) -> Any:
    """``value`` as TOML can hold it: None left out, what TOML does not know as its ``str``."""
    if isinstance(value, str):
        return SURROGATE.sub("\ufffd", str.__str__(value))  # UTF-8 has no lone surrogates
    if isinstance(value, datetime):
        offset = value.utcoffset()
        if offset is not None and offset.total_seconds() % 60:
            return value.astimezone(UTC)  # TOML writes offsets in whole minutes
        return value
    if isinstance(value, (bool, date)) or (isinstance(value, time) and value.tzinfo is None):
        return value
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        return float(value)
    if isinstance(value, Mapping):
        return {plain(str(k)): plain(v) for k, v in value.items() if v is not None}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value if v is not None]
    return plain(str(value))


def table_text(name: str, table: Mapping[str, Any]) -> str:
    """``table`` (already plain) as ``[name]`` and its sub-tables, no inline tables if avoidable.

    ``name`` is a finished TOML key. Tables in an array are always written as ``[[name.key]]``.
    """
    return f"[{name}]\n" + _body(name, table)


def _body(name: str, table: Mapping[str, Any]) -> str:
    import tomli_w

    flat: dict[str, Any] = {}
    nested: list[str] = []
    for key, value in table.items():
        if isinstance(value, Mapping):
            nested.append("\n" + table_text(f"{name}.{key_text(key)}", value))
        elif isinstance(value, list) and value and all(isinstance(v, Mapping) for v in value):
            inner = f"{name}.{key_text(key)}"
            nested.extend(f"\n[[{inner}]]\n" + _body(inner, v) for v in value)
        else:
            flat[key] = value
    return tomli_w.dumps(flat) + "".join(nested)


def key_text(key: str) -> str:
    """``key`` as TOML writes it, quoted where it must be."""
    import tomli_w

    return tomli_w.dumps({key: 0}).removesuffix(" = 0\n")


def parse(text: str) -> dict[str, Any]:
    """The document in ``text``, which is known to be whole. ValueError if it is not TOML."""
    try:
        if not HALF_ESCAPED.search(text):  # JSON knows half a character, TOML does not
            return _quick(text)
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
        pass  # not written the regular way: the full reader decides
    from soapbench.logfile.tomlfile import loads

    return loads(text)


def _quick(text: str) -> dict[str, Any]:
    root: dict[str, Any] = {}
    here = root
    lines = iter(text.split("\n"))
    for line in lines:
        if not line:
            continue
        if line[0] == "[":
            here = _table(root, line)
            continue
        table = here
        if line[0] == '"':
            key, equals, value = line[1:].partition('" = ')
            plain_key = '"' not in key and "\\" not in key
        else:
            key, equals, value = line.partition(" = ")
            if "." in key:
                outer, _, key = key.partition(".")
                table = here.setdefault(outer, {})
            plain_key = key.isidentifier() or key.replace("-", "_").isidentifier()
        if not equals or not plain_key or key in table:
            raise ValueError(line)
        first = value[0]
        if first == '"' and "\\" not in value and value.find('"', 1) == len(value) - 1 > 0:
            table[key] = value[1:-1]
        elif first in '"[':
            table[key] = json.loads(_array(lines) if value == "[" else value)
        else:
            table[key] = _bare(value)
    return root


def _table(root: dict[str, Any], line: str) -> dict[str, Any]:
    known = _named if len(line) < LONG_NAME else _named.__wrapped__
    outer, last, many = known(line)
    here = root
    for name in outer:
        inner = here.setdefault(name, {})
        here = inner[-1] if isinstance(inner, list) else inner
    if many:
        here.setdefault(last, []).append({})
        return here[last][-1]  # type: ignore[no-any-return]
    if last in here:
        raise ValueError(line)
    here[last] = {}
    return here[last]  # type: ignore[no-any-return]


LONG_NAME = 200
"""What is longer is not kept: nobody's log is to fill the memory."""


@lru_cache(maxsize=256)  # the same few in every log
def _named(line: str) -> tuple[tuple[str, ...], str, bool]:
    """The tables it lies in, its own name, and whether it is one of several."""
    many = line.startswith("[[")
    bare, quote, quoted = (line[2:-2] if many else line[1:-1]).partition('."')
    names = bare.split(".")
    if line[-1] != "]" or not all(n.replace("-", "_").isidentifier() for n in names):
        raise ValueError(line)
    if quote:
        if quoted[-1:] != '"' or '"' in quoted[:-1] or "\\" in quoted:
            raise ValueError(line)
        names.append(quoted[:-1])
    return tuple(names[:-1]), names[-1], many


def _array(lines: Iterator[str]) -> str:
    items: list[str] = []
    for line in lines:
        if line == "]":
            return "[" + " ".join(items).removesuffix(",") + "]"
        if line.strip().startswith("["):
            raise ValueError(line)  # nested arrays are rare enough for the full reader
        items.append(line)
    raise ValueError("array without end")


def _bare(value: str) -> Any:
    if value == "true":
        return True
    if value == "false":
        return False
    if len(value) > 18 and value[4] == "-":
        return datetime.fromisoformat(value)
    if "_" in value or not value.isascii():
        raise ValueError(value)
    if "." in value:
        return float(value)
    try:
        return int(value)
    except ValueError:
        return float(value)
