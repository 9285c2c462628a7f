"""Can a batch tell when its fragrance began to act? ``python -m tests.worlds.latency``

By how far one batch of so many pots, each tapped light, medium and thick, fixes the latency, log AF
and the batch's own effects unknown as the priors have them: the model linearised, no simulation.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from soapbench.thickening import Priors
from soapbench.thickening.exposure import AF_AT_C, arrhenius

Array = npt.NDArray[np.float64]

IN_S, LATENCY_S = 300.0, 20.0
STEPS = np.array([1e-3, 0.5, 1e-3, 1e-3])
"""Of the derivatives by log AF, latency (s), log rate and spread."""


def tapped_s(log_af: float, latency: float, rate: float, spread: float) -> Array:
    """(3,) when a pot at 24 degC comes to light, medium and thick trace."""
    priors = Priors()
    gaps = np.exp([gap.mean for gap in priors.log_gaps[1:3]])
    beyond = np.concatenate([[0.0], np.cumsum(gaps)]) * np.exp(spread)
    warmth = priors.coefficients[0].mean * arrhenius(AF_AT_C)
    exposure = np.exp(priors.log_light.mean - warmth - rate + beyond)
    begins = IN_S + latency
    return np.asarray(begins + (exposure - begins) / np.exp(log_af))


def latency_sd(factor: float, pots: int, batches: int = 1) -> float:
    """s, by ``batches`` with the same fragrance and the same latency in all of them."""
    priors = Priors()
    at = np.array([np.log(factor), LATENCY_S, 0.0, 0.0])
    slopes = np.array(
        [(tapped_s(*(at + d)) - tapped_s(*(at - d))) / (2 * d.max()) for d in np.diag(STEPS)]
    )
    times = tapped_s(*at)
    exposure = IN_S + LATENCY_S + factor * (times - IN_S - LATENCY_S)
    variance = (priors.noise.sd * exposure / factor) ** 2 + priors.delay**2
    information = pots * (slopes / variance) @ slopes.T
    own = np.diag([priors.batch.sd**-2.0, priors.spread.sd**-2.0])
    # What a batch's own effects would explain is taken off before batches are added up.
    explained = information[:2, 2:] @ np.linalg.inv(information[2:, 2:] + own) @ information[2:, :2]
    learnt = batches * (information[:2, :2] - explained)
    learnt[0, 0] += 0.45**-2  # as sold
    return float(np.sqrt(np.linalg.inv(learnt)[1, 1]))


def main() -> None:
    """Entry point of the command line."""
    print(
        "times faster  thick after s  standard error of the latency by 1, 5, 20 batches of 4 pots"
    )
    for factor in (1.1, 2.2, 4.0, 8.6, 19.0):
        thick = tapped_s(np.log(factor), LATENCY_S, 0.0, 0.0)[2] - IN_S
        columns = "  ".join(f"{latency_sd(factor, 4, n):6.0f}" for n in (1, 5, 20))
        print(f"{factor:12.1f}  {thick:13.0f}  {columns}")


if __name__ == "__main__":
    main()
