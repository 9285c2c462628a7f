"""What one pot showed: what its taps say, and what their absence does."""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, inf
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapbench.batter import MILESTONES, Blend, PotHistory, Trace, standing
from soapbench.thickening.priors import Priors

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


class Sign(NamedTuple):
    """One thing learned from a pot; the fields as in ``Rows``, but for its time, which hangs on how
    late this maker keys what is there."""

    milestone: int
    keyed: float
    """When it was keyed, or last could have been, s."""
    late: bool
    """That it was there the delay before; else at ``keyed``."""
    least: float
    """But not before."""
    news: float
    """It says nothing where it was there by then."""
    tapped: bool
    floor: float
    unsure: float
    """``AS_LATE``: as much as it was late."""

    @property
    def stop(self) -> tuple[int, float] | None:
        """Of a milestone at which the blender was stopped, nobody's tap: which, and when, s."""
        return (self.milestone, self.keyed) if self.tapped and not self.late else None


AS_LATE = -1.0
STOPPED_S = 8.0
"""How well the moment is known at which a batter under the blender comes to a state (ours)."""
JUST_BLENDED_S = 60.0
"""So long after the blender a tap of stable emulsion still tells when it was reached (ours)."""


def blended_up(pot: PotHistory) -> Blend | None:
    """The last burst kept up to a state and not keyed: exposure counts from its end."""
    blends = [b for b in pot.blends if b.to is not None and b.seconds > 0 and b.end <= pot.until]
    return blends[-1] if blends else None


def seen_at(signs: Array, delay: float) -> tuple[Flags, Array, Array]:
    """Of ``signs``, (8, n) by the fields of ``Sign``: which say something of a maker who taps so
    late, when each was there, s, and how unsure that is, s."""
    _, keyed, late, least, news, _, _, unsure = signs
    t = np.maximum(keyed - delay * late, least)
    return t > news, t, np.where(unsure == AS_LATE, delay, unsure)


def signs_of(pot: PotHistory, priors: Priors, skipped: float) -> list[Sign]:
    """What a pot's taps say, and what their absence does.

    ``skipped`` is the chance that this maker lets a milestone go by without a tap.
    """
    first, last = standing(tap for tap in pot.taps if tap.t <= pot.until)
    up = blended_up(pot)
    to = [b.to for b in pot.blends if b.to is not None and b.end <= pot.until]
    sure = max([pot.together, *to])
    reached = max([sure, *first])
    begun = up.end if up else -1.0
    signs = _emulsified(pot, first, begun)
    looked = pot.until if pot.keyed is None else min(pot.until, pot.keyed + priors.patience)
    away = 0.0 if first or sure > Trace.EMULSION else priors.untended
    silent = 1.0  # chance of no tap at all although every milestone so far had been reached
    for milestone in MILESTONES[1:]:
        if milestone in first:
            # What it was blended up to is known from the blender; a tap of it says "still so".
            if (tap := first[milestone]) > begun and milestone not in to:
                least = max(_least(tap, pot.fragrance_in), begun + 1.0)
                signs.append(Sign(milestone, tap, True, least, -inf, True, 0.0, AS_LATE))
        elif milestone > reached:
            before, silent = silent, away + (1.0 - away) * skipped ** (milestone - reached)
            # What was reached only now is not tapped.
            floor, news = silent / before, max(begun, 0.0)
            signs.append(Sign(milestone, looked, True, -inf, news, False, floor, 0.0))
            if reached in first and milestone == reached + 1 and last[reached] > begun:
                named = last[reached]  # somebody named the state below
                signs.append(Sign(milestone, named, False, 1.0, -inf, False, priors.mistaken, 0.0))
    return signs


def _least(tap: float, fragrance_in: float | None) -> float:
    """From when on a pot can have come to what was tapped, s: never before its fragrance if it was
    tapped after that, for that is what makes a batter thicken all at once."""
    if fragrance_in is not None and fragrance_in < tap:
        return 0.5 * (max(fragrance_in, 0.0) + tap)
    return 1.0


def _emulsified(pot: PotHistory, first: Mapping[Trace, float], begun: float) -> list[Sign]:
    """When stable emulsion, or what else was blended for, was reached: where a tap can tell.

    Bursts were keyed up to it, or it was tapped soon after the blender. Long after, a tap of
    stable emulsion says no more than that light trace is not there yet.
    """
    signs = [
        Sign(b.to, b.t, False, 1.0, begun, True, 0.0, STOPPED_S)
        for b in pot.blends
        if b.to is not None and not b.seconds and b.t <= pot.until
    ]
    tap = first.get(Trace.EMULSION)
    if tap is not None and not signs:
        since = [tap - b.end for b in pot.blends if b.t <= tap]
        if since and min(since) <= JUST_BLENDED_S:
            unsure = hypot(STOPPED_S, 0.5 * max(min(since), 0.0))
            signs.append(Sign(Trace.EMULSION, tap, True, 1.0, begun, True, 0.0, unsure))
    return signs
