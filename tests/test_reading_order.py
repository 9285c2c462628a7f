"""What DEVELOPERS.md and the packages say of the house's order names only what is there."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
HOUSE = ROOT / "soapbench"
PAGE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
SAID = PAGE[PAGE.index("## The house") : PAGE.index("## What it rests on")]
NAMED = set(re.findall(r"`([^`\n]+)`", SAID))
FILES = {name for name in NAMED if name.endswith((".py", "/")) and not name.startswith(".")}
WITHIN = {name for name in NAMED - FILES if re.fullmatch(r"[A-Za-z_/]+[./][\w./]+(?<!toml)", name)}
ORDERED = sorted(
    p.parent for p in HOUSE.glob("*/__init__.py") if p.parent.name not in ("words", "ui", "data")
)
"""Not ``words``, a module a kind of them, nor screens."""


@cache
def _names(file: Path) -> frozenset[str]:
    """What a module defines or brings in, and the same of its classes as Class.name."""
    defined = set()
    for node in ast.parse(file.read_text("utf-8")).body:
        if isinstance(node, ast.FunctionDef):
            defined.add(node.name)
        elif isinstance(node, ast.ClassDef):
            own = (part.name for part in node.body if isinstance(part, ast.FunctionDef))
            defined |= {node.name, *(f"{node.name}.{name}" for name in own)}
    return frozenset(defined)


def _is_there(named: str) -> bool:
    """``named``: a module, or what stands in one; of a class alone, in any module."""
    if named[0].isupper():
        return any(named in _names(file) for file in HOUSE.rglob("*.py"))
    parts = re.split(r"[./]", named)
    for n in range(len(parts), 0, -1):
        file = HOUSE.joinpath(*parts[:n]).with_suffix(".py")
        if file.exists():
            return n == len(parts) or ".".join(parts[n:]) in _names(file)
    return False


def test_files_named_are_there() -> None:
    assert len(FILES) > 40
    assert [f for f in FILES if not ((HOUSE / f).exists() or (ROOT / f).exists())] == []


def test_functions_named_are_there() -> None:
    assert len(WITHIN) > 12
    assert [name for name in WITHIN if not _is_there(name)] == []
    assert not _is_there("sheet/weighing.never_there")


def test_all_that_stands_at_the_top_has_its_place_on_the_page() -> None:
    top = {f"{p.name}/" if p.is_dir() else p.name for p in HOUSE.iterdir()}
    top = {name for name in top if not name.startswith("__") and name not in ("py.typed", "data/")}
    assert sorted(top - FILES) == []


@pytest.mark.parametrize("package", ORDERED, ids=lambda p: p.name)
def test_a_package_says_in_which_order_all_its_modules_are_read(package: Path) -> None:
    doc = ast.get_docstring(ast.parse((package / "__init__.py").read_text("utf-8"))) or ""
    named = set(re.findall(r"``(\w+)``", doc))
    modules = {p.stem for p in package.iterdir() if p.suffix == ".py" and p.stem[0] != "_"}
    modules |= {p.name for p in package.iterdir() if (p / "__init__.py").exists()}
    assert sorted(modules - named) == []
