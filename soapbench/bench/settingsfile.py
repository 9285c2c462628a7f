"""The maker's settings: ``settings.toml`` in the bench, read with every fault, never fatal."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from pathlib import Path

from soapbench.logfile.tomlfile import key_lines, parse_text, read_text
from soapbench.reading.faults import Fault, FileFaults
from soapbench.settings import Settings, settings_of

FILE = "settings.toml"
FIRST_LINES = "# Settings of this bench. What is not here is as usual.\n"


def read_settings(bench: Path, acts: Iterable[str]) -> tuple[Settings, tuple[Fault, ...]]:
    """The settings in ``bench`` and what is wrong with the file; the usual ones without a file."""
    path = bench / FILE
    if not os.path.exists(path):
        return Settings(), ()
    try:
        text = read_text(path)
        settings, faults = settings_of(parse_text(text, str(path)), frozenset(acts))
    except FileFaults as refused:
        return Settings(), refused.faults
    lines = {".".join(map(str, keys)): line for keys, line in key_lines(text).items()}
    return settings, tuple(replace(fault, line=lines.get(fault.key)) for fault in faults)


def save_settings(bench: Path, settings: Settings) -> None:
    """Write the settings that differ from what the file says; comments and order stay.

    Raises FileFaults when the file there is no TOML, OSError when it cannot be written.
    """
    import tomlkit

    from soapbench.logfile.durable import save_text

    path = bench / FILE
    text = read_text(path) if path.exists() else FIRST_LINES
    parse_text(text, str(path))
    file = tomlkit.parse(text)
    usual = Settings()
    for name, value in _written(settings).items():
        if name in file or value != _written(usual)[name]:
            file[name] = value
    if settings.keys or "keys" in file:
        if not isinstance(file.get("keys"), Mapping):
            file["keys"] = tomlkit.table()
        keys = file["keys"]
        for gone in [name for name in keys if name not in settings.keys]:
            del keys[gone]
        for name, key in settings.keys.items():
            if keys.get(name) != key:
                keys[name] = key
    changed = file.as_string()
    if changed != text or not path.exists():
        save_text(path, changed)


def _written(settings: Settings) -> dict[str, str]:
    return {f.name: str(getattr(settings, f.name)) for f in fields(settings) if f.name != "keys"}
