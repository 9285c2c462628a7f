"""Whether a photographed face stands on its head, told by the face that was drawn for it.

A bar upside down looks like any bar: only what was poured last lies where it was poured first. Both
faces are cut into bands from top to bottom; how much of each colour lies in each is compared as
taken and turned over. Figures are ours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soapbench.photos.colour import Floats

BANDS = 8
ON_ITS_HEAD = 0.05
"""Part of the face that fits better turned over, from which it is asked whether it is."""
CLEARLY_UP = -0.02
"""Less than this much better as it is, and nothing is called sure: it might be either way up."""

Labels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Stands:
    """By how much of the face it fits better turned over than as it is, -1 to 1."""

    turned_over: float

    @property
    def on_its_head(self) -> bool:
        return self.turned_over > ON_ITS_HEAD

    @property
    def clear(self) -> bool:
        return self.turned_over < CLEARLY_UP


def stands(photographed: Labels, drawn: Labels, colours: int) -> Stands:
    """``seen``, ``drawn``: (h, w) of each a colour's number below ``colours``; above it: none."""
    taken, wanted = _bands(photographed, colours), _bands(drawn, colours)
    apart = [float(np.abs(one - wanted).sum()) / 2 / BANDS for one in (taken, taken[::-1])]
    return Stands(apart[0] - apart[1])


def _bands(labels: Labels, colours: int) -> Floats:
    """(bands, colours) each colour's share of each band, top first; nought without any colour."""
    held = np.nonzero((labels < colours).any(axis=1))[0]
    shares = np.zeros((BANDS, colours))
    if len(held):
        for i, band in enumerate(np.array_split(labels[held[0] : held[-1] + 1], BANDS)):
            counts = np.bincount(band[band < colours], minlength=colours)[:colours]
            shares[i] = counts / max(int(counts.sum()), 1)
    return shares
