"""From what was tapped to the rows of the likelihood: one row for each thing learned.

A row is either a milestone *tapped*, or a milestone *not tapped* by a moment at which somebody
could have looked.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot, inf
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapbench.batter import MILESTONES, BatchHistory, Blend, Mix, PotHistory, Tap, Trace
from soapbench.thickening.exposure import Dose, blended_by
from soapbench.thickening.priors import Priors

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

NO_LOT = -1

AGAIN = (1.0, 0.2)
AGAIN_PASSED = (0.4, 0.3)
"""A state tapped twice: where between the two taps it was reached, and how unsure that is.

The state a pot is in now: the second tap is a correction. One passed since: either tap may have
been the wrong one. Ours, chosen so that one wrong tap never moves the room left twofold.
"""


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
    unsure: Array
    """Of a row tapped: how well the tap fixes the moment, s (one standard deviation)."""


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


class Sighting(NamedTuple):
    """One thing learned from a pot; the fields are those of ``Rows``."""

    milestone: int
    t: float
    tapped: bool
    floor: float
    unsure: float


def sightings_of(pot: PotHistory, priors: Priors, skipped: float) -> list[Sighting]:
    """What a pot's taps say, and what their absence does.

    ``skipped`` is the chance that this maker lets a milestone go by without a tap.
    """
    first, last = standing(tap for tap in pot.taps if tap.t <= pot.until)
    reached = max([pot.together, *first])
    away = 0.0 if first or pot.together > Trace.EMULSION else priors.untended
    found: list[Sighting] = []
    silent = 1.0  # chance of no tap at all although every milestone so far had been reached
    for j, milestone in enumerate(MILESTONES):
        if milestone in first:
            apart = last[milestone] - first[milestone]
            place, sd = AGAIN if milestone is reached else AGAIN_PASSED
            t = first[milestone] + place * apart
            unsure = hypot(priors.delay, sd * apart)
            found.append(Sighting(j, max(t - priors.delay, 1.0), True, 0.0, unsure))
        elif milestone > reached:
            before, silent = silent, away + (1.0 - away) * skipped ** (milestone - reached)
            if pot.until > priors.delay:  # what was reached only now is not tapped yet
                floor = silent / before
                found.append(Sighting(j, pot.until - priors.delay, False, floor, 0.0))
            if reached in first and milestone == reached + 1:  # somebody named the state below
                seen = max(last[reached], 1.0)
                found.append(Sighting(j, seen, False, priors.mistaken, 0.0))
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


def blending(t: float, blends: Sequence[Blend], delay: float) -> float:
    """Share of blending about ``t``, over the time in which a tap's milestone may have been met.

    A burst is shorter than the delay of a tap, and adds more exposure than all the rest of it:
    the moment alone would take a pot tapped just after a burst for one well known.
    """
    since, by = max(t - 2.0 * delay, 0.0), t + max(delay, 1.0)
    return (blended_by(by, blends) - blended_by(since, blends)) / (by - since)


def rows_of(
    batches: Iterable[BatchHistory],
    lots: Mapping[tuple[str, str], int],
    priors: Priors,
    skipped: float,
) -> Rows:
    """All sightings of ``batches``, those tapped first.

    ``lots`` numbers (fragrance, lot), the lot "" where unnamed.
    """
    found: list[tuple[Sighting, int, int, float, float, float]] = []
    terms = []
    for i, batch in enumerate(batches):
        bottle = {word.name: word.lot or "" for word in batch.fragrances}
        terms.append(covariates(batch.mix))
        for pot in batch.pots:
            lot, t_f = NO_LOT, inf
            if pot.fragrance is not None and pot.fragrance_in is not None:
                lot = lots[pot.fragrance, bottle.get(pot.fragrance, "")]
                t_f = max(pot.fragrance_in, 0.0)
            for seen in sightings_of(pot, priors, skipped):
                mixed = blended_by(seen.t, pot.blends)
                running = blending(seen.t, pot.blends, priors.delay) if seen.tapped else 0.0
                found.append((seen, i, lot, mixed, min(seen.t, t_f), running))
    found.sort(key=lambda row: not row[0].tapped)
    columns = np.array([(*seen, *rest) for seen, *rest in found], dtype=np.float64).reshape(-1, 10)
    milestone, t, tapped, floor, unsure, at, lot_at, mixed_by, before, running_at = columns.T.copy()
    rows_batch = at.astype(np.intp)
    return Rows(
        x=np.array(terms, dtype=np.float64).reshape(-1, 3)[rows_batch],
        batch=rows_batch,
        lot=lot_at.astype(np.intp),
        milestone=milestone.astype(np.intp),
        dose=Dose(mixed_by, before, t - before, running_at),
        tapped=tapped > 0.5,
        floor=floor,
        unsure=unsure,
    )
