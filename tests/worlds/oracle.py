"""Somebody who knows the maker, the fragrances and their lots, but not what chance will do.

The best anybody could foresee who knows no more of the batch in hand than its log: particles from
the world itself, weighted by the taps under the maker's true habits. What the log leaves open (by
how much the thermometer was misread today, whether a pot was blended again by a maker who never
keys the blender) is drawn as it is in that maker's batches. The ``all-seeing`` is told that too.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import numpy as np
import numpy.typing as npt

from soapbench.batter import PotHistory, Trace
from tests.worlds.kettle import HORIZON
from tests.worlds.luck import chance, left_unsaid
from tests.worlds.world import Hand, Made, Maker

Array = npt.NDArray[np.float64]

# Quantile midpoints of a unit exponential, to average over the delay of a tap.
_DELAYS = -np.log(1.0 - (np.arange(12) + 0.5) / 12.0)
_TABLE = np.linspace(np.log(20.0), np.log(HORIZON), 1600)


def particles(
    rng: np.random.Generator,
    maker: Maker,
    made: Made,
    n: int,
    log_af: Mapping[str, Array] | None = None,
    all_seeing: bool = False,
) -> Array:
    """(n, pots, 5) milestone times before anything is seen; ``log_af``: (n,) by fragrance, where
    its bottle is not known."""
    unsaid = None if all_seeing else left_unsaid(rng, maker, made.setup, n)
    return chance(rng, maker, made.setup, n, log_af, unsaid)


def posterior(
    rng: np.random.Generator, maker: Maker, made: Made, before: Array, now: float, n: int
) -> Array:
    """(n, pots, 5) equally weighted times, given the taps up to ``now``."""
    log_weight = np.zeros(len(before))
    for i, pot in enumerate(made.history.pots):
        log_weight += log_seen(maker.hand, pot, before[:, i], now)
    weight = np.exp(log_weight - log_weight.max())
    return before[rng.choice(len(before), n, p=weight / weight.sum())]


def log_seen(hand: Hand, pot: PotHistory, times: Array, now: float) -> Array:
    """(n,) log-likelihood of one pot's taps, right up to terms that no particle changes."""
    return together(hand, pot, factors(hand, pot, times, now), now)


def together(hand: Hand, pot: PotHistory, each: Array, now: float) -> Array:
    """(n,) log-likelihood from the factors (n, 5), the pot perhaps untended."""
    unseen = 0.0 if any(t.t <= now for t in pot.taps) else hand.untended
    return np.asarray(np.log((1.0 - hand.untended) * each.prod(axis=-1) + unseen))


def factors(hand: Hand, pot: PotHistory, times: Array, now: float) -> Array:
    """(n, 5) likelihood of what was seen of each milestone; 0: of a tap of stable emulsion."""
    end = min(pot.until, now)
    taps = [t for t in pot.taps if t.t <= now]
    weights = np.ones((len(times), 5))
    up = max((b.end for b in pot.blends if b.to is not None), default=0.0)
    for tap in taps:
        if tap.state is Trace.EMULSION:
            left = times[:, Trace.LIGHT] - up
            weights[:, 0] = np.where(left > tap.t - up, 1.0 / np.maximum(left, 1.0), 0.0) + 1e-12
    tapped = {int(t.state): t.t for t in taps if t.state is not Trace.EMULSION}
    for j in range(Trace.LIGHT, len(Trace)):
        if j in tapped:
            density = partial(_tap_density, hand, t=tapped[j])
            right = _quickly(density, times[:, j])
            stray = [k for k in (j - 1, j + 1) if Trace.LIGHT <= k < len(Trace)]
            wrong = sum(_quickly(density, times[:, k]) for k in stray) / 2.0
            weights[:, j] = (1.0 - hand.wrong) * right + hand.wrong * wrong + 1e-12
        else:
            ahead = _quickly(partial(_still_ahead, hand, end=end), times[:, j])
            weights[:, j] = hand.missed + (1.0 - hand.missed) * ahead
    return weights


def _quickly(f: Callable[[Array], Array], truth: Array) -> Array:
    """``f`` of many times, from a table of it finer than any hand."""
    if len(truth) <= len(_TABLE):
        return f(truth)
    return np.interp(np.log(truth), _TABLE, f(np.exp(_TABLE)))


def _tap_density(hand: Hand, truth: Array, t: float) -> Array:
    total = np.zeros(len(truth))
    for mean, share in ((hand.delay, 1.0 - hand.late), (hand.late_delay, hand.late)):
        called = np.maximum(t - mean * _DELAYS, 1e-3)[:, None]
        z = (np.log(called) - np.log(truth)) / hand.perception
        total += share * (np.exp(-0.5 * z**2) / called).mean(axis=0)
    return total / hand.perception


def _still_ahead(hand: Hand, truth: Array, end: float) -> Array:
    if end <= 0.0:
        return np.ones(len(truth))
    total = np.zeros(len(truth))
    for mean, share in ((hand.delay, 1.0 - hand.late), (hand.late_delay, hand.late)):
        called = np.maximum(end - mean * _DELAYS, 1e-3)[:, None]
        z = (np.log(truth) - np.log(called)) / hand.perception
        total += share * (0.5 * (1.0 + np.tanh(0.7978846 * (z + 0.044715 * z * z * z)))).mean(
            axis=0
        )
    return total
