"""Every value of every packaged table carries where it is from and how far that was verified."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any

import pytest

from soapbench.reading.entries import MARKS

DATA = {
    path.name: path.read_text("utf-8")
    for path in files("soapbench").joinpath("data").iterdir()
    if path.name.endswith(".toml")
}
NO_VALUES = {*MARKS, "aliases", "document"}


def unmarked(table: Mapping[str, Any], marks: frozenset[str], where: str) -> Iterator[str]:
    """Keys of values with no source or no verification mark beside or around them."""
    marks |= {
        mark for mark in MARKS if isinstance(table.get(mark), str) and len(table[mark].strip()) > 3
    }
    for key, value in table.items():
        here = f"{where}.{key}"
        below = value if isinstance(value, list) else [value]
        if any(isinstance(item, Mapping) for item in below):
            for item in below:
                yield from unmarked(item, marks, here)
        elif key not in NO_VALUES and marks != set(MARKS):
            yield here


def test_the_tables_are_there() -> None:
    assert {"oils.toml", "colourants.toml", "cautions.toml", "swirls.toml"} <= set(DATA)
    assert all(len(tomllib.loads(text)) >= 3 for text in DATA.values())


@pytest.mark.parametrize("name", DATA)
def test_every_value_is_marked(name: str) -> None:
    assert list(unmarked(tomllib.loads(DATA[name]), frozenset(), name)) == []


def test_a_bare_value_is_found() -> None:
    """The check itself: one group without, one with only half of its marks."""
    table = tomllib.loads(
        'a.source = "a book"\na.verified = "read there"\na.x.value = 1\n'
        'b.value = 1\nc.source = "a book"\nc.list = [{ value = 1 }]'
    )
    assert list(unmarked(table, frozenset(), "t")) == ["t.b.value", "t.c.list.value"]
