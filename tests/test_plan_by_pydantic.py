"""Anybody's pydantic reads a plan as our reader does, which only asks the engine sooner."""

from __future__ import annotations

import copy
import random
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, Any

import pytest
from pydantic import TypeAdapter, ValidationError

from soapbench.plan import Plan
from soapbench.plan.reader import read_tables
from soapbench.plan.values import Size
from tests.fakes import SAMPLES

ADAPTER = TypeAdapter(Plan)
TABLES = {path.name: tomllib.loads(path.read_text()) for path in sorted(SAMPLES.glob("*.toml"))}
STRANGE: tuple[Any, ...] = (
    "", "0 %", "-3 %", "250 %", "1 parsec", "12 cm", "3 °C", "yes", "\x1b[31m", "é" * 90, 7, 0.5,
    True, [], {}, [[]], ["drop swirl"], {"name": "x"}, "each pot", "NaOH", "#12345g", "#ABCDEF",
)  # fmt: skip


def places(value: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Where something stands in the tables of a plan."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for key, below in inner:
        yield (*at, key)
        if isinstance(below, dict | list):
            yield from places(below, (*at, key))


def fuzzed(tables: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    """One place of a plan changed or gone."""
    spoilt = copy.deepcopy(tables)
    *path, last = rng.choice(list(places(spoilt)))
    here = spoilt
    for key in path:
        here = here[key]
    if rng.random() < 0.3:
        del here[last]
    else:
        here[last] = rng.choice(STRANGE)
    return spoilt


def by_pydantic(tables: dict[str, Any]) -> Plan | None:
    try:
        return ADAPTER.validate_python(tables)
    except ValidationError:
        return None


def by_us(tables: dict[str, Any]) -> Plan | None:
    try:
        return read_tables(tables)
    except ValidationError:
        return None


@pytest.mark.parametrize("name", TABLES)
def test_a_sample_is_the_same_plan_both_ways(name: str) -> None:
    ours = by_us(TABLES[name])
    assert ours is not None
    assert by_pydantic({**TABLES[name], "assumed": list(ours.assumed)}) == ours


@pytest.mark.parametrize("name", TABLES)
def test_a_fuzzed_plan_is_refused_or_read_alike(name: str) -> None:
    rng = random.Random(name)
    both = refused = 0
    for _ in range(150):
        tables = {**fuzzed(TABLES[name], rng), "assumed": []}
        ours, theirs = by_us(tables), by_pydantic(tables)
        assert (ours is None) == (theirs is None), tables
        assert ours is None or theirs is None or replace(ours, assumed=()) == theirs
        both += ours is not None
        refused += ours is None
    assert min(both, refused) > 10


def test_a_size_of_what_has_none_is_refused() -> None:
    @dataclass
    class Wrong:
        number: Annotated[float, Size(1, 3)]

    with pytest.raises(TypeError, match="no size can be checked"):
        TypeAdapter(Wrong)
