"""What is installed is what was locked: by version and hash, and all that is asked for."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
RUN = [*PROJECT["dependencies"], *EXTRAS["browser"], *EXTRAS["build"]]
LOCKS = {"requirements.lock": RUN, ".ci/requirements-test.lock": [*RUN, *EXTRAS["test"]]}


def locked(name: str) -> dict[str, list[tuple[str, int]]]:
    """By package: the versions in a lock file and how many hashes each has."""
    text = (ROOT / name).read_text("utf-8").replace("\\\n", " ")
    pins: dict[str, list[tuple[str, int]]] = {}
    for line in text.splitlines():
        if line.strip() and not line.startswith("#"):
            package, _, rest = line.partition("==")
            version = re.split(r"[\s;]", rest, maxsplit=1)[0]
            hashes = re.findall(r"--hash=sha256:[0-9a-f]{64}\b", rest)
            pins.setdefault(canonicalize_name(package), []).append((version, len(hashes)))
    return pins


@pytest.mark.parametrize("name", LOCKS)
def test_all_that_is_asked_for_is_locked_by_version_and_hash(name: str) -> None:
    pinned = locked(name)
    assert all(hashes for versions in pinned.values() for _, hashes in versions)
    for wanted in map(Requirement, LOCKS[name]):
        versions = pinned.get(canonicalize_name(wanted.name))
        assert versions, f"{wanted.name} is not in {name}"
        assert all(wanted.specifier.contains(version) for version, _ in versions), wanted


def test_both_locks_agree() -> None:
    run, test = (locked(name) for name in LOCKS)
    assert {p: [v for v, _ in versions] for p, versions in run.items()} == {
        p: [v for v, _ in versions] for p, versions in test.items() if p in run
    }


def test_the_commands_take_nothing_else() -> None:
    for file in ("README.md", "DEVELOPERS.md", ".ci/run"):
        text = (ROOT / file).read_text("utf-8")
        installs = re.findall(r"\.venv[\\/]\w+[\\/]pip install[^&\n]*", text)
        assert installs
        assert all("--require-hashes" in i or "--no-deps" in i for i in installs), file


def test_what_each_is_for_is_told() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    section = page.partition("## What it rests on")[2].partition("\n## ")[0]
    rows = [row.split("|")[1] for row in section.splitlines() if row.startswith("| ")]
    named = {name.strip() for row in rows for name in row.split(",")}
    asked = {Requirement(line).name for line in LOCKS[".ci/requirements-test.lock"]}
    assert asked <= named
