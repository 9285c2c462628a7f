"""What both lock files pin against published advisories: without a network, by files of them.

    python -m tests.advisories --advisories FILE [FILE ...]

A FILE is JSON of the OSV schema, one advisory or a list of them, a folder of such files, or a zip
of them as the databases hand them out. Exit code 0: nothing known; 1: something is; 2: unreadable.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from packaging.utils import canonicalize_name
from packaging.version import InvalidVersion, Version

ROOT = Path(__file__).parents[1]
LOCKS = (ROOT / "requirements.lock", ROOT / ".ci" / "requirements-test.lock")
ECOSYSTEM = "PyPI"
_PINNED = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", re.M)


class Known(NamedTuple):
    """An advisory that holds for a version that is pinned."""

    package: str
    version: str
    id: str
    summary: str
    fixed: tuple[str, ...]

    @property
    def words(self) -> str:
        mended = f"; mended in {', '.join(self.fixed)}" if self.fixed else ""
        return f"{self.package} {self.version}: {self.id} {self.summary}{mended}"


Pins = frozenset[tuple[str, str]]
"""Packages, by their names as normalized, with a version; one may have another for each Python."""


def pinned(lock: str) -> Pins:
    """What the text of a lock file pins."""
    return frozenset((canonicalize_name(name), version) for name, version in _PINNED.findall(lock))


def known(pins: Pins, advisories: Iterable[Mapping[str, Any]]) -> Iterator[Known]:
    """Advisories that hold for what is pinned; one that was withdrawn holds for nothing."""
    for advisory in advisories:
        if advisory.get("withdrawn"):
            continue
        for affected in advisory.get("affected", ()):
            package = affected.get("package", {})
            name = canonicalize_name(str(package.get("name", "")))
            if package.get("ecosystem") != ECOSYSTEM:
                continue
            events = [e for r in affected.get("ranges", ()) for e in r.get("events", ())]
            fixed = tuple(str(e["fixed"]) for e in events if "fixed" in e)
            for pin, version in pins:
                if pin == name and _holds(version, affected):
                    summary = str(advisory.get("summary", ""))
                    yield Known(name, version, str(advisory["id"]), summary, fixed)


def _holds(version: str, affected: Mapping[str, Any]) -> bool:
    if version in affected.get("versions", ()):
        return True
    return any(
        _within(version, listed.get("events", ()))
        for listed in affected.get("ranges", ())
        if listed.get("type") == "ECOSYSTEM"
    )


def _within(version: str, events: Iterable[Mapping[str, str]]) -> bool:
    """As the schema evaluates a range: its events in order of their versions, the last one up to
    ``version`` decides. A version that PEP 440 does not know is taken for the earliest."""
    held = False
    mine = _order(version)
    bounds = [(kind, at) for event in events for kind, at in event.items()]
    for kind, at in sorted(bounds, key=lambda event: _order(event[1])):
        if kind == "introduced" and _order(at) <= mine:
            held = True
        elif (kind == "fixed" and _order(at) <= mine) or (
            kind == "last_affected" and _order(at) < mine
        ):
            held = False
    return held


def _order(version: str) -> Version:
    try:
        return Version("0.dev0" if version == "0" else version)
    except InvalidVersion:
        return Version("0.dev0")


def read(place: Path) -> Iterator[Mapping[str, Any]]:
    """The advisories in a file, a folder or a zip. Raises OSError, ValueError."""
    if place.is_dir():
        for file in sorted(place.rglob("*.json")):
            yield from read(file)
    elif zipfile.is_zipfile(place):
        with zipfile.ZipFile(place) as held:
            for name in held.namelist():
                if name.endswith(".json"):
                    yield from _listed(json.loads(held.read(name)))
    else:
        yield from _listed(json.loads(place.read_bytes()))


def _listed(written: Any) -> Iterator[Mapping[str, Any]]:
    listed = written.get("vulns", [written]) if isinstance(written, dict) else written
    if not isinstance(listed, list) or not all(
        isinstance(one, dict) and "id" in one for one in listed
    ):
        raise ValueError("no advisories of the OSV schema")
    yield from listed


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--advisories", type=Path, nargs="+", required=True)
    parser.add_argument("--lock", type=Path, nargs="+", default=LOCKS)
    args = parser.parse_args(argv)
    try:
        pins = frozenset[tuple[str, str]]().union(
            *(pinned(lock.read_text("utf-8")) for lock in args.lock)
        )
        advisories = [one for place in args.advisories for one in read(place)]
    except (OSError, ValueError, zipfile.BadZipFile) as error:
        print(f"cannot be read: {error}", file=sys.stderr)
        return 2
    hits = sorted(set(known(pins, advisories)))
    for one in hits:
        print(one.words)
    print(f"{len(advisories)} advisories, {len(pins)} pins, {len(hits)} known")
    return int(bool(hits))


if __name__ == "__main__":
    sys.exit(main())
