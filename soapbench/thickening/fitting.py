"""How the fit is worked out: what a maker's batches teach."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from soapbench.batter import BatchHistory, FragranceWord, Reputation
from soapbench.thickening.evidence import Rows, skipped, watched, without_seizing
from soapbench.thickening.fitted import Fit, Fragrance, Lot, mixture, no_batches, prior_theta
from soapbench.thickening.practice import practised
from soapbench.thickening.priors import Normal, Priors
from soapbench.thickening.profile import profiles
from soapbench.thickening.solve import Pull, Setting, Solution, log_evidence, solve

Array = npt.NDArray[np.float64]

FEW = 4
"""Batches up to which a fragrance's likelihood is tabulated instead of taken as normal."""


def _amounts_to(log_af: Array, variance: Array, pieces: Array) -> tuple[Array, Array, Array]:
    """Chance of the first piece, and mean and precision of the normal a mixture amounts to.

    ``pieces`` (..., K, 3) as in ``mixture``; the rest (F,).
    """
    weights, means, sds = pieces[..., 0], pieces[..., 1], pieces[..., 2]
    wide = sds**2 + variance[:, None]
    log_chance = np.log(weights) - 0.5 * np.log(wide) - 0.5 * (log_af[:, None] - means) ** 2 / wide
    chance = np.exp(log_chance - log_chance.max(axis=1, keepdims=True))
    chance /= chance.sum(axis=1, keepdims=True)
    total = (chance / sds**2).sum(axis=1)
    return chance[:, 0], (chance / sds**2 * means).sum(axis=1) / total, total


def _class_means(
    log_af: Array, variance: Array, sold: Sequence[Reputation], priors: Priors
) -> dict[Reputation, Normal]:
    """What each reputation has come to mean, from the fragrances that bear it."""
    means = {r: w.mean for r, w in priors.words.items()}
    words = list(dict.fromkeys(sold))
    of = np.array([words.index(word) for word in sold], dtype=np.intp)
    spread = np.array([priors.words[word].spread for word in words])
    mean, sd = np.array([(means[word].mean, means[word].sd) for word in words]).reshape(-1, 2).T

    def by_word(what: Array) -> Array:
        return np.bincount(of, weights=what, minlength=len(words)).astype(np.float64)

    for _ in range(4 if words else 0):
        as_sold, amounts_to, precision = _amounts_to(log_af, variance, _pieces(sold, means, priors))
        # The prior taken off again: what the sightings alone say, precision and its product
        # with the mean.
        data = np.maximum(1.0 / variance - precision, 0.0)
        said = np.where(data > 0.0, log_af / variance - precision * amounts_to, 0.0)
        share = as_sold / (1.0 + data * spread[of] ** 2)
        total = sd**-2 + by_word(share * data)
        centre = (mean / sd**2 + by_word(share * said)) / total
        for word, c, t in zip(words, centre.tolist(), total.tolist(), strict=True):
            means[word] = Normal(c, t**-0.5)
    return means


def _pieces(
    sold: Sequence[Reputation], means: Mapping[Reputation, Normal], priors: Priors
) -> Array:
    """(F, 2, 3) the mixture of each fragrance."""
    each = {word: mixture(word, means, priors) for word in dict.fromkeys(sold)}
    return np.array([each[word] for word in sold])


def _pull(sold: Sequence[Reputation], priors: Priors) -> Pull:
    def pull(log_af: Array, variance: Array) -> tuple[Array, Array]:
        if not sold:
            return np.zeros(0), np.zeros(0)
        means = _class_means(log_af, variance, sold, priors)
        return _amounts_to(log_af, variance, _pieces(sold, means, priors))[1:]

    return pull


def _scented(batch: BatchHistory) -> dict[str, FragranceWord]:
    """Fragrances that really went into a pot."""
    known = {word.name: word for word in batch.fragrances}
    return {
        pot.fragrance: known.get(pot.fragrance, FragranceWord(pot.fragrance))
        for pot in batch.pots
        if pot.fragrance is not None and pot.fragrance_in is not None
    }


@dataclass(frozen=True, slots=True)
class _Shelf:
    """The fragrances that went into the batches, and their bottles."""

    lots: Mapping[tuple[str, str], int]
    """(fragrance, lot), the lot "" where unnamed, numbered."""
    sold: Mapping[str, Reputation]
    batches: Mapping[str, int]


def _shelf(batches: Iterable[BatchHistory]) -> _Shelf:
    lots: dict[tuple[str, str], int] = {}
    sold: dict[str, Reputation] = {}
    count: dict[str, int] = {}
    for batch in batches:
        for name, word in _scented(batch).items():
            lots.setdefault((name, word.lot or ""), len(lots))
            sold[name] = word.reputation
            count[name] = count.get(name, 0) + 1
    return _Shelf(lots, sold, count)


def _setting(shelf: _Shelf, priors: Priors) -> Setting:
    mean, sd = prior_theta(priors)
    names = list(shelf.sold)
    return Setting(
        mean=mean,
        precision=1.0 / sd**2,
        batch=priors.batch,
        spread=priors.spread,
        lot=priors.lot,
        noise=priors.noise,
        fragrance_of=np.array([names.index(name) for name, _ in shelf.lots], dtype=np.intp),
        pull=_pull(list(shelf.sold.values()), priors),
        tail=priors.tail,
        batch_tail=priors.batch_tail,
    )


WARM_ROUNDS = 8
"""Of the solver, from the solution of a shorter delay."""
DELAYS_S = (8.0, 15.0, 28.0, 50.0)
"""Delays of a maker's taps that are told apart, s."""
CLEARLY = 2.0
"""By how much later taps must fit better, in log evidence, to be believed."""


def fit(
    histories: Iterable[BatchHistory],
    priors: Priors | None = None,
    rounds: int = 60,
    tolerance: float = 2e-3,
    late_s: Sequence[float] = (),
) -> Fit:
    """Learn from finished batches, oldest first (a later reputation stands). Pure.

    How late this maker taps is learned too: a tap late by d misses by d dlogE/dt, little in a
    slow pot and much in a fast one, so that lateness is told from a slow batter. ``late_s``: of
    taps in rehearsals at life speed, where the truth is known; they teach this and nothing else.
    """
    priors = priors or Priors()
    batches = tuple(histories)
    if not batches:
        return replace(no_batches(priors), delay=_delay_by_practice(priors, late_s))
    shelf = _shelf(batches)
    setting = _setting(shelf, priors)
    batches, seized = without_seizing(batches)
    habit, best = skipped(batches, priors), priors
    seen = watched(batches, shelf.lots, priors, habit)
    rows = seen.rows(priors.delay)
    solution = solve(rows, len(batches), setting, rounds, tolerance)
    for delay in (d for d in DELAYS_S if d > priors.delay > 0.0):
        later = replace(priors, delay=delay)
        rows_later = seen.rows(delay)
        then = solve(rows_later, len(batches), setting, WARM_ROUNDS, tolerance, solution)
        gain = log_evidence(rows_later, then, priors.tail) - log_evidence(
            rows, solution, priors.tail
        )
        gain += practised(delay, late_s) - practised(best.delay, late_s)
        if gain < CLEARLY:
            break
        best, rows, solution = later, rows_later, then
    return _learned(shelf, seized, rows, solution, priors, habit, best.delay)


def _delay_by_practice(priors: Priors, late_s: Sequence[float]) -> float:
    """With no batch of one's own."""
    best = priors.delay
    for delay in (d for d in DELAYS_S if d > priors.delay > 0.0):
        if practised(delay, late_s) - practised(best, late_s) < CLEARLY:
            break
        best = delay
    return best


def _learned(
    shelf: _Shelf,
    seized: Mapping[str, int],
    rows: Rows,
    solution: Solution,
    priors: Priors,
    habit: float,
    delay: float,
) -> Fit:
    names, size = list(shelf.sold), len(solution.at.theta)
    variance = np.diag(solution.covariance)[size:]
    own: dict[str, list[Lot]] = {name: [] for name in names}
    for (name, lot), i in shelf.lots.items():
        precision = max(float(solution.data.lots[i]), 0.0)
        pull = precision * float(solution.at.lots[i]) + float(solution.data.slope_lots[i])
        tie = tuple(map(float, solution.data.tie[:, i]))
        own[name].append(Lot(lot, precision, pull, tie))
    few = [f for f, name in enumerate(names) if shelf.batches[name] <= FEW]
    of = _setting(shelf, priors).fragrance_of
    profiled = profiles(rows, solution.at, solution.sd, of, few, priors.tail)
    tables = dict(zip(few, profiled.tolist(), strict=True))
    return Fit(
        priors=priors,
        batches=len(solution.at.rates),
        theta=solution.at.theta,
        covariance=solution.covariance[:size, :size],
        sd=solution.sd,
        words=_class_means(solution.at.fragrances, variance, list(shelf.sold.values()), priors),
        fragrances={
            name: Fragrance(
                name,
                shelf.sold[name],
                shelf.batches[name],
                float(solution.at.fragrances[f]),
                tuple(own[name]),
                tuple(tables.get(f, ())),
                seized.get(name, 0),
            )
            for f, name in enumerate(names)
        },
        skipped=habit,
        delay=delay,
    )
