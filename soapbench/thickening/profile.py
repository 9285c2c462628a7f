"""What the sightings say about a fragrance used only a few times, on a grid of log AF.

With few batches the likelihood of log AF is far from normal: a pot nobody tapped cannot rule out
much, and a fast pot is either a fast batch or a fast fragrance. So it is tabulated, with theta at
its mode and the two effects of each batch integrated out by Laplace's method.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapbench.thickening import likelihood
from soapbench.thickening.equations import Spreads, Unknowns, positions
from soapbench.thickening.evidence import NO_LOT, Rows
from soapbench.thickening.exposure import Dose, accelerated, exposure, exposure_rate

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
    found = np.zeros((len(wanted), len(GRID)))
    scent = np.where(rows.lot == NO_LOT, NO_LOT, np.append(fragrance_of, NO_LOT)[rows.lot])
    pieces: list[Index] = []
    owner: list[int] = []
    for f, which in enumerate(wanted):
        batches = np.unique(rows.batch[scent == which])
        for batch in batches:
            pieces.append(np.flatnonzero(rows.batch == batch))
            owner.append(f)
    if not pieces:
        return found
    take = np.concatenate(pieces)
    starts = np.cumsum([0, *(len(p) for p in pieces[:-1])])
    case = np.repeat(np.arange(len(pieces)), [len(p) for p in pieces])
    mine = scent[take] == np.array(wanted)[np.array(owner)[case]]
    evidence = _evidence(rows, at, sd, take, starts, case, mine, tail)
    np.add.at(found, owner, evidence)
    return np.asarray(found - found.max(axis=1, keepdims=True))


class _Seen(NamedTuple):
    """The rows of all cases seen from one point, (rows, grid) each, as in ``equations.View``."""

    e: Array
    v: Array
    widened: Array
    given: Array
    stretched: Array
    """-de / ds."""
    speed: Array
    """dlogE / dt."""


def _evidence(
    rows: Rows,
    at: Unknowns,
    sd: Spreads,
    take: Index,
    starts: Index,
    case: Index,
    mine: npt.NDArray[np.bool_],
    tail: float,
) -> Array:
    """(cases, grid) log evidence of one batch's sightings at each log AF."""
    p = rows.x.shape[1]
    d = rows.dose
    dose = Dose(*(c[take, None] for c in (d.blended, d.before, d.after, d.blending)))
    others = np.append(at.lots, 0.0)[rows.lot[take]]
    af = np.exp(np.where(mine[:, None], GRID, others[:, None]))
    factor = accelerated(af, rows.strength[take, None])
    kappa = float(np.exp(at.theta[p]))
    since, rate = exposure(dose, kappa, factor), exposure_rate(dose, kappa, factor)
    light, place = at.theta[p + 1], positions(at.theta[p + 2 :])
    fixed = (rows.x[take] @ at.theta[:p] - light)[:, None]
    tapped, floor = rows.tapped[take], rows.floor[take, None]
    beyond, up = place[rows.milestone[take], None], rows.to[take, None] >= 0
    up_to, unsure = place[rows.to[take], None], rows.unsure[take, None]

    def by_case(what: Array) -> Array:
        return np.asarray(np.add.reduceat(what, starts, axis=0))

    def seen(b: Array, s: Array) -> _Seen:
        stretch = np.exp(s[case])
        given = np.where(up, np.exp(up_to * stretch - fixed - b[case]), 0.0)
        total = given + since
        widened = (unsure * rate / total) ** 2
        e = fixed + b[case] + np.log(total) - beyond * stretch
        given /= total
        stretched = beyond * stretch - given * up_to * stretch
        return _Seen(e, sd.noise**2 + widened, widened, given, stretched, rate / total)

    def value(b: Array, s: Array) -> Array:
        at = seen(b, s)
        e = at.e
        each = np.empty_like(e)
        each[tapped] = likelihood.log_tapped(e[tapped], at.v[tapped], tail)
        each[tapped] += np.log(at.speed[tapped])
        each[~tapped] = likelihood.log_not_tapped(e[~tapped], sd.noise, floor[~tapped])
        return np.asarray(by_case(each) - 0.5 * (b / sd.batch) ** 2 - 0.5 * (s / sd.spread) ** 2)

    b, s = np.zeros((2, len(starts), len(GRID)))
    best, scale = value(b, s), np.ones_like(b)
    for _ in range(15):
        gb, gs, hbb, hbs, hss = _curvature(seen(b, s), tapped, floor, sd, tail, by_case)
        gb, gs = gb - b / sd.batch**2, gs - s / sd.spread**2
        det = hbb * hss - hbs**2
        step_b, step_s = (hss * gb - hbs * gs) / det, (hbb * gs - hbs * gb) / det
        size = np.maximum(np.maximum(np.abs(step_b), np.abs(step_s)), 1e-12)
        part = np.minimum(scale, LONGEST_STEP / size)
        reached = value(b + part * step_b, s + part * step_s)
        better = reached >= best
        b, s = b + better * part * step_b, s + better * part * step_s
        moving = (np.abs(reached - best) > 0.02) & (scale > 1e-3)
        best, scale = np.maximum(best, reached), np.where(better, 1.0, 0.3 * scale)
        if moving.mean() < FEW_MOVING:
            break
    _, _, hbb, hbs, hss = _curvature(seen(b, s), tapped, floor, sd, tail, by_case)
    return np.asarray(best - 0.5 * np.log(hbb * hss - hbs**2))


def _curvature(
    seen: _Seen,
    tapped: npt.NDArray[np.bool_],
    floor: Array,
    sd: Spreads,
    tail: float,
    by_case: Callable[[Array], Array],
) -> tuple[Array, Array, Array, Array, Array]:
    """Gradient (b, s) of the log-likelihood and information (bb, bs, ss) with the prior's."""
    by_e, curvature, _ = likelihood.tapped_slopes(seen.e, seen.v, seen.widened, tail)
    by_e[~tapped], curvature[~tapped], _, _ = likelihood.not_tapped_slopes(
        seen.e[~tapped], sd.noise, floor[~tapped]
    )
    own, stretched = 1.0 - seen.given, seen.stretched
    return (
        by_case(by_e * own),
        by_case(-by_e * stretched),
        by_case(curvature * own**2) + 1.0 / sd.batch**2,
        by_case(-curvature * own * stretched),
        by_case(curvature * stretched**2) + 1.0 / sd.spread**2,
    )
