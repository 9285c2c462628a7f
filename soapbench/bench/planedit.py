"""Changing a plan's text one value at a time: comments, order and spacing stay as they were.

Every function takes TOML text and gives TOML text back; nothing is read from or written to disk.
"""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT

from soapbench.logfile.tomlfile import Location
from soapbench.reading.units import QuantityError
from soapbench.words.quantities import times

ORDER = ("title", "mould", "oils", "lye", "conditions", "fragrance", "pots", "swirl")


def with_value(text: str, keys: Location, value: str | Sequence[str] | None) -> str:
    """The text with ``keys`` set to ``value``; None takes the key out. Tables on the way are made.

    A value that is already there, and its comment, are not written again. Raises KeyError or
    IndexError for a row that is not there.
    """
    plan = tomlkit.parse(text)
    here: Any = plan
    for i, part in enumerate(keys[:-1]):
        if isinstance(part, str) and part not in here:
            if value is None:
                return text
            several = isinstance(keys[i + 1], int)
            here[part] = tomlkit.aot() if several else tomlkit.table()
        here = here[part]
    last = keys[-1]
    if value is None:
        if isinstance(here, MutableMapping) and last in here:
            del here[last]
        return plan.as_string()
    wanted = value if isinstance(value, str) else list(value)
    there = here.get(last) if isinstance(here, Mapping) else None
    if there == wanted:
        return text
    here[last] = wanted
    return plan.as_string()


def with_row(text: str, keys: Location, row: Mapping[str, Any]) -> str:
    """The text with one more table at the end of the list of tables ``keys``.

    A single ``[fragrance]`` becomes the first of two. Raises KeyError for a list in no table.
    """
    plan = tomlkit.parse(text)
    here: Any = plan
    for part in keys[:-1]:
        here = here[part]
    name = keys[-1]
    table = tomlkit.table()
    for key, value in row.items():
        table[key] = value
    table.add(tomlkit.nl())
    rows = here.get(name)
    if isinstance(rows, AoT):
        rows.append(table)
    elif isinstance(rows, list):  # written inline, [{ … }, { … }]
        inline = tomlkit.inline_table()
        inline.update(row)
        rows.append(inline)
    else:
        several = tomlkit.aot()
        if isinstance(rows, Mapping):
            first = tomlkit.table()
            for key, value in rows.items():
                first[key] = value
            several.append(first)
        several.append(table)
        here[name] = several
    return plan.as_string()


def without_row(text: str, keys: Location) -> str:
    """The text without the row (or table) ``keys`` leads to."""
    plan = tomlkit.parse(text)
    here: Any = plan
    for part in keys[:-1]:
        here = here[part]
    del here[keys[-1]]
    if isinstance(here, list) and not here:
        return without_row(text, keys[:-1])
    return plan.as_string()


def from_tables(tables: Mapping[str, Any], first_lines: str = "") -> str:
    """A plan as text: of an earlier batch, from the plan in its log."""
    plan = tomlkit.document()
    mould = tables.get("mould")
    if isinstance(mould, Mapping) and mould.get("also"):
        first = {key: value for key, value in mould.items() if key != "also"}
        tables = {**tables, "mould": [first, *mould["also"]]}
    for name in (*ORDER, *(key for key in tables if key not in ORDER)):
        if name in tables:
            plan[name] = _laid_out(name, tables[name])
    return first_lines + plan.as_string()


def _laid_out(name: str, value: Any) -> Any:
    """Tables as blocks of their own, not on one line."""
    if isinstance(value, Mapping):
        table = tomlkit.table()
        for key, inner in value.items():
            table[key] = _laid_out(key, inner)
        return table
    if isinstance(value, list) and value and all(isinstance(row, Mapping) for row in value):
        if name == "fragrance" and len(value) == 1:
            return _laid_out(name, value[0])
        rows = tomlkit.aot()
        for row in value:
            rows.append(_laid_out("", row))
        return rows
    return value


def scaled(text: str, factor: float) -> str:
    """The text with every mass and dose so many times over, for another mould.

    Shares follow the mould by themselves. A quantity that cannot be read is left as it is.
    """
    plan = tomlkit.parse(text)
    for row, keys in [
        *((oil, ("mass",)) for oil in _rows(plan, "oils")),
        *((additive, ("dose",)) for additive in _rows(plan, "additives")),
        *(
            (colourant, ("dose", "liquid"))
            for pot in _rows(plan, "pots")
            for colourant in _rows(pot, "colourants")
        ),
    ]:
        for key in keys:
            if isinstance(row.get(key), str):
                try:
                    row[key] = times(str(row[key]), factor)
                except QuantityError:
                    continue
    return plan.as_string()


def _rows(table: Mapping[str, Any], name: str) -> list[Any]:
    rows = table.get(name)
    return [row for row in rows if isinstance(row, Mapping)] if isinstance(rows, list) else []


def with_changes(text: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """The text with what differs between two plans, as written tables; all else stays.

    Rows of a list of tables go by their names; a row that ``after`` has no more is taken out.
    """
    return _differing(text, (), before, after)


def _differing(text: str, keys: Location, before: Mapping[str, Any], after: Any) -> str:
    for key in dict.fromkeys((*before, *after)):
        old, new = before.get(key), after.get(key)
        if old == new:
            continue
        where = (*keys, key)
        if isinstance(old, Mapping) and isinstance(new, Mapping):
            text = _differing(text, where, old, new)
        elif _is_rows(old) and _is_rows(new):
            text = _differing_rows(text, where, list(old or ()), list(new or ()))
        else:
            text = with_value(text, where, new)
    return text


def _is_rows(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(row, Mapping) for row in value)


def _differing_rows(text: str, keys: Location, before: list[Any], after: list[Any]) -> str:
    kept = {row.get("name"): row for row in after}
    if len(before) == 1 and isinstance(_at(text, keys), Mapping):  # written as one table
        return (
            _differing(text, keys, before[0], after[0]) if after else with_value(text, keys, None)
        )
    for i, row in enumerate(before):
        if row.get("name") in kept:
            text = _differing(text, (*keys, i), row, kept[row.get("name")])
    for i in reversed(range(len(before))):
        if before[i].get("name") not in kept:
            text = without_row(text, (*keys, i))
    return text


def _at(text: str, keys: Location) -> Any:
    here: Any = tomlkit.parse(text)
    for part in keys:
        here = here.get(part) if isinstance(here, Mapping) else None
    return here
