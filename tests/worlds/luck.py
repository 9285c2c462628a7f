"""What chance does to a batch of an invented world, and when its pots reach what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from soapbench.batter import (
    Blend,
    PotHistory,
)
from tests.worlds.kettle import HORIZON, Pots, milestone_times
from tests.worlds.world import (
    AGAIN,
    AGAIN_AFTER_S,
    AGAIN_FOR_S,
    SEIZING,
    TRUE_C,
    Maker,
    Setup,
    loaded,
    recipe_log_rate,
)

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Luck:
    """All that chance decides of ``n`` goes at one batch, whatever is done in it."""

    log_rate: Array
    """(n, pots), the recipe's part in it."""
    thresholds: Array
    """(n, pots, 5) conversion."""
    stop: Array
    """(n,) log conversion by which the blender is stopped past the state meant."""
    af: Mapping[str, Array] = field(default_factory=dict)
    """(n,) by fragrance, the load counted in."""
    latency: Mapping[str, Array] = field(default_factory=dict)
    """(n,) s."""
    seizes: Mapping[str, Array] = field(default_factory=dict)
    """(n,) s from its going in until a pot has set up; inf: it does not seize."""


@dataclass(frozen=True)
class Unsaid:
    """What the log of a batch leaves open, in ``n`` goes at it."""

    batter_c: Array
    """(n,) what the thermometer should have said."""
    again: Array | None
    """(n, pots) s of a burst that was not keyed, 0: none; None: all bursts were keyed."""


def draw_luck(
    rng: np.random.Generator,
    maker: Maker,
    setup: Setup,
    n: int,
    log_af: Mapping[str, Array] | None = None,
) -> Luck:
    """``log_af``: (n,) by fragrance, where each go has a log AF of its own."""
    p = len(setup.pots)
    batch = maker.batch_scale * rng.standard_t(4, (n, 1))
    rate = recipe_log_rate(maker, setup.mix) + batch + maker.pot_sd * rng.standard_normal((n, p))
    spread = np.exp(maker.spread_sd * rng.standard_normal((n, 1, 1)))
    logs = np.log(maker.thresholds)
    logs = logs[0] + (logs - logs[0]) * spread
    logs = logs + maker.threshold_sd * rng.standard_normal((n, p, 5))
    af, latency, seizes = {}, {}, {}
    for word in setup.fragrances:
        fragrance = maker.fragrance(word.name)
        own = (log_af or setup.lot_log_af)[word.name]
        af[word.name] = loaded(maker, np.broadcast_to(np.exp(own), n), word.load)
        latency[word.name] = rng.exponential(max(fragrance.latency, 1e-6), n)
        sets = rng.uniform(15.0, 75.0, n)
        seizes[word.name] = np.where(rng.random(n) < fragrance.seizes, sets, np.inf)
    return Luck(
        rate, np.sort(np.exp(logs), axis=-1), maker.stop_sd * rng.standard_normal(n),
        af, latency, seizes,
    )  # fmt: skip


def times_of(
    maker: Maker,
    setup: Setup,
    luck: Luck,
    pots: Sequence[PotHistory] = (),
    unsaid: Unsaid | None = None,
) -> Array:
    """(n, pots, 5) milestone times; ``pots``: what is done to them, where not as set up;
    ``unsaid``: what is made of what was not keyed, instead of what really was.
    """
    pots = pots or setup.pots
    n, p = luck.log_rate.shape
    batter_c = np.full(n, float(setup.batter_c)) if unsaid is None else unsaid.batter_c
    if unsaid is not None and unsaid.again is not None:
        pots = tuple(_once_more(pot, len(pots)) for pot in pots)
    starts, lengths, up_at, state, t_f = conduct(pots, maker.physics.litres_power)
    if unsaid is not None and unsaid.again is not None:
        lengths = lengths * unsaid.again[..., None]
    af, begins = np.ones((n, p)), np.full((n, p), np.inf)
    for i, pot in enumerate(pots):
        if pot.fragrance is not None and pot.fragrance_in is not None:
            af[:, i] = luck.af[pot.fragrance]
            begins[:, i] = t_f[i] + luck.latency[pot.fragrance]
    up_to = luck.thresholds[:, np.arange(p), state] * np.exp(luck.stop)[:, None]

    def each(a: Array, *of: int) -> Array:
        return np.broadcast_to(a, (n, p, *of)).reshape(-1, *of)

    bursts = starts.shape[-1]
    times = milestone_times(
        maker.physics,
        Pots(
            log_rate=luck.log_rate.reshape(-1),
            batter_c=np.repeat(batter_c, p),
            room_c=np.full(n * p, setup.room_c),
            af=af.reshape(-1),
            fragrance_in=begins.reshape(-1),
            blend_from=each(starts, bursts),
            blend_for=each(lengths, bursts),
            thresholds=luck.thresholds.reshape(-1, 5),
            up_at=each(up_at),
            up_to=up_to.reshape(-1),
        ),
    ).reshape(n, p, 5)
    return seized(times, pots, luck)


def _once_more(pot: PotHistory, pots: int) -> PotHistory:
    """The pot with one burst of a second where this maker blends again, for those that were."""
    (up,) = (b for b in pot.blends if b.to is not None)
    # Nobody says when an unscented pot had its turn: it had none that matters.
    at = up.end if pot.fragrance_in is None else pot.fragrance_in + AGAIN_AFTER_S
    return replace(pot, blends=(up, Blend(at, 1.0, up.litres / pots)))


def seized(times: Array, pots: Sequence[PotHistory], luck: Luck) -> Array:
    """Milestone times where a fragrance may seize: one state after another, then set up."""
    later = times.copy()
    for i, pot in enumerate(pots):
        if pot.fragrance is not None and pot.fragrance_in is not None:
            after = np.minimum(luck.seizes[pot.fragrance], HORIZON)[:, None] * SEIZING
            later[:, i] = np.minimum(later[:, i], pot.fragrance_in + after)
    return later


def conduct(
    pots: Sequence[PotHistory], litres_power: float
) -> tuple[Array, Array, Array, npt.NDArray[np.intp], Array]:
    """Starts and lengths of bursts as of one litre (P, B); when each is blended up to what; when
    its fragrance went in (P,), s."""
    plain = [[b for b in pot.blends if b.to is None] for pot in pots]
    most = max(1, *(len(bursts) for bursts in plain))
    starts, lengths = np.full((len(pots), most), np.inf), np.zeros((len(pots), most))
    up_at, state = np.full(len(pots), np.inf), np.zeros(len(pots), dtype=np.intp)
    for i, (pot, bursts) in enumerate(zip(pots, plain, strict=True)):
        starts[i, : len(bursts)] = [b.t for b in bursts]
        lengths[i, : len(bursts)] = [b.seconds * b.litres**-litres_power for b in bursts]
        for b in pot.blends:
            if b.to is not None:
                up_at[i], state[i] = b.end, b.to
    t_f = np.array([np.inf if t.fragrance_in is None else t.fragrance_in for t in pots])
    return starts, lengths, up_at, state, t_f


def chance(
    rng: np.random.Generator,
    maker: Maker,
    setup: Setup,
    n: int,
    log_af: Mapping[str, Array] | None = None,
    unsaid: Unsaid | None = None,
) -> Array:
    """(n, pots, 5) milestone times of ``n`` goes at the same batch, noise and all."""
    return times_of(maker, setup, draw_luck(rng, maker, setup, n, log_af), unsaid=unsaid)


def left_unsaid(rng: np.random.Generator, maker: Maker, setup: Setup, n: int) -> Unsaid:
    """What one who knows this maker's thermometer and habits makes of what the log leaves open."""
    from scipy import stats  # type: ignore[import-untyped]

    hand, batter_c = maker.hand, np.full(n, setup.batter_c)
    if setup.true_c is not None:
        read = setup.mix.batter_c - hand.thermometer
        low, high = ((c - read) / hand.reading for c in TRUE_C)
        batter_c = stats.truncnorm.rvs(low, high, read, hand.reading, n, random_state=rng)
    again = None
    if not hand.keys_blender:
        shape = n, len(setup.pots)
        again = (rng.random(shape) < AGAIN) * rng.uniform(*AGAIN_FOR_S, shape)
    return Unsaid(batter_c, again)
