"""How far down a colour comes in a cut face, drawn or photographed, in the cut review's words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from soapbench.aftercare.cutreview import REACHED

MOST_OF_IT = 0.9
"""A colour has come as far down as this share of it."""
BOTTOM_FROM, HALF_WAY_FROM = 0.75, 0.40
"""Depths as shares of the face; a drop swirl crosses them near light and past medium trace (ours).
"""


def depth_of(mine: NDArray[np.bool_], soap: NDArray[np.bool_]) -> float:
    """How far down the pixels ``mine`` of a face ``soap`` (h, w each, row 0 on top) come, 0 top to
    1 bottom; nan where there are none."""
    rows = np.nonzero(mine)[0]
    held = np.nonzero(soap.any(axis=1))[0]
    if not len(rows):
        return float("nan")
    first, last = int(held[0]), int(held[-1])
    return float((np.quantile(rows, MOST_OF_IT) - first + 0.5) / (last - first + 1))


def reach(depth: float) -> str:
    """Of ``REACHED``; what does not show at all stayed on top."""
    if depth >= BOTTOM_FROM:
        return REACHED[0]
    return REACHED[1] if depth >= HALF_WAY_FROM else REACHED[2]
