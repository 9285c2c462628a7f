"""Simulated hands: how long they take, and when they see and tap a trace state.

They work at the maker's own pace and see what a maker would see, late and not always; they do not
know the batter. For rehearsals without keys, and for tests.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from soapbench.batter import Trace
from soapbench.pace import Pace
from soapbench.pour.state import PourState, no_batter
from soapbench.swirls.stage import Stage
from soapbench.thickening.priors import Priors

DELAY_S = Priors.delay
"""Mean time from a batter coming to a state until the tap (ours, as the model has it)."""
NOTICED = 0.85
"""Chance that a state nobody waits for is tapped at all (ours)."""
HEEDS_S = 10.0
"""From a warning to taking its rescue (ours)."""


@dataclass
class Hands:
    """One pair of hands. ``rng`` decides everything: the same seed, the same hands."""

    pace: Pace
    rng: np.random.Generator
    delay_s: float = DELAY_S
    noticed: float = NOTICED
    _delays: dict[tuple[str, Trace], float] = field(default_factory=dict, repr=False)
    _missed: dict[tuple[str, Trace], bool] = field(default_factory=dict, repr=False)

    def takes(self, stage: Stage) -> float:
        """How long they work on ``stage`` this time, waiting left out, s."""
        median, spread = self.pace.duration(stage.action, stage.median_s, stage.spread)
        return max(1.0, median * math.exp(spread * float(self.rng.standard_normal())))

    def ready(self, stage: Stage, state: PourState) -> bool:
        """Whether every pot has been seen to have come to what ``stage`` must wait for."""
        return all(state.pots[pot].trace >= trace for pot, trace in stage.waits)

    def next_tap(
        self, state: PourState, times: Mapping[str, Sequence[float]], now: float
    ) -> tuple[float, str, Trace] | None:
        """The next trace state they will tap: when, which pot; None: none that is looked for.

        Only pots that a stage ahead depends on are looked at, once their batter is there to be
        seen. Of states passed meanwhile the last is tapped. ``times``: each pot's true milestones,
        stable emulsion … set up, s.
        """
        needed = {pot for stage in state.ahead for need in stage.needs for pot in need.pots}
        watched = [pot for pot in needed if not no_batter(state, pot)]
        waited = dict(state.ahead[0].waits) if state.ahead else {}
        taps = []
        for pot in sorted(watched):
            for trace in Trace:
                if trace <= state.pots[pot].trace:
                    continue
                really = times[pot][trace]
                if self._misses(pot, trace) and trace < waited.get(pot, math.inf):
                    continue
                at = max(now, really + self._delay(pot, trace))
                following = times[pot][trace + 1] if trace < Trace.SET_UP else math.inf
                if at < following or trace is Trace.SET_UP:
                    taps.append((at, pot, trace))
                    break
        return min(taps, default=None)

    def _delay(self, pot: str, trace: Trace) -> float:
        if (pot, trace) not in self._delays:
            self._delays[pot, trace] = self.delay_s * float(self.rng.gamma(2.0, 0.5))
        return self._delays[pot, trace]

    def _misses(self, pot: str, trace: Trace) -> bool:
        if (pot, trace) not in self._missed:
            self._missed[pot, trace] = float(self.rng.random()) > self.noticed
        return self._missed[pot, trace]
