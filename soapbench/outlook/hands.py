"""How long hands still take at a stage, draw by draw."""

from __future__ import annotations

import zlib
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from soapbench.outlook.batters import Array
from soapbench.swirls.stage import Stage

LEAST_SPENT_S = 1e-3
"""Time on a stage below which it has just begun."""


@lru_cache(maxsize=256)
def _normals(key: str, n: int) -> Array:
    """The same standard normals for the same work in every alternative, so that alternatives
    differ by what differs in them and not by luck."""
    rng = np.random.default_rng(zlib.crc32(key.encode()))
    normals = rng.standard_normal(n)
    normals.setflags(write=False)
    return normals


@lru_cache(maxsize=256)
def _ranked(key: str, n: int) -> tuple[Array, NDArray[np.intp]]:
    """The normals of ``key`` in order, and the rank of each."""
    z = _normals(key, n)
    order = np.argsort(z, kind="stable")
    ranks = np.empty(n, dtype=np.intp)
    ranks[order] = np.arange(n)
    return z[order], ranks


def still_takes(stage: Stage, median: float, spread: float, spent: float, n: int) -> Array:
    """Time a stage still takes, given that it has taken ``spent`` already and is not done."""
    key = f"{stage.action}/{','.join(stage.pots)}"
    z = _normals(key, n)
    if spent <= LEAST_SPENT_S:
        takes = spread * z
        np.exp(takes, out=takes)
        takes *= median
        return takes
    done = np.log(spent / median) / spread
    ordered, ranks = _ranked(key, n)
    beyond = ordered[np.searchsorted(ordered, done) :]
    # Longer than nearly every such stage: as long again, give or take, as hands that were held up.
    if len(beyond) < 20:
        return np.asarray(0.25 * max(spent, median) * np.exp(0.5 * z))
    picked = beyond[(ranks * len(beyond)) // n]
    return np.asarray(median * np.exp(spread * picked) - spent)
