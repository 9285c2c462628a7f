"""Milestone times of every pot in every draw, while stages blend, add fragrance and pour.

All arrays are over draws, s since lye met oils.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache, reduce

import numpy as np
from numpy.typing import NDArray

from soapbench.batter import Blend, Trace
from soapbench.pour.state import PotState
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws, dosed_again, milestone_times, seconds_to

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(slots=True)
class KeptTimes:
    """What batters of the same draws share."""

    times: dict[tuple[str | None, bytes | float | None, tuple[Blend, ...], float | None], Array] = (
        field(default_factory=dict)
    )
    """Milestone times by fragrance, when it went in, bursts, and when a second dose did."""


class Batters:
    """Milestone times of every pot in every draw, kept while the stages change the pots."""

    def __init__(self, draws: Draws, pots: Mapping[str, PotState], kept: KeptTimes | None) -> None:
        self._draws = draws
        self._pots = {
            name: PotState(
                name,
                fragrance=pot.fragrance,
                blends=pot.course,
                where=pot.where,
                second_dose=pot.second_dose,
            )
            for name, pot in pots.items()
        }
        self._scented: dict[str, float | Array | None] = {
            name: pot.fragrance_in for name, pot in pots.items()
        }
        self._kept = kept or KeptTimes()
        self._times: dict[str, Array] = {}

    def copy(self) -> Batters:
        """Another that changes apart from this one."""
        other = Batters.__new__(Batters)
        other._draws, other._kept = self._draws, self._kept
        other._pots, other._scented = self._pots.copy(), self._scented.copy()
        other._times = self._times.copy()
        return other

    def add_fragrance(self, pot: str, at: Array) -> None:
        self._scented[pot] = at
        self._times.pop(pot, None)

    def blend(self, pots: Sequence[str], burst: Blend) -> None:
        for name in pots:
            self._times.pop(name, None)
            pot = self._pots[name]
            self._pots[name] = replace(pot, blends=(*pot.blends, burst))

    def seconds_to(self, stage: Stage, start: Array, spent: float) -> Array:
        """Blending that ``stage`` still takes from ``start`` on, (draws,) s, the slowest of its
        pots counting; ``spent`` of it is done but not keyed."""
        longest = np.zeros(self._draws.n)
        for name in stage.pots:
            pot, scented = self._pots[name], self._scented[name]
            if stage.blend_to is not None:
                how = (stage.blend_to, pot.fragrance, scented, pot.blends, start, stage.litres)
                longest = np.maximum(longest, seconds_to(self._draws, *how))
        return np.maximum(longest - spent, 0.0)

    def times(self, name: str) -> Array:
        """Milestones of one pot, shape (draws, 5), s; column j is Trace(j)."""
        if name in self._times:
            return self._times[name]
        pot, scented = self._pots[name], self._scented[name]
        # A time in each draw is the same in every run that comes to it by the same stages.
        when = scented.tobytes() if isinstance(scented, np.ndarray) else scented
        fragrance = None if scented is None else pot.fragrance
        key = (fragrance, when, pot.blends, pot.second_dose)
        times = self._kept.times.get(key)
        if times is None:
            times = milestone_times(self._draws, fragrance, scented, pot.blends)
            if fragrance is not None and pot.second_dose is not None:
                reached = [b.end for b in pot.blends if b.to is not None]
                since = max(pot.second_dose, *reached, 0.0)
                times = dosed_again(self._draws, fragrance, times, since)
            times = self._kept.times[key] = np.asfortranarray(times)  # its columns are asked for
        self._times[name] = times
        return times

    def last(self, need: Need, state: Trace) -> Array:
        """When the last of the pots in ``need`` reaches ``state``."""
        times = [column(self.times(pot), state) for pot in need.pots]
        return reduce(np.maximum, times)

    def limits(self, stage: Stage, drawn: bool) -> tuple[Array, Array]:
        """Until when ``stage`` comes out as planned, and in part; inf where it always does."""
        planned: list[Array] = []
        in_part: list[Array] = []
        for need in stage.needs:
            now, later = need.limits(drawn)
            if now < Trace.SET_UP:
                planned += [column(self.times(pot), now + 1) for pot in need.pots]
            if later < Trace.SET_UP:
                in_part += [column(self.times(pot), later + 1) for pot in need.pots]
        return self._earliest(planned), self._earliest(in_part)

    def _earliest(self, times: Sequence[Array]) -> Array:
        return reduce(np.minimum, times) if times else never(self._draws.n)


def trace_at(times: Array, t: Array | float) -> Array:
    """Trace state of each batter at ``t``: 0 at stable emulsion, 1 at light trace, 4 from set up.

    ``times`` (n, 5): when it reaches stable emulsion … set up, s. Between two of them the time
    decides.
    """
    passed, before = np.zeros(len(times)), times[:, 0]
    for reached in times.T[1:]:
        passed += np.clip((t - before) / np.maximum(reached - before, 1e-9), 0.0, 1.0)
        before = reached
    return passed


def share(flags: Flags) -> float:
    """Of the draws, in half of numpy's time for a mean."""
    return int(np.count_nonzero(flags)) / len(flags)


def median(values: Array) -> float:
    """As numpy has it, in a third of its time."""
    middle = len(values) // 2
    part = np.partition(values, middle)
    if len(values) % 2:
        return float(part[middle])
    return 0.5 * float(part[:middle].max() + part[middle])


@lru_cache(maxsize=8)
def never(n: int) -> Array:
    """Of what is never too late; always the same array for as many draws."""
    times = np.full(n, np.inf)
    times.setflags(write=False)
    return times


STATES = len(Trace)


def column(times: Array, state: int) -> Array:
    """When ``state`` is reached, of milestone times that end with set up."""
    return times[:, state - STATES]
