"""The quick reader of logs: what it reads by itself, and what it leaves to the full reader."""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime, time

import pytest

from soapbench.logfile.tomltext import _quick, plain, table_text

WRITTEN = {
    "batch": {
        "id": "b1",
        "title": "Quay Wall",
        "created": datetime(2026, 3, 1, 9, 30, tzinfo=UTC),
        "format": 1,
        "fill": 0.9,
        "fine": True,
        "kept": False,
        "names": ["base", "rope"],
        "empty": [],
        "odd key": "a = b",
    },
    "plan": {
        "oils": [{"name": "olive", "share": 0.7}, {"name": "coconut", "share": 0.3}],
        "pots": [{"name": "base", "colourants": [{"name": "charcoal"}, {"name": "ochre"}]}],
        "swirl": {"steps": ["drop swirl"], "of one": {"a": 1}},
    },
}


def test_what_a_log_is_written_in_needs_no_other_reader() -> None:
    """Against tomllib; tables in arrays, tables in those, quoted keys and dotted ones."""
    text = "\n".join(table_text(name, plain(table)) for name, table in WRITTEN.items())
    text += (
        '\n[[event]]\nkind = "tap"\nvalues.pot = "base"\nvalues.amounts = [\n    1,\n    2,\n]\n'
    )
    text += '[[event]]\nkind = "look"\n'
    assert _quick(text) == tomllib.loads(text)
    assert _quick(text)["plan"] == WRITTEN["plan"]


@pytest.mark.parametrize(
    "text",
    [
        '[a]x\n',
        '[a b]\nx = 1\n',
        '[a."b"\n',
        '[a]\nx = 1\n[a]\ny = 2\n',
        'x = 1\nx = 2\n',
        '"a\\"b" = 1\n',
        '"a"b" = 1\n',
        '"x" =1\n',
        'x=1\n',
        'x = [\n    [1],\n]\n',
        'x = [\n    1,\n',
        'x = 1_000\n',
        'a b = 1\n',
        '[a."b"c"]\nx = 1\n',
        '[a."b\\n"]\nx = 1\n',
    ],
)  # fmt: skip
def test_what_is_not_written_so_is_left_to_the_full_reader(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - json's own among them
        _quick(text)


def test_a_table_of_a_table_in_an_array_belongs_to_the_last() -> None:
    text = '[[pots]]\nname = "a"\n[[pots]]\nname = "b"\n[pots.look]\nx = 1\n[[pots.dose]]\ny = 2\n'
    assert _quick(text) == tomllib.loads(text)


def test_values_toml_knows_stay_and_others_are_written_as_text() -> None:
    noon = time(12, 30)
    assert plain(noon) == noon
    assert plain(date(2026, 3, 1)) == date(2026, 3, 1)
    zoned = noon.replace(tzinfo=UTC)
    assert plain(zoned) == str(zoned), "TOML has no time of day with a zone"
    assert plain(None) == "None"
    assert plain({"a": None, "b": [None, 1]}) == {"b": [1]}
    assert plain(True) is True
    assert tomllib.loads(table_text("a", {"t": plain(noon)})) == {"a": {"t": noon}}
