"""Cumulative exposure: how fast a batter uses up its time.

After Nelson (IEEE Trans. Reliability R-29, 1980, 103-108; cited, not read): what is left of a
pot depends on the exposure used up so far and on the present stress alone. With S seconds of
blending V litres together and the fragrance in at t_f,

    E(t) = kappa V^(-v) S(t) + min(t, t_f) + A (t - t_f)+                               [s]
    A    = 1 + (AF - 1) w,  w = (load / 3 %)^gamma exp((theta - 1) beta_T (x_T - x_T(24 degC)))

Time before the fragrance counts once, time after it A times, a second of blending one litre kappa
more. AF is what a load of 3 % does at 24 degC. The batter's own temperature stands outside of E
(it is part of the batch's rate), and with it all that E holds; the fragrance's own part keeps only
theta of it, so that cool batter slows a strong accelerator little. beta_T in w is its prior mean.

v, gamma and theta are ours: common practice, no source, chosen so that ten litres take 3 to 6
times the blending of one, 6 % of a strong fragrance leave at most 1/1.6 of the time that 1.5 %
leave, and 20 degC at most 1.8 times that of 30.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapbench.batter import USUAL_LOAD, Blend

Array = npt.NDArray[np.float64]

LITRES_POWER = 0.7
"""v: how a second of blending thins out over the litres blended together."""
LOAD_POWER = 0.6
"""gamma: of the load on the fragrance's own part."""
OWN_WARMTH = 0.35
"""theta: of the batter's temperature dependence, what the fragrance's own part keeps."""
AF_AT_C = 24.0


def arrhenius(c: float) -> float:
    """x_T of a batter of ``c`` degC: an Arrhenius term of 45 kJ/mol, 0 at 30 degC.

    Near what textbooks give for ethyl acetate and lye (from memory, not verified); the model's
    coefficient corrects it.
    """
    return 45_000.0 * (1.0 / 303.15 - 1.0 / (c + 273.15)) / 8.314462618


def strength(load: float, batter_c: float, warmth: float) -> float:
    """w: the fragrance's own part against that of the usual load at 24 degC. ``warmth``: beta_T."""
    own = (OWN_WARMTH - 1.0) * warmth * (arrhenius(batter_c) - arrhenius(AF_AT_C))
    return math.exp(LOAD_POWER * math.log(load / USUAL_LOAD) + own)


def accelerated(af: Array, w: Array | float) -> Array:
    """A. A fragrance that slows (AF below 1) does not slow the more where w is above 1."""
    own = af - 1.0
    return np.asarray(1.0 + np.maximum(own, 0.0) * w + np.minimum(own, 0.0) * np.minimum(w, 1.0))


def own_part(af: Array, w: Array | float) -> Array:
    """dA / d log AF."""
    return np.asarray(af * np.where(af < 1.0, np.minimum(w, 1.0), w))


@dataclass(frozen=True, slots=True)
class Dose:
    """What a pot has been through by some moment, s: all that exposure depends on.

    Of a pot blended up to a state it counts from then on.
    """

    blended: Array
    """Seconds of blending, as of one litre."""
    before: Array
    """Seconds without fragrance."""
    after: Array
    """Seconds with fragrance."""
    blending: Array
    """1 while the blender runs in one litre, else 0; between them about a moment not well known."""


def blended_by(t: float, blends: Sequence[Blend]) -> float:
    """Seconds of blending up to ``t`` as of one litre; of bursts kept up to a state, none."""
    return sum(
        min(max(t - b.t, 0.0), b.seconds) * thinned(b.litres) for b in blends if b.to is None
    )


def thinned(litres: float) -> float:
    """V^(-v): what a second of blending ``litres`` is of one in a single litre."""
    return math.pow(litres, -LITRES_POWER)


def exposure(dose: Dose, kappa: Array | float, acceleration: Array | float) -> Array:
    """E, s; broadcasts. ``acceleration`` is A."""
    return np.asarray(kappa * dose.blended + dose.before + acceleration * dose.after)


def exposure_rate(dose: Dose, kappa: Array | float, acceleration: Array | float) -> Array:
    """dE/dt, dimensionless; the right-hand limit where the stress steps."""
    return np.asarray(kappa * dose.blending + np.where(dose.after > 0, acceleration, 1.0))


def exposure_at(
    t: Array | float,
    fragrance_in: Array | float | None,
    kappa: Array | float,
    acceleration: Array | float,
    blends: Sequence[Blend] = (),
) -> Array:
    """E at ``t``, s; broadcasts but for bursts, which are looked at in ``t``'s median."""
    used = kappa * blended_by(float(np.median(t)), blends) + t if blends else t
    if fragrance_in is None:
        return np.asarray(used)
    scented = np.maximum(np.subtract(t, np.maximum(fragrance_in, 0.0)), 0.0)
    return np.asarray(used + (np.asarray(acceleration) - 1.0) * scented)


def time_at(
    target: Array,
    fragrance_in: Array | float | None,
    kappa: Array | float,
    acceleration: Array | float,
    blends: Sequence[Blend] = (),
) -> Array:
    """The inverse of E: when ``target`` seconds of exposure are reached, s since lye met oils.

    Args broadcast. ``fragrance_in`` None: never. Bursts may lie ahead; they must not overlap; of
    those kept up to a state, none count.
    """
    t_f = np.inf if fragrance_in is None else np.maximum(fragrance_in, 0.0)
    extra = np.asarray(acceleration) - 1.0
    bursts = [b for b in blends if b.to is None]
    if not bursts:
        return _slowed(target, t_f, 1.0 / (1.0 + extra)) if fragrance_in is not None else target
    edges = sorted({0.0, *(b.t for b in bursts), *(b.end for b in bursts)})
    starts = np.array([e for e in edges if e >= 0.0])
    begun, ended, thin = np.array([(b.t, b.end, thinned(b.litres)) for b in bursts]).T
    edge = starts[:, np.newaxis]
    blended = (np.clip(edge - begun, 0.0, ended - begun) * thin).sum(axis=1)
    running = (((begun <= edge) & (edge < ended)) * thin).sum(axis=1)

    def by(s: Array | float, mixed: Array | float) -> Array:
        return np.asarray(s + kappa * mixed + extra * np.maximum(np.subtract(s, t_f), 0.0))

    piece = np.zeros(np.broadcast(target, kappa, extra, t_f).shape, dtype=np.intp)
    for s, mixed in zip(starts[1:], blended[1:], strict=True):
        piece += target >= by(s, mixed)
    start, slope = starts[piece], 1.0 + kappa * running[piece]
    left = target - by(start, blended[piece])
    plain = np.maximum(np.subtract(t_f, start), 0.0)  # of this piece, s still without fragrance
    return np.asarray(start + _slowed(left / slope, plain, slope / (slope + extra)))


def _slowed(time: Array, until: Array | float, after: Array) -> Array:
    """``time``, of which what lies beyond ``until`` takes only ``after`` as long."""
    return np.asarray(np.minimum(time, until) + np.maximum(time - until, 0.0) * after)
