"""The maker's own tables, ``tables/*.toml``, changed one value at a time; comments and order stay.

Text in, text out, but for reading and saving. An entry is a table of its own: ``[olive]``, or
``[swirl."spoon spiral"]`` where the file keeps its entries under a name.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, MutableMapping, Sequence
from pathlib import Path
from typing import Any

from soapbench.logfile.durable import save_text
from soapbench.logfile.tomlfile import parse_text, read_text

Place = tuple[int | str, ...]
"""Keys that lead to an entry or a value of it."""


def text_of(tables: Path, file: str, first_lines: str = "") -> str:
    """The file's text, or that of an empty one. Raises FileFaults."""
    path = tables / file
    return read_text(path) if path.exists() else first_lines


def entries(text: str, under: str = "") -> dict[str, Mapping[str, Any]]:
    """Each entry's keys as written. Raises FileFaults when it is no TOML."""
    tables = parse_text(text, "the table")
    rows = tables.get(under, {}) if under else tables
    return {name: entry for name, entry in rows.items() if isinstance(entry, Mapping)}


def with_value(text: str, path: Place, value: Any) -> str:
    """The text with the value at ``path`` changed; None takes it out. Tables on the way are made.

    A value that is already there, and its comment, are not written again.
    """
    import tomlkit

    file = tomlkit.parse(text)
    here: Any = file
    for depth, part in enumerate(path[:-1]):
        if isinstance(part, str) and part not in here:
            if value is None:
                return text
            here[part] = tomlkit.inline_table() if depth > 1 else _new_table(depth)
        here = here[part]
    last = path[-1]
    if value is None:
        if isinstance(here, MutableMapping):
            here.pop(last, None)
        _drop_empty(file, path[:-1])
    elif not isinstance(here, Mapping) or here.get(last) != value:
        here[last] = value
    return str(file.as_string())


def _new_table(depth: int) -> Any:
    import tomlkit

    table = tomlkit.table(is_super_table=False)
    if depth == 0:
        table.add(tomlkit.nl())
    return table


def _drop_empty(file: Any, path: Place) -> None:
    """An empty group within an entry says nothing: it goes, too."""
    here = file
    for part in path[:-1]:
        here = here[part]
    if len(path) > 1 and isinstance(here.get(path[-1]), Mapping) and not here[path[-1]]:
        del here[path[-1]]


def with_entry(text: str, path: Place, entry: Mapping[str, Any]) -> str:
    """The text with one more entry at its end."""
    import tomlkit

    lists = {key: value for key, value in entry.items() if _is_tables(value)}
    whole: dict[str, Any] = {key: value for key, value in entry.items() if key not in lists}
    for part in reversed(path):
        whole = {str(part): whole}
    changed = tomlkit.dumps(whole)
    for key, rows in lists.items():
        inner = ",\n".join(f"  {_inline(row)}" for row in rows)
        changed += f"{key} = [\n{inner},\n]\n"
    return text.rstrip("\n") + ("\n\n" if text.strip() else "") + changed


def _inline(row: Mapping[str, Any]) -> str:
    import tomlkit

    table = tomlkit.inline_table()
    table.update(row)
    return str(table.as_string())


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)


def renamed(text: str, path: Place, new: str) -> str:
    """The text with the entry at ``path`` under another name; its place and comments stay."""
    import tomlkit

    kept = []
    for line in text.splitlines(keepends=True):
        keys = _header(line)
        if keys[: len(path)] == list(path):
            renamed_keys = [*path[:-1], new, *keys[len(path) :]]
            head = ".".join(tomlkit.key(str(key)).as_string() for key in renamed_keys)
            opens = "[[" if line.lstrip().startswith("[[") else "["
            closes = opens.replace("[", "]")
            kept.append(f"{opens}{head}{closes}" + line[line.rindex("]", 0, _comment(line)) + 1 :])
        else:
            kept.append(line)
    return "".join(kept)


def _comment(line: str) -> int:
    """Where a header's comment begins; its end where there is none."""
    for at, sign in enumerate(line):
        if sign == "#" and _header(line[:at]):
            return at
    return len(line)


def _header(line: str) -> Sequence[str]:
    """The keys of a table's header line; none where it is no header."""
    if not line.lstrip().startswith("["):
        return []
    try:
        here: Any = tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return []
    keys = []
    while isinstance(here, dict) and len(here) == 1:
        ((key, here),) = here.items()
        keys.append(key)
    return keys


def without(text: str, path: Place) -> str:
    """The text without the entry at ``path``."""
    import tomlkit

    file = tomlkit.parse(text)
    here: Any = file
    for part in path[:-1]:
        here = here[part]
    here.pop(path[-1], None)
    return str(file.as_string())


def save(tables: Path, file: str, text: str) -> None:
    """Write the file, durable. Raises OSError."""
    save_text(tables / file, text)
