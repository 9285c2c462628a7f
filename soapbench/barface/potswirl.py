"""An in-the-pot swirl: several colours lightly stirred together and poured as one flow.

The stirred pot is an endless sheet of ribbons, turned and drawn out by the plane's own
area-preserving maps. Each accent takes the highest part of a ridge field of its own; where the
field is cut is set on the poured region, so that each colour has its share of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soapbench.barface.maps import Floats, Points, circular_tine, tine, wave


@dataclass(frozen=True, slots=True)
class PotSwirl:
    """Ribbons of several pots: the first is the base, the others lie in it."""

    pots: tuple[int, ...]
    coarse: float
    """Width of the ribbons against a thin batter's: a thick one mixes less."""
    hand: tuple[float, ...]
    """24 numbers from -1 to 1: how this pot was stirred."""
    cuts: tuple[float, ...] = ()
    """Per accent: its ridge field above this is that accent."""

    @classmethod
    def make(
        cls,
        pots: tuple[int, ...],
        shares: tuple[float, ...],
        own_trace: float,
        hand: Floats,
        region: Points,
    ) -> PotSwirl:
        """Cut so that the points of ``region`` (evenly spread over it) have these ``shares``.

        ``shares`` follow ``pots`` and add up to 1; the largest is taken as the base.
        """
        order = sorted(range(len(pots)), key=lambda i: -shares[i])
        drawn = cls(tuple(pots[i] for i in order), 0.8 + 0.25 * own_trace, tuple(map(float, hand)))
        ridges = drawn._ridges(*region)
        free = np.ones(region[0].shape, dtype=np.bool_)
        cuts = []
        left = 1.0
        for ridge, i in zip(ridges, order[1:], strict=True):
            cuts.append(float(np.quantile(ridge[free], 1.0 - shares[i] / left)))
            free &= ridge <= cuts[-1]
            left -= shares[i]
        return cls(drawn.pots, drawn.coarse, drawn.hand, tuple(cuts))

    def _ridges(self, x: Floats, y: Floats) -> list[Floats]:
        h = self.hand
        x, y = circular_tine(x, y, 0.3 + 0.2 * h[0], 0.35 + 0.2 * h[1], 1.9 + 0.5 * h[2], 0.3)
        x, y = circular_tine(x, y, 0.75 + 0.2 * h[3], 0.4 + 0.2 * h[4], -1.7 + 0.5 * h[5], 0.32)
        x, y = circular_tine(x, y, 0.5 + 0.4 * h[6], 0.1 + 0.2 * h[7], 1.3 * h[8], 0.25)
        x, y = tine(x, y, (0.5 + 0.3 * h[9], 0.3), 1.4 + 0.4 * h[10], 0.25 * h[11], 0.12)
        x, y = wave(x, y, 1.2 + 0.4 * h[12], 0.05 + 0.02 * h[13], 7.0 + 2.0 * h[14], 3.0 * h[15])
        across = y + (0.25 + 0.2 * h[16]) * x
        along = x - 0.3 * y
        ridges = []
        for k in range(len(self.pots) - 1):
            # two wave trains that drift apart make ribbons swell, thin out and end
            tone = (27.0 + 3.0 * h[17] + 2.1 * k) / self.coarse
            phase = 6.3 * k / max(1, len(self.pots) - 1) + 3.0 * h[18]
            ridge = np.cos(tone * across + phase + 0.8 * np.sin(3.1 * along + 3.0 * h[19]))
            ridge += 0.55 * np.cos(0.63 * tone * across + 2.6 * along + 2.0 * k + 3.0 * h[20])
            ridge += 0.30 * np.cos(5.0 * along - 1.9 * tone * across + 3.0 * h[21])
            ridges.append(ridge)
        return ridges

    def pots_at(self, x: Floats, y: Floats) -> NDArray[np.uint8]:
        """The pot at each point, in the coordinates of the face at the moment of the pour."""
        pots = np.full(x.shape, self.pots[0], dtype=np.uint8)
        free = np.ones(x.shape, dtype=np.bool_)
        for ridge, cut, pot in zip(self._ridges(x, y), self.cuts, self.pots[1:], strict=True):
            mine = free & (ridge > cut)
            pots[mine] = pot
            free &= ~mine
        return pots
