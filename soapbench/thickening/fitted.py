"""The fit: what a maker's batches taught, a plain value that can be kept and thrown away.

``Fit`` holds what a new batch needs: theta with its covariance, the spreads, what each reputation
has come to mean at this bench, and for each fragrance lot what its own sightings say about log AF
(a normal message, tied to theta), kept apart from the prior so that a misjudged fragrance can
still be recognised as one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from math import log
from typing import Any

import numpy as np
import numpy.typing as npt

from soapbench.batter import ByOthers, Reputation
from soapbench.thickening.priors import Normal, Priors
from soapbench.thickening.sightings import Spreads

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lot:
    """The log-likelihood of one lot's log AF, -precision/2 a^2 + (pull - tie . dtheta) a."""

    name: str
    precision: float
    pull: float
    tie: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Fragrance:
    """What the log holds about one fragrance."""

    name: str
    reputation: Reputation
    batches: int
    log_af: float
    """Best single guess."""
    lots: tuple[Lot, ...]
    table: tuple[float, ...] = ()
    """Log-likelihood of log AF on ``profile.GRID``, where batches are too few for ``lots``."""
    seized: int = 0
    """In how many batches it seized; those teach nothing else of it."""


@dataclass(frozen=True, eq=False)
class Fit:
    """All that past batches say about the next one."""

    priors: Priors
    batches: int
    theta: Array
    """(p + 6,) coefficients, log kappa, log light, log gaps."""
    covariance: Array
    """(p + 6, p + 6)."""
    sd: Spreads
    words: Mapping[Reputation, Normal]
    """Class means of log AF."""
    fragrances: Mapping[str, Fragrance]
    skipped: float
    """Chance that this maker lets a milestone go by without a tap."""
    delay: float
    """From reaching a state to this maker's tap, s."""
    by_others: Mapping[str, ByOthers] = field(default_factory=dict)
    """What other makers found, by fragrance; it is in the maker's own table, not in the logs."""


OTHER_HANDS = 0.35
"""How far log AF differs from maker to maker: oils, warmth, what each calls a state (ours)."""


OTHER_BOTTLE = 0.15
"""Chance that a fragrance of that name is another one, or was misread (ours)."""


EIGHTY = 1.2815515655446004
"""Normal quantile of 90 %: four of five lie within as many standard deviations."""


Mixture = tuple[tuple[float, float, float], ...]
"""(weight, mean, sd) of each piece."""


def mixture(word: Reputation, means: Mapping[Reputation, Normal], priors: Priors) -> Mixture:
    """The prior of log AF of a fragrance sold as ``word``."""
    sold, mean = priors.words[word], means[word]
    return (
        (1.0 - sold.misjudged, mean.mean, float(np.hypot(sold.spread, mean.sd))),
        (sold.misjudged, priors.misjudged.mean, priors.misjudged.sd),
    )


def others_mixture(by_others: ByOthers, priors: Priors) -> Mixture:
    """The same of one that another maker has told of, in place of what it was sold as."""
    middle = log(by_others.times_faster)
    spread = (log(by_others.high) - log(by_others.low)) / (2 * EIGHTY)
    return (
        (1.0 - OTHER_BOTTLE, middle, float(np.hypot(spread, OTHER_HANDS))),
        (OTHER_BOTTLE, priors.misjudged.mean, priors.misjudged.sd),
    )


def prior_theta(priors: Priors) -> tuple[Array, Array]:
    """(mean, sd) of theta."""
    all_of = (*priors.coefficients, priors.log_kappa, priors.log_light, *priors.log_gaps)
    return np.array([n.mean for n in all_of]), np.array([n.sd for n in all_of])


def no_batches(priors: Priors | None = None) -> Fit:
    """The fit of an empty bench."""
    priors = priors or Priors()
    mean, sd = prior_theta(priors)
    return Fit(
        priors=priors,
        batches=0,
        theta=mean,
        covariance=np.diag(sd**2),
        sd=Spreads(priors.batch.sd, priors.spread.sd, priors.lot.sd, priors.noise.sd),
        words={r: w.mean for r, w in priors.words.items()},
        fragrances={},
        skipped=priors.skipped,
        delay=priors.delay,
    )


def as_data(fit: Fit) -> dict[str, Any]:
    """Plain JSON data; the priors are not part of it, they belong to the program."""
    return {
        "batches": fit.batches,
        "theta": fit.theta.tolist(),
        "covariance": fit.covariance.tolist(),
        "sd": asdict(fit.sd),
        "skipped": fit.skipped,
        "delay": fit.delay,
        "words": {word.value: [n.mean, n.sd] for word, n in fit.words.items()},
        "fragrances": [
            {
                "name": f.name,
                "reputation": f.reputation.value,
                "batches": f.batches,
                "seized": f.seized,
                "log_af": f.log_af,
                "lots": [[lot.name, lot.precision, lot.pull, list(lot.tie)] for lot in f.lots],
                "table": list(f.table),
            }
            for f in fit.fragrances.values()
        ],
    }


def from_data(data: Mapping[str, Any], priors: Priors | None = None) -> Fit:
    """The fit that ``as_data`` wrote. Raises KeyError, TypeError or ValueError on other data."""
    return Fit(
        priors=priors or Priors(),
        batches=int(data["batches"]),
        theta=np.array(data["theta"], dtype=np.float64),
        covariance=np.array(data["covariance"], dtype=np.float64),
        sd=Spreads(**data["sd"]),
        words={Reputation(word): Normal(*n) for word, n in data["words"].items()},
        fragrances={
            f["name"]: Fragrance(
                f["name"],
                Reputation(f["reputation"]),
                int(f["batches"]),
                float(f["log_af"]),
                tuple(Lot(n, float(p), float(h), tuple(tie)) for n, p, h, tie in f["lots"]),
                tuple(f["table"]),
                int(f["seized"]),
            )
            for f in data["fragrances"]
        },
        skipped=float(data["skipped"]),
        delay=float(data["delay"]),
    )
