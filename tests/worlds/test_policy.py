"""Whole pours in invented worlds: the same luck for everybody, and the truth decides."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from soapbench.advice import Known
from soapbench.worth import Become, Risk
from tests.worlds.policy import by_the_tool, value
from tests.worlds.pours import Pour, draw_pour, never, poured
from tests.worlds.world import draw_maker


@lru_cache(maxsize=8)
def a_pour(seed: int, strong: bool) -> Pour:
    rng = np.random.default_rng([77, seed])
    return draw_pour(rng, draw_maker(rng), seed, strong, "b000001")


def test_the_same_luck_comes_out_the_same(known: Known) -> None:
    first, again = (poured(a_pour(1, True), known, never) for _ in range(2))
    assert first == again
    assert first.switched_s is None
    assert first.become is Become.WISH


def test_strong_fragrances_ruin_more_and_in_the_pot_saves_some(known: Known) -> None:
    pours = [a_pour(seed, True) for seed in range(6)]
    wished = [poured(pour, known, never) for pour in pours]
    quicker = [poured(pour, known, never, ("in-the-pot swirl",)) for pour in pours]
    assert sum(came.ruined for came in quicker) < sum(came.ruined for came in wished)
    assert all(came.become is Become.ANOTHER for came in quicker)


def test_the_tool_is_asked_and_followed(known: Known) -> None:
    pours = [a_pour(seed, True) for seed in range(3)]
    came = [poured(pour, known, by_the_tool) for pour in pours]
    assert any(c.switched_s is not None for c in came)
    assert all((c.switched_s is None) == (c.become is Become.WISH) for c in came)


def test_value_by_hand() -> None:
    from tests.worlds.pours import Came

    assert value(Came(Become.WISH, True, True), Risk.USUAL) == 1.0
    assert value(Came(Become.ANOTHER, False, True), Risk.USUAL) == 0.6 * 0.7
    assert value(Came(Become.ANOTHER, False, False), Risk.CAREFUL) == -1.0
