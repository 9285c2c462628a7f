"""The maker's own table of fragrances, ``tables/fragrances.toml``, changed one value at a time."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from soapbench.logfile.durable import save_text
from soapbench.logfile.tomlfile import parse_text, read_text

FILE = "fragrances.toml"
FIRST_LINES = """\
# Fragrances on this bench; limits are those of their own certificates, for this kind of product.
# Each: limit_percent, reputation, density_g_ml, lot, note, vanillin_percent; what is not known is
# left out. allergens_percent = { Linalool = 2.1 } as its certificate has them, for a label.
"""


def text_of(tables: Path) -> str:
    """The file's text, or that of an empty one. Raises FileFaults."""
    path = tables / FILE
    return read_text(path) if path.exists() else FIRST_LINES


def entries(text: str) -> dict[str, Mapping[str, Any]]:
    """Each fragrance's keys as written. Raises FileFaults when it is no TOML."""
    tables = parse_text(text, FILE)
    return {name: said for name, said in tables.items() if isinstance(said, Mapping)}


def with_value(text: str, name: str, key: str, value: str | float | None) -> str:
    """The text with one value of a fragrance changed; a name not there yet is added."""
    import tomlkit

    file = tomlkit.parse(text)
    if name not in file:
        table = tomlkit.table()
        table.add(tomlkit.nl())
        file[name] = table
    entry: Any = file[name]
    if value is None:
        entry.pop(key, None)
    elif entry.get(key) != value:
        entry[key] = value
    return file.as_string()


def renamed(text: str, name: str, new: str) -> str:
    """The text with a fragrance under another name; its place and comments stay."""
    import tomlkit

    if new == name or new in entries(text):
        return text
    header, kept = tomlkit.table(), []
    header[name], header[new] = "", ""
    old_key, new_key = (line.partition(" = ")[0] for line in header.as_string().splitlines())
    for line in text.splitlines(keepends=True):
        bare = line.strip()
        written = bare[1 : bare.find("]")].strip() if bare.startswith("[") else ""
        same = written in (old_key, name) or written.strip("'\"") == name
        kept.append(line.replace(f"[{written}]", f"[{new_key}]", 1) if written and same else line)
    return "".join(kept)


def without(text: str, name: str) -> str:
    import tomlkit

    file = tomlkit.parse(text)
    file.pop(name, None)
    return file.as_string()


def save(tables: Path, text: str) -> None:
    """Write the file, durable. Raises OSError."""
    save_text(tables / FILE, text)
