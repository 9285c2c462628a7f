"""Said as makers say it: no text a person can meet holds a word that was given up."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "soapbench"
RETIRED = {
    r"\b[Ss]cent\b|\b[Ss]cents\b|\bscent book\b": "fragrance, fragrance book",
    r"\b[Tt]aken? back\b|\b[Tt]akes back\b|\b[Tt]ake the end back\b": "undo",
    r"\b[Ll]eft out\b|\b[Ll]eave out\b": "skip, cancel, not used",
    r"\bkeyed in\b|\bnothing is keyed\b": "press, mark, tap",
    r"\b[Pp]ut right\b|\bput this right\b|\bright would be\b": "fix",
    r"\b[Ff]oreseen\b": "predicted, usual",
    r"\b[Tt]o finish \d|\bchance to finish\b": "chance",
    r"\broom left\b|\b[Rr]oom left\b": "time left",
    r"\bdegC\b|\bdegF\b": "°C, °F",
    r"\bMIND\b|\b[Tt]hings? to mind\b": "safety and notes",
    r"\bway out\b": "backup",
    r"\bthe quicker way\b|\bquicker way out\b": "backup",
    r"\bnought\b": "zero",
    r"\bsold as\b|\bsaid to be\b": "described as",
    r"\b[Ss]et out:|\bset-out\b": "get ready",
    r"\bwatching only\b|\bWatching only\b": "view only",
    r"\bput away\b|\bPut away\b": "close, finished",
    r"\b[Gg]iven up\b": "ended early",
    r"\bfour of five\b": "range",
    r"\b[Dd]ispersed in the recipe's own\b": "mixed with",
}
"""What is not said any more, and what is said instead. From a trial with a maker's eyes."""
NOT_SAID = {"log.py", "figures.py", "records.py", "units.py"}
"""Modules whose words are written into files and read back, not shown."""
KEPT = {
    ("soapbench/setout.py", "way out"),  # what logs call this tick
    ("soapbench/words/quantities.py", "degC"),  # what is turned into °C
}


def docstrings(tree: ast.Module) -> set[int]:
    """Lines on which a text is nobody's but a programmer's."""
    lines = set()
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if not isinstance(body, list):
            continue
        for statement in body:
            if isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant):
                lines |= set(range(statement.lineno, (statement.end_lineno or 0) + 1))
    return lines


def python_texts(path: Path) -> Iterator[tuple[int, str]]:
    tree = ast.parse(path.read_text())
    quiet = docstrings(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
            if node.lineno not in quiet and " " in text.strip():
                yield node.lineno, text


def toml_texts(table: object, at: str = "") -> Iterator[tuple[str, str]]:
    """What a person can read of a table of data: its texts and titles."""
    if isinstance(table, dict):
        for key, value in table.items():
            if key not in ("source", "provenance", "note", "notes", "comment"):
                yield from toml_texts(value, f"{at}.{key}")
    elif isinstance(table, list):
        for i, value in enumerate(table):
            yield from toml_texts(value, f"{at}[{i}]")
    elif isinstance(table, str) and " " in table:
        yield at, table


def told() -> Iterator[tuple[str, str]]:
    """Every text a person can meet, and where it stands."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.name not in NOT_SAID:
            for line, text in python_texts(path):
                yield f"{path.relative_to(ROOT)}:{line}", text
    for path in sorted((PACKAGE / "data").glob("*.toml")):
        for at, text in toml_texts(tomllib.loads(path.read_text())):
            yield f"{path.relative_to(ROOT)}{at}", text
    for path in sorted(PACKAGE.rglob("*.j2")):
        for i, line in enumerate(path.read_text().splitlines(), 1):
            # what is not between signs of the template is read by people
            yield f"{path.relative_to(ROOT)}:{i}", re.sub(r"\{[{%#].*?[}%#]\}|<[^>]*>", "", line)
    for i, line in enumerate((ROOT / "README.md").read_text().splitlines(), 1):
        yield f"README.md:{i}", re.sub(r"`[^`]*`", "", line)


TEXTS = tuple(told())


def test_texts_are_found() -> None:
    where = {place.split(":")[0].split(".toml")[0] for place, _ in TEXTS}
    assert {"soapbench/words/help.py", "soapbench/data/cautions", "README.md"} <= where
    assert len(TEXTS) > 1500


def _kept(place: str, text: str) -> bool:
    return any(place.startswith(file) and part in text for file, part in KEPT)


@pytest.mark.parametrize("word", RETIRED)
def test_no_text_says(word: str) -> None:
    found = [
        f"{place}  {text[:90]!r}"
        for place, text in TEXTS
        if re.search(word, text) and not _kept(place, text)
    ]
    assert not found, f"say {RETIRED[word]!r}:\n" + "\n".join(found)
