"""Oils and lye of different warmth, and the temperature below which hard fats cloud the oils."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soapbench.bench.tables import cautions, colourants, oils
from soapbench.plan import Plan
from soapbench.recipe.amounts import Amounts, amounts
from soapbench.recipe.problems import problems
from soapbench.recipe.warmth import batter_c, melting_floor
from tests.plans import THREE_POTS, plan


def weighed(pour: Plan) -> Amounts:
    return amounts(pour, oils(), colourants())


def recipe(c: float, **shares: int) -> Plan:
    written = "".join(f'[[oils]]\nname = "{n}"\nshare = "{s} %"\n' for n, s in shares.items())
    start, end = THREE_POTS.index("[[oils]]"), THREE_POTS.index("[lye]")
    text = THREE_POTS[:start] + written + THREE_POTS[end:]
    return plan(text.replace("30 degC", f"{c} degC"))


def test_sixty_percent_hard_fats_at_18_is_a_problem() -> None:
    """Common practice, no source: below their melting floor, false trace is to be expected."""
    for shares in ({"olive": 40, "palm": 30, "coconut": 30}, {"olive": 40, "tallow": 60}):
        pour = recipe(18, **shares)
        ids = [p.id for p in problems(pour, weighed(pour), cautions())]
        assert ids == ["below-melting-floor"]
        floor = melting_floor(weighed(pour))
        assert floor is not None
        assert floor > 18.5
        warm = recipe(40, **shares)
        assert not problems(warm, weighed(warm), cautions())


@pytest.mark.parametrize(
    "shares", [{"olive": 55, "coconut": 22, "palm": 23}, {"olive": 100}, {"olive": 80, "shea": 20}]
)
def test_a_usual_recipe_bears_a_cool_room(shares: dict[str, int]) -> None:
    pour = recipe(21, **shares)
    assert not problems(pour, weighed(pour), cautions())


def test_harder_and_more_of_it_asks_for_more_warmth() -> None:
    floors = [
        melting_floor(weighed(recipe(30, **shares)))
        for shares in (
            {"olive": 100},
            {"olive": 80, "palm": 20},
            {"olive": 50, "palm": 50},
            {"olive": 50, "tallow": 50},
            {"tallow": 100},
        )
    ]
    assert floors[0] is None
    rest = [floor for floor in floors if floor is not None]
    assert rest == sorted(rest)
    assert rest[-1] == pytest.approx(44.0)


def test_batter_of_warm_oils_and_cool_lye() -> None:
    """By hand: 2.0 J/g/K of oils, and of lye of 33 % about 3.4 (see the tests of lye): for every
    100 g of oils 43 g of lye, so 200 J/K against 145."""
    one = plan()
    assert batter_c(one, weighed(one)) == 30.0
    apart = replace(one, conditions=replace(one.conditions, oils=40.0, lye=20.0))
    assert batter_c(apart, weighed(apart)) == pytest.approx((200 * 40 + 145 * 20) / 345, abs=0.7)
    same = replace(one, conditions=replace(one.conditions, oils=33.0, lye=33.0))
    assert batter_c(same, weighed(same)) == pytest.approx(33.0)
