"""What is believed about batters before any batch has been logged.

Every number here is ours: a judgement that predicted well in simulated worlds, read in no
source. Two batches teach more about a maker's hand than any of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log

from soapbench.batter import Reputation


@dataclass(frozen=True, slots=True)
class Normal:
    """A normal distribution; also the (location, scale) of one piece of a mixture."""

    mean: float
    sd: float


@dataclass(frozen=True, slots=True)
class Component:
    """A standard deviation learned from the log, with the weight of what we thought before."""

    sd: float
    pseudo_counts: float
    """How many observations our first guess is worth; ``inf`` keeps it fixed."""


@dataclass(frozen=True, slots=True)
class Word:
    """What a reputation says about log AF.

    A fragrance is as sold, log AF ~ N(class mean, ``spread``), or misjudged by whoever sold it
    with probability ``misjudged``: then ``Priors.misjudged`` holds.
    """

    mean: Normal
    spread: float
    misjudged: float


def _words() -> dict[Reputation, Word]:
    return {
        Reputation.WELL_BEHAVED: Word(Normal(0.10, 0.08), 0.20, 0.30),
        Reputation.UNKNOWN: Word(Normal(0.50, 0.20), 0.50, 0.30),
        Reputation.ACCELERATES: Word(Normal(1.15, 0.20), 0.45, 0.20),
        Reputation.NOTORIOUS: Word(Normal(1.90, 0.30), 0.45, 0.20),
    }


@dataclass(frozen=True)
class Priors:
    """The prior of the thickening model. Times in s, rates and factors on the log scale."""

    coefficients: tuple[Normal, ...] = (Normal(1.0, 0.15), Normal(0.25, 0.15), Normal(0.12, 0.10))
    """Of batter temperature, lye concentration, saturated share, as scaled by ``covariates``."""
    log_kappa: Normal = Normal(log(20.0), 0.4)
    """Seconds of standing that one second of the stick blender is worth."""
    log_light: Normal = Normal(log(1000.0), 0.4)
    """Exposure at which light trace is reached, s."""
    log_gaps: tuple[Normal, ...] = (
        Normal(log(0.36), 0.35),
        Normal(log(0.26), 0.40),
        Normal(log(0.20), 0.40),
    )
    """Log of the steps in log exposure light-medium, medium-thick, thick-set up."""
    batch: Component = Component(0.20, 30.0)
    """Batch to batch, log rate: the scale of a Student t."""
    batch_tail: float = 5.0
    """Degrees of freedom of that t, above 2; ``inf`` makes it normal."""
    spread: Component = Component(0.12, 100.0)
    """Batch to batch, log of how far apart the milestones lie."""
    lot: Component = Component(0.10, 100.0)
    """Lot to lot of a fragrance, log AF; grows with log AF."""
    noise: Component = Component(0.08, 10.0)
    """One tap, log exposure."""
    tail: float = 4.0
    """Degrees of freedom of a tap's Student t; ``inf`` makes it normal."""
    skipped: float = 0.25
    """Chance that a milestone reached while somebody looked was not tapped."""
    skipped_counts: float = 30.0
    """What that is worth against the maker's own habit, in milestones."""
    untended: float = 0.15
    """Chance that nobody looked at a pot with no tap at all."""
    mistaken: float = 0.05
    """Chance that a state seen was tapped although the next one had been reached."""
    delay: float = 8.0
    """From reaching a state to tapping it, s; mean and spread."""
    words: dict[Reputation, Word] = field(default_factory=_words)
    misjudged: Normal = Normal(1.4, 0.65)
    """Log AF of a fragrance that is not what it was sold as."""
