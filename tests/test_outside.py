"""DEVELOPERS.md lists every check against something outside the project, and only real ones.

A test is such a check when its own text, or what it uses of its file, names a standard, a book, a
table or a practice, or imports a library that tests compare with.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from soapbench.advice.known import Known
from soapbench.outlook.chart import Row
from soapbench.outlook.chartlines import name_pieces
from tests import contrast
from tests.desks import desk
from tests.fakes import SAMPLES, FakeClock
from tests.plans import sample

TESTS = Path(__file__).parent
PAGE = (TESTS.parent / "DEVELOPERS.md").read_text("utf-8")
HEADING = "## Checked against something outside"
SOURCES = re.compile(
    r"(\b|_)(ISO(/IEC)? \d+|(?i:RFC)[ _]\d+|WCAG|NIST|CXS \d+|IFRA|IAPWS|IUPAC|OWASP|XDG|IEEE"
    r"|arXiv|et al\.|Felder|Perry|Jaffer|Talts|Hamilton|advancedthermo|FoodFat|man 5 proc|setrlimit"
    r"|Regulation \(EC\)|[Hh]andbook|[Tt]extbook|Unicode database|computed apart"
    r"|[Ff]rom memory|[Cc]ommon practice, no source)"
)
LETTER, SIGN = 1, 3
"""Places of the pieces that a pot is told apart by, in ``name_pieces``."""
LIBRARIES = re.compile(
    r"^\s*(from|import) (chemicals|coloraide|lifelines|periodictable|pint|platformdirs|scipy"
    r"|scoringrules|statsmodels|sympy|thermo|tomli_w|unicodedata|vobject)\b",
    re.MULTILINE,
)
HOW_FAR = re.compile(
    r"\b(read|secondary|from memory|cited|apart|by hand|library|needs none|common practice"
    r"|itself)\b"
)
WHERE = re.compile(r"`(?P<file>[\w/]+\.py)?::(?P<name>test_\w+)`")


def section(page: str, heading: str) -> str:
    return page.partition(f"{heading}\n")[2].partition("\n## ")[0]


def listed(table: str) -> list[tuple[str, str]]:
    """File and function of every test in the table; a bare ``::name`` is in the file before it."""
    rows = []
    for row in table.splitlines():
        file = ""
        for match in WHERE.finditer(row):
            file = match["file"] or file
            rows.append((file, match["name"]))
    return rows


def parts(source: str) -> Iterator[tuple[ast.stmt, str]]:
    """Statements of a file's top level, each with the comment above it."""
    lines = source.splitlines()
    begins = 0
    for node in ast.parse(source).body:
        assert node.end_lineno
        yield node, "\n".join(lines[begins : node.end_lineno])
        begins = node.end_lineno


def bound(node: ast.stmt) -> set[str]:
    match node:
        case ast.FunctionDef() | ast.AsyncFunctionDef() | ast.ClassDef():
            return {node.name}
        case ast.Import() | ast.ImportFrom():
            return {(alias.asname or alias.name).split(".")[0] for alias in node.names}
        case ast.Assign():
            names = (n for target in node.targets for n in ast.walk(target))
            return {n.id for n in names if isinstance(n, ast.Name)}
        case ast.AnnAssign(target=ast.Name(id=name)):
            return {name}
    return set()


def functions(source: str) -> set[str]:
    return {
        node.name
        for node in ast.parse(source).body
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and node.name.startswith("test_")
    }


def outside(source: str) -> set[str]:
    """Tests of a file that name something outside, by themselves or by what they use of it."""
    text: dict[str, str] = {}
    used: dict[str, set[str]] = {}
    for node, written in parts(source):
        names = {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}
        names |= {n.arg for n in ast.walk(node) if isinstance(n, ast.arg)}
        for name in bound(node):
            text[name], used[name] = written, names

    def named(name: str, met: set[str]) -> bool:
        met.add(name)
        if SOURCES.search(text[name]) or LIBRARIES.search(text[name]):
            return True
        others = [other for other in used[name] if other in text and other not in met]
        return any(named(other, met) for other in others)

    return {name for name in functions(source) if named(name, set())}


def test_every_check_listed_is_there() -> None:
    table = listed(section(PAGE, HEADING))
    assert len(table) > 80
    for file, name in table:
        assert (TESTS / file).is_file(), file
        assert name in functions((TESTS / file).read_text("utf-8")), f"{file}::{name}"
    assert len(table) == len(set(table)), "one row for each"


def test_every_check_that_names_a_source_is_listed() -> None:
    files = sorted(set(TESTS.rglob("test_*.py")) - {Path(__file__)})  # it quotes them all
    there = {
        (path.relative_to(TESTS).as_posix(), name)
        for path in files
        for name in outside(path.read_text("utf-8"))
    }
    assert len(there) > 50
    assert there - set(listed(section(PAGE, HEADING))) == set()


def test_no_row_leaves_out_how_far_it_was_verified() -> None:
    table = [row for row in section(PAGE, HEADING).splitlines() if row.count("|") == 5]
    assert len(table) > 50
    for row in table[2:]:
        _, what, source, verified, tests, _ = row.split("|")
        if what.strip().startswith("**"):
            continue
        assert all(cell.strip() for cell in (what, source, tests)), row
        assert HOW_FAR.search(verified), row


INVENTED = '''
import pint
from soapbench.log import Event

# Densities from a Handbook nobody has.
VALUES = {1: 2}

def helper():
    return VALUES

def test_by_a_library():
    assert pint.UnitRegistry()

def test_by_a_helper_of_a_helper():
    assert helper()

async def test_by_its_own_words():
    """As ISO 456 says."""

def test_of_our_own():
    assert Event
'''


def test_a_source_is_found_in_words_imports_and_what_is_used() -> None:
    assert outside(INVENTED) == {
        "test_by_a_library", "test_by_a_helper_of_a_helper", "test_by_its_own_words",
    }  # fmt: skip
    row = "| x | y | read | `a/test_b.py::test_one`, `::test_two` |"
    assert listed(row) == [("a/test_b.py", "test_one"), ("a/test_b.py", "test_two")]


def test_contrasts_are_as_listed_and_as_wcag_2_2_asks() -> None:
    """Ratios of WCAG 2.2, 1.4.3 and 1.4.11, by coloraide."""
    themes = contrast.measured()
    again = "print them anew with: python -m tests.contrast"
    assert "\n".join(contrast.rows(themes)) in PAGE, again
    closest = min(contrast.closest_pots(seen_by)[0] for seen_by in contrast.DICHROMACIES)
    assert f"{contrast.rounded_down(closest)} apart (CIEDE2000" in PAGE, again
    for theme, figures in themes.items():
        assert min(figures.text, figures.drawn) >= contrast.TEXT_NEEDS, theme
        assert figures.signs >= contrast.SIGNS_NEED, theme


def test_no_two_pots_of_a_pour_share_a_letter_or_a_sign(known: Known, clock: FakeClock) -> None:
    for path in SAMPLES.glob("*.toml"):
        pour = desk(sample(path), known, clock)
        rows = [Row(pot.name, pot.colour, 0, 0, 0, None) for pot in pour.plan.pots]
        drawn = [name_pieces(row, i, row.pot, 10, in_hand=False) for i, row in enumerate(rows)]
        for place in (LETTER, SIGN):
            signs = [pieces[place].text for pieces in drawn]
            assert len(set(signs)) == len(rows), (path.stem, signs)
