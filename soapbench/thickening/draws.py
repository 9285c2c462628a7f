"""Joint draws of how a batch behaves, and the milestone times they amount to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from soapbench.batter import Blend
from soapbench.thickening.exposure import time_at

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Draws:
    """n equally likely ways in which the batch in hand may behave."""

    log_rate: Array
    """(n,) covariates and batch effect together."""
    log_thresholds: Array
    """(n, 4) log exposure at light, medium, thick, set up, in s at rate 1."""
    kappa: Array
    """(n,) seconds of standing that a second of blending is worth."""
    log_af: Mapping[str, Array]
    """(n,) by fragrance name."""

    @property
    def n(self) -> int:
        return len(self.log_rate)

    def picked(self, which: npt.NDArray[np.intp] | slice) -> Draws:
        """The draws at the places ``which``, each as often as it is named."""
        return replace(
            self,
            log_rate=self.log_rate[which],
            log_thresholds=self.log_thresholds[which],
            kappa=self.kappa[which],
            log_af={name: factor[which] for name, factor in self.log_af.items()},
        )


def milestone_times(
    draws: Draws,
    fragrance: str | None,
    fragrance_in: float | Array | None,
    blends: Sequence[Blend] = (),
) -> Array:
    """(n, 4) seconds since lye met oils at which a pot reaches light … set up.

    ``fragrance_in`` None: never; a number; or one time a draw. Raises KeyError for a fragrance
    that was not among the batch's.
    """
    target = np.exp(draws.log_thresholds - draws.log_rate[:, None])
    if fragrance is None or fragrance_in is None:
        t_f, af = None, np.ones(1)
    else:
        t_f = np.broadcast_to(np.asarray(fragrance_in, dtype=np.float64), draws.n)[:, None]
        af = np.exp(draws.log_af[fragrance])[:, None]
    return time_at(target, t_f, draws.kappa[:, None], af, blends)


def chance_above(draws: Draws, fragrance: str, factor: float = 3.0) -> float:
    """P(AF >= factor) by what has been seen so far."""
    return float(np.mean(draws.log_af[fragrance] >= np.log(factor)))
