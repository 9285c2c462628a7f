"""The mould while it fills, and the maker's hand that fills it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from soapbench.barface.box import Layer, Profile, Twist
from soapbench.barface.design import Design
from soapbench.barface.inclusion import Inclusion
from soapbench.barface.maps import Floats
from soapbench.barface.potswirl import PotSwirl

GRID: Floats = np.linspace(0.0, 1.0, 193)
"""Nodes of a profile across the mould."""

Op = Layer | Twist | Inclusion
Mix = tuple[tuple[int, float], ...]
"""Pots and their shares in one evenly coloured batter; empty for a pot swirl."""


class Hand:
    """The maker's hand: draws that depend on the seed and drift along the loaf."""

    def __init__(self, seed: int, where: float) -> None:
        self._draws = np.random.default_rng(seed)
        self.where = where
        self.end = (2.0 * where - 1.0) ** 4
        """0 in the middle of the loaf, 1 at its ends."""

    def about(self, n: int, spread: float, drift: float = 0.5) -> Floats:
        """``n`` numbers around 0, within ``spread``; ``drift`` of that changes along the loaf."""
        u = self._draws.random((n, 3))
        swing = np.sin(2.0 * np.pi * ((0.4 + 0.9 * u[:, 1]) * self.where + u[:, 2]))
        return spread * ((1.0 - drift) * (2.0 * u[:, 0] - 1.0) + drift * swing)

    def order(self, n: int) -> Floats:
        """A shuffle of range(n), the same at every place along the loaf."""
        return np.argsort(self._draws.random(n)).astype(np.float64)


@dataclass(slots=True)
class Filling:
    """The mould while it fills: what was done so far, and how high the batter stands."""

    design: Design
    hand: Hand
    ops: list[Op] = field(default_factory=list)
    mixes: list[Mix] = field(default_factory=list)
    """What the entries of ``ops`` stand for."""
    swirls: dict[int, PotSwirl] = field(default_factory=dict)
    """Entries whose points are coloured by a field rather than evenly."""
    level: float = 0.0

    @property
    def depth(self) -> float:
        return self.design.mould.depth / self.design.mould.width

    def entry(self, *mix: tuple[int, float]) -> int:
        """The number by which this evenly coloured mix goes."""
        if mix not in self.mixes:
            self.mixes.append(mix)
        return self.mixes.index(mix)

    def cover(self, entry: int, area: float, thickness: Floats) -> Layer:
        """Pour over everything; ``thickness`` across the mould, up to its mean, above zero."""
        profile = Profile.of(np.zeros_like(GRID), 0.0)
        if self.level > 0.0:
            uneven = (thickness / _mean(thickness) - 1.0) * area
            # no layer cuts what lies below right through: so much unevenness is possible
            most = 0.9 * self.level / max(float(uneven.max()), 1e-12)
            profile = Profile.of(self.level - min(1.0, most) * uneven, self.level)
        layer = Layer(entry, self.level, profile)
        self.ops.append(layer)
        self.level += area
        return layer

    def part(self, entry: int, area: float, at: tuple[float, float], shape: Floats) -> None:
        """Pour into the rest about ``at``: x across, depth below the surface as a share."""
        x = float(np.clip(at[0], 0.03, 0.97))
        y = float(np.clip(1.0 - at[1], 0.03, 0.97)) * self.level
        self.ops.append(Inclusion.make(entry, area, self.level, (x, y), shape))
        self.level += area

    def twist(self, cx: float, cy: float, across: float, up: float, turn: float) -> None:
        """A turn, its ellipse shrunk where it would touch a wall."""
        across = min(across, cx - 1e-4, 1.0 - cx - 1e-4)
        up = min(up, cy - 1e-4, self.level - cy - 1e-4)
        if across > 0.01 and up > 0.01:
            self.ops.append(Twist(cx, cy, across, up, turn))


def _mean(heights: Floats) -> float:
    return float((0.5 * (heights[1:] + heights[:-1])).mean())
