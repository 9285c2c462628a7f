"""Splits as shown add up to the total as shown, in mL, g and kitchen measures."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soapbench.reading.kitchen import kitchen_parts, whole_parts
from soapbench.reading.units import KITCHEN_METRIC, KITCHEN_US

PARTS = st.lists(st.floats(0, 1e5), min_size=1, max_size=12)


def test_thirds_make_the_whole() -> None:
    """Hamilton's largest remainder: 33.3 three times is 34, 33, 33 of 100."""
    assert whole_parts([100 / 3] * 3) == (34, 33, 33)


@given(PARTS, st.sampled_from([0.1, 1.0, 5.0]))
def test_whole_parts_add_up(parts: list[float], step: float) -> None:
    shown = whole_parts(parts, step)
    assert round(sum(shown) / step) == round(sum(part / step for part in parts))
    assert all(abs(got - part) < step * (1 + 1e-6) for got, part in zip(shown, parts, strict=True))


def quarters(text: str, teaspoons: dict[str, float]) -> int:
    """Quarter teaspoons in a shown measure, by the spoons in each unit."""
    total = 0.0
    for count, unit in re.findall(r"([\d¼½¾]+) (\w+)", text):
        whole = int(re.sub(r"\D", "", count) or 0)
        part = {"¼": 0.25, "½": 0.5, "¾": 0.75}.get(count[-1], 0)
        total += (whole + part) * teaspoons[unit.removesuffix("s")]
    return round(total * 4)


@pytest.mark.parametrize(
    ("measures", "teaspoons"),
    [
        # NIST Handbook 44, appendix C: 48 teaspoons a cup, 3 a tablespoon; metric 250, 15, 5 mL.
        (KITCHEN_US, {"cup": 48.0, "tbsp": 3.0, "tsp": 1.0}),
        (KITCHEN_METRIC, {"cup": 50.0, "tbsp": 3.0, "tsp": 1.0}),
    ],
    ids=["US", "metric"],
)
@given(parts=PARTS)
def test_kitchen_parts_add_up(
    measures: tuple[tuple[str, float], ...], teaspoons: dict[str, float], parts: list[float]
) -> None:
    spoon = measures[-1][1]
    shown = [quarters(text, teaspoons) for text in kitchen_parts(parts, measures)]
    assert sum(shown) == round(sum(part / (spoon / 4) for part in parts))
    for got, part in zip(shown, parts, strict=True):
        assert abs(got * spoon / 4 - part) < spoon / 4 * (1 + 1e-6)
