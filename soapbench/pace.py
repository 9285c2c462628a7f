"""How long this maker's hands take: stage durations, learned from the maker's own taps.

Log duration of a stage, over its table median, is normal about a shift of its kind of handwork;
the kinds' shifts are themselves normal about the maker's own (slow or quick all round). Means are
shrunk in closed form, kind by kind; spreads are shrunk to the table's by pseudo-counts.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

MAKER_SD = 0.35
"""Spread of makers about our table, in log time (ours)."""
KIND_SD = 0.25
"""Spread of one maker's kinds of handwork about that maker (ours)."""
SPREAD_COUNT = 8.0
"""How many timed stages the table's own spread is worth (ours)."""
LEAST_S = 3.0
"""Shorter than this is a slip of the key, not handwork (ours)."""
WILDEST = 3.0
"""A stage this many standard deviations of makers and stages off our table (some five times as
long or as short) is a break, a forgotten key or a key by mistake, and teaches nothing (ours)."""

NINE_OF_TEN = 1.2816
"""Standard deviations below which nine of ten of a normal distribution lie."""


@dataclass(frozen=True, slots=True)
class Timed:
    """One stage the maker did: its kind, how long it was foreseen (table) and how long it took."""

    action: str
    table_s: float
    took_s: float
    spread: float


def plausible(stage: Timed) -> bool:
    """Whether that can have been handwork."""
    if stage.took_s < LEAST_S:
        return False
    spread = math.hypot(stage.spread, MAKER_SD, KIND_SD)
    return abs(math.log(stage.took_s / stage.table_s)) <= WILDEST * spread


@dataclass(frozen=True, slots=True)
class KindPace:
    """One kind of handwork: its shift in log time with its sd, its spread, how often timed."""

    shift: float
    sd: float
    spread_factor: float
    timed: int


@dataclass(frozen=True, slots=True)
class Pace:
    """The maker's pace; ``of`` gives what is believed of a kind, timed before or not."""

    kinds: Mapping[str, KindPace] = field(default_factory=dict)
    shift: float = 0.0
    sd: float = MAKER_SD

    def of(self, action: str) -> KindPace:
        known = self.kinds.get(action)
        return known or KindPace(self.shift, math.hypot(self.sd, KIND_SD), 1.0, 0)

    def duration(self, action: str, table_s: float, spread: float) -> tuple[float, float]:
        """Median, s, and sd of log time of the next stage of this kind, doubt included."""
        kind = self.of(action)
        return table_s * math.exp(kind.shift), math.hypot(spread * kind.spread_factor, kind.sd)

    def slow(self, action: str, table_s: float, spread: float) -> float:
        """What nine of ten such stages are done within, s."""
        median, sd = self.duration(action, table_s, spread)
        return median * math.exp(NINE_OF_TEN * sd)

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Pace:
        """The pace that ``asdict`` made plain. LookupError or TypeError for anything else."""
        kinds = {action: KindPace(**kind) for action, kind in data["kinds"].items()}
        return cls(kinds, data["shift"], data["sd"])


def learn(timed: Iterable[Timed]) -> Pace:
    """The pace that ``timed`` stages show. Order does not matter; none gives the table's."""
    logs: dict[str, list[tuple[float, float]]] = {}
    for stage in filter(plausible, timed):
        ratio = math.log(stage.took_s / stage.table_s)
        logs.setdefault(stage.action, []).append((ratio, stage.spread))

    # The maker's own shift, from each kind's mean; a kind's mean scatters by KIND_SD and its noise.
    weight, weighted = 1 / MAKER_SD**2, 0.0
    for ratios in logs.values():
        mean, noise = _mean(ratios)
        w = 1 / (KIND_SD**2 + noise)
        weight += w
        weighted += w * mean
    shift, sd = weighted / weight, weight**-0.5

    kinds = {}
    for action, ratios in logs.items():
        mean, noise = _mean(ratios)
        w = KIND_SD**2 / (KIND_SD**2 + noise)
        kind_shift = w * mean + (1 - w) * shift
        kind_sd = math.sqrt(w * noise + ((1 - w) * sd) ** 2)
        squares = sum(((r - kind_shift) / s) ** 2 for r, s in ratios)
        factor = math.sqrt((SPREAD_COUNT + squares) / (SPREAD_COUNT + len(ratios)))
        kinds[action] = KindPace(kind_shift, kind_sd, factor, len(ratios))
    return Pace(kinds, shift, sd)


def _mean(ratios: list[tuple[float, float]]) -> tuple[float, float]:
    """Mean log ratio of one kind, and its sampling variance."""
    mean = sum(r for r, _ in ratios) / len(ratios)
    variance = sum(s**2 for _, s in ratios) / len(ratios)
    return mean, variance / len(ratios)
