"""The sightings seen from one point of the unknowns: residuals and their log-likelihood."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from soapbench.thickening import likelihood
from soapbench.thickening.evidence import NO_LOT, Rows
from soapbench.thickening.exposure import accelerated, exposure, exposure_rate, own_part

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Spreads:
    """Standard deviations as learned so far."""

    batch: float
    spread: float
    lot: float
    noise: float


@dataclass(frozen=True, slots=True)
class Unknowns:
    """theta (p + 6,), lots (L,), fragrances (F,), rates (N,) and spreads (N,) of batches."""

    theta: Array
    lots: Array
    fragrances: Array
    rates: Array
    spreads: Array


GAPS = 4


STEPS = np.array(
    [[-1, 0, 0, 0], [0, 0, 0, 0], [0, 1, 0, 0], [0, 1, 1, 0], [0, 1, 1, 1]], dtype=np.float64
)
"""(5, 4) Gamma of each milestone as a sum of gaps, 0 at light trace."""


def positions(log_gaps: Array) -> Array:
    """Gamma, (..., 5): log exposure of the milestones beyond light trace. ``log_gaps`` (..., 4)."""
    return np.asarray(np.exp(log_gaps) @ STEPS.T)


@dataclass(frozen=True)
class View:
    """The rows seen from one point, (n,) each.

    A pot blended up to a milestone had that milestone's exposure then, whatever its rate: its
    ``total`` is m / rate at that moment and the dose since. So e depends on rate and thresholds
    by way of ``total`` too, which holds ``given`` of it.
    """

    e: Array
    """log age - log m."""
    v: Array
    """omega^2 + (delta dlogE/dt)^2."""
    share_blended: Array
    share_after: Array
    """dlogE / dlog AF."""
    given: Array
    """Share of the exposure that is the milestone blended up to; 0 elsewhere."""
    total: Array
    """E, s."""
    rate: Array
    """dE/dt."""
    own: Array
    """dA / dlog AF."""
    stretch: Array
    """exp(s_i)."""
    rows: Rows
    noise: float
    tail: float

    @cached_property
    def loglik(self) -> float:
        """Of all of them; a fit near its end does not ask."""
        tapped, missed = self.rows.tapped, ~self.rows.tapped
        total = likelihood.log_tapped(self.e[tapped], self.v[tapped], self.tail).sum()
        total += np.log(self.rate[tapped] / self.total[tapped]).sum()
        floor = self.rows.floor[missed]
        total += likelihood.log_not_tapped(self.e[missed], self.noise, floor).sum()
        return float(total)


def look(rows: Rows, at: Unknowns, noise: float, tail: float) -> View:
    """Residuals, and what their derivatives are made of."""
    p = rows.x.shape[1]
    kappa = np.exp(at.theta[p])
    af = np.exp(np.where(rows.lot == NO_LOT, 0.0, np.append(at.lots, 0.0)[rows.lot]))
    factor = accelerated(af, rows.strength)
    stretch = np.exp(at.spreads[rows.batch])
    place = positions(at.theta[p + 2 :])
    log_rate = rows.x @ at.theta[:p] + at.rates[rows.batch]
    light = at.theta[p + 1]
    given = np.where(rows.to < 0, 0.0, np.exp(light + place[rows.to] * stretch - log_rate))
    total = given + exposure(rows.dose, kappa, factor)
    rate = exposure_rate(rows.dose, kappa, factor)
    e = log_rate + np.log(total) - light - place[rows.milestone] * stretch
    v = noise**2 + (rows.unsure * rate / total) ** 2
    own = own_part(af, rows.strength)
    return View(
        e=e,
        v=v,
        share_blended=kappa * rows.dose.blended / total,
        share_after=own * rows.dose.after / total,
        given=given / total,
        total=total,
        rate=rate,
        own=own,
        stretch=stretch,
        rows=rows,
        noise=noise,
        tail=tail,
    )
