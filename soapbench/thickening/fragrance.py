"""What is believed about one fragrance: its acceleration factor."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log

import numpy as np
import numpy.typing as npt

from soapbench.batter import FragranceWord
from soapbench.thickening import normal
from soapbench.thickening.fitted import Fit, Fragrance, mixture, others_mixture
from soapbench.thickening.profile import GRID
from soapbench.thickening.solve import lot_sd

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Belief:
    """A piece of the mixture for a lot's log AF: N(mean + tie . dtheta, variance) given theta."""

    weight: float
    mean: float
    tie: Array
    variance: float


@dataclass(frozen=True, slots=True)
class Acceleration:
    """Log AF of a fragrance as a normal mixture, and what it rests on."""

    batches: int
    """Logged batches with this fragrance; 0: only its reputation."""
    seizes: float
    """Chance that it seizes; what follows is of a batch in which it does not."""
    new_bottle: bool
    """Used before, but this bottle was never opened, or is not named: foreseen less surely."""
    weights: tuple[float, ...]
    means: tuple[float, ...]
    sds: tuple[float, ...]

    @property
    def mean(self) -> float:
        """Of log AF."""
        return float(np.dot(self.weights, self.means))

    @property
    def sd(self) -> float:
        """Of log AF."""
        square = np.dot(self.weights, np.square(self.sds) + np.square(self.means))
        return float(np.sqrt(square - self.mean**2))

    def above(self, factor: float) -> float:
        """P(AF >= factor)."""
        z = (np.log(factor) - np.array(self.means)) / np.array(self.sds)
        return float(np.dot(self.weights, normal.cumulative(-z)))

    def quantile(self, p: float) -> float:
        """The AF that is not exceeded with probability ``p``."""
        low, high = -4.0, 8.0
        for _ in range(50):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if 1.0 - self.above(np.exp(middle)) >= p else (middle, high)
        return float(np.exp(high))


def beliefs(fit: Fit, word: FragranceWord) -> tuple[Belief, ...]:
    """Log AF of the lot named by ``word`` in the next batch, before anything is seen of it: as
    usual, by whether it is as sold and what a new bottle does; or it seizes."""
    chance = seizes(fit, word)
    usual = usual_beliefs(fit, word)
    none: Array = np.zeros(len(fit.theta))
    seizing = Belief(chance, fit.priors.seizing.mean, none, fit.priors.seizing.sd**2)
    return (*(replace(b, weight=b.weight * (1.0 - chance)) for b in usual), seizing)


def seizes(fit: Fit, word: FragranceWord) -> float:
    """Chance that it seizes in the next batch: what is said of it, and how often it did."""
    known, priors = fit.fragrances.get(word.name), fit.priors
    seized, batches = (known.seized, known.batches) if known else (0, 0)
    count = priors.seizes_counts
    return (count * priors.words[word.reputation].seizes + seized) / (count + batches)


def new_bottle(fit: Fit, word: FragranceWord) -> bool:
    """Whether nothing is known of this bottle though its fragrance was used before."""
    known = fit.fragrances.get(word.name)
    return known is not None and all(lot.name != word.lot or not lot.name for lot in known.lots)


def usual_beliefs(fit: Fit, word: FragranceWord) -> tuple[Belief, ...]:
    """The same of a batch in which it does not seize."""
    known, priors = fit.fragrances.get(word.name), fit.priors
    beliefs, logs = [], []
    by_others = fit.by_others.get(word.name)
    sold = mixture(word.reputation, fit.words, priors)
    for weight, mean, sd in others_mixture(by_others, priors) if by_others else sold:
        rho2 = float(lot_sd(fit.sd.lot, np.array(known.log_af if known else mean))) ** 2
        if known is None:
            log_evidence, belief = 0.0, (mean, np.zeros(len(fit.theta)), sd**2 + rho2)
        elif known.table:
            log_evidence, belief = _from_table(known, mean, sd)
        else:
            log_evidence, belief = _from_lots(fit, known, word, mean, sd, rho2)
        bottles = [(1.0, 0.0)]
        if new_bottle(fit, word):
            usual, odd = priors.bottles
            bottles = [(1.0 - priors.odd_bottle, usual), (priors.odd_bottle, odd)]
        for share, deviates in bottles:
            centre, tie, variance = belief
            logs.append(float(np.log(weight * share)) + log_evidence)
            beliefs.append((centre, tie, variance + deviates**2 * rho2))
    weights = np.exp(np.array(logs) - max(logs))
    weights /= weights.sum()
    return tuple(
        Belief(float(w), float(m), t, float(v))
        for w, (m, t, v) in zip(weights, beliefs, strict=True)
    )


_Piece = tuple[float, Array, float]
"""Mean, tie to theta and variance of one piece."""


def _from_table(known: Fragrance, mean: float, sd: float) -> tuple[float, _Piece]:
    """Evidence of one piece N(mean, sd) and the fragrance's log AF under it, few batches."""
    a = np.linspace(GRID[0], GRID[-1], 8 * (len(GRID) - 1) + 1)
    logs = np.interp(a, GRID, known.table) - 0.5 * ((a - mean) / sd) ** 2 - log(sd)
    mass = np.exp(logs - logs.max())
    centre = float(mass @ a / mass.sum())
    variance = float(mass @ (a - centre) ** 2 / mass.sum())
    tie = -variance * np.sum([lot.tie for lot in known.lots], axis=0)
    return float(logs.max() + np.log(mass.sum())), (centre, tie, variance)


def _from_lots(
    fit: Fit, known: Fragrance, word: FragranceWord, mean: float, sd: float, rho2: float
) -> tuple[float, _Piece]:
    """The same with many batches, where what each lot says is normal; of a lot known, its own."""
    precision, pull = sd**-2, mean * sd**-2
    message, pulled, own = 0.0, 0.0, None
    tie: Array = np.zeros(len(fit.theta))
    ties: Array = np.zeros(len(fit.theta))
    for lot in known.lots:
        through = 1.0 / (1.0 + lot.precision * rho2)  # what a lot says about its fragrance
        message += lot.precision * through
        pulled += lot.pull * through
        ties = ties - np.array(lot.tie) * through
        if lot.name and lot.name == word.lot:
            own = lot
        else:
            precision += lot.precision * through
            pull += lot.pull * through
            tie = tie - np.array(lot.tie) * through
    centre, tie, variance = pull / precision, tie / precision, 1.0 / precision
    if own is not None:
        variance += rho2
        total = 1.0 / variance + own.precision
        centre = (centre / variance + own.pull) / total
        tie = (tie / variance - np.array(own.tie)) / total
        variance = 1.0 / total
    evidence = 0.0
    if message > 0.0:
        tied = float(ties @ fit.covariance @ ties) / message**2
        spread = 1.0 / message + tied + sd**2
        evidence = -0.5 * (log(spread) + (pulled / message - mean) ** 2 / spread)
    return evidence, (centre, tie, variance)


def acceleration(fit: Fit, word: FragranceWord) -> Acceleration:
    """What the bench believes of a fragrance, for the fragrance book and the plan."""
    known = fit.fragrances.get(word.name)
    pieces = usual_beliefs(fit, word)
    return Acceleration(
        batches=known.batches if known else 0,
        seizes=seizes(fit, word),
        new_bottle=new_bottle(fit, word),
        weights=tuple(b.weight for b in pieces),
        means=tuple(b.mean for b in pieces),
        sds=tuple(float(np.sqrt(b.variance + b.tie @ fit.covariance @ b.tie)) for b in pieces),
    )
