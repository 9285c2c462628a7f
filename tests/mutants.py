"""Whether the tests would notice: mutants drawn at random, and the related tests run on each.

    python -m tests.mutants --draw 300 --seed 1 [--only outlook]

A mutant is one small change of one place: a comparison, a sign, a bound, a constant, a condition.
Each is written into a copy of the tree, and the tests that belong to its module run there until the
first that fails. What survives is printed with its change, to be judged: equivalent, or a test is
missing. ``KNOWN_EQUIVALENT`` keeps those judged to change nothing that can be seen.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
RELATED: Mapping[str, Sequence[str]] = {
    "soapbench/thickening": ("tests/thickening", "tests/test_outlook.py"),
    "soapbench/outlook": (
        "tests/test_outlook.py",
        "tests/test_advice.py",
        "tests/test_pour_seen.py",
    ),
    "soapbench/advice": (
        "tests/test_advice.py",
        "tests/test_switching.py",
        "tests/test_together.py",
        "tests/test_pour.py",
        "tests/test_outlook.py",
    ),
    "soapbench/swirls": (
        "tests/test_stages.py",
        "tests/test_moves.py",
        "tests/test_outlook.py",
        "tests/test_advice.py",
    ),
    "soapbench/recipe/amounts.py": ("tests/amounts", "tests/test_check.py"),
    "soapbench/logfile": ("tests/files",),
}
"""Which tests belong to what: those that a contributor would run after changing it."""
LONGEST_S = 300
KNOWN_EQUIVALENT: frozenset[str] = frozenset()

COMPARE = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
BINARY = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change of one place of a file."""

    path: str
    line: int
    column: int
    end_line: int
    end_column: int
    was: str
    becomes: str

    @property
    def name(self) -> str:
        return f"{self.path}:{self.line}:{self.column}"

    def __str__(self) -> str:
        return f"{self.name}  {self.was!r} -> {self.becomes!r}"


def changes(node: ast.AST) -> Iterator[ast.AST]:
    """What ``node`` can be changed into."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in COMPARE:
        yield ast.Compare(node.left, [COMPARE[type(node.ops[0])]()], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in BINARY:
        yield ast.BinOp(node.left, BINARY[type(node.op)](), node.right)
    elif isinstance(node, ast.BoolOp):
        other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield ast.BoolOp(other, node.values)
        yield node.values[0]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield node.operand
    elif isinstance(node, ast.IfExp):
        yield node.body
        yield node.orelse
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLS:
        yield ast.Call(ast.Name(CALLS[node.func.id]), node.args, node.keywords)
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float) and node.value:
        yield ast.Constant(node.value * 2 if isinstance(node.value, float) else node.value + 1)
        yield ast.Constant(0 if isinstance(node.value, int) else 0.0)


def mutants(path: Path) -> list[Mutant]:
    """Every mutant of a file; annotations, docstrings and defaults of typing are left alone."""
    text = path.read_text()
    tree = ast.parse(text)
    skipped = {
        id(below)
        for node in ast.walk(tree)
        for part in (getattr(node, "annotation", None), getattr(node, "returns", None))
        if part is not None
        for below in ast.walk(part)
    }
    found = []
    for node in ast.walk(tree):
        if id(node) in skipped or not hasattr(node, "lineno"):
            continue
        was = ast.get_source_segment(text, node) or ""
        for other in changes(node):
            becomes = f"({ast.unparse(ast.fix_missing_locations(other))})"
            found.append(
                Mutant(
                    path.relative_to(ROOT).as_posix(), node.lineno, node.col_offset,
                    node.end_lineno or 0, node.end_col_offset or 0, was, becomes,
                )
            )  # fmt: skip
    return found


def mutated(text: str, mutant: Mutant) -> str:
    lines = text.encode().splitlines(keepends=True)  # columns of the parser are bytes
    before = b"".join(lines[: mutant.line - 1]) + lines[mutant.line - 1][: mutant.column]
    after = lines[mutant.end_line - 1][mutant.end_column :] + b"".join(lines[mutant.end_line :])
    return (before + mutant.becomes.encode() + after).decode()


def related(path: str) -> list[str]:
    tests = next(tests for start, tests in RELATED.items() if path.startswith(start))
    return [test for test in tests if (ROOT / test).exists()]


def killed(mutant: Mutant, tree: Path) -> bool:
    """Whether a related test fails on it (or does not end).

    Raises LookupError where no test was run at all: that kills nothing.
    """
    path = tree / mutant.path
    text = path.read_text()
    path.write_text(mutated(text, mutant))
    try:
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-x", "-q", "-n0", "-p", "no:cacheprovider",
             *related(mutant.path)],
            cwd=tree, capture_output=True, timeout=LONGEST_S,
            env={**os.environ, "PYTHONPATH": str(tree), "OMP_NUM_THREADS": "1"}, check=False,
        )  # fmt: skip
        if done.returncode in (pytest.ExitCode.USAGE_ERROR, pytest.ExitCode.NO_TESTS_COLLECTED):
            raise LookupError(f"no tests were run on {mutant}: {done.stderr.decode()[-300:]}")
        return done.returncode != 0
    except subprocess.TimeoutExpired:
        return True
    finally:
        path.write_text(text)


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--draw", type=int, default=300)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", default="", help="modules with this in their path")
    asked = options.parse_args()
    files = sorted(
        path
        for start in RELATED
        for path in ([ROOT / start] if start.endswith(".py") else (ROOT / start).glob("*.py"))
        if asked.only in path.as_posix()
    )
    every = [mutant for path in files for mutant in mutants(path)]
    drawn = random.Random(asked.seed).sample(every, min(asked.draw, len(every)))
    survived: list[Mutant] = []
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".git", ".venv", "__pycache__"))
        for i, mutant in enumerate(drawn, 1):
            if mutant.name in KNOWN_EQUIVALENT:
                continue
            if not killed(mutant, tree):
                survived.append(mutant)
                print(f"survived  {mutant}", flush=True)
            if i % 20 == 0:
                spent = time.monotonic() - began
                print(f"{i} of {len(drawn)}, {len(survived)} survived, {spent:.0f} s", flush=True)
    print(f"{len(drawn)} drawn of {len(every)}, {len(survived)} survived")
    return 0


if __name__ == "__main__":
    sys.exit(main())
