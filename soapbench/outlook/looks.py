"""What is believed of each pot's trace at one moment: when to ask for a look, and when a tap is so
far from it that it is asked once more.

A look is asked for at the pot where it would tell most, among those the stages ahead depend on:
the one most likely to be past the state it was last seen in. Nothing is asked of a pot that was
looked at, scented or poured off less than ``LOOK_EVERY_S`` ago, unless how to go on hangs on it:
a warning comes after a look, not in its place, and while it stands a look can still take it back.

Until somebody has looked, what is left only gets less: silence is not good news.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from soapbench.batter import Trace
from soapbench.outlook.batters import Batters, share
from soapbench.outlook.finishing import Outlook, Quantiles
from soapbench.outlook.running import Kept
from soapbench.pour.state import PotState, PourState, no_batter
from soapbench.thickening.draws import Draws

LOOK_EVERY_S = 45.0
"""Hands full of soap are not asked more often (ours)."""
DECIDING_EVERY_S = 20.0
"""But where another way would be better unless a look tells otherwise (ours)."""
WORTH_A_LOOK = 0.25
"""Chance of being past the state last seen from which a look tells enough (ours)."""
WORTH_DECIDING = 0.1
"""The same where another way would be better unless a look tells otherwise (ours)."""
UNFORESEEN = 0.01
"""What fewer draws than this share say is asked once more (ours)."""


@dataclass(frozen=True, slots=True)
class Belief:
    """Of one pot."""

    reached: tuple[tuple[float, float], ...]
    """Earliest and latest times of stable emulsion … set up, s, by all but the most extreme draws
    at each end."""
    passed: float
    """The chance that it is past the state last seen."""


def beliefs(
    state: PourState, draws: Draws, now: float, kept: Kept | None = None
) -> dict[str, Belief]:
    """Of every pot, from joint draws of the batter. ``kept``: what was run through them before."""
    stage, n = state.stage, draws.n
    pots = dict(state.pots)
    for name in stage.fragrance_into if stage is not None else ():
        if pots[name].fragrance_in is None:  # as the log will take it once this stage is done
            pots[name] = replace(pots[name], fragrance_in=state.stage_begun)
    batters, believed = Batters(draws, pots, kept), {}
    for name, pot in state.pots.items():
        times = batters.times(name)
        out = int(UNFORESEEN * n)
        # One after the other takes a quarter of the time of both at once.
        ends = [np.partition(times.T, k, axis=1)[:, k].tolist() for k in (out, n - 1 - out)]
        passed = share(times[:, pot.trace + 1] <= now) if pot.trace < Trace.SET_UP else 0.0
        believed[name] = Belief(tuple(zip(*ends, strict=True)), passed)
    return believed


def unforeseen(belief: Belief, state: Trace, now: float) -> bool:
    """Whether a tap of ``state`` at ``now`` is far from all that is believed of its pot."""
    too_late = state < Trace.SET_UP and belief.reached[state + 1][1] < now
    return too_late or before_foreseen(belief, state, now)


def before_foreseen(belief: Belief, state: Trace, now: float) -> bool:
    """Whether nobody would have looked for ``state`` yet at ``now``."""
    return state > Trace.EMULSION and belief.reached[state][0] > now


def look_wanted(
    state: PourState, believed: Mapping[str, Belief], now: float, deciding: bool = False
) -> str | None:
    """The pot to be looked at now; None: a look would tell little, or it was asked just now.

    ``deciding``: how to go on hangs on it. Then only what was really seen counts as a look.
    """
    if state.stage is None:
        return None
    needed = {pot for stage in state.ahead for need in stage.needs for pot in need.pots}
    asked = {
        name: believed[name].passed
        for name, pot in state.pots.items()
        if name in needed
        and name in believed
        and not no_batter(state, name)
        and pot.trace < Trace.SET_UP
        and (
            now - (pot.looked or 0.0) >= DECIDING_EVERY_S
            if deciding
            else now - _last_touched(state, pot) >= LOOK_EVERY_S
        )
        and believed[name].passed >= (WORTH_DECIDING if deciding else WORTH_A_LOOK)
    }
    return max(asked, key=lambda name: asked[name], default=None)


def _last_touched(state: PourState, pot: PotState) -> float:
    """When eyes were last in the pot for certain: a look, its fragrance, its pouring off."""
    hands = [d.done for d in state.done if pot.name in d.stage.pots and not d.skipped]
    return max([0.0, pot.looked or 0.0, pot.fragrance_in or 0.0, *hands])


def counted_down(before: Outlook, after: Outlook, passed_s: float) -> Outlook:
    """``after``, ``passed_s`` later with no key between: no time left, no window and nothing to
    spare is longer than it was."""
    room = {
        pot: _least(left, was, passed_s) if (was := before.room_s.get(pot)) else left
        for pot, left in after.room_s.items()
    }
    windows = {
        pot: _least(until, was, 0.0) if (was := before.window_s.get(pot)) else until
        for pot, until in after.window_s.items()
    }
    spare = after.to_spare_s
    if before.in_part == after.in_part:
        spare = min(before.to_spare_s, spare)
    return replace(after, room_s=room, window_s=windows, to_spare_s=spare)


def _least(now: Quantiles, was: Quantiles, passed_s: float) -> Quantiles:
    return Quantiles(
        min(now.p10, max(was.p10 - passed_s, 0.0)),
        min(now.p50, max(was.p50 - passed_s, 0.0)),
        min(now.p90, max(was.p90 - passed_s, 0.0)),
    )
