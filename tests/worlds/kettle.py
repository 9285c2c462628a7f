"""How a batter really thickens here: an autocatalytic conversion that warms itself.

All numbers are invented. Fat converts along two routes, an unaided one and one that grows with
the soap already made; the fragrance speeds the second less than the first. Blending counts less
the longer it has gone on. The batter warms with conversion and cools towards the room. None of
this is in the model, which knows one exposure and four thresholds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

HORIZON = 6 * 3600.0


@dataclass(frozen=True)
class Physics:
    """A world's constants."""

    activation: float
    """J/mol."""
    base_rate: float
    """Conversion a second of an unaided reference batter at 30 degC."""
    autocatalysis: float
    fragrance_power: float
    """Of AF on the autocatalytic route."""
    blend_power: float
    """What a second of blending adds, in seconds of standing, before it wears off."""
    blend_wear: float
    """Seconds of blending by which that has fallen to 1/e."""
    adiabatic: float
    """K at full conversion."""
    cooling: float
    """Time constant, s."""


@dataclass(frozen=True)
class Pots:
    """P pots, each an entry of every array."""

    log_rate: Array
    """Everything but temperature."""
    batter_c: Array
    room_c: Array
    af: Array
    fragrance_in: Array
    """inf: never."""
    blend_from: Array
    """(P, B), inf where unused."""
    blend_for: Array
    """(P, B) s."""
    thresholds: Array
    """(P, 4) conversion at light … set up, or any others that grow."""


def milestone_times(physics: Physics, pots: Pots, horizon: float = HORIZON) -> Array:
    """Shaped like the thresholds, s since lye met oils; the horizon where never reached before."""
    n = len(pots.log_rate)
    reached = np.full(pots.thresholds.shape, horizon)
    x, warm, mixed = np.zeros(n), pots.batter_c.copy(), np.zeros(n)
    base = physics.base_rate * np.exp(pots.log_rate)
    t, alive = 0.0, np.arange(n)
    ends = pots.blend_from + pots.blend_for
    autocatalytic_af = pots.af**physics.fragrance_power
    last_blend = ends[np.isfinite(ends)].max(initial=0.0)
    while t < horizon and len(alive):
        step = 5.0 if t < 5400.0 else 30.0
        a = alive
        scented = np.clip((t + step - pots.fragrance_in[a]) / step, 0.0, 1.0)
        first = 1.0 + scented * (pots.af[a] - 1.0)
        second = 1.0 + scented * (autocatalytic_af[a] - 1.0)
        heat = np.exp(physics.activation / 8.314 * (1 / 303.15 - 1 / (warm[a] + 273.15)))
        drive = base[a] * heat * (1.0 - x[a])
        gain = drive * (first + physics.autocatalysis * x[a] * second) * step
        if t < last_blend:
            over = np.minimum(ends[a], t + step) - np.maximum(pots.blend_from[a], t)
            seconds = np.maximum(over, 0.0).sum(axis=1)
            gain += drive * physics.blend_power * np.exp(-mixed[a] / physics.blend_wear) * seconds
            mixed[a] += seconds
        after = x[a] + gain
        passed = (x[a, None] < pots.thresholds[a]) & (after[:, None] >= pots.thresholds[a])
        if passed.any():
            who, which = np.nonzero(passed)
            share = (pots.thresholds[a[who], which] - x[a[who]]) / gain[who]
            reached[a[who], which] = t + step * share
        warm[a] += physics.adiabatic * gain - step * (warm[a] - pots.room_c[a]) / physics.cooling
        x[a] = after
        t += step
        if passed.any():
            alive = a[after < pots.thresholds[a, -1]]
    return reached


def effective_log_af(physics: Physics, log_af: float, start: float, end: float) -> float:
    """Log of how many times faster a scented batter goes from conversion ``start`` to ``end``.

    Where the fragrance speeds the two routes differently, this is what a maker would measure.
    """
    grown = physics.autocatalysis * np.linspace(start, end, 50)
    scented = np.exp(log_af) + grown * np.exp(physics.fragrance_power * log_af)
    return float(np.log(np.mean(1.0 / (1.0 + grown)) / np.mean(1.0 / scented)))
