"""A maker, their fragrances, and the batches they make. Everything is invented.

A usual batter keeps to what makers say of it (``test_worlds``); around that, worlds are richer
than the model: bottles deviate with heavy tails, a fragrance may wait before it acts or seize,
thermometers are off, some makers never key the blender, some tap late.
"""

from __future__ import annotations

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
    Trace,
)
from tests.worlds.kettle import Physics, heat_of

Array = npt.NDArray[np.float64]

MISLABELLED = 0.12
SOLD_AS = {
    # share of the shelf, mean and sd of log AF when sold rightly
    Reputation.WELL_BEHAVED: (0.45, 0.08, 0.16),
    Reputation.UNKNOWN: (0.25, 0.85, 0.50),
    Reputation.ACCELERATES: (0.20, 2.10, 0.40),
    Reputation.NOTORIOUS: (0.10, 2.90, 0.40),
}
SEIZES = {
    Reputation.WELL_BEHAVED: 0.003,
    Reputation.UNKNOWN: 0.01,
    Reputation.ACCELERATES: 0.04,
    Reputation.NOTORIOUS: 0.12,
}
"""Chance to seize in a batch: the mean over fragrances sold so."""
SEIZING = np.array([0.01, 0.3, 0.6, 0.8, 1.0])
"""When a pot that seizes passes its milestones, as parts of the time until it has set up."""
SLOWEST = 0.2
"""AF below which none falls, however large its load."""
LOT_TAIL = 3.0
"""Degrees of freedom of a bottle's deviation."""


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
    keys_blender: bool = True
    thermometer: float = 0.0
    """K by which the maker's reads too high."""
    reading: float = 1.0
    """K, from one reading to the next."""


@dataclass(frozen=True)
class Fragrance:
    word: FragranceWord
    log_af: float
    latency: float = 0.0
    """s until it begins to act, mean of an exponential."""
    seizes: float = 0.0
    """Chance in a batch."""


@dataclass(frozen=True)
class Maker:
    """The truth about one maker."""

    physics: Physics
    hand: Hand
    thresholds: Array
    """(5,) conversion at stable emulsion … set up."""
    coefficients: tuple[float, float, float]
    """Of concentration, its square, saturated share, on log rate."""
    batch_scale: float
    """Of a Student t with 4 degrees of freedom."""
    spread_sd: float
    pot_sd: float
    threshold_sd: float
    lot_sd: float
    room_c: float
    fragrances: tuple[Fragrance, ...]
    stop_sd: float = 0.10
    """How unevenly the blender is stopped at the state meant, log conversion."""
    litres: float = 1.0

    def fragrance(self, name: str) -> Fragrance:
        return next(fragrance for fragrance in self.fragrances if fragrance.word.name == name)


@dataclass(frozen=True)
class Setup:
    """One batch as planned and done, before chance has its say."""

    name: str
    mix: Mix
    """As the maker has it: the temperature as read."""
    room_c: float
    pots: tuple[PotHistory, ...]
    """With ``until`` set and no taps; all blending, keyed or not."""
    fragrances: tuple[FragranceWord, ...]
    lot_log_af: dict[str, float]
    true_c: float | None = None
    """What the batter really has, degC; None: as read."""

    @property
    def batter_c(self) -> float:
        return self.mix.batter_c if self.true_c is None else self.true_c


@dataclass(frozen=True)
class Made:
    """A batch with its taps, and what nobody sees."""

    setup: Setup
    history: BatchHistory
    truth: Array
    """(pots, 5) s since lye met oils."""


# ---------------------------------------------------------------- makers


def draw_fragrance(
    rng: np.random.Generator, number: int, sold: Reputation, shift: float
) -> Fragrance:
    """A fragrance sold as ``sold``; sometimes it is nothing of the kind."""
    _, mean, sd = SOLD_AS[sold]
    log_af = rng.normal(mean + shift, sd)
    if rng.random() < MISLABELLED:
        log_af = (
            rng.normal(1.7, 0.6)
            if sold in (Reputation.WELL_BEHAVED, Reputation.UNKNOWN)
            else rng.normal(0.6, 0.5)
        )
    load = float(rng.choice([0.02, 0.03, 0.03, 0.04, 0.06]))
    return Fragrance(
        FragranceWord(f"Fragrance {number}", sold, None, load),
        float(max(log_af, -0.4)),
        latency=float(rng.exponential(15.0) if rng.random() < 0.8 else rng.uniform(60.0, 120.0)),
        seizes=float(min(0.5, SEIZES[sold] * rng.gamma(0.5, 2.0))),
    )


def draw_maker(rng: np.random.Generator, fragrances: int = 30) -> Maker:
    """A maker at random."""
    kinds, shares = list(SOLD_AS), [v[0] for v in SOLD_AS.values()]
    shift = rng.normal(0.0, 0.08)
    shelf = tuple(
        draw_fragrance(rng, i, kinds[rng.choice(4, p=shares)], shift) for i in range(fragrances)
    )
    steps = np.exp(rng.normal(np.log([0.95, 0.25, 0.26, 0.30]), 0.15))
    late = rng.random() < 0.15
    return Maker(
        physics=Physics(
            activation=rng.uniform(44e3, 62e3),
            base_rate=1.85e-5 * np.exp(rng.normal(0.0, 0.20)),
            autocatalysis=rng.uniform(12.0, 28.0),
            fragrance_power=rng.uniform(0.8, 1.0),
            blend_power=20.0 * np.exp(rng.normal(0.0, 0.35)),
            blend_wear=rng.uniform(60.0, 150.0),
            adiabatic=rng.uniform(30.0, 60.0),
            cooling=rng.uniform(5000.0, 12000.0),
            own_warmth=rng.uniform(0.15, 0.55),
            litres_power=rng.uniform(0.55, 0.75),
            load_power=rng.uniform(0.45, 0.80),
        ),
        hand=Hand(
            missed=rng.uniform(0.10, 0.40),
            untended=rng.uniform(0.05, 0.20),
            wrong=0.02,
            late=rng.uniform(0.5, 1.0) if late else 0.06,
            delay=rng.uniform(4.0, 12.0),
            late_delay=rng.uniform(20.0, 60.0) if late else 60.0,
            perception=rng.uniform(0.03, 0.07),
            looks=rng.uniform(0.0, 0.4),
            keys_blender=bool(rng.random() < 0.5),
            thermometer=rng.normal(0.0, 1.5),
        ),
        thresholds=0.0125
        * np.exp(rng.normal(0.0, 0.15))
        * np.exp(np.concatenate([[0.0], np.cumsum(steps)])),
        coefficients=(rng.normal(0.30, 0.10), rng.normal(0.0, 0.03), rng.normal(0.32, 0.07)),
        batch_scale=rng.uniform(0.12, 0.20),
        spread_sd=0.12,
        pot_sd=rng.uniform(0.03, 0.06),
        threshold_sd=0.03,
        lot_sd=0.10,
        room_c=rng.normal(20.0, 2.0),
        fragrances=shelf,
        litres=float(np.exp(rng.uniform(np.log(0.6), np.log(8.0)))),
    )


# ---------------------------------------------------------------- batches


def bottle_of(maker: Maker, fragrance: Fragrance, bottle: str) -> float:
    """Log AF of one bottle: told by its name, so that the same bottle is always the same."""
    seed = [ord(c) for c in fragrance.word.name + bottle] + [int(1e6 * abs(fragrance.log_af))]
    own = np.random.default_rng(seed).standard_t(LOT_TAIL) / np.sqrt(LOT_TAIL / (LOT_TAIL - 2.0))
    return fragrance.log_af + lot_sd(maker, fragrance.log_af) * float(own)


def lot_sd(maker: Maker, log_af: Array | float) -> Array | float:
    """Standard deviation of a bottle's log AF from its fragrance's."""
    return maker.lot_sd * np.hypot(1.0, log_af)


TRUE_C = (20.0, 38.0)
"""Between which a batter's temperature lies."""
AGAIN, AGAIN_AFTER_S, AGAIN_FOR_S = 0.15, 5.0, (2.0, 6.0)
"""Chance that a pot is blended once more, how long after its fragrance, and for how long."""


def draw_setup(
    rng: np.random.Generator,
    maker: Maker,
    name: str,
    chosen: tuple[Fragrance, ...] | None = None,
    lot: str | None = None,
) -> Setup:
    """What the maker decides to make; a popular fragrance is bought again and again."""
    true_c = rng.uniform(*TRUE_C)
    read = true_c + maker.hand.thermometer + maker.hand.reading * rng.standard_normal()
    mix = Mix(read, rng.uniform(0.28, 0.38), rng.uniform(0.20, 0.55))
    if chosen is None:
        weights = 1.0 / (np.arange(len(maker.fragrances)) + 2.0)
        kinds = rng.choice(3, p=[0.08, 0.77, 0.15])
        picked = rng.choice(len(weights), kinds, replace=False, p=weights / weights.sum())
        chosen = tuple(maker.fragrances[i] for i in picked)
    words, lot_af = [], {}
    for one in chosen:
        bottle = lot or f"{name[:-2]}"  # a hundred batches share a bottle of each fragrance
        words.append(replace(one.word, lot=bottle if rng.random() < 0.6 else None))
        lot_af[one.word.name] = bottle_of(maker, one, bottle)
    litres = maker.litres * float(np.exp(rng.normal(0.0, 0.2)))
    done = rng.uniform(60.0, 120.0)
    to = Trace.LIGHT if rng.random() < 0.1 else Trace.EMULSION
    done = max(done, 20.0 + 1.3 * min(_blending_s(maker, mix, true_c, litres, to), 600.0))
    up = Blend(20.0, done - 20.0, litres, to)
    t_f0, pots = done + rng.uniform(60.0, 480.0), []
    count = int(rng.integers(1, 6))
    for p in range(count):
        t_f = t_f0 + 30.0 * p + rng.uniform(0, 20)
        blends = (up,)
        if rng.random() < AGAIN:
            blends = (up, Blend(t_f + AGAIN_AFTER_S, rng.uniform(*AGAIN_FOR_S), litres / count))
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
    room = maker.room_c + rng.normal(0, 1.5)
    return Setup(name, mix, room, tuple(pots), tuple(words), lot_af, true_c)


def _blending_s(maker: Maker, mix: Mix, true_c: float, litres: float, to: Trace) -> float:
    """Seconds of the blender up to a state, in a usual batch: more than fit into a minute or two
    where much is blended, or cold, or up to light trace."""
    rate = maker.physics.base_rate * np.exp(recipe_log_rate(maker, mix))
    needed = maker.thresholds[to] / (rate * float(heat_of(maker.physics, true_c)))
    return float(needed / (maker.physics.blend_power * litres**-maker.physics.litres_power))


def recipe_log_rate(maker: Maker, mix: Mix) -> float:
    """What the recipe does to log rate, temperature apart."""
    c1, c2, s1 = maker.coefficients
    strong = (mix.concentration - 0.33) / 0.05
    return float(c1 * strong + c2 * strong**2 + s1 * (mix.saturated - 0.40) / 0.10)


def loaded(maker: Maker, af: Array, load: float) -> Array:
    """AF of a load, from that of 3 %; whatever slows a batter never stops it."""
    return np.maximum(1.0 + (af - 1.0) * (load / 0.03) ** maker.physics.load_power, SLOWEST)
