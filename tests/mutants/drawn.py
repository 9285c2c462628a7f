"""Mutants: small changes of one place each, drawn at random.

A comparison, a sign, a bound, a constant, a condition. Decorators (frozen, slots), annotations and
text are left alone.
"""

from __future__ import annotations

import ast
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

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
    start: int
    """Byte at which the change starts, and before which it ends."""
    end: int
    becomes: str
    line: int
    lines: tuple[int, int]
    """First and last line of the statement, or of the condition at its head: one of them is run
    whenever the place is."""
    source: str
    """The line it starts in, as it stands, and which place in it: what names the mutant, so that
    the name outlives what is added above it."""
    column: int
    was: str
    of_module: bool
    """Whether it stands outside of every function: run when the module is imported."""

    @property
    def key(self) -> tuple[str, str, int, str]:
        return self.path, self.source, self.column, self.becomes

    @property
    def change(self) -> str:
        return f"{self.source}\n    {self.was!r} -> {self.becomes!r}"

    def __str__(self) -> str:
        return f"{self.path}:{self.line}  {self.change}"

    def into(self, text: bytes) -> bytes:
        return text[: self.start] + self.becomes.encode() + text[self.end :]


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


def _left_alone(node: ast.AST) -> Iterator[ast.AST]:
    for name in ("annotation", "returns"):
        if getattr(node, name, None) is not None:
            yield getattr(node, name)
    yield from getattr(node, "decorator_list", ())
    if isinstance(node, ast.JoinedStr):
        yield node  # its parts have no place of their own before Python 3.12


def mutants(path: Path, root: Path) -> list[Mutant]:
    """Every mutant of a file."""
    text = path.read_text()
    lines = text.splitlines(keepends=True)
    offsets = [0]
    for line in lines:
        offsets.append(offsets[-1] + len(line.encode()))
    tree = ast.parse(text)
    skipped = {
        id(below)
        for node in ast.walk(tree)
        for part in _left_alone(node)
        for below in ast.walk(part)
    }
    inside = {
        id(below)
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for statement in (node.body if isinstance(node.body, list) else [node.body])
        for below in ast.walk(statement)
    }
    simple = {
        id(below): (node.lineno, node.end_lineno)
        for node in ast.walk(tree)
        if isinstance(node, ast.stmt) and not hasattr(node, "body")
        for below in ast.walk(node)
    }
    return [
        Mutant(
            path=path.relative_to(root).as_posix(),
            start=offsets[node.lineno - 1] + node.col_offset,
            end=offsets[node.end_lineno - 1] + node.end_col_offset,
            becomes=f"({ast.unparse(ast.fix_missing_locations(other))})",
            line=node.lineno,
            lines=simple.get(id(node), (node.lineno, node.end_lineno)),
            source=lines[node.lineno - 1].strip(),
            column=node.col_offset,
            was=" ".join((ast.get_source_segment(text, node) or "").split()),
            of_module=id(node) not in inside,
        )
        for node in ast.walk(tree)
        if id(node) not in skipped and isinstance(node, ast.expr)
        for other in changes(node)
    ]


def drawn(every: list[Mutant], count: int, seed: int) -> list[Mutant]:
    """``count`` at random: what is drawn of a place does not change with what stands elsewhere."""
    return sorted(every, key=lambda m: random.Random(f"{seed} {m.key}").random())[:count]
