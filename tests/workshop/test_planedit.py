"""A hand-written plan keeps its comments, order and spacing whatever is changed in it."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import replace

import pytest

from soapbench.bench import tables
from soapbench.bench.planedit import from_tables, scaled, with_row, with_value, without_row
from soapbench.bench.planfile import plan_from_text
from soapbench.desk.draft import of_batch
from soapbench.plan.pourplan import as_given
from tests.fakes import SAMPLES

HAND_WRITTEN = """\
# my own notes stay
title   =  "Odd Spacing"   # and this one

[mould]
volume = "1 L"   # the old box
[[oils]]
name = "olive"       # from the co-op
share = "60 %"

[[oils]]
share = "40 %"
name = "coconut"
[lye]
superfat="5 %"
[[pots]]
name = "base"
share = "100 %"
[[pots.colourants]]
name = "mica"
dose = "1 1/2 tsp" # heaped
"""


def changed(before: str, after: str) -> list[str]:
    """Lines taken out (-) and put in (+)."""
    diff = difflib.ndiff(before.splitlines(), after.splitlines())
    return [f"{line[0]}{line[2:].strip()}" for line in diff if line[0] in "+-" and line[2:].strip()]


CHANGES = {
    "a value": (
        lambda t: with_value(t, ("oils", 0, "share"), "61 %"),
        ['-share = "60 %"', '+share = "61 %"'],
    ),
    "its comment stays": (
        lambda t: with_value(t, ("mould", "volume"), "2 L"),
        ['-volume = "1 L"   # the old box', '+volume = "2 L"   # the old box'],
    ),
    "the same value": (lambda t: with_value(t, ("mould", "volume"), "1 L"), []),
    "a new table": (
        lambda t: with_value(t, ("conditions", "room"), "18 degC"),
        ["+[conditions]", '+room = "18 degC"'],
    ),
    "out again": (lambda t: with_value(t, ("lye", "superfat"), None), ['-superfat="5 %"']),
    "never there": (lambda t: with_value(t, ("conditions", "room"), None), []),
    "a row": (
        lambda t: with_row(t, ("oils",), {"name": "castor", "share": "5 %"}),
        ["+[[oils]]", '+name = "castor"', '+share = "5 %"'],
    ),
    "a row less": (
        lambda t: without_row(t, ("oils", 1)),
        ["-[[oils]]", '-share = "40 %"', '-name = "coconut"'],
    ),
    "doses scaled": (
        lambda t: scaled(t, 2.0),
        ['-dose = "1 1/2 tsp" # heaped', '+dose = "3 tsp" # heaped'],
    ),
}


@pytest.mark.parametrize("name", CHANGES)
def test_only_what_was_changed_changes(name: str) -> None:
    act, expected = CHANGES[name]
    after = act(HAND_WRITTEN)
    assert sorted(changed(HAND_WRITTEN, after)) == sorted(expected)
    tomllib.loads(after)


@pytest.mark.parametrize("file", sorted(SAMPLES.glob("*.toml")), ids=lambda f: f.stem)
def test_a_batchs_plan_comes_back_as_a_plan(file: object) -> None:
    """A log's resolved plan, written out as a new plan, says the same to ten digits."""
    text = file.read_text("utf-8")  # type: ignore[attr-defined]
    known = (tables.oils(), tables.swirls().kinds)
    plan = plan_from_text(text, "a sample", *known)
    again = plan_from_text(from_tables(plan.as_written()), "again", *known)
    assert again.as_written() == plan.as_written()


def test_a_copy_of_a_batchs_plan_says_again_what_it_assumes() -> None:
    known = (tables.oils(), tables.swirls().kinds)
    given = HAND_WRITTEN + '[conditions]\nroom = "18 degC"\n'
    plan = plan_from_text(given, "a plan", *known)
    assert plan.assumed == ("lye.purity", "conditions.batter")
    log = plan.as_written()
    assert log["conditions"]["batter"] == "30 °C", "the log holds what it was poured by"
    assert plan_from_text(from_tables(log), "log", *known).assumed == plan.assumed
    draft = of_batch(log, "b-1")
    copy = plan_from_text(draft.text, "copy", *known)
    assert copy.assumed == plan.assumed
    assert "assumed" not in tomllib.loads(draft.text)
    assert tomllib.loads(draft.text)["conditions"] == {
        "room": "18 °C",
        "gel": "allow",
        "blend": "to stable emulsion",
    }
    assert replace(copy, title=plan.title) == plan


@pytest.mark.parametrize("assumed", [3, "lye.purity", {"lye": 1}, [3, None]])
def test_nonsense_in_a_log_about_what_was_assumed_is_passed_over(assumed: object) -> None:
    given = as_given({"title": "t", "lye": {"purity": "98 %"}, "assumed": assumed})
    assert given == {"title": "t", "lye": {"purity": "98 %"}}


def test_a_second_fragrance_makes_a_list_of_the_first() -> None:
    one = HAND_WRITTEN + '[fragrance]\nname = "Fig"\nload = "3 %"   # of oils\ngoes_into = "base"\n'
    two = with_row(one, ("fragrance",), {"name": "Tar", "load": "1 %"})
    names = [f["name"] for f in tomllib.loads(two)["fragrance"]]
    assert names == ["Fig", "Tar"]
    assert "# of oils" in two
