"""How deep streams sink in this maker's hands, learned from what their cuts showed.

One number is learned: how many trace states thinner a batter is to a falling stream than ours of
the same name. It is believed to be none, give or take ``USUAL_SPREAD``; every colour dropped into
a base and looked for at the cut moves it a little. All figures here are ours.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from soapbench.aftercare.cutreview import REACHED, Reach
from soapbench.batter import Tap, Trace
from soapbench.plan import Plan
from soapbench.pour.state import PourState
from soapbench.reading.safetext import counted
from soapbench.swirls.table import SwirlTable

USUAL_SPREAD = 0.35
"""Trace states by which makers differ: how high they pour, how they name the states."""
DOUBT = 0.8
"""Trace states by which one colour at one cut may mislead."""
SLIP = 0.06
"""Share of answers that say nothing: a wrong key, a colour hard to tell from another."""
LEAST_LOAVES = 2
"""One loaf alone moves nothing: it may have been a slip of the hand."""
TO_THE_BOTTOM, STAYED_ON_TOP = 1.1, 1.9
"""A drawn stream reaches the bottom of a base thinner than the first state and stays on top of one
thicker than the second, by the usual sink depths."""
_GRID = tuple(i / 20 for i in range(-40, 41))


@dataclass(frozen=True, slots=True)
class Drop:
    """A colour dropped into the base, and how far it had come at the cut."""

    pot: str
    trace: float
    """Of the base, 0 to 4, by the maker's own taps."""
    reached: tuple[str, ...]
    """Of ``cutreview.REACHED``, one a part of the loaf that was looked at."""


@dataclass(frozen=True, slots=True)
class Sinking:
    """What a maker's cuts say of sinking."""

    thinner: float = 0.0
    """Trace states by which the base acts thinner than its name; below 0: thicker."""
    loaves: int = 0
    """Loaves it rests on."""

    @property
    def words(self) -> str:
        """What it rests on and what it means, for the maker."""
        if self.loaves < LEAST_LOAVES:
            return "Depths are our guess; your own cut reviews will improve them"
        if abs(self.thinner) < 0.1:
            return f"From your {counted(self.loaves, 'loaf', 'loaves')}: sinks as usual"
        way = "deeper" if self.thinner > 0 else "less"
        return f"From your {counted(self.loaves, 'loaf', 'loaves')}: sinks {way} than usual"


def learn(loaves: Iterable[Sequence[Drop]]) -> Sinking:
    """Posterior mean over ``loaves``, each the drops of one; loaves without any count for nothing.

    Ordered probit on a grid: a stream comes out one place deeper or less deep than the base's
    state would have it with a normal error of ``DOUBT`` states. The parts of one loaf are looks at
    one pour, so that together they count as one look.
    """
    taught = [drops for drops in loaves if drops]
    if len(taught) < LEAST_LOAVES:
        return Sinking(0.0, len(taught))
    log_belief = [-0.5 * (shift / USUAL_SPREAD) ** 2 for shift in _GRID]
    for drop in (drop for drops in taught for drop in drops):
        for answer in drop.reached:
            for i, shift in enumerate(_GRID):
                log_belief[i] += math.log(_chance(answer, drop.trace - shift)) / len(drop.reached)
    highest = max(log_belief)
    weights = [math.exp(b - highest) for b in log_belief]
    mean = sum(w * shift for w, shift in zip(weights, _GRID, strict=True)) / sum(weights)
    return Sinking(mean, len(taught))


def _chance(reached: str, trace: float) -> float:
    """P(this answer) for a base that acts as one of state ``trace``."""
    bottom = _normal((TO_THE_BOTTOM - trace) / DOUBT)
    not_top = _normal((STAYED_ON_TOP - trace) / DOUBT)
    meant = (bottom, not_top - bottom, 1.0 - not_top)[REACHED.index(reached)]
    return (1.0 - SLIP) * meant + SLIP / len(REACHED)


def _normal(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def drops_of(
    plan: Plan, state: PourState, table: SwirlTable, reaches: Iterable[Reach]
) -> tuple[Drop, ...]:
    """What one cut teaches: colours dropped into a tapped base, and drawn through by no tool."""
    poured = [d for d in state.done if d.stage.step and not d.skipped]
    if any(table.kinds[d.stage.step].role == "tool" for d in poured):
        return ()
    answers: dict[str, list[str]] = {}
    for reach in reaches:
        answers.setdefault(reach.pot, []).append(reach.reached)
    drops = []
    for done in poured:
        if not done.stage.drops or plan.base.name not in done.stage.onto:
            continue
        trace = tapped_trace(state.pots[plan.base.name].taps, 0.5 * (done.begun + done.done))
        for pot in done.stage.pots:
            if trace is not None and pot in answers:
                drops.append(Drop(pot, trace, tuple(answers[pot])))
    return tuple(drops)


def tapped_trace(taps: Iterable[Tap], t: float) -> float | None:
    """Trace state at ``t`` between the taps before and after it; None where none was made.

    After the last tap it is taken to be half way to the next state.
    """
    known = sorted(taps, key=lambda tap: tap.t)
    if not known:
        return None
    before = max((tap for tap in known if tap.t <= t), key=lambda tap: tap.t, default=None)
    last = before or Tap(0.0, Trace.EMULSION)
    after = next((tap for tap in known if tap.t > t and tap.state > last.state), None)
    if after is None:
        return min(last.state + 0.5, 4.0)
    return last.state + (after.state - last.state) * (t - last.t) / (after.t - last.t)
