"""Until when a backup can still be begun, and whether one more look is worth waiting for.

Going on as before, stage by stage, and only then by the backup is a way like any other: its stages
are run through the same draws. What is in the mould by then stays there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from soapbench.advice.moment import Moment
from soapbench.advice.ways import SwirlChoice, ahead_by, can_begin
from soapbench.outlook.batters import Array, median
from soapbench.outlook.worth import Become, worths
from soapbench.pour.state import DoneStage, PourState
from soapbench.swirls.moves import UNSCENTED, moved
from soapbench.swirls.stage import Stage

ABOUT = 0.05
"""A backup that has lost less than this has about its worth still (ours)."""
LOOK_S = 20.0
"""From what is seen now to a key pressed after the next look, hands full (ours)."""
LOOKED = 0.9
"""How often a maker does look and key in time (ours)."""
MOST_LOOKS = 2
"""Pots whose fragrance has just gone in, after each of which one may decide: more tells no more."""
LOOKS_APART = 0.5
"""Trace states that a look tells apart (ours)."""


class Switching:
    """Going on as before, and leaving it later, from one moment of a pour."""

    def __init__(self, at: Moment) -> None:
        self._at, self._state = at, at.state
        self._going_on = at.each(at.state.ahead)
        self.ends = [median(end) for end in self._going_on.ends]
        """Median end of each stage ahead, s since lye met oils."""

    def _begun_after(self, way: SwirlChoice, stages: int, move: str = "") -> Array | None:
        """Worth of ``way`` in each draw, begun once so many stages ahead are done, ``move`` made
        as well; None: it cannot be begun then, or the move changes nothing."""
        first = self._state.ahead[:stages]
        later = further(self._state, first)
        plan, ml, table = self._at.plan, self._at.ml, self._at.known.swirls
        if not can_begin(way.steps, later, table, way.moves):
            return None
        rest = ahead_by(way.steps, plan, ml, later, table, way.moves)
        become = way.become
        if move:
            without = moved(rest, move)
            if without is None:
                return None
            rest, become = without, Become.LESS if become is Become.WISH else become
        ran = self._at.each((*first, *rest))
        return worths(become, ran.planned, ran.in_part, self._at.known.risk)

    def switch_by(self, way: SwirlChoice) -> tuple[float, int]:
        """Until when ``way`` can be begun with about its present worth, s since lye met oils, and
        how many stages ahead may be done before.

        Stage by stage ahead; within the stage that costs it, in proportion, unless that stage
        shuts it: then before it begins.
        """
        least = way.worth - ABOUT
        low, worth_low, high, worth_high = 0, way.worth, len(self._state.ahead), None
        while high - low > 1:
            middle = (low + high) // 2
            later = self._begun_after(way, middle)
            mean = None if later is None else float(np.mean(later))
            if mean is not None and mean >= least:
                low, worth_low = middle, mean
            else:
                high, worth_high = middle, mean
        begins = self._at.now if low == 0 else self.ends[low - 1]
        if worth_high is None or worth_high >= worth_low:
            return max(self._at.now, begins), low
        part = (worth_low - least) / (worth_low - worth_high)
        return max(self._at.now, begins + part * (self.ends[high - 1] - begins)), low

    def waiting(
        self, way: SwirlChoice, going_on: SwirlChoice, most: int, enough: float = np.inf
    ) -> float:
        """Worth of deciding later, at the best of several moments: after the next look, ``LOOK_S``
        from now at the earliest; once ``most`` stages ahead are done; once a fragrance is in, when
        there is something to be seen. Not looked for further once it is ``enough``."""
        soon = sum(end < self._at.now + LOOK_S for end in self.ends) + 1
        scented = [i for i, stage in enumerate(self._state.ahead, 1) if stage.fragrance_into]
        moments = [soon, most, (soon + most) // 2, *[i for i in scented if i >= soon][:MOST_LOOKS]]
        best = -np.inf
        for moment in dict.fromkeys(max(soon, moment) for moment in moments):
            best = max(best, self._deciding(way, going_on, moment))
            if best >= enough:
                break
        return float(best)

    def _deciding(self, way: SwirlChoice, going_on: SwirlChoice, stages: int) -> float:
        """Choosing once so many stages ahead are done between going on, ``way``, and either of them
        without fragrance in the rest.

        A look then tells how thick the thickest pot is; where nobody looks, the best of them is
        taken as it is foreseen now.
        """
        run, on = self._going_on, self._worths(going_on)
        if stages > len(self.ends):
            return float(np.mean(on))
        others = [self._begun_after(way, stages), *self._unscented(way, going_on, stages)]
        ways = [on, *(later for later in others if later is not None)]
        at = self.ends[stages - 1]
        looks = np.floor(run.thickest(at) / LOOKS_APART).astype(np.intp)
        best = np.maximum.reduce([np.bincount(looks, one) for one in ways]).sum() / len(on)
        blind = max(float(np.mean(one)) for one in ways)
        return LOOKED * float(best) + (1 - LOOKED) * blind

    def saves_and_costs(self, way: SwirlChoice, going_on: SwirlChoice) -> tuple[float, float]:
        """What ``way`` begun now is worth more in the draws where it is worth more than going on,
        and less in those where it is worth less: both shared out over all of them."""
        begun = self._begun_after(way, 0)
        more = (way.worth if begun is None else begun) - self._worths(going_on)
        return float(np.mean(np.maximum(more, 0.0))), float(np.mean(np.maximum(-more, 0.0)))

    def _worths(self, going_on: SwirlChoice) -> Array:
        """Worth of going on in each draw; what went wrong has been counted in its chances."""
        run, at_all = self._going_on, going_on.chance + going_on.chance_in_part > 0.0
        planned = run.planned & (going_on.chance > 0.0)
        return worths(going_on.become, planned, run.in_part & at_all, self._at.known.risk)

    def _unscented(
        self, way: SwirlChoice, going_on: SwirlChoice, stages: int
    ) -> tuple[Array | None, ...]:
        """Worth of both ways without fragrance in the rest, where some pot has its fragrance then
        and some has not."""
        ahead = self._state.ahead
        scented = any(pot.fragrance_in is not None for pot in self._state.pots.values())
        scented = scented or any(stage.fragrance_into for stage in ahead[:stages])
        if not scented or not any(stage.fragrance_into for stage in ahead[stages:]):
            return ()
        return tuple(self._begun_after(one, stages, UNSCENTED) for one in (going_on, way))


def further(state: PourState, stages: Sequence[Stage]) -> PourState:
    """The pour once ``stages``, the first ahead, are done: where its batter is, what is left."""
    pots = dict(state.pots)
    for stage in stages:
        for name in stage.pots if stage.puts else ():
            pots[name] = replace(pots[name], where=stage.puts or "pot")
        if stage.puts == "mould":
            moved = {n: replace(p, where="mould") for n, p in pots.items() if p.where == "base"}
            pots.update(moved)
    done = (*state.done, *(DoneStage(stage, 0.0, 0.0) for stage in stages))
    return replace(state, pots=pots, done=done, ahead=state.ahead[len(stages) :])
