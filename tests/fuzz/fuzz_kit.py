"""What hostile plans and logs are made of."""

from __future__ import annotations

import os
import tomllib
from datetime import UTC, datetime
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

from soapbench.log import Event, Kind
from tests.plans import THREE_POTS

MANY = settings(
    max_examples=int(os.environ.get("FUZZ_EXAMPLES", "20")),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    phases=(Phase.explicit, Phase.reuse, Phase.generate),  # shrinking these takes minutes
)
"""``FUZZ_EXAMPLES=5000 pytest tests/fuzz`` looks longer."""
NASTY = (
    "\x1b]0;pwned\x07", "\x9b31m", "a\u202eb", "[red]x[/]", "see [/", "[@click=app.quit]b", "\x00",
    "\u200b", "\ud800", "x" * 10_000, "../../etc/passwd", "", " ", "石鹸", "é" * 40,
    "\n\n[[event]]\n", 'sum = "00000000"', "nan", "1e999 %", "-1 g", "NaOH",
    "base", "rope", "gull", "drop swirl",
)  # fmt: skip
TEXT = st.one_of(st.sampled_from(NASTY), st.text(max_size=30))
NUMBER = st.one_of(
    st.sampled_from([0, -1, 2**63, -(2**63), 1e308, -1e308, float("inf"), float("nan"), 5e-324]),
    st.floats(),
    st.integers(-(10**20), 10**20),
)
SCALAR = st.one_of(
    TEXT, NUMBER, st.booleans(), st.none(), st.just(datetime(2026, 1, 1, tzinfo=UTC))
)
ANYTHING = st.recursive(
    SCALAR,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(TEXT, inner, max_size=3)),
    max_leaves=6,
)
VALUE_KEYS = (
    "stage", "state", "seconds", "text", "steps", "finished", "item", "lot", "of", "chance",
    "rescue", "verdict", "g", "mass", "next_time", "next_swirl", "words", "x",
)  # fmt: skip
STAGE_IDS = ("lye into oils", "emulsify", "pour off rope", "colour base", "stir in fragrance/rope")


@st.composite
def events(draw: st.DrawFn) -> Event:
    """Any event a log can hold, likely ones more often."""
    values: dict[str, Any] = draw(
        st.dictionaries(
            st.sampled_from(VALUE_KEYS),
            st.one_of(
                ANYTHING,
                st.sampled_from(STAGE_IDS),
                st.integers(0, 5),
                st.lists(st.sampled_from(["drop swirl", "plain pour", "hanger swirl", "x"])),
            ),
            max_size=4,
        )
    )
    return Event(
        at=draw(st.datetimes(timezones=st.just(UTC))),
        t=draw(st.one_of(st.floats(-1e4, 1e5), NUMBER.map(float))),
        kind=draw(st.sampled_from(list(Kind))),
        pot=draw(st.one_of(st.none(), st.sampled_from(["base", "rope", "gull"]), TEXT)),
        values=values,
        boot_s=draw(st.one_of(st.floats(0, 1e6), NUMBER.map(float))),
        boot_id=draw(st.sampled_from(["boot-1", "", "another"])),
        id=draw(st.text("0123456789abcdef", max_size=8)),
    )


def _paths(tables: Any, here: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    paths = [here] if here else []
    parts = tables.items() if isinstance(tables, dict) else enumerate(tables)
    for key, value in parts:
        if isinstance(value, dict | list):
            paths += _paths(value, (*here, key))
        else:
            paths.append((*here, key))
    return paths


def base_tables() -> dict[str, Any]:
    return tomllib.loads(THREE_POTS)


MORE = """
[[mould]]
volume = "1 L"
[[mould]]
volume = "200 mL"
fill = "90 %"
[lye]
stock = "50 %"
superfat = "5 %"
concentration = "30 %"
[conditions]
oils = "32 degC"
lye = "24 degC"
[[additives]]
name = "goat milk"
dose = "80 mL"
goes_in = "lye water"
[[additives]]
name = "citric acid"
dose = "1 %"
[[additives]]
name = "salt"
dose = "5 g"
goes_in = ["rope", "gull"]
[[embeds]]
name = "moon"
volume = "40 mL"
[hot_process]
kept_back = "4 %"
oil = "olive"
"""
"""What a plan can hold besides."""


@st.composite
def plans(draw: st.DrawFn) -> dict[str, Any]:
    """The tables of a sound plan with some of its values, keys or tables gone wrong."""
    tables = base_tables()
    if draw(st.booleans()):
        tables |= tomllib.loads(MORE)
    for _ in range(draw(st.integers(1, 4))):
        *way, last = draw(st.sampled_from(_paths(tables) or [("title",)]))
        here: Any = tables
        for part in way:
            here = here[part]
        act = draw(st.sampled_from(["value", "value", "quantity", "gone", "key", "twice"]))
        if act == "gone":
            del here[last]
        elif act == "key" and isinstance(here, dict):
            here[draw(TEXT)] = draw(ANYTHING)
        elif act == "twice" and isinstance(here, list):
            here.append(here[last])
        elif act == "quantity":
            number = draw(st.one_of(st.floats(-10, 1000).map(lambda x: f"{x:.3g}"), TEXT))
            unit = draw(
                st.sampled_from(["%", "g", "mL", "cm", "degC", "degF", "tsp", "s", "x", ""])
            )
            here[last] = f"{number} {unit}"
        else:
            here[last] = draw(ANYTHING)
    return tables


def as_toml(tables: dict[str, Any]) -> str:
    import tomli_w

    from soapbench.logfile.tomltext import plain

    return tomli_w.dumps(plain(tables))
