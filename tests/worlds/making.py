"""Batches of an invented world as made, watched and keyed by its maker."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from soapbench.batter import (
    BatchHistory,
    Blend,
    PotHistory,
    Tap,
    Trace,
)
from tests.worlds.kettle import HORIZON, heat_of
from tests.worlds.luck import (
    Luck,
    draw_luck,
    times_of,
)
from tests.worlds.world import (
    Hand,
    Made,
    Maker,
    Setup,
    draw_setup,
)

Array = npt.NDArray[np.float64]


def watch(rng: np.random.Generator, hand: Hand, pot: PotHistory, truth: Array) -> PotHistory:
    """The pot with the taps this maker makes: some missed, some late, some wrong."""
    if rng.random() < hand.untended:
        return pot
    taps = []
    up = max((b.end for b in pot.blends if b.to is not None), default=0.0)
    if rng.random() < hand.looks and truth[Trace.LIGHT] > up:
        taps.append(Tap(float(rng.uniform(up, truth[Trace.LIGHT])), Trace.EMULSION))
    for j in range(Trace.LIGHT, len(Trace)):
        called = truth[j] * np.exp(hand.perception * rng.standard_normal())
        called = max(called, up)  # nobody looks for a state while the blender is kept on to it
        mean = hand.late_delay if rng.random() < hand.late else hand.delay
        t = float(called + rng.exponential(mean))
        if rng.random() < hand.missed or truth[j] >= HORIZON:
            continue
        state = j
        if rng.random() < hand.wrong:
            state = int(np.clip(state + rng.choice([-1, 1]), 1, 4))
        taps.append(Tap(t, Trace(state)))
    kept = tuple(sorted((t for t in taps if t.t <= pot.until), key=lambda t: t.t))
    return replace(pot, taps=kept)


def keyed(maker: Maker, setup: Setup, luck: Luck) -> tuple[PotHistory, ...]:
    """The pots with their blending as this maker keys it: in bursts up to the state meant, or
    never, and then the later bursts are not known either."""
    if not maker.hand.keys_blender:
        return tuple(
            replace(pot, blends=tuple(b for b in pot.blends if b.to is not None))
            for pot in setup.pots
        )
    pots = []
    rate = maker.physics.base_rate * np.exp(luck.log_rate[0].mean())
    rate *= float(heat_of(maker.physics, setup.batter_c))
    for i, pot in enumerate(setup.pots):
        (up,) = (b for b in pot.blends if b.to is not None)
        share = luck.thresholds[0, i, up.to] * np.exp(luck.stop[0]) / rate - up.end
        power = maker.physics.blend_power * up.litres**-maker.physics.litres_power
        power *= np.exp(0.25 * np.random.default_rng(int(1e6 * up.end)).normal())  # how it is held
        seconds = float(np.clip(share / power, 3.0, 0.9 * up.seconds))
        bursts = tuple(Blend(up.end - seconds * k / 3, seconds / 3, up.litres) for k in (3, 2, 1))
        rest = tuple(b for b in pot.blends if b.to is None)
        pots.append(replace(pot, blends=(*bursts, Blend(up.end, 0.0, up.litres, up.to), *rest)))
    return tuple(pots)


def make(rng: np.random.Generator, maker: Maker, setup: Setup) -> Made:
    """One batch, made once."""
    luck = draw_luck(rng, maker, setup, 1)
    truth = times_of(maker, setup, luck)[0]
    pots = tuple(
        watch(rng, maker.hand, pot, truth[i]) for i, pot in enumerate(keyed(maker, setup, luck))
    )
    return Made(setup, BatchHistory(setup.name, setup.mix, pots, setup.fragrances), truth)


def make_many(rng: np.random.Generator, maker: Maker, count: int, prefix: str = "b") -> list[Made]:
    """``count`` batches in the order they were made."""
    return [make(rng, maker, draw_setup(rng, maker, f"{prefix}{i:06d}")) for i in range(count)]
