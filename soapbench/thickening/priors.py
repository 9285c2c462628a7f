"""What is believed about batters before any batch has been logged.

Every number here is ours, read in no source: set so that with no batch at all the answers are
those of common practice (``tests/thickening/test_trade.py``), and predict well in simulated worlds.
Two batches teach more about a maker's hand than any of them.

In the symbols of the model (``exposure``, ``likelihood``), with batches i and milestones j,

    log age(t) = x'beta + b_i + log E(t)
    log m_j    = mu + Gamma_j exp(s_i)

theta = (beta, log kappa, mu, log gaps); the gaps are the steps of Gamma from one milestone to the
next, Gamma = 0 at light trace.
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
    seizes: float
    """Chance that it seizes in a batch."""


def _words() -> dict[Reputation, Word]:
    return {
        Reputation.WELL_BEHAVED: Word(Normal(0.10, 0.08), 0.20, 0.12, 0.004),
        Reputation.UNKNOWN: Word(Normal(0.80, 0.20), 0.60, 0.20, 0.015),
        Reputation.ACCELERATES: Word(Normal(2.15, 0.20), 0.45, 0.12, 0.03),
        Reputation.NOTORIOUS: Word(Normal(2.95, 0.25), 0.45, 0.10, 0.10),
    }


@dataclass(frozen=True)
class Priors:
    """The prior of the thickening model. Times in s, rates and factors on the log scale."""

    coefficients: tuple[Normal, ...] = (Normal(1.2, 0.12), Normal(0.30, 0.10), Normal(0.37, 0.08))
    """beta: of batter temperature, lye concentration, quick oils, as scaled by ``covariates``."""
    log_kappa: Normal = Normal(log(20.0), 0.4)
    """Seconds of standing that one second of the stick blender in one litre is worth."""
    log_light: Normal = Normal(log(1330.0), 0.23)
    """mu: log exposure at which light trace is reached, s."""
    log_gaps: tuple[Normal, ...] = (
        Normal(log(0.98), 0.20),
        Normal(log(0.22), 0.30),
        Normal(log(0.20), 0.35),
        Normal(log(0.22), 0.40),
    )
    """Log of the steps in log exposure stable emulsion-light, light-medium, medium-thick,
    thick-set up."""
    batch: Component = Component(0.17, 30.0)
    """Batch to batch, log rate: the scale of a Student t."""
    batch_tail: float = 3.0
    """Degrees of freedom of that t, above 2; ``inf`` makes it normal."""
    spread: Component = Component(0.12, 100.0)
    """Batch to batch, log of how far apart the milestones lie."""
    lot: Component = Component(0.10, 100.0)
    """Lot to lot of a fragrance, log AF; grows with log AF."""
    pot: tuple[float, float] = (0.04, 0.12)
    """From pot to pot of a batch, log rate and log AF: what no other pot's taps can tell."""
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
    patience: float = 120.0
    """How long a maker still looks at a pot after the last key on it, s: later silence says
    nothing."""
    latency: float = 20.0
    """How unsure the moment is at which a fragrance begins to act, s."""
    delay: float = 8.0
    """From reaching a state to tapping it, s; mean and spread."""
    seizing: Normal = Normal(4.6, 0.4)
    """Log AF of a fragrance that seizes: a pot sets up in seconds."""
    seizes_counts: float = 4.0
    """How many batches the word's chance of seizing is worth."""
    odd_bottle: float = 0.2
    """Chance that a new bottle is an odd one."""
    bottles: tuple[float, float] = (0.6, 2.0)
    """How far a usual and an odd bottle deviate, in standard deviations of bottles: together a
    spread as heavy-tailed as a Student t of 3 degrees of freedom."""
    words: dict[Reputation, Word] = field(default_factory=_words)
    misjudged: Normal = Normal(1.6, 0.70)
    """Log AF of a fragrance that is not what it was sold as."""
