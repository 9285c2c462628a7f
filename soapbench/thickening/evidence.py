"""From what was tapped to the rows of the likelihood: one row for each thing learned.

A row is either a milestone *tapped*, or a milestone *not tapped* by a moment at which somebody
could have looked.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import hypot, inf, log, tanh
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapbench.batter import (
    MILESTONES,
    BatchHistory,
    Blend,
    FragranceWord,
    Mix,
    PotHistory,
    Trace,
    standing,
)
from soapbench.thickening.bursts import Bursts
from soapbench.thickening.exposure import Dose, arrhenius, strength
from soapbench.thickening.priors import Priors

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

NO_LOT = -1
NOT_KEYED_UP = -1


@dataclass(frozen=True, slots=True)
class Rows:
    """n sightings as columns, all of length n but ``x``."""

    x: Array
    """(n, p) covariates."""
    batch: Index
    lot: Index
    """Which fragrance lot the pot got; ``NO_LOT`` unscented."""
    milestone: Index
    """j: 0 stable emulsion … 4 set up."""
    to: Index
    """The milestone that a pot was blended up to, which ``dose`` counts from; ``NOT_KEYED_UP``."""
    strength: Array
    """w of what is in the pot."""
    dose: Dose
    tapped: npt.NDArray[np.bool_]
    floor: Array
    """Of a row not tapped: the chance to miss a tap although the milestone had been reached."""
    unsure: Array
    """Of a row tapped: how well the tap fixes the moment, s (one standard deviation)."""


REFERENCE = Mix(batter_c=30.0, concentration=0.33, saturated=0.40)
"""The usual batter (ours), which others are measured by."""
QUICK_WIDTH = 0.30
"""How far from the usual saturated share oils get quicker or slower (ours)."""


def covariates(mix: Mix) -> tuple[float, float, float]:
    """x: what the recipe says about log rate, 0 for ``REFERENCE``.

    Temperature by Arrhenius' law; lye in steps of 5 %; oils by how quick they are: olive and high
    oleic oils slow, coconut, palm and tallow quick, told by the saturated share in steps of 10 %,
    less and less towards either end. Additives count as so much warmth: what a maker's batters make
    of warmth is learned, what each additive does is not told apart.
    """
    return (
        arrhenius(mix.batter_c) + log(mix.hurry),
        (mix.concentration - REFERENCE.concentration) / 0.05,
        10.0 * QUICK_WIDTH * tanh((mix.saturated - REFERENCE.saturated) / QUICK_WIDTH),
    )


class Sighting(NamedTuple):
    """One thing learned from a pot; the fields are those of ``Rows``."""

    milestone: int
    t: float
    tapped: bool
    floor: float
    unsure: float


STOPPED_S = 8.0
"""How well the moment is known at which a batter under the blender comes to a state (ours)."""
JUST_BLENDED_S = 60.0
"""So long after the blender a tap of stable emulsion still tells when it was reached (ours)."""


def blended_up(pot: PotHistory) -> Blend | None:
    """The last burst kept up to a state and not keyed: exposure counts from its end."""
    blends = [b for b in pot.blends if b.to is not None and b.seconds > 0 and b.end <= pot.until]
    return blends[-1] if blends else None


def sightings_of(pot: PotHistory, priors: Priors, skipped: float) -> list[Sighting]:
    """What a pot's taps say, and what their absence does.

    ``skipped`` is the chance that this maker lets a milestone go by without a tap.
    """
    first, last = standing(tap for tap in pot.taps if tap.t <= pot.until)
    up = blended_up(pot)
    to = [b.to for b in pot.blends if b.to is not None and b.end <= pot.until]
    sure = max([pot.together, *to])
    reached = max([sure, *first])
    begun = up.end if up else -1.0
    sightings = [s for s in _emulsified(pot, first, priors) if s.t > begun]
    looked = pot.until if pot.keyed is None else min(pot.until, pot.keyed + priors.patience)
    away = 0.0 if first or sure > Trace.EMULSION else priors.untended
    silent = 1.0  # chance of no tap at all although every milestone so far had been reached
    for milestone in MILESTONES[1:]:
        if milestone in first:
            # What it was blended up to is known from the blender; a tap of it says "still so".
            if first[milestone] > begun and milestone not in to:
                t = max(_came(first[milestone], pot.fragrance_in, priors.delay), begun + 1.0)
                sightings.append(Sighting(milestone, t, True, 0.0, priors.delay))
        elif milestone > reached:
            before, silent = silent, away + (1.0 - away) * skipped ** (milestone - reached)
            if looked - priors.delay > max(begun, 0.0):  # what was reached only now is not tapped
                floor = silent / before
                sightings.append(Sighting(milestone, looked - priors.delay, False, floor, 0.0))
            if reached in first and milestone == reached + 1 and last[reached] > begun:
                named = max(last[reached], 1.0)  # somebody named the state below
                sightings.append(Sighting(milestone, named, False, priors.mistaken, 0.0))
    return sightings


def _came(tap: float, fragrance_in: float | None, delay: float) -> float:
    """When a pot came to what was tapped, s: a delay before, yet never before its fragrance if
    it was tapped after that, for that is what makes a batter thicken all at once."""
    least = 1.0
    if fragrance_in is not None and fragrance_in < tap:
        least = 0.5 * (max(fragrance_in, 0.0) + tap)
    return max(tap - delay, least)


def _emulsified(pot: PotHistory, first: Mapping[Trace, float], priors: Priors) -> list[Sighting]:
    """When stable emulsion, or what else was blended for, was reached: where a tap can tell.

    Bursts were keyed up to it, or it was tapped soon after the blender. Long after, a tap of
    stable emulsion says no more than that light trace is not there yet.
    """
    sightings = [
        Sighting(b.to, max(b.t, 1.0), True, 0.0, STOPPED_S)
        for b in pot.blends
        if b.to is not None and not b.seconds and b.t <= pot.until
    ]
    tap = first.get(Trace.EMULSION)
    if tap is not None and not sightings:
        since = [tap - b.end for b in pot.blends if b.t <= tap]
        if since and min(since) <= JUST_BLENDED_S:
            unsure = hypot(STOPPED_S, 0.5 * max(min(since), 0.0))
            t = max(tap - priors.delay, 1.0)
            sightings.append(Sighting(Trace.EMULSION, t, True, 0.0, unsure))
    return sightings


SEIZED_S = 90.0
"""A pot set up so soon after its fragrance has seized (ours)."""


def _seized(pot: PotHistory) -> bool:
    t_f = pot.fragrance_in
    first, _ = standing(pot.taps)
    return t_f is not None and first.get(Trace.SET_UP, inf) <= max(t_f, 0.0) + SEIZED_S


def without_seizing(
    batches: Iterable[BatchHistory],
) -> tuple[tuple[BatchHistory, ...], dict[str, int]]:
    """Batches with the pots of a fragrance that seized in them only up to its going in, and in
    how many batches each fragrance did: how fast it is otherwise cannot be told from those."""
    kept, count = [], Counter[str]()
    for batch in batches:
        seized = {pot.fragrance for pot in batch.pots if pot.fragrance and _seized(pot)}
        count.update(seized)
        pots = tuple(_before(pot) if pot.fragrance in seized else pot for pot in batch.pots)
        kept.append(replace(batch, pots=pots) if seized else batch)
    return tuple(kept), dict(count)


def _before(pot: PotHistory) -> PotHistory:
    t_f = pot.fragrance_in or 0.0
    taps = tuple(tap for tap in pot.taps if tap.t <= t_f)
    until = min(pot.until, t_f)
    return replace(pot, until=until, fragrance=None, fragrance_in=None, taps=taps, keyed=None)


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
    """All sightings of ``batches``, those tapped first.

    ``lots`` numbers (fragrance, lot), the lot "" where unnamed.
    """
    rows: list[tuple[float, ...]] = []
    terms, pots = [], list[PotHistory]()
    for i, batch in enumerate(batches):
        words = {word.name: word for word in batch.fragrances}
        terms.append(covariates(batch.mix))
        for pot in batch.pots:
            lot, t_f, w = NO_LOT, inf, 1.0
            if pot.fragrance is not None and pot.fragrance_in is not None:
                word = words.get(pot.fragrance, FragranceWord(pot.fragrance))
                lot, t_f = lots[word.name, word.lot or ""], max(pot.fragrance_in, 0.0)
                w = strength_of(word, batch.mix, priors)
            up = blended_up(pot)
            start, to = (up.end, up.to) if up and up.to is not None else (0.0, NOT_KEYED_UP)
            for sighting in sightings_of(pot, priors, skipped):
                rows.append((*sighting, i, lot, w, to, start, t_f, len(pots)))
            pots.append(pot)
    rows.sort(key=lambda row: not row[2])
    columns = np.array(rows, dtype=np.float64).reshape(-1, 12)
    milestone, t, is_tapped, floor, unsure, at, lot_at, w_at, to_at, start_at, t_f_at, of = (
        columns.T.copy()
    )
    tapped, rows_batch = is_tapped > 0.5, at.astype(np.intp)
    bursts, pot_at = Bursts(pots), of.astype(np.intp)
    after = np.maximum(t - np.maximum(t_f_at, start_at), 0.0)
    about = np.where(milestone == Trace.EMULSION, STOPPED_S, priors.delay)
    return Rows(
        x=np.array(terms, dtype=np.float64).reshape(-1, 3)[rows_batch],
        batch=rows_batch,
        lot=lot_at.astype(np.intp),
        milestone=milestone.astype(np.intp),
        to=to_at.astype(np.intp),
        strength=w_at,
        dose=Dose(
            blended=bursts.by(pot_at, t) - np.where(to_at < 0, 0.0, bursts.by(pot_at, start_at)),
            before=t - start_at - after,
            after=after,
            blending=np.where(tapped, bursts.about(pot_at, t, about), 0.0),
        ),
        tapped=tapped,
        floor=floor,
        unsure=np.where(tapped & (t > t_f_at), np.hypot(unsure, priors.latency), unsure),
    )


def put_together(rows: Rows) -> tuple[Rows, Array]:
    """Rows of one batch with those alike as one, and how often each was there: pots without a
    fragrance that nobody looked at say the same."""
    r, d = rows, rows.dose
    doses, what = (d.blended, d.before, d.after, d.blending), (r.lot, r.milestone, r.to, r.strength)
    columns = np.stack([*doses, *what, r.tapped, r.floor, r.unsure], axis=1)
    alike: dict[tuple[float, ...], list[int]] = {}
    for i, row in enumerate(columns.tolist()):
        alike.setdefault(tuple(row), []).append(i)
    at = np.array([same[0] for same in alike.values()], dtype=np.intp)
    dose = Dose(d.blended[at], d.before[at], d.after[at], d.blending[at])
    some = Rows(
        r.x[at], r.batch[at], r.lot[at], r.milestone[at], r.to[at], r.strength[at], dose,
        r.tapped[at], r.floor[at], r.unsure[at],
    )  # fmt: skip
    return some, np.array([len(same) for same in alike.values()], dtype=np.float64)


def strength_of(word: FragranceWord, mix: Mix, priors: Priors) -> float:
    """w of a fragrance in a batch."""
    return strength(word.load, mix.batter_c, priors.coefficients[0].mean)
