"""A pour at one moment, and the draws it is foreseen by: what all advice is asked of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from soapbench.advice.known import Known
from soapbench.advice.ways import Way
from soapbench.outlook.finishing import Each, Finish, each, finish
from soapbench.outlook.running import Kept
from soapbench.plan import Plan
from soapbench.pour.state import PourState
from soapbench.swirls.stage import Stage
from soapbench.thickening.draws import Draws


@dataclass(frozen=True, slots=True)
class Moment:
    """The state a pour is really in at ``now``, s since lye met oils."""

    plan: Plan
    ml: Mapping[str, float]
    """Of each pot."""
    known: Known
    state: PourState
    draws: Draws
    now: float
    kept: Kept = field(default_factory=Kept)
    """What runs from here share."""
    ways: dict[Way, tuple[Stage, ...]] = field(default_factory=dict)
    """What lies ahead by each way, once it was asked for."""

    def each(self, ahead: Sequence[Stage]) -> Each:
        """``ahead`` run from here, draw by draw."""
        pots, pace = self.state.pots, self.known.pace
        return each(ahead, pots, self.draws, pace, self.now, self._begun(ahead), self.kept)

    def finish(self, ahead: Sequence[Stage]) -> Finish:
        """The same in short."""
        pots, pace = self.state.pots, self.known.pace
        return finish(ahead, pots, self.draws, pace, self.now, self._begun(ahead), self.kept)

    def _begun(self, ahead: Sequence[Stage]) -> float | None:
        """Since when the first of them is in hand; None: it is not."""
        return self.state.hands_began if ahead[:1] == self.state.ahead[:1] else None
