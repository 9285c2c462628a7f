"""How a batter really thickens here: an autocatalytic conversion that warms itself.

All numbers are invented, so that a usual batter keeps to what makers say of it (``test_worlds``).
Fat converts along two routes, an unaided one and one that grows with the soap already made; the
fragrance speeds the second less than the first, keeps part of their temperature dependence, and
waits a while before it acts. Blending counts less the longer it has gone on and the more litres
it goes through. The batter warms with conversion and cools towards the room. None of this is in
the model, which knows one exposure and five thresholds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

HORIZON = 6 * 3600.0
AF_AT_C = 24.0


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
    """What a second of blending one litre adds, in seconds of standing, before it wears off."""
    blend_wear: float
    """Seconds of blending by which that has fallen to 1/e."""
    adiabatic: float
    """K at full conversion."""
    cooling: float
    """Time constant, s."""
    own_warmth: float = 1.0
    """What the fragrance keeps of the activation energy."""
    litres_power: float = 0.7
    """How blending thins out over the litres."""
    load_power: float = 0.6
    """Of the load on what a fragrance adds."""


@dataclass(frozen=True)
class Pots:
    """P pots, each an entry of every array."""

    log_rate: Array
    """Everything but temperature."""
    batter_c: Array
    room_c: Array
    af: Array
    """Of the load used, at 24 degC."""
    fragrance_in: Array
    """When it begins to act; inf: never."""
    blend_from: Array
    """(P, B), inf where unused."""
    blend_for: Array
    """(P, B) s, as of one litre."""
    thresholds: Array
    """(P, 5) conversion at stable emulsion … set up, or any others that grow."""
    up_at: Array | None = None
    """(P,) when the blender has brought it to ``up_to``, s; inf: it never does."""
    up_to: Array | None = None
    """(P,) conversion."""


def heat_of(physics: Physics, c: Array | float, share: float = 1.0) -> Array:
    """How much faster than at 30 degC, with ``share`` of the activation energy."""
    there = 1 / 303.15 - 1 / (np.asarray(c) + 273.15)
    return np.asarray(np.exp(share * physics.activation / 8.314 * there))


def milestone_times(physics: Physics, pots: Pots, horizon: float = HORIZON) -> Array:
    """Shaped like the thresholds, s since lye met oils; the horizon where never reached before."""
    n = len(pots.log_rate)
    reached = np.full(pots.thresholds.shape, horizon)
    x, warm, mixed = np.zeros(n), pots.batter_c.copy(), np.zeros(n)
    base = physics.base_rate * np.exp(pots.log_rate)
    t, alive = 0.0, np.arange(n)
    ends = pots.blend_from + pots.blend_for
    added, added_later = pots.af - 1.0, pots.af**physics.fragrance_power - 1.0
    own_24 = heat_of(physics, AF_AT_C, 1.0 - physics.own_warmth)
    up_at = np.full(n, np.inf) if pots.up_at is None else pots.up_at
    last_blend = ends[np.isfinite(ends)].max(initial=0.0)
    while t < horizon and len(alive):
        step = 5.0 if t < 5400.0 else 30.0
        a = alive
        scented = np.clip((t + step - pots.fragrance_in[a]) / step, 0.0, 1.0)
        heat = heat_of(physics, warm[a])
        own = scented * own_24 * heat_of(physics, warm[a], physics.own_warmth)
        first = heat + own * added[a]
        second = heat + own * added_later[a]
        drive = base[a] * (1.0 - x[a])
        gain = drive * (first + physics.autocatalysis * x[a] * second) * step
        if t < last_blend:
            over = np.minimum(ends[a], t + step) - np.maximum(pots.blend_from[a], t)
            seconds = np.maximum(over, 0.0).sum(axis=1)
            worn = np.exp(-mixed[a] / physics.blend_wear)
            gain += drive * heat * physics.blend_power * worn * seconds
            mixed[a] += seconds
        now_up = (up_at[a] > t) & (up_at[a] <= t + step)
        if pots.up_to is not None and now_up.any():
            gain = np.where(now_up, np.maximum(gain, pots.up_to[a] * 1.0001 - x[a]), gain)
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
