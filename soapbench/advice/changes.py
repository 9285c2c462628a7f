"""What would help: changes of a plan, each alone and the smallest set that makes the wish worth
pouring.

Every combination is a plan of its own and is foreseen as such; sets of one change come first, then
two, then three, cheapest first within a size. None goes below the oils' melting floor.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from soapbench.advice.foreseen import DRAWS, Foreseen
from soapbench.advice.known import Known
from soapbench.advice.levers import CHANGES, Change
from soapbench.advice.ways import NEAR
from soapbench.outlook.worth import WORTH_POURING
from soapbench.plan import Plan
from soapbench.recipe.amounts import amounts as amounts_of
from soapbench.recipe.warmth import melting_floor
from soapbench.swirls.stages import step_problems

MOST_TOGETHER = 3
"""More changes than this make another plan of it (ours)."""
MOST_SHOWN = 3
"""Sets that are told."""
GAINED = 0.02
"""A change that gains less is not told (ours)."""
ROUGH = 1000
"""Draws by which combinations are compared."""


@dataclass(frozen=True, slots=True)
class Together:
    """Changes that go together, and what the plan's own swirl has with them."""

    changes: tuple[str, ...]
    chance: float
    chance_in_part: float
    worth: float
    plan: Plan
    alone: tuple[float, ...] = ()
    """Chance as planned with each of them alone."""

    @property
    def change(self) -> str:
        return ", ".join(self.changes)

    @property
    def worth_pouring(self) -> bool:
        return self.worth >= WORTH_POURING


def levers(plan: Plan, known: Known, chance: float) -> list[Together]:
    """Changes that alone give the plan's own swirl more than the ``chance`` it has, most first."""
    floor = _floor(plan, known)
    alone = (_with((change,), plan, known, floor, DRAWS) for change in CHANGES)
    gained = [one for one in alone if one is not None and one.chance > chance + GAINED]
    return sorted(gained, key=lambda one: -one.chance)


def changes_together(plan: Plan, known: Known, worth: float) -> tuple[Together, ...]:
    """The smallest sets of changes that make the wish, now of ``worth``, worth pouring, best
    first; if none does, the best there is; empty where it is worth pouring as it is."""
    if worth >= WORTH_POURING:
        return ()
    best: Together | None = None
    for sets in sets_by_size(plan, known):
        enough = [one for one in sets if one.worth_pouring]
        if enough:
            return tuple(_best_first(enough)[:MOST_SHOWN])
        for one in sets:
            if best is None or one.worth > best.worth + NEAR * (len(one.changes) > 1):
                best = one
    return (best,) if best and best.worth > worth + NEAR else ()


def sets_by_size(plan: Plan, known: Known) -> Iterator[list[Together]]:
    """Every set of one change, then of two, then of three; those of a size cheapest first."""
    floor = _floor(plan, known)
    alone: dict[Change, float] = {}
    for size in range(1, MOST_TOGETHER + 1):
        sets = []
        for changes in combinations(CHANGES, size):
            if size > 1 and any(change not in alone for change in changes):
                continue  # one of them cannot be made
            one = _with(changes, plan, known, floor, ROUGH, alone)
            if one is not None:
                sets.append(one)
                if size == 1:
                    alone[changes[0]] = one.chance
        yield sets


def _best_first(sets: Sequence[Together]) -> list[Together]:
    """Of near equals the cheaper one, which stands first already."""
    left, ranked = list(sets), []
    while left:
        most = max(one.worth for one in left)
        first = next(one for one in left if one.worth >= most - NEAR)
        ranked.append(first)
        left.remove(first)
    return ranked


def _with(
    changes: Sequence[Change],
    plan: Plan,
    known: Known,
    floor: float,
    draws: int,
    alone: dict[Change, float] | None = None,
) -> Together | None:
    """``plan`` with all of ``changes``; None where one of them cannot be made."""
    changed, words = plan, []
    for change in changes:
        with_it = change.make(changed, floor)
        if with_it is None:
            return None
        changed = with_it
        words.append(change.words(with_it))
    if step_problems(changed, known.swirls):
        return None
    way = Foreseen(changed, known, draws=draws).choice(changed.swirl.steps)
    each = tuple((alone or {}).get(change, way.chance) for change in changes)
    return Together(tuple(words), way.chance, way.chance_in_part, way.worth, changed, each)


def _floor(plan: Plan, known: Known) -> float:
    """Below this the hard fats cloud the oils, degC."""
    floor = melting_floor(amounts_of(plan, known.oils, known.colourants, known.additives))
    return float("-inf") if floor is None else floor
