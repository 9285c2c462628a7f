"""Joint draws of how a batch behaves, and the milestone times they amount to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from soapbench.batter import Blend, Trace
from soapbench.thickening.exposure import (
    LOAD_POWER,
    accelerated,
    exposure_at,
    thinned,
    time_at,
)

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Draws:
    """n equally likely ways in which the batch in hand may behave."""

    log_rate: Array
    """(n,) covariates and batch effect together: x'beta + b."""
    log_thresholds: Array
    """(n, 5) log m: log exposure at stable emulsion … set up, in s at rate 1."""
    kappa: Array
    """(n,) seconds of standing that a second of blending one litre is worth."""
    log_af: Mapping[str, Array]
    """(n,) by fragrance name: log AF, of the usual load at 24 degC."""
    strength: Mapping[str, float] = field(default_factory=dict)
    """By fragrance name: w, what load and temperature of this batch make of it; 1 if left out."""

    @property
    def n(self) -> int:
        return len(self.log_rate)

    @cached_property
    def exposures(self) -> Array:
        """(n, 5) exposure at stable emulsion … set up, s: not to be changed. Each milestone lies in
        one row of memory, so that all that is worked out of it runs along the draws."""
        return np.asfortranarray(np.exp(self.log_thresholds - self.log_rate[:, None]))

    def factor(self, fragrance: str) -> Array:
        """(n,) A: how many times faster a pot of this batch thickens with ``fragrance``; not to be
        changed.

        Raises KeyError for a fragrance that was not among the batch's.
        """
        return self._factors[fragrance]

    @cached_property
    def _factors(self) -> Mapping[str, Array]:
        return {
            name: accelerated(np.exp(log_af), self.strength.get(name, 1.0))
            for name, log_af in self.log_af.items()
        }

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
    """(n, 5) seconds since lye met oils at which a pot reaches stable emulsion … set up.

    ``fragrance_in`` None: never; a number; or one time a draw. Raises KeyError for a fragrance
    that was not among the batch's. A pot blended up to a state, or seen in it, has reached it by
    then in every draw, and goes on from there.
    """
    how = _stress(draws, fragrance, fragrance_in, blends)
    target, limits = _targets(draws, how, blends)
    times: Array = time_at(np.maximum(target, 0.0), *how)
    if limits is not None:
        np.clip(times, *limits, out=times)
    return times


def dosed_again(draws: Draws, fragrance: str, times: Array, since: float) -> Array:
    """Milestone ``times`` (n, 5) of a pot with its fragrance in, as they become when as much of it
    has gone in once more by ``since``, s: what is left then is used up as under twice the load."""
    own = draws.factor(fragrance)[:, None] - 1.0
    slower = (1.0 + own) / (1.0 + own * 2.0**LOAD_POWER)
    return np.asarray(np.minimum(times, since) + np.maximum(times - since, 0.0) * slower)


_Stress = tuple[Array | None, Array, Array, tuple[Blend, ...]]
"""When the fragrance is in, (n, 1), None for never; kappa and A, (n, 1); bursts by seconds."""


def _targets(
    draws: Draws, how: _Stress, blends: Sequence[Blend]
) -> tuple[Array, tuple[Array, Array] | None]:
    """Exposure at each milestone, (n, 5), less what was added to bring a pot up to a state; and
    between what times each milestone must lie, if it was."""
    up = sorted((burst for burst in blends if burst.to is not None), key=lambda burst: burst.end)
    if not up:
        return draws.exposures, None
    target = draws.exposures.copy("K")
    least, most = np.zeros_like(target), np.full(target.shape[1], np.inf)
    highest = -1
    for burst in up:
        if burst.to is None or burst.to <= highest:
            continue  # it was there already
        highest = burst.to
        reached = slice(burst.to + 1)
        short = np.maximum(target[:, burst.to, None] - exposure_at(burst.end, *how), 0.0)
        target -= short
        most[reached] = np.minimum(most[reached], burst.end)
        begun = (short > 0.0) * np.minimum(burst.t, most[reached])
        np.maximum(least[:, reached], begun, out=least[:, reached])
    return target, (least, most)


def seconds_to(
    draws: Draws,
    state: Trace,
    fragrance: str | None,
    fragrance_in: float | Array | None,
    blends: Sequence[Blend],
    start: Array,
    litres: float,
) -> Array:
    """(n,) seconds of blending ``litres`` from ``start`` (n,) on until ``state`` is there."""
    how = _stress(draws, fragrance, fragrance_in, blends)
    target, _ = _targets(draws, how, blends)
    left = target[:, state] - exposure_at(start[:, None], *how)[:, 0]
    return np.asarray(np.maximum(left, 0.0) / (draws.kappa * thinned(litres) + 1.0))


def _stress(
    draws: Draws,
    fragrance: str | None,
    fragrance_in: float | Array | None,
    blends: Sequence[Blend],
) -> _Stress:
    plain = tuple(b for b in blends if b.to is None)
    kappa = draws.kappa[:, None]
    if fragrance is None or fragrance_in is None:
        return None, kappa, np.ones((1, 1)), plain
    t_f = np.broadcast_to(np.asarray(fragrance_in, dtype=np.float64), draws.n)[:, None]
    return t_f, kappa, draws.factor(fragrance)[:, None], plain


def chance_above(draws: Draws, fragrance: str, factor: float = 3.0) -> float:
    """P(AF >= factor) by what has been seen so far."""
    return float(np.mean(draws.log_af[fragrance] >= np.log(factor)))
