"""What the sightings say about a fragrance used only a few times, on a grid of log AF.

With few batches the likelihood of log AF is far from normal: a pot nobody tapped cannot rule out
much, and a fast pot is either a fast batch or a fast fragrance. So it is tabulated, with theta at
its mode and the two effects of each batch integrated out by Laplace's method.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapbench.thickening import likelihood
from soapbench.thickening.evidence import NO_LOT, Rows
from soapbench.thickening.exposure import Dose, accelerated, exposure, exposure_rate
from soapbench.thickening.sightings import Spreads, Unknowns, positions

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

GRID = np.linspace(-0.6, 4.2, 33)
"""Log AF from 0.55 to 67."""
LONGEST_STEP = 0.3
FEW_MOVING = 0.05
"""Share of the grid's points that may still be on their way: far off, where nothing is likely."""


def profiles(
    rows: Rows,
    at: Unknowns,
    sd: Spreads,
    fragrance_of: Index,
    wanted: Sequence[int],
    tail: float,
) -> Array:
    """(wanted, grid) log-likelihood of each wanted fragrance's log AF, up to a constant each."""
    by_af = np.zeros((len(wanted), len(GRID)))
    fragrance = np.where(rows.lot == NO_LOT, NO_LOT, np.append(fragrance_of, NO_LOT)[rows.lot])
    pieces: list[Index] = []
    owner: list[int] = []
    for f, which in enumerate(wanted):
        batches = np.unique(rows.batch[fragrance == which])
        for batch in batches:
            pieces.append(np.flatnonzero(rows.batch == batch))
            owner.append(f)
    if not pieces:
        return by_af
    take = np.concatenate(pieces)
    starts = np.cumsum([0, *(len(p) for p in pieces[:-1])])
    case = np.repeat(np.arange(len(pieces)), [len(p) for p in pieces])
    mine = fragrance[take] == np.array(wanted)[np.array(owner)[case]]
    cases = _cases(rows, at, sd, take, starts, case, mine, tail)
    np.add.at(by_af, owner, _evidence(cases))
    return np.asarray(by_af - by_af.max(axis=1, keepdims=True))


class _Point(NamedTuple):
    """The rows of all cases seen from one point, (rows, grid) each, as in ``equations.View``."""

    e: Array
    v: Array
    widened: Array
    given: Array
    stretched: Array
    """-de / ds."""
    speed: Array
    """dlogE / dt."""


@dataclass(frozen=True, slots=True)
class _Cases:
    """Each batch by itself at each log AF of the grid: all but its rate b and its spread s."""

    starts: Index
    """Where the rows of each case begin."""
    case: Index
    """(rows,) the case of each."""
    tapped: npt.NDArray[np.bool_]
    floor: Array
    """(rows, 1)."""
    fixed: Array
    """(rows, 1) what mix and warmth say, from light trace."""
    beyond: Array
    """(rows, 1) how far its milestone lies from light trace."""
    up: npt.NDArray[np.bool_]
    """(rows, 1) whether it counts from a milestone before, and ..."""
    up_to: Array
    """... how far that lies from light trace."""
    unsure: Array
    since: Array
    """(rows, grid) exposure, and ..."""
    rate: Array
    """... how fast it grows."""
    sd: Spreads
    tail: float

    def by_case(self, what: Array) -> Array:
        return np.asarray(np.add.reduceat(what, self.starts, axis=0))

    def at(self, b: Array, s: Array) -> _Point:
        stretch = np.exp(s[self.case])
        given = np.exp(self.up_to * stretch - self.fixed - b[self.case]) * self.up
        total = given + self.since
        widened = (self.unsure * self.rate / total) ** 2
        e = self.fixed + b[self.case] + np.log(total) - self.beyond * stretch
        given /= total
        stretched = self.beyond * stretch - given * self.up_to * stretch
        return _Point(e, self.sd.noise**2 + widened, widened, given, stretched, self.rate / total)

    def seen(self, b: Array, s: Array) -> tuple[Array, ...]:
        """(cases, grid) each: log posterior, up to a constant; gradient (b, s) of the
        log-likelihood; information (bb, bs, ss) with the prior's."""
        point, tapped, sd = self.at(b, s), self.tapped, self.sd
        logs, by_e, curvature = (np.empty_like(point.e) for _ in range(3))
        e, v, widened, speed = (
            what[tapped] for what in (point.e, point.v, point.widened, point.speed)
        )
        logs[tapped] = likelihood.log_tapped(e, v, self.tail) + np.log(speed)
        by_e[tapped], curvature[tapped], _ = likelihood.tapped_slopes(e, v, widened, self.tail)
        missed = likelihood.not_tapped_slopes(point.e[~tapped], sd.noise, self.floor[~tapped])
        logs[~tapped] = missed.log
        by_e[~tapped], curvature[~tapped] = missed.by_e, missed.curvature
        own, stretched = 1.0 - point.given, point.stretched
        bent_own, bent_stretched = curvature * own, curvature * stretched
        return (
            self.by_case(logs) - 0.5 * (b / sd.batch) ** 2 - 0.5 * (s / sd.spread) ** 2,
            self.by_case(by_e * own),
            self.by_case(-by_e * stretched),
            self.by_case(bent_own * own) + 1.0 / sd.batch**2,
            self.by_case(-bent_own * stretched),
            self.by_case(bent_stretched * stretched) + 1.0 / sd.spread**2,
        )


def _cases(
    rows: Rows,
    at: Unknowns,
    sd: Spreads,
    take: Index,
    starts: Index,
    case: Index,
    mine: npt.NDArray[np.bool_],
    tail: float,
) -> _Cases:
    p = rows.x.shape[1]
    d = rows.dose
    dose = Dose(*(c[take, None] for c in (d.blended, d.before, d.after, d.blending)))
    others = np.append(at.lots, 0.0)[rows.lot[take]]
    af = np.exp(np.where(mine[:, None], GRID, others[:, None]))
    factor = accelerated(af, rows.strength[take, None])
    kappa = float(np.exp(at.theta[p]))
    light, place = at.theta[p + 1], positions(at.theta[p + 2 :])
    return _Cases(
        starts,
        case,
        rows.tapped[take],
        rows.floor[take, None],
        fixed=(rows.x[take] @ at.theta[:p] - light)[:, None],
        beyond=place[rows.milestone[take], None],
        up=rows.to[take, None] >= 0,
        up_to=place[rows.to[take], None],
        unsure=rows.unsure[take, None],
        since=exposure(dose, kappa, factor),
        rate=exposure_rate(dose, kappa, factor),
        sd=sd,
        tail=tail,
    )


def _evidence(cases: _Cases) -> Array:
    """(cases, grid) log evidence of one batch's sightings at each log AF."""
    sd = cases.sd
    b, s = np.zeros((2, len(cases.starts), len(GRID)))
    best, *slopes = cases.seen(b, s)
    scale = np.ones_like(b)
    for _ in range(15):
        gb, gs, hbb, hbs, hss = slopes
        gb, gs = gb - b / sd.batch**2, gs - s / sd.spread**2
        det = hbb * hss - hbs**2
        step_b, step_s = (hss * gb - hbs * gs) / det, (hbb * gs - hbs * gb) / det
        size = np.maximum(np.maximum(np.abs(step_b), np.abs(step_s)), 1e-12)
        part = np.minimum(scale, LONGEST_STEP / size)
        reached, *there = cases.seen(b + part * step_b, s + part * step_s)
        better = reached >= best
        b, s = b + better * part * step_b, s + better * part * step_s
        slopes = [np.where(better, new, old) for new, old in zip(there, slopes, strict=True)]
        moving = (np.abs(reached - best) > 0.02) & (scale > 1e-3)
        best, scale = np.maximum(best, reached), np.where(better, 1.0, 0.3 * scale)
        if moving.mean() < FEW_MOVING:
            break
    _, _, hbb, hbs, hss = slopes
    return np.asarray(best - 0.5 * np.log(hbb * hss - hbs**2))
