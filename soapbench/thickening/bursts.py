"""What the stick blender did in many pots at once: bursts kept by their seconds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from soapbench.batter import PotHistory
from soapbench.thickening.exposure import thinned

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]


class Bursts:
    """Those kept by seconds, each an array (pots, most bursts of one pot)."""

    def __init__(self, pots: Sequence[PotHistory]) -> None:
        kept = [[b for b in pot.blends if b.to is None] for pot in pots]
        shape = (len(pots), max(map(len, kept), default=0))
        self.t, self.seconds, self.thin = np.zeros((3, *shape))
        for i, bursts in enumerate(kept):
            for k, b in enumerate(bursts):
                self.t[i, k], self.seconds[i, k] = b.t, b.seconds
                self.thin[i, k] = thinned(b.litres)

    def by(self, pot: Index, t: Array) -> Array:
        """(n,) as ``exposure.blended_by``, each row of its pot."""
        each = np.clip(t[:, None] - self.t[pot], 0.0, self.seconds[pot])
        return np.asarray((each * self.thin[pot]).sum(axis=1))

    def about(self, pot: Index, t: Array, delay: Array) -> Array:
        """(n,) share of blending about ``t``, while a tap's milestone may have been met.

        A burst is shorter than the delay of a tap, and adds more exposure than all the rest of
        it: the moment alone would take a pot tapped just after a burst for one well known.
        """
        since, until = np.maximum(t - 2.0 * delay, 0.0), t + np.maximum(delay, 1.0)
        return (self.by(pot, until) - self.by(pot, since)) / (until - since)
