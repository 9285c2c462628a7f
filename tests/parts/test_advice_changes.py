"""Sets of changes of a plan, and a plan as foreseen: at their bounds, by made-up changes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, ClassVar

import pytest

from soapbench.advice import changes
from soapbench.advice.changes import (
    GAINED,
    MOST_SHOWN,
    MOST_TOGETHER,
    ROUGH,
    Together,
    _best_first,
    _floor,
    _with,
    changes_together,
    levers,
    sets_by_size,
)
from soapbench.advice.foreseen import DRAWS, Foreseen
from soapbench.advice.known import Known
from soapbench.advice.levers import CHANGES, Change
from soapbench.advice.ways import NEAR, SwirlChoice
from soapbench.plan import Plan
from tests.plans import plan


def together(chance: float, *named: str, worth: float | None = None) -> Together:
    return Together(named or ("x",), chance, 0.0, chance if worth is None else worth, plan())


def test_a_change_alone_is_told_where_it_gains_more_than_two_hundredths(
    monkeypatch: pytest.MonkeyPatch, known: Known
) -> None:
    """Ours. By as many draws as a plan sheet has, most first."""
    assert GAINED == 0.02
    chances = iter([0.5, 0.62, None, 0.621, 0.9, 0.1, 0.7, 0.0, 0.5])
    asked: list[int] = []

    def with_some(some: Sequence[Change], of: Plan, known: Known, floor: float, draws: int) -> Any:
        assert len(some) == 1
        asked.append(draws)
        chance = next(chances)
        return None if chance is None else together(chance, str(chance))

    monkeypatch.setattr(changes, "_with", with_some)
    monkeypatch.setattr(changes, "GAINED", 0.12)
    some = levers(plan(), known, 0.5)
    assert [one.chance for one in some] == [0.9, 0.7, 0.621]
    assert asked == [4000] * len(CHANGES) == [DRAWS] * 9


def test_a_set_is_worth_pouring_from_seven_tenths_on() -> None:
    assert [together(0.5, worth=w).worth_pouring for w in (0.69, 0.70, 0.71)] == [
        False, True, True,
    ]  # fmt: skip


def sets(monkeypatch: pytest.MonkeyPatch, *by_size: list[Together]) -> None:
    def of_each_size(of: Plan, known: Known) -> Iterator[list[Together]]:
        yield from by_size

    monkeypatch.setattr(changes, "sets_by_size", of_each_size)


def test_three_sets_are_told_and_a_wish_worth_pouring_needs_none(
    monkeypatch: pytest.MonkeyPatch, known: Known
) -> None:
    assert (MOST_SHOWN, MOST_TOGETHER, ROUGH) == (3, 3, 1000)
    five = [together(0.7 + 0.05 * i, str(i)) for i in range(5)]
    sets(monkeypatch, five)
    assert changes_together(plan(), known, 0.3) == tuple(reversed(five[2:]))
    assert changes_together(plan(), known, 0.7) == ()
    assert len(changes_together(plan(), known, 0.699)) == 3


def test_where_none_is_enough_more_changes_must_gain_more(
    monkeypatch: pytest.MonkeyPatch, known: Known
) -> None:
    """Three hundredths (ours); of single changes the better, however little."""
    monkeypatch.setattr(changes, "NEAR", 0.0625)  # a power of two: no rounding at the bound
    assert NEAR == 0.03
    one, better = together(0.5, "a"), together(0.5078125, "b")
    for two, shown in (
        (together(0.5703125, "a", "b"), better),
        (together(0.578125, "a", "b"), together(0.578125, "a", "b")),
    ):
        sets(monkeypatch, [one, better, one], [two])
        assert changes_together(plan(), known, 0.1) == (shown,)
    sets(monkeypatch, [one])
    assert changes_together(plan(), known, 0.4375) == ()
    assert changes_together(plan(), known, 0.4374) == (one,)
    same = together(0.5, "second")
    sets(monkeypatch, [one, same])
    assert changes_together(plan(), known, 0.1) == (one,), "of equals the cheaper"
    sets(monkeypatch, [])
    assert changes_together(plan(), known, 0.1) == ()


def test_of_near_equals_the_cheaper_comes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(changes, "NEAR", 0.0625)
    cheap, near, far = together(0.5, "a"), together(0.5625, "b"), together(0.625, "c")
    assert _best_first([cheap, near]) == [cheap, near]
    assert _best_first([cheap, far]) == [far, cheap]
    assert _best_first([cheap, near, far]) == [near, far, cheap]
    assert _best_first([far, near, cheap]) == [far, near, cheap]


def change(name: str, can_be: bool = True) -> Change:
    return Change(
        lambda plan: f"{name} of {plan.title}",
        lambda plan, floor: replace(plan, title=f"{plan.title}{name}") if can_be else None,
    )


class Counting:
    """Foreseen in place of a model: chances are given by title, draws are noted."""

    chances: ClassVar = {"A": 0.5, "B": 0.6, "AB": 0.7}
    draws: ClassVar[list[int]] = []

    def __init__(self, of: Plan, known: Known, draws: int) -> None:
        self.of = of
        Counting.draws.append(draws)

    def choice(self, steps: Sequence[str]) -> SwirlChoice:
        chance = self.chances[self.of.title.removeprefix("Quay Wall")]
        return SwirlChoice(tuple(steps), chance, 5.0, 0.1, chance + 0.01)


def test_each_set_tells_its_chances_and_those_of_each_change_alone(
    monkeypatch: pytest.MonkeyPatch, known: Known
) -> None:
    a, b, never = change("A"), change("B"), change("never", can_be=False)
    Counting.draws.clear()
    monkeypatch.setattr(changes, "Foreseen", Counting)
    monkeypatch.setattr(changes, "CHANGES", (a, never, b))
    one, two, three = list(sets_by_size(plan(), known))
    assert [s.changes for s in one] == [("A of Quay WallA",), ("B of Quay WallB",)]
    assert [s.alone for s in one] == [(0.5,), (0.6,)]
    (both,) = two
    assert both.changes == ("A of Quay WallA", "B of Quay WallAB")
    assert both.change == "A of Quay WallA, B of Quay WallAB"
    assert (both.alone, both.chance, both.worth) == ((0.5, 0.6), 0.7, pytest.approx(0.71))
    assert three == []
    assert Counting.draws == [1000] * 3
    alone = _with((a,), plan(), known, 0.0, 7)
    assert alone is not None
    assert (alone.alone, Counting.draws[-1]) == ((0.5,), 7), "nothing else is known of it yet"


def test_a_change_that_leaves_too_few_pots_is_none(
    monkeypatch: pytest.MonkeyPatch, known: Known
) -> None:
    monkeypatch.setattr(changes, "Foreseen", Counting)
    lonely = Change(lambda plan: "x", lambda plan, floor: replace(plan, pots=plan.pots[:1]))
    assert _with((lonely,), plan(), known, 0.0, 7) is None


def test_the_floor_is_that_of_the_oils_and_without_hard_fats_there_is_none(known: Known) -> None:
    assert _floor(plan(), known) > 0.0
    soft = replace(plan(), oils=(replace(plan().oils[0], name="olive", share=1.0),))
    assert _floor(soft, known) == float("-inf")


def test_a_plan_is_foreseen_by_4000_draws_of_its_own_swirl_unless_told_otherwise(
    known: Known,
) -> None:
    assert DRAWS == 4000
    few = Foreseen(plan(), known, draws=50)
    assert few.draws.n == 50
    own, other = few.outlook(), few.outlook(("layers",))
    assert [s.stage.step for s in own.stages][-1] == "hanger swirl"
    assert [s.stage.step for s in other.stages][-1] == "layers"
    assert few.outlook(tuple(plan().swirl.steps)) == own
    given = replace(few.amounts)
    assert Foreseen(plan(), known, given, draws=50).amounts is given
    layers = few.choice(("layers",))
    assert (layers.steps, layers.chance) == (("layers",), few.finish(("layers",)).chance)
