"""Said as makers say it: no text a person can meet holds a word that was given up."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from soapbench.words.chances import about_words, clock
from tests.said import FAULTS, JARGON, PHRASES, RETIRED, phrases, stumbles

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "soapbench"
NOT_SAID = {"log.py", "figures.py", "records.py"}
"""Modules whose words are written into files and read back, not shown."""
KEPT = {
    ("soapbench/sheet/setout.py", "way out"),  # what logs call this tick
    ("soapbench/words/quantities.py", "degC"),  # what is turned into °C
    ("soapbench/reading/units.py", "deg"),  # what a maker may write
    ("soapbench/aftercare/", "half way"),  # as logs hold it; shown by words.review, words.events
    ("soapbench/aftercare/cutreview.py", "first end"),
    ("soapbench/aftercare/cutreview.py", "other end"),
    ("soapbench/words/review.py", ""),  # turns what logs hold into what is shown
    ("soapbench/words/events.py", ""),
    ("soapbench/bench/index.py", ""),  # a data base's own words
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


def every_text() -> Iterator[tuple[str, str]]:
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
    for path in sorted(PACKAGE.rglob("*.html")):
        page = re.sub(r"(?s)<(style|script)\b.*?</\1>|<[^>]*>", " ", path.read_text("utf-8"))
        yield str(path.relative_to(ROOT)), re.sub(r"\{\{.*?\}\}", "", page)
    for path in sorted((ROOT / "sample_plans").glob("*.toml")):
        for i, line in enumerate(path.read_text("utf-8").splitlines(), 1):
            yield f"sample_plans/{path.name}:{i}", line.partition("#")[2]
    for i, line in enumerate((ROOT / "README.md").read_text().splitlines(), 1):
        yield f"README.md:{i}", re.sub(r"`[^`]*`", "", line)


@cache
def texts() -> tuple[tuple[str, str], ...]:
    return tuple(every_text())


def test_texts_are_found() -> None:
    where = {place.split(":")[0].split(".toml")[0] for place, _ in texts()}
    assert {"soapbench/words/help.py", "soapbench/data/cautions", "README.md"} <= where
    assert {"soapbench/data/browser/app_index.html", "sample_plans/dune_layers"} <= where
    assert len(texts()) > 1500


def _kept(place: str, text: str) -> bool:
    return any(place.startswith(file) and part in text for file, part in KEPT)


def test_no_text_says_what_makers_stumbled_over() -> None:
    hits = phrases([(p, t) for p, t in texts() if not _kept(p, t)])
    assert not hits, "\n".join(hits)
    assert len(PHRASES) > 200


def test_no_text_says_what_was_given_up() -> None:
    hits = stumbles([(p, t) for p, t in texts() if not _kept(p, t)], RETIRED)
    assert not hits, "\n".join(hits)


def sayings() -> Iterator[tuple[str, str]]:
    """What every plain function of the words says, for one of a thing and for several."""
    import importlib
    import inspect
    import pkgutil

    from soapbench import words

    samples: dict[str, tuple[object, ...]] = {
        "str": ("rust",), "int": (1, 2, 1200), "float": (1.0, 90.0, 4321.0), "object": ("rust",),
        "bool": (False, True), "Sequence[str]": (["rust"], ["rust", "night"]),
        "list[str]": (["rust"], ["rust", "night"]),
    }  # fmt: skip
    for found_module in pkgutil.iter_modules(words.__path__):
        module = importlib.import_module(f"soapbench.words.{found_module.name}")
        for name, say in inspect.getmembers(module, inspect.isfunction):
            parameters = inspect.signature(say).parameters.values()
            kinds = [str(p.annotation) for p in parameters]
            mine = say.__module__ == module.__name__ and not name.startswith("_")
            if not mine or say.__annotations__.get("return") != "str":
                continue
            if not all(kind in samples for kind in kinds):
                continue
            for i in range(3):
                values = [samples[k][min(i, len(samples[k]) - 1)] for k in kinds]
                try:
                    yield f"{module.__name__}.{name}", say(*values)
                except (KeyError, ValueError):  # it takes words of a table, or a quantity
                    continue


def test_every_saying_is_whole_and_its_plurals_are_right() -> None:
    lines = list(sayings())
    assert len({place for place, _ in lines}) > 100
    hits = stumbles(lines, RETIRED, JARGON, FAULTS)
    assert not hits, "\n".join(hits)


FIGURE = re.compile(r":,?\.?\d*[fg%]\}\s?(mL|g|%|°C|°F|oz)(?![\w/])")
"""A number written into a text with its unit, by hand."""
BY_HAND = {
    "soapbench/words/numbers.py", "soapbench/words/quantities.py",  # the one place
    "soapbench/plan/values.py", "soapbench/desk/planchanges.py", "soapbench/fragrances/shelf.py",
    "soapbench/fragrances/suited.py",  # these write plans, to be read by the reader
    "soapbench/papers/batchsheet.py", "soapbench/fragrances/score.py",
}  # fmt: skip


def test_figures_with_units_are_written_in_one_place() -> None:
    found_in = {
        str(path.relative_to(ROOT))
        for path in PACKAGE.rglob("*.py")
        if FIGURE.search(path.read_text("utf-8"))
    }
    assert found_in <= BY_HAND
    assert "soapbench/words/numbers.py" in found_in


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (3, "5 s"), (72, "1 min"), (7800, "2 h 10 min"), (90000, "25 h"),
        (3 * 86400, "3 days"), (35 * 86400, "5 weeks"), (304 * 86400, "10 months"),
        (1100 * 86400, "3 years"),
    ],
)  # fmt: skip
def test_a_stretch_of_time_as_one_says_it(seconds: float, words: str) -> None:
    assert about_words(seconds) == words


def test_no_clock_counts_the_seconds_of_months() -> None:
    assert clock(86399) == "23:59:59"
    assert clock(304 * 86400 + 7) == "10 months"
