"""Somebody who knows the maker, the scents and their lots, but not what chance will do.

The best anybody could foresee: particles from the world itself, weighted by the taps under the
maker's true habits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from soapbench.batter import PotHistory, Trace
from tests.worlds.kettle import effective_log_af
from tests.worlds.world import Hand, Made, Maker, chance

Array = npt.NDArray[np.float64]

# Quantile midpoints of a unit exponential, to average over the delay of a tap.
_DELAYS = -np.log(1.0 - (np.arange(12) + 0.5) / 12.0)


def particles(rng: np.random.Generator, maker: Maker, made: Made, n: int) -> Array:
    """(n, pots, 4) milestone times before anything is seen."""
    return chance(rng, maker, made.setup, n)


def posterior(
    rng: np.random.Generator, maker: Maker, made: Made, before: Array, now: float, n: int
) -> Array:
    """(n, pots, 4) equally weighted times, given the taps up to ``now``."""
    log_weight = np.zeros(len(before))
    for i, pot in enumerate(made.history.pots):
        log_weight += _log_seen(maker.hand, pot, before[:, i], now)
    weight = np.exp(log_weight - log_weight.max())
    return before[rng.choice(len(before), n, p=weight / weight.sum())]


def chance_strong(
    rng: np.random.Generator,
    maker: Maker,
    made: Made,
    name: str,
    shelf: Sequence[float],
    now: float,
) -> float:
    """P(AF >= 3) of one who knows the maker and log AF on the shelf, but not the scent's."""
    edges = np.linspace(-0.5, 3.1, 37)
    share, _ = np.histogram(shelf, edges)
    belief = (share + 0.5) / (share + 0.5).sum()
    strong = np.zeros(len(belief), dtype=bool)
    for k, log_af in enumerate(0.5 * (edges[1:] + edges[:-1])):
        setup = replace(made.setup, lot_log_af={**made.setup.lot_log_af, name: float(log_af)})
        times = chance(rng, maker, setup, 150)
        log_seen = np.zeros(len(times))
        for i, pot in enumerate(made.history.pots):
            log_seen += _log_seen(maker.hand, pot, times[:, i], now)
        belief[k] *= np.exp(log_seen).mean()
        effective = effective_log_af(
            maker.physics, float(log_af), maker.thresholds[0], maker.thresholds[2]
        )
        strong[k] = effective >= np.log(3.0)
    return float(belief[strong].sum() / belief.sum())


def _log_seen(hand: Hand, pot: PotHistory, times: Array, now: float) -> Array:
    """(n,) log-likelihood of one pot's taps, right up to terms that no particle changes."""
    end = min(pot.until, now)
    taps = [t for t in pot.taps if t.t <= now]
    tended = np.ones(len(times))
    for tap in taps:
        if tap.state is Trace.EMULSION:
            share = tap.t / times[:, 0]
            tended *= np.where((share > 0.3) & (share < 0.9), 1.0 / times[:, 0], 0.0) + 1e-12
    seen = {int(t.state): t.t for t in taps if t.state is not Trace.EMULSION}
    for j in range(4):
        if j + 1 in seen:
            right = _tap_density(hand, times[:, j], seen[j + 1])
            stray = [k for k in (j - 1, j + 1) if 0 <= k < 4]
            wrong = sum(_tap_density(hand, times[:, k], seen[j + 1]) for k in stray) / 2.0
            tended *= (1.0 - hand.wrong) * right + hand.wrong * wrong + 1e-12
        else:
            tended *= hand.missed + (1.0 - hand.missed) * _still_ahead(hand, times[:, j], end)
    likelihood = (1.0 - hand.untended) * tended
    return np.asarray(np.log(likelihood + (0.0 if taps else hand.untended)))


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
        total += share * (0.5 * (1.0 + np.tanh(0.7978846 * (z + 0.044715 * z**3)))).mean(axis=0)
    return total
