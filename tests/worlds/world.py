"""A maker, their fragrances, and the batches they make. Everything is invented."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from soapbench.batter import (
    BatchHistory,
    Blend,
    FragranceWord,
    Mix,
    PotHistory,
    Reputation,
    Tap,
    Trace,
)
from tests.worlds.kettle import HORIZON, Physics, Pots, milestone_times

Array = npt.NDArray[np.float64]

MISLABELLED = 0.12
SOLD_AS = {
    # share of the shelf, mean and sd of log AF when sold rightly
    Reputation.WELL_BEHAVED: (0.45, 0.08, 0.16),
    Reputation.UNKNOWN: (0.25, 0.45, 0.45),
    Reputation.ACCELERATES: (0.20, 1.10, 0.40),
    Reputation.NOTORIOUS: (0.10, 1.80, 0.40),
}


@dataclass(frozen=True)
class Hand:
    """How this maker watches and taps."""

    missed: float
    untended: float
    wrong: float
    late: float
    delay: float
    """s, mean of an exponential."""
    late_delay: float
    perception: float
    """sd of log time at which a milestone is called."""
    looks: float
    """Chance to tap 'stable emulsion' once."""


@dataclass(frozen=True)
class Scent:
    word: FragranceWord
    log_af: float


@dataclass(frozen=True)
class Maker:
    """The truth about one maker."""

    physics: Physics
    hand: Hand
    thresholds: Array
    coefficients: tuple[float, float, float]
    """Of concentration, its square, saturated share, on log rate."""
    batch_scale: float
    """Of a Student t with 4 degrees of freedom."""
    spread_sd: float
    pot_sd: float
    threshold_sd: float
    lot_sd: float
    room_c: float
    scents: tuple[Scent, ...]


@dataclass(frozen=True)
class Setup:
    """One batch as planned and done, before chance has its say."""

    name: str
    mix: Mix
    room_c: float
    pots: tuple[PotHistory, ...]
    """With ``until`` set and no taps."""
    fragrances: tuple[FragranceWord, ...]
    lot_log_af: dict[str, float]


@dataclass(frozen=True)
class Made:
    """A batch with its taps, and what nobody sees."""

    setup: Setup
    history: BatchHistory
    truth: Array
    """(pots, 4) s since lye met oils."""


def draw_scent(rng: np.random.Generator, number: int, sold: Reputation, shift: float) -> Scent:
    """A fragrance sold as ``sold``; sometimes it is nothing of the kind."""
    _, mean, sd = SOLD_AS[sold]
    log_af = rng.normal(mean + shift, sd)
    if rng.random() < MISLABELLED:
        log_af = (
            rng.normal(1.4, 0.5)
            if sold in (Reputation.WELL_BEHAVED, Reputation.UNKNOWN)
            else rng.normal(0.2, 0.3)
        )
    return Scent(FragranceWord(f"Scent {number}", sold), float(max(log_af, -0.4)))


def draw_maker(rng: np.random.Generator, fragrances: int = 30) -> Maker:
    """A maker at random."""
    kinds, shares = list(SOLD_AS), [v[0] for v in SOLD_AS.values()]
    shift = rng.normal(0.0, 0.08)
    scents = tuple(
        draw_scent(rng, i, kinds[rng.choice(4, p=shares)], shift) for i in range(fragrances)
    )
    light = 0.020 * np.exp(rng.normal(0.0, 0.25))
    steps = np.exp(rng.normal(np.log([0.47, 0.40, 0.35]), 0.25))
    return Maker(
        physics=Physics(
            activation=rng.uniform(35e3, 58e3),
            base_rate=2.0e-5 * np.exp(rng.normal(0.0, 0.25)),
            autocatalysis=rng.uniform(10.0, 30.0),
            fragrance_power=rng.uniform(0.75, 1.0),
            blend_power=20.0 * np.exp(rng.normal(0.0, 0.35)),
            blend_wear=rng.uniform(60.0, 150.0),
            adiabatic=rng.uniform(30.0, 60.0),
            cooling=rng.uniform(5000.0, 12000.0),
        ),
        hand=Hand(
            missed=rng.uniform(0.10, 0.40),
            untended=rng.uniform(0.05, 0.20),
            wrong=0.02,
            late=0.06,
            delay=rng.uniform(4.0, 12.0),
            late_delay=90.0,
            perception=rng.uniform(0.03, 0.07),
            looks=rng.uniform(0.0, 0.4),
        ),
        thresholds=light * np.exp(np.concatenate([[0.0], np.cumsum(steps)])),
        coefficients=(rng.normal(0.25, 0.12), rng.normal(0.0, 0.04), rng.normal(0.12, 0.08)),
        batch_scale=rng.uniform(0.14, 0.22),
        spread_sd=0.12,
        pot_sd=rng.uniform(0.03, 0.06),
        threshold_sd=0.03,
        lot_sd=0.10,
        room_c=rng.normal(20.0, 2.0),
        scents=scents,
    )


def draw_setup(
    rng: np.random.Generator,
    maker: Maker,
    name: str,
    chosen: tuple[Scent, ...] | None = None,
    lot: str | None = None,
) -> Setup:
    """What the maker decides to make; a popular scent is bought again and again."""
    mix = Mix(rng.uniform(22.0, 38.0), rng.uniform(0.28, 0.38), rng.uniform(0.25, 0.55))
    if chosen is None:
        weights = 1.0 / (np.arange(len(maker.scents)) + 2.0)
        kinds = rng.choice(3, p=[0.08, 0.77, 0.15])
        picked = rng.choice(len(weights), kinds, replace=False, p=weights / weights.sum())
        chosen = tuple(maker.scents[i] for i in picked)
    words, lot_af = [], {}
    for scent in chosen:
        bottle = lot or f"{name[:-2]}"  # a hundred batches share a bottle of each scent
        # The lot's own deviation comes from its name, so the same bottle is always the same.
        seed = [ord(c) for c in scent.word.name + bottle] + [int(1e6 * abs(scent.log_af))]
        own = np.random.default_rng(seed).normal()
        words.append(replace(scent.word, lot=bottle if rng.random() < 0.6 else None))
        lot_af[scent.word.name] = scent.log_af + maker.lot_sd * np.hypot(1, scent.log_af) * own
    common = tuple(Blend(t, rng.uniform(3, 8)) for t in np.arange(rng.integers(2, 6)) * 25.0 + 20.0)
    # By hand, between stable emulsion and light trace as a rule.
    t_f0, pots = rng.uniform(150.0, 600.0), []
    for p in range(rng.integers(1, 6)):
        t_f = t_f0 + 30.0 * p + rng.uniform(0, 20)
        blends = common
        if rng.random() < 0.3:
            blends = (*common, Blend(t_f + 5.0, rng.uniform(2, 6)))
        fragrance = None
        if words and rng.random() < 0.85:
            fragrance = words[rng.integers(len(words))].name
        pots.append(
            PotHistory(
                name=f"pot {p}",
                until=t_f + rng.uniform(300.0, 2400.0),
                fragrance=fragrance,
                fragrance_in=t_f if fragrance else None,
                blends=blends,
            )
        )
    return Setup(name, mix, maker.room_c + rng.normal(0, 1.5), tuple(pots), tuple(words), lot_af)


def recipe_log_rate(maker: Maker, mix: Mix) -> float:
    """What the recipe does to log rate, temperature apart."""
    c1, c2, s1 = maker.coefficients
    strong = (mix.concentration - 0.33) / 0.05
    return float(c1 * strong + c2 * strong**2 + s1 * (mix.saturated - 0.40) / 0.10)


def conduct(pots: Sequence[PotHistory]) -> tuple[Array, Array, Array]:
    """Starts and lengths of blending (P, B) and when the fragrance went in (P,), s."""
    most = max(len(pot.blends) for pot in pots)
    starts, lengths = np.full((len(pots), most), np.inf), np.zeros((len(pots), most))
    for i, pot in enumerate(pots):
        starts[i, : len(pot.blends)] = [b.t for b in pot.blends]
        lengths[i, : len(pot.blends)] = [b.seconds for b in pot.blends]
    t_f = np.array([np.inf if t.fragrance_in is None else t.fragrance_in for t in pots])
    return starts, lengths, t_f


def chance(
    rng: np.random.Generator,
    maker: Maker,
    setup: Setup,
    n: int,
    log_af: Mapping[str, Array] | None = None,
) -> Array:
    """(n, pots, 4) milestone times of ``n`` goes at the same batch, noise and all.

    ``log_af``: (n,) by scent, where each go has a log AF of its own.
    """
    p = len(setup.pots)
    fixed = recipe_log_rate(maker, setup.mix)
    batch = maker.batch_scale * rng.standard_t(4, (n, 1))
    rate = fixed + batch + maker.pot_sd * rng.standard_normal((n, p))
    spread = np.exp(maker.spread_sd * rng.standard_normal((n, 1, 1)))
    logs = np.log(maker.thresholds)
    logs = logs[0] + (logs - logs[0]) * spread
    logs = logs + maker.threshold_sd * rng.standard_normal((n, p, 4))
    starts, lengths, t_f = conduct(setup.pots)
    log_afs = setup.lot_log_af if log_af is None else log_af
    af = np.array(
        [np.broadcast_to(np.exp(log_afs.get(pot.fragrance or "", 0.0)), n) for pot in setup.pots]
    )

    def each(a: Array) -> Array:
        return np.broadcast_to(a, (n, *a.shape)).reshape(-1, *a.shape[1:])

    times = milestone_times(
        maker.physics,
        Pots(
            log_rate=rate.reshape(-1),
            batter_c=np.full(n * p, setup.mix.batter_c),
            room_c=np.full(n * p, setup.room_c),
            af=af.T.reshape(-1),
            fragrance_in=each(t_f),
            blend_from=each(starts),
            blend_for=each(lengths),
            thresholds=np.sort(np.exp(logs), axis=-1).reshape(-1, 4),
        ),
    )
    return times.reshape(n, p, 4)


def watch(rng: np.random.Generator, hand: Hand, pot: PotHistory, truth: Array) -> PotHistory:
    """The pot with the taps this maker makes: some missed, some late, some wrong."""
    if rng.random() < hand.untended:
        return pot
    taps = []
    if rng.random() < hand.looks:
        taps.append(Tap(float(rng.uniform(0.3, 0.9) * truth[0]), Trace.EMULSION))
    for j in range(4):
        called = truth[j] * np.exp(hand.perception * rng.standard_normal())
        mean = hand.late_delay if rng.random() < hand.late else hand.delay
        t = float(called + rng.exponential(mean))
        if rng.random() < hand.missed or truth[j] >= HORIZON:
            continue
        state = j + 1
        if rng.random() < hand.wrong:
            state = int(np.clip(state + rng.choice([-1, 1]), 1, 4))
        taps.append(Tap(t, Trace(state)))
    kept = tuple(sorted((t for t in taps if t.t <= pot.until), key=lambda t: t.t))
    return replace(pot, taps=kept)


def make(rng: np.random.Generator, maker: Maker, setup: Setup) -> Made:
    """One batch, made once."""
    truth = chance(rng, maker, setup, 1)[0]
    pots = tuple(watch(rng, maker.hand, pot, truth[i]) for i, pot in enumerate(setup.pots))
    return Made(setup, BatchHistory(setup.name, setup.mix, pots, setup.fragrances), truth)


def make_many(rng: np.random.Generator, maker: Maker, count: int, prefix: str = "b") -> list[Made]:
    """``count`` batches in the order they were made."""
    return [make(rng, maker, draw_setup(rng, maker, f"{prefix}{i:06d}")) for i in range(count)]
