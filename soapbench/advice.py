"""Advice: which swirl can be finished, what would change the chance, the quicker way from here.

Everything is worked out from one value, ``Known``: what this maker's bench knows. The rules for
warning and for choosing live here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from soapbench.batter import BatchHistory, Mix
from soapbench.history import history
from soapbench.levers import CHANGES
from soapbench.looks import Belief, beliefs
from soapbench.outlook import Kept, Outlook, Quantiles, finish, outlook
from soapbench.pace import Pace
from soapbench.plan import Plan
from soapbench.pour import (
    PourState,
    ahead_with,
    opening,
)
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.recipe.amounts import amounts as amounts_of
from soapbench.recipe.colourants import ColourantFacts
from soapbench.recipe.oils import OilFacts
from soapbench.recipe.warmth import batter_c
from soapbench.settings import WARN_BELOW
from soapbench.sinking import Sinking
from soapbench.stages import stages, step_problems
from soapbench.swirls import SwirlKind, SwirlTable
from soapbench.thickening.draws import Draws
from soapbench.thickening.fitting import Fit
from soapbench.thickening.in_hand import live
from soapbench.words.chances import why

BETTER_BY = 0.02
"""Chances closer than this are told apart by other things than chance."""


@dataclass(frozen=True, slots=True)
class Known:
    """What a maker's bench knows: the fitted batters, the maker's pace, the tables."""

    fit: Fit
    pace: Pace
    swirls: SwirlTable
    oils: Mapping[str, OilFacts]
    colourants: Mapping[str, ColourantFacts]
    warn_below: float = WARN_BELOW
    sinking: Sinking = field(default=Sinking())


@dataclass(frozen=True, slots=True)
class SwirlChoice:
    """One way to pour, with its chance to be finished and its median length."""

    steps: tuple[str, ...]
    chance: float
    minutes: float

    @property
    def name(self) -> str:
        return " + ".join(self.steps) if self.steps else "leave it as it is"


@dataclass(frozen=True, slots=True)
class Lever:
    """A change of the plan and the chance it would have with it."""

    change: str
    chance: float
    plan: Plan


@dataclass(frozen=True, slots=True)
class Live:
    """What the pour screen shows of the model at one moment."""

    now: float
    outlook: Outlook
    acceleration: Mapping[str, Quantiles]
    """Per pot with its fragrance in: how many times faster it thickens since."""
    warning: str
    """Why the swirl is in danger; empty while it is not."""
    rescue: SwirlChoice | None
    """The best quicker way from here, when there is a better one."""
    state: PourState
    believed: Mapping[str, Belief] = field(default_factory=dict)
    """What is believed of each pot's trace."""


def mix_of(plan: Plan, made: Amounts) -> Mix:
    """What the recipe says about how fast the batter thickens."""
    return Mix(batter_c(plan, made), made.concentration, made.saturated)


class Foreseen:
    """A plan before it is poured: one set of draws, and every swirl run through it."""

    def __init__(self, plan: Plan, known: Known, made: Amounts | None = None) -> None:
        self.plan = plan
        self.known = known
        self.amounts = made or amounts_of(plan, known.oils, known.colourants)
        self.ml = pot_ml(self.amounts)
        start = opening(plan, self.ml, known.swirls)
        self._pots = start.pots
        empty = history("", plan, mix_of(plan, self.amounts), start, 0.0)
        self._kept: Kept = {}
        self.draws: Draws = live(known.fit, empty, 0.0)

    def outlook(self, steps: Sequence[str] | None = None) -> Outlook:
        made = stages(self.plan, self.ml, self.known.swirls, steps)
        return outlook(made, self._pots, self.draws, self.known.pace, kept=self._kept)

    def choice(self, steps: Sequence[str]) -> SwirlChoice:
        made = stages(self.plan, self.ml, self.known.swirls, steps)
        found = finish(made, self._pots, self.draws, self.known.pace, kept=self._kept)
        return SwirlChoice(tuple(steps), *found)

    def choices(self) -> list[SwirlChoice]:
        """The plan's own swirl and every other way to pour it, best chance first."""
        own = tuple(self.plan.swirl.steps)
        ways = dict.fromkeys(
            [own, *_lighter(own, self.known.swirls)]
            + [(name,) for name in self.plan.swirl.fall_back if self._is_pour(name)]
            + [
                (kind.name,)
                for kind in self.known.swirls.pours
                if kind.least_pots <= len(self.plan.pots) <= kind.most_pots
            ]
        )
        made = [self.choice(steps) for steps in ways]
        return sorted(made, key=lambda c: (-round(c.chance, 2), c.steps != own, c.minutes))

    def _is_pour(self, name: str) -> bool:
        return self.known.swirls.kinds[name].role == "pour"

    def levers(self, choices: Sequence[SwirlChoice]) -> list[Lever]:
        """Changes of the plan, most gained first; only those that gain. ``choices``: its swirls."""
        own = tuple(self.plan.swirl.steps)
        now = next(choice.chance for choice in choices if choice.steps == own)
        found = []
        for words, change in CHANGES:
            changed = change(self.plan)
            if changed is not None and not step_problems(changed, self.known.swirls):
                chance = Foreseen(changed, self.known).choice(changed.swirl.steps).chance
                found.append(Lever(words(changed), chance, changed))
        for choice in choices:
            if choice.steps != own and choice.chance > now + BETTER_BY:
                swirl = replace(self.plan.swirl, steps=choice.steps)
                changed = replace(self.plan, swirl=swirl)
                found.append(Lever(f"{choice.name} instead", choice.chance, changed))
        gained = [lever for lever in found if lever.chance > now + BETTER_BY]
        return sorted(gained, key=lambda lever: -lever.chance)


def _lighter(steps: Sequence[str], table: SwirlTable) -> list[tuple[str, ...]]:
    """``steps`` with tools or tops left out, most kept first."""
    pour, rest = tuple(steps[:1]), steps[1:]
    tools = [name for name in rest if table.kinds[name].role == "tool"]
    tops = [name for name in rest if table.kinds[name].role == "top"]
    ways = [(*pour, *tools), (*pour, *tops), pour]
    return [way for way in dict.fromkeys(ways) if way != tuple(steps)]


def live_advice(
    batch: str, plan: Plan, made: Amounts, known: Known, state: PourState, now: float
) -> Live:
    """What to show at ``now``: outlook, room left, warning and rescue. Pure; takes some 10 ms."""
    seen: BatchHistory = history(batch, plan, mix_of(plan, made), state, now)
    draws = live(known.fit, seen, now)
    kept: Kept = {}
    ahead = outlook(state.ahead, state.pots, draws, known.pace, now, state.hands_began, kept)
    acceleration = {
        name: _factors(draws, pot.fragrance)
        for name, pot in state.pots.items()
        if pot.fragrance and pot.fragrance_in is not None
    }
    warning, rescue = "", None
    if state.stage is not None and ahead.chance < known.warn_below:
        rescue = best_rescue(plan, pot_ml(made), known, state, draws, now, ahead.chance, kept)
        warning = why(ahead, acceleration)
    believed = beliefs(state, draws, now)
    return Live(now, ahead, acceleration, warning, rescue, state, believed)


def _factors(draws: Draws, fragrance: str) -> Quantiles:
    p10, p50, p90 = np.quantile(draws.factor(fragrance), (0.1, 0.5, 0.9))
    return Quantiles(float(p10), float(p50), float(p90))


def rescues(
    plan: Plan, ml: Mapping[str, float], known: Known, state: PourState
) -> list[tuple[str, ...]]:
    """Every other way to finish from the state the pour is really in, preferred ones first.

    What is in the mould stays there, and what is in the base's pot cannot be taken out again.
    """
    table = known.swirls
    unpoured = [pot for pot in state.pots.values() if pot.where == "pot"]
    extras = [s.step for s in state.ahead if s.step and table.kinds[s.step].role != "pour"]
    extras = list(dict.fromkeys(extras))
    tops = [name for name in extras if table.kinds[name].role == "top"]
    if not unpoured:
        ways = [tuple(tops), (), *((name,) for name in extras)]
        return [way for way in dict.fromkeys(ways) if list(way) != extras]

    pours = [kind for kind in table.pours if _can_start(kind, state)]
    pours.sort(key=lambda kind: len(unpoured) > kind.most_pots)  # what suits so many pots first
    wished = [name for name in plan.swirl.fall_back if table.kinds[name] in pours]
    names = list(dict.fromkeys([state.steps[0] if state.steps else "", *wished]))
    names += [kind.name for kind in pours if kind.name not in names]
    names = [name for name in names if name and table.kinds[name] in pours]
    ways = [way for name in names for way in ((name, *extras), (name, *tops), (name,))]
    return [way for way in dict.fromkeys(ways) if way != state.steps]


def _can_start(kind: SwirlKind, state: PourState) -> bool:
    if len(state.pots) < kind.least_pots:
        return False
    if kind.cooked and (state.in_base or state.in_mould):
        return False
    if state.in_base and not state.in_mould:
        return kind.name in state.steps or kind.from_mould
    return kind.from_mould or not state.in_mould


def best_rescue(
    plan: Plan,
    ml: Mapping[str, float],
    known: Known,
    state: PourState,
    draws: Draws,
    now: float,
    chance: float,
    kept: Kept | None = None,
) -> SwirlChoice | None:
    """The first preferred way above the warning line, else the likeliest; None: none is better."""
    best: SwirlChoice | None = None
    for steps in rescues(plan, ml, known, state):
        ahead = ahead_with(state, steps, plan, ml, known.swirls)
        begun = state.hands_began if ahead[:1] == state.ahead[:1] else None
        seen = finish(ahead, state.pots, draws, known.pace, now, begun, kept)
        found = SwirlChoice(steps, *seen)
        cooked = any(known.swirls.kinds[name].cooked for name in steps)
        if found.chance >= known.warn_below and not cooked:
            return found
        if best is None or found.chance > best.chance + BETTER_BY:
            best = found
    return best if best and best.chance > chance + BETTER_BY else None
