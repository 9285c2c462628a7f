"""A strong accelerator sold as well behaved: how soon is it seen for what it is?

By the model, and by somebody who knows the maker through and through but not the fragrance.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import numpy.typing as npt

from soapbench.batter import Reputation, Tap, Trace
from soapbench.thickening import Priors, chance_above, fit, live
from tests.worlds import learner
from tests.worlds.kettle import effective_log_af
from tests.worlds.making import make, make_many
from tests.worlds.world import (
    Fragrance,
    Made,
    Maker,
    draw_fragrance,
    draw_maker,
    draw_setup,
    lot_sd,
)

Array = npt.NDArray[np.float64]

STRONG, MILD = 3.0, 2.5
FACTORS = (2.0, 2.5, 3.0)
"""Of P(AF >= factor) asked for."""
READINGS = ("any two taps", "two milestones", "two taps of one pot")
"""What "after two taps" may mean."""
DRAWS = 1000
FINE = np.linspace(learner.LOG_AF[0], learner.LOG_AF[-1], 1241)


@dataclass(frozen=True)
class Belief:
    """What somebody believes of one fragrance by the second tap."""

    who: str
    reading: str
    earlier: int
    """Batches with the same bottle before."""
    af: float
    """The truth, of that bottle, as a maker would measure it."""
    above: tuple[float, ...]
    """P(AF >= factor) for each of ``FACTORS``."""


def second_tap(made: Made, name: str, reading: str) -> float | None:
    """When the fragrance's pots have been tapped twice with it in, s; None: never."""
    pots = [
        [t for t in p.taps if t.state is not Trace.EMULSION and t.t > (p.fragrance_in or 0.0)]
        for p in made.history.pots
        if p.fragrance == name
    ]

    def second(taps: Iterable[Tap], same: bool = True) -> float | None:
        ordered = sorted(taps, key=lambda tap: tap.t)
        later = (t.t for t in ordered[1:] if same or t.state is not ordered[0].state)
        return next(later, None)

    if reading == "two taps of one pot":
        return min((t for t in map(second, pots) if t is not None), default=None)
    return second((t for taps in pots for t in taps), same=reading == "any two taps")


class Knower:
    """Knows a maker; for fragrances sold as well behaved."""

    def __init__(self, rng: np.random.Generator, maker: Maker) -> None:
        self.rng, self.maker = rng, maker
        bottles = [self._bottle() for _ in range(8000)]
        self.prior = learner.log_share(np.array(bottles))
        start, end = maker.thresholds[1], maker.thresholds[3]
        self.effective = np.array([effective_log_af(maker.physics, a, start, end) for a in FINE])

    def _bottle(self) -> float:
        a = draw_fragrance(self.rng, 0, Reputation.WELL_BEHAVED, 0.0).log_af
        return float(a + lot_sd(self.maker, a) * self.rng.standard_normal())

    def evidence(self, made: Made, now: float = np.inf) -> Array:
        """Of a batch with one fragrance by ``now``: log-likelihood on ``learner.LOG_AF``."""
        own = learner.evidence(self.maker, made, now)
        return np.zeros_like(self.prior) if own is None else own.log

    def above(self, *evidence: Array) -> tuple[float, ...]:
        """P(AF >= factor) of a bottle, by factor."""
        logs = self.prior + sum(evidence)
        mass = np.exp(np.interp(FINE, learner.LOG_AF, logs - logs.max()))
        return tuple(float(mass[self.effective >= np.log(f)].sum() / mass.sum()) for f in FACTORS)


def strong_accelerators(
    seeds: Sequence[int], per_world: int, priors: Priors, size: int = 30
) -> list[Belief]:
    """Beliefs about fragrances of AF 3 or more, and about as many of less than 2.5.

    The maker has ``size`` batches with other fragrances.
    """
    believed: list[Belief] = []
    for seed in seeds:
        rng, apart = np.random.default_rng([77, seed]), np.random.default_rng([78, seed])
        maker = draw_maker(rng)
        past = [m.history for m in make_many(rng, maker, size)]
        base, knower = fit(past, priors), Knower(apart, maker)
        wanted = {True: per_world, False: per_world}
        number = 900
        while any(wanted.values()):
            number += 1
            fragrance = draw_fragrance(rng, number, Reputation.WELL_BEHAVED, 0.0)
            is_strong = fragrance.log_af >= np.log(MILD)
            if not wanted[is_strong]:
                continue
            earlier, now = _two_batches(rng, maker, fragrance)
            af = _factor(maker, now, fragrance)
            knower.maker = replace(maker, fragrances=(fragrance,))
            moments = {r: second_tap(now, fragrance.word.name, r) for r in READINGS}
            if moments["any two taps"] is None or (is_strong and af < STRONG):
                continue
            wanted[is_strong] -= 1
            once = fit([*past, earlier.history], priors)
            before = knower.evidence(earlier)
            for reading, at in moments.items():
                if at is None:
                    continue
                likely = knower.evidence(now, at)
                for count, fitted in enumerate((base, once)):
                    draws = live(fitted, now.history, at, n=DRAWS)
                    model = tuple(chance_above(draws, fragrance.word.name, f) for f in FACTORS)
                    knows = knower.above(likely, *[before] * count)
                    believed.append(Belief("model", reading, count, af, model))
                    believed.append(Belief("knower", reading, count, af, knows))
    return believed


def _two_batches(rng: np.random.Generator, maker: Maker, fragrance: Fragrance) -> tuple[Made, Made]:
    """From the same bottle."""
    maker = replace(maker, fragrances=(fragrance,))
    earlier, now = (
        make(rng, maker, draw_setup(rng, maker, f"x0000{i}", (fragrance,))) for i in (0, 1)
    )
    return earlier, now


def _factor(maker: Maker, made: Made, fragrance: Fragrance) -> float:
    log_af = made.setup.lot_log_af[fragrance.word.name]
    start, end = maker.thresholds[1], maker.thresholds[3]
    return float(np.exp(effective_log_af(maker.physics, log_af, start, end)))


def share(beliefs: Iterable[Belief], factor: float) -> tuple[float, float, int]:
    """Of beliefs that P(AF >= factor) is above one half; its standard error, and how many."""
    held = [b.above[FACTORS.index(factor)] > 0.5 for b in beliefs]
    if not held:
        return float("nan"), float("nan"), 0
    p, n = float(np.mean(held)), len(held)
    return p, float(np.sqrt(p * (1.0 - p) / n)), n


def report(seeds: Sequence[int], per_world: int, priors: Priors) -> None:
    """Print the table of shares."""
    cases = strong_accelerators(seeds, per_world, priors)
    print("fragrances sold as well behaved: share believed above one half to have the AF named,")
    print("by the second tap; knower: knows the maker through and through, but not the fragrance")
    columns = [(STRONG, np.inf, 3.0), (4.0, np.inf, 3.0), (STRONG, 3.5, 3.0)]
    columns += [(STRONG, np.inf, 2.5), (STRONG, np.inf, 2.0), (0.0, MILD, 3.0), (0.0, 2.0, 2.0)]
    heads = [f"{low:g}-{high:g}: >= {f:g}".replace("-inf", " up") for low, high, f in columns]
    print(f"{'batches before, reading, who':42s}" + "".join(f"{head:>20s}" for head in heads))
    for earlier, reading, who in product((0, 1), READINGS, ("model", "knower")):
        mine = [b for b in cases if (b.earlier, b.reading, b.who) == (earlier, reading, who)]
        line = f"{f'{earlier}, {reading}, {who}':42s}"
        for low, high, factor in columns:
            p, error, n = share([b for b in mine if low <= b.af < high], factor)
            line += f"{f'{p:.0%} ±{error:.0%} ({n})':>20s}"
        print(line)
