"""A plan before it is poured: every swirl run through one set of draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from soapbench.advice.advise import THINNED, Advice, advice_of
from soapbench.advice.known import Known, mix_of
from soapbench.advice.moment import Moment
from soapbench.advice.reasons import why
from soapbench.advice.switching import Switching
from soapbench.advice.ways import (
    SwirlChoice,
    becomes,
    best_first,
    choice,
    ways_before,
)
from soapbench.outlook.finishing import Finish, Outlook, finish, outlook
from soapbench.outlook.running import Kept
from soapbench.plan import Plan
from soapbench.pour.history import history
from soapbench.pour.state import opening
from soapbench.recipe.amounts import Amounts, pot_ml
from soapbench.recipe.amounts import amounts as amounts_of
from soapbench.swirls.stages import stages
from soapbench.thickening.draws import Draws
from soapbench.thickening.in_hand import live

DRAWS = 4000
"""Of the batter."""


class Foreseen:
    """A plan before it is poured: one set of draws, and every swirl run through it."""

    def __init__(
        self, plan: Plan, known: Known, amounts: Amounts | None = None, draws: int = DRAWS
    ) -> None:
        self.plan = plan
        self.known = known
        self.amounts = amounts or amounts_of(plan, known.oils, known.colourants, known.additives)
        self.ml = pot_ml(self.amounts)
        self._start = opening(plan, self.ml, known.swirls)
        empty = history("", plan, mix_of(plan, self.amounts), self._start, 0.0)
        self._kept = Kept()
        self.draws: Draws = live(known.fit, empty, 0.0, n=draws)

    def outlook(self, steps: Sequence[str] | None = None) -> Outlook:
        known, pots = self.known, self._start.pots
        ahead = stages(self.plan, self.ml, known.swirls, steps)
        become = becomes(steps or self.plan.swirl.steps, self.plan, self._start, known.swirls)
        return outlook(
            ahead, pots, self.draws, known.pace, kept=self._kept, risk=known.risk, become=become
        )

    def finish(self, steps: Sequence[str]) -> Finish:
        ahead = stages(self.plan, self.ml, self.known.swirls, steps)
        return finish(ahead, self._start.pots, self.draws, self.known.pace, kept=self._kept)

    def choice(self, steps: Sequence[str]) -> SwirlChoice:
        become = becomes(steps, self.plan, self._start, self.known.swirls)
        return choice(steps, self.finish(steps), become, self.known.risk)

    def choices(self) -> list[SwirlChoice]:
        """The plan's own swirl and every other way to pour it, best first."""
        ways = [self.choice(steps) for steps in ways_before(self.plan, self.known.swirls)]
        return best_first(ways, self.plan, self.known.swirls)

    def advice(self, choices: Sequence[SwirlChoice], outlook: Outlook) -> Advice:
        """What the plan sheet advises; ``choices`` and ``outlook`` as worked out here."""
        plain = advice_of(choices, tuple(self.plan.swirl.steps), why(outlook, {}))
        if plain.backup is None:
            return plain
        few = self.draws.picked(slice(None, None, THINNED))
        at = Moment(self.plan, self.ml, self.known, self._start, few, 0.0)
        return replace(plain, switch_by_s=Switching(at).switch_by(plain.backup)[0])
