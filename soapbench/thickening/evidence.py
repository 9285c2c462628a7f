"""From what was tapped to the rows of the likelihood: one row for each thing learned.

A row is either a milestone *tapped*, or a milestone *not tapped* by a moment at which somebody
could have looked.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf, log, tanh

import numpy as np
import numpy.typing as npt

from soapbench.batter import (
    BatchHistory,
    FragranceWord,
    Mix,
    PotHistory,
    Trace,
    standing,
)
from soapbench.thickening.bursts import Bursts
from soapbench.thickening.exposure import Dose, arrhenius, strength
from soapbench.thickening.priors import Priors
from soapbench.thickening.signs import STOPPED_S, blended_up, seen_at, signs_of

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


@dataclass(frozen=True, slots=True)
class Watched:
    """All that the pots of some batches showed, but for its times."""

    signs: Array
    """(n, 15): fields of ``Sign``; batch, lot, w; milestone blended up to and from when that
    counts, s; when the fragrance went in, s; pot. Those tapped come first."""
    terms: Array
    """(batches, p) covariates."""
    bursts: Bursts
    latency: float

    def rows(self, delay: float) -> Rows:
        """The sightings of a maker who taps so late, s."""
        kept, t, unsure = seen_at(self.signs.T[:8], delay)
        milestone, _, _, _, _, is_tapped, floor, _, batch, lot, w, to, start, t_f, of = self.signs[
            kept
        ].T.copy()
        t, unsure = t[kept], unsure[kept]
        tapped, of_batch = is_tapped > 0.5, batch.astype(np.intp)
        bursts, pot = self.bursts, of.astype(np.intp)
        after = np.maximum(t - np.maximum(t_f, start), 0.0)
        about = np.where(milestone == Trace.EMULSION, STOPPED_S, delay)
        return Rows(
            x=self.terms[of_batch],
            batch=of_batch,
            lot=lot.astype(np.intp),
            milestone=milestone.astype(np.intp),
            to=to.astype(np.intp),
            strength=w,
            dose=Dose(
                blended=bursts.by(pot, t) - np.where(to < 0, 0.0, bursts.by(pot, start)),
                before=t - start - after,
                after=after,
                blending=np.where(tapped, bursts.about(pot, t, about), 0.0),
            ),
            tapped=tapped,
            floor=floor,
            unsure=np.where(tapped & (t > t_f), np.hypot(unsure, self.latency), unsure),
        )


def watched(
    batches: Iterable[BatchHistory],
    lots: Mapping[tuple[str, str], int],
    priors: Priors,
    skipped: float,
) -> Watched:
    """What ``batches`` showed. ``lots`` numbers (fragrance, lot), the lot "" where unnamed."""
    signs: list[tuple[float, ...]] = []
    terms, pots = [], list[PotHistory]()
    for i, batch in enumerate(batches):
        words = {word.name: word for word in batch.fragrances}
        terms.append(covariates(batch.mix))
        stops: set[tuple[int, float] | None] = set()  # what was blended together was stopped once
        for pot in batch.pots:
            lot, t_f, w = NO_LOT, inf, 1.0
            if pot.fragrance is not None and pot.fragrance_in is not None:
                word = words.get(pot.fragrance, FragranceWord(pot.fragrance))
                lot, t_f = lots[word.name, word.lot or ""], max(pot.fragrance_in, 0.0)
                w = strength_of(word, batch.mix, priors)
            up = blended_up(pot)
            start, to = (up.end, up.to) if up and up.to is not None else (0.0, NOT_KEYED_UP)
            rest = (i, lot, w, to, start, t_f, len(pots))
            shown = signs_of(pot, priors, skipped)
            signs += [(*one, *rest) for one in shown if one.stop is None or one.stop not in stops]
            stops |= {one.stop for one in shown}
            pots.append(pot)
    signs.sort(key=lambda one: not one[5])
    return Watched(
        np.array(signs, dtype=np.float64).reshape(-1, 15),
        np.array(terms, dtype=np.float64).reshape(-1, 3),
        Bursts(pots),
        priors.latency,
    )


def rows_of(
    batches: Iterable[BatchHistory],
    lots: Mapping[tuple[str, str], int],
    priors: Priors,
    skipped: float,
) -> Rows:
    """All sightings of ``batches``, those tapped first. ``lots`` as in ``watched``."""
    return watched(batches, lots, priors, skipped).rows(priors.delay)


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
