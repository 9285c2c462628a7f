"""From what was tapped to the rows of the likelihood: one row for each thing learned.

A row is either a milestone *tapped*, or a milestone *not tapped* by a moment at which somebody
could have looked.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapbench.batter import MILESTONES, BatchHistory, Mix, PotHistory, Tap, Trace
from soapbench.thickening.exposure import Dose, blended_by
from soapbench.thickening.priors import Priors

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

NO_LOT = -1


@dataclass(frozen=True, slots=True)
class Rows:
    """n sightings as columns, all of length n but ``x``."""

    x: Array
    """(n, p) covariates."""
    batch: Index
    lot: Index
    """Which fragrance lot the pot got; ``NO_LOT`` unscented."""
    milestone: Index
    """0 light … 3 set up."""
    dose: Dose
    tapped: npt.NDArray[np.bool_]
    floor: Array
    """Of a row not tapped: the chance to miss a tap although the milestone had been reached."""


def covariates(mix: Mix) -> tuple[float, float, float]:
    """What the recipe says about log rate, 0 for a reference batter.

    Temperature enters as an Arrhenius term, 45 kJ/mol from 30 degC: near what textbooks give for
    ethyl acetate and lye (from memory, not verified); the coefficient corrects it.
    """
    kelvin = mix.batter_c + 273.15
    return (
        45_000.0 * (1.0 / 303.15 - 1.0 / kelvin) / 8.314462618,
        (mix.concentration - 0.33) / 0.05,
        (mix.saturated - 0.40) / 0.10,
    )


def standing(taps: Iterable[Tap]) -> tuple[dict[Trace, float], dict[Trace, float]]:
    """Which taps still hold: (first seen, last seen) of each state, s.

    A batter never thins, so a tap of a lower state takes back every higher one before it.
    """
    first: dict[Trace, float] = {}
    last: dict[Trace, float] = {}
    for tap in sorted(taps, key=lambda tap: tap.t):
        for higher in [state for state in first if state > tap.state]:
            del first[higher], last[higher]
        first.setdefault(tap.state, tap.t)
        last[tap.state] = tap.t
    return first, last


def sightings_of(
    pot: PotHistory, priors: Priors, skipped: float
) -> list[tuple[int, float, bool, float]]:
    """(milestone, t, tapped, floor) of each thing learned from one pot.

    ``skipped`` is the chance that this maker lets a milestone go by without a tap.
    """
    first, last = standing(tap for tap in pot.taps if tap.t <= pot.until)
    reached = max(first, default=Trace.EMULSION)
    away = 0.0 if first else priors.untended
    found: list[tuple[int, float, bool, float]] = []
    silent = 1.0  # chance of no tap at all although every milestone so far had been reached
    for j, milestone in enumerate(MILESTONES):
        if milestone in first:
            found.append((j, max(first[milestone] - priors.delay, 1.0), True, 0.0))
        elif milestone > reached:
            before, silent = silent, away + (1.0 - away) * skipped ** (milestone - reached)
            if pot.until > priors.delay:  # what was reached only now is not tapped yet
                found.append((j, pot.until - priors.delay, False, silent / before))
            if first and milestone == reached + 1:  # somebody looked and named the state below
                found.append((j, max(last[reached], 1.0), False, priors.mistaken))
    return found


def skipped(batches: Iterable[BatchHistory], priors: Priors) -> float:
    """How often this maker lets a milestone go by: counted where a higher one was tapped."""
    count, missed = priors.skipped_counts, priors.skipped_counts * priors.skipped
    for pot in (pot for batch in batches for pot in batch.pots):
        first, _ = standing(pot.taps)
        below = max(max(first, default=Trace.EMULSION) - 1, 0)
        count += below
        missed += below - sum(1 for s in first if Trace.LIGHT <= s <= below)
    return missed / count


def rows_of(
    batches: Iterable[BatchHistory],
    lots: Mapping[tuple[str, str], int],
    priors: Priors,
    skipped: float,
) -> Rows:
    """All sightings of ``batches``, those tapped first; ``lots`` numbers (fragrance, lot), lot "" where unnamed."""
    x: list[tuple[float, float, float]] = []
    index: list[tuple[int, int, int]] = []
    values: list[tuple[float, float, float, float, bool, float]] = []
    for i, batch in enumerate(batches):
        bottle = {word.name: word.lot or "" for word in batch.fragrances}
        terms = covariates(batch.mix)
        for pot in batch.pots:
            lot, t_f = NO_LOT, np.inf
            if pot.fragrance is not None and pot.fragrance_in is not None:
                lot = lots[pot.fragrance, bottle.get(pot.fragrance, "")]
                t_f = max(pot.fragrance_in, 0.0)
            for j, t, tapped, floor in sightings_of(pot, priors, skipped):
                blending = float(any(b.t <= t < b.t + b.seconds for b in pot.blends))
                before = min(t, t_f)
                x.append(terms)
                index.append((i, lot, j))
                values.append(
                    (blended_by(t, pot.blends), before, t - before, blending, tapped, floor)
                )
    order = sorted(range(len(values)), key=lambda r: not values[r][4])  # tapped first
    x, index, values = ([column[r] for r in order] for column in (x, index, values))
    numbers = np.array(index, dtype=np.intp).reshape(-1, 3)
    columns = np.array(values, dtype=np.float64).reshape(-1, 6)
    return Rows(
        x=np.array(x, dtype=np.float64).reshape(-1, 3),
        batch=numbers[:, 0],
        lot=numbers[:, 1],
        milestone=numbers[:, 2],
        dose=Dose(*columns[:, :4].T.copy()),
        tapped=columns[:, 4] > 0.5,
        floor=columns[:, 5],
    )
