"""Cumulative exposure: how fast a batter uses up its time.

After Nelson (IEEE Trans. Reliability R-29, 1980, 103-108; cited, not read): what is left of a
pot depends on the exposure used up so far and on the present stress alone. Time before the
fragrance counts once, time after it counts AF times, a second of blending counts kappa more:

    E(t) = kappa S(t) + min(t, t_f) + AF (t - t_f)+
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapbench.batter import Blend

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Dose:
    """What a pot has been through by some moment, s: all that exposure depends on."""

    blended: Array
    """Seconds of blending."""
    before: Array
    """Seconds without fragrance."""
    after: Array
    """Seconds with fragrance."""
    blending: Array
    """1 while the blender runs, else 0; between them about a moment not well known."""


def blended_by(t: float, blends: Sequence[Blend]) -> float:
    """Seconds of blending up to ``t``."""
    return sum(min(max(t - b.t, 0.0), b.seconds) for b in blends)


def exposure(dose: Dose, kappa: Array | float, acceleration: Array | float) -> Array:
    """E, s; broadcasts."""
    return np.asarray(kappa * dose.blended + dose.before + acceleration * dose.after)


def exposure_rate(dose: Dose, kappa: Array | float, acceleration: Array | float) -> Array:
    """dE/dt, dimensionless; the right-hand limit where the stress steps."""
    return np.asarray(kappa * dose.blending + np.where(dose.after > 0, acceleration, 1.0))


def time_at(
    target: Array,
    fragrance_in: Array | float | None,
    kappa: Array | float,
    acceleration: Array | float,
    blends: Sequence[Blend] = (),
) -> Array:
    """The inverse of E: when ``target`` seconds of exposure are reached, s since lye met oils.

    Args broadcast. ``fragrance_in`` None: never. Bursts may lie ahead; they must not overlap.
    """
    t_f = np.inf if fragrance_in is None else np.maximum(fragrance_in, 0.0)
    extra = np.asarray(acceleration) - 1.0
    edges = sorted({0.0, *(b.t for b in blends), *(b.t + b.seconds for b in blends)})
    starts = np.array([e for e in edges if e >= 0.0])
    blended = np.array([blended_by(s, blends) for s in starts])
    running = np.array([float(any(b.t <= s < b.t + b.seconds for b in blends)) for s in starts])

    def by(s: Array | float, mixed: Array | float) -> Array:
        return np.asarray(s + kappa * mixed + extra * np.maximum(np.subtract(s, t_f), 0.0))

    piece = np.zeros(np.broadcast(target, kappa, extra, t_f).shape, dtype=np.intp)
    for s, mixed in zip(starts[1:], blended[1:], strict=True):
        piece += target >= by(s, mixed)
    start, slope = starts[piece], 1.0 + kappa * running[piece]
    left = target - by(start, blended[piece])
    plain = np.maximum(np.subtract(t_f, start), 0.0)  # of this piece, s still without fragrance
    alone = left / slope
    with np.errstate(invalid="ignore"):
        joined = plain + (left - slope * plain) / (slope + extra)
    return np.asarray(start + np.where(alone <= plain, alone, joined))
