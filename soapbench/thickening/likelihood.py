"""The log-likelihood of one sighting and its derivatives, for arrays of any shape.

With e = log age - log milestone, a tap has e ~ t(tail) of scale v^1/2, where
v = noise^2 + (delay * rate)^2 and rate = d log E / dt. What is seen is the *time* of the tap, so
its density carries the Jacobian: log rate is part of it. Not tapped means skipped, or not reached.
"""

from __future__ import annotations

from math import lgamma, log, pi
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapbench.thickening import normal

Array = npt.NDArray[np.float64]


def weight(e: Array, v: Array, tail: float, true: bool = False) -> Array:
    """How much a tap counts: 1 in the normal case, near 0 for a tap far off.

    ``true``: a tap is a floor. It may come late, never early: with e below 0 it always counts.
    """
    if np.isinf(tail):
        return np.ones_like(e)
    off = np.asarray((tail + 1.0) / (tail + e * e / v))
    return np.where(e < 0.0, np.ones_like(off), off) if true else off


def log_tapped(e: Array, v: Array, tail: float, true: bool = False) -> Array:
    """Log density of a tap in log exposure; the Jacobian, log rate, is added by the caller.

    ``true`` as in ``weight``: below 0 the t of scale v^1/2 falls off as a normal would.
    """
    if np.isinf(tail):
        return np.asarray(-0.5 * (log(2.0 * pi) + e * e / v + np.log(v)))
    constant = lgamma((tail + 1.0) / 2.0) - lgamma(tail / 2.0) - 0.5 * log(tail * pi)
    power = 0.5 * (tail + 1.0)
    far = e * e / v
    off = power * np.log1p(far / tail)
    if true:
        off = normal.chosen(e < 0.0, 0.5 * far, off)
    return np.asarray(constant - 0.5 * np.log(v) - off)


def tapped_slopes(
    e: Array, v: Array, widened: Array, tail: float, true: bool = False
) -> tuple[Array, Array, Array]:
    """Of a tap's log density: d/de, expected information, and d/d log rate.

    ``widened`` is the delay's part of v. The last holds the Jacobian and what the delay does to v.
    """
    w = weight(e, v, tail, true)
    # Fisher information of a t, relative to the normal it is in its core.
    core = 1.0 if np.isinf(tail) else (tail + 1.0) / (tail + 3.0)
    return -w * e / v, core * w / v, 1.0 + widened * (w * e * e / v - 1.0) / v


FARTHEST, FAR = 30.0, 9.0
"""In noise units. Beyond the first the normal tail underflows; beyond the second it is nothing
beside any chance to miss a tap, and in single precision slow to work out."""


def log_not_tapped(e: Array, noise: float, floor: Array) -> Array:
    """Log probability of not having tapped a milestone; rows along the first axis."""
    z = e * (-1.0 / noise)
    logs = np.empty_like(z)
    sure = (floor if floor.ndim == 1 else floor[:, 0]) == 0.0
    if sure.any():
        logs[sure] = normal.log_cumulative(np.clip(z[sure], -FARTHEST, FARTHEST))
    chance = normal.cumulative(np.clip(z[~sure], -FAR, FAR))
    chance *= 1.0 - floor[~sure]
    chance += floor[~sure]
    logs[~sure] = np.log(chance, out=chance)
    return logs


class Missed(NamedTuple):
    """Of rows not tapped: slope by e, ..."""

    by_e: Array
    curvature: Array
    """-d2/de2, never negative."""
    ahead: Array
    """For learning the noise: the chance that the milestone lies ahead, and ..."""
    beyond: Array
    """... the mean of (z_true)^2 if it does."""
    log: Array
    """As ``log_not_tapped``."""


def not_tapped_slopes(e: Array, noise: float, floor: Array) -> Missed:
    """Of rows in double precision, which has room for what chance is left at ``FARTHEST``."""
    z = np.clip(e / noise, -FARTHEST, FARTHEST)
    phi, ahead = normal.density(z), normal.cumulative(-z)
    sure = 1.0 - floor
    total = floor + sure * ahead
    pull = sure * phi / total
    return Missed(
        pull / -noise,
        np.maximum(pull * (pull - z), 0.0) / noise**2,
        sure * ahead / total,
        1.0 + z * phi / ahead,
        np.log(total),
    )
