"""The batch in hand: from the fit and what was tapped so far to joint draws. A pure function.

The prior of a batch is a normal mixture, one piece for each way its fragrances may be misjudged.
The same seed gives the same underlying numbers, so that two updates differ by what was tapped and
not by chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import product

import numpy as np
import numpy.typing as npt

from soapbench.batter import BatchHistory, FragranceWord, Mix
from soapbench.thickening.draws import Draws
from soapbench.thickening.evidence import covariates, rows_of, strength_of
from soapbench.thickening.fitted import Fit
from soapbench.thickening.fragrance import Belief, beliefs
from soapbench.thickening.importance import (
    AF,
    GAPS,
    KAPPA,
    LIGHT,
    RATE,
    SPREAD,
    Pieces,
    posterior_draws,
)
from soapbench.thickening.sightings import positions

Array = npt.NDArray[np.float64]

MOST_PIECES = 8
"""Ways of misjudging the fragrances that are followed; the least likely are dropped."""


def live(
    fit: Fit, history: BatchHistory, now: float, n: int = 4000, seed: int = 0, thinned: int = 1
) -> Draws:
    """``n`` equally weighted draws of the batch, given all that was seen up to ``now``; of those
    every so-manieth where they are ``thinned``.

    ``history`` may hold pots not scented yet: every fragrance in its ``fragrances`` is drawn.
    A pot's watch ends at its ``until`` or now, whichever comes first.
    """
    words = fragrances_of(history)
    names = tuple(words)
    prior = prior_pieces(fit, history.mix, tuple(words.values()))
    lots = {(name, word.lot or ""): i for i, (name, word) in enumerate(words.items())}
    # What is keyed of the batch in hand is true until it is taken back.
    true = replace(fit.priors, mistaken=0.0, delay=fit.delay)
    rows = rows_of([seen_by(history, now)], lots, true, fit.skipped)
    q = posterior_draws(fit, prior, rows, n, seed, thinned)
    thresholds = q[LIGHT] + positions(q[GAPS].T).T * np.exp(q[SPREAD])
    apart = _apart(seed, 1 + len(names), q.shape[1])
    q[RATE] += fit.priors.pot[0] * apart[0]
    q[AF:] += fit.priors.pot[1] * apart[1:]
    return Draws(
        log_rate=q[RATE],
        log_thresholds=thresholds.T,
        kappa=np.exp(q[KAPPA]),
        log_af={name: q[AF + i] for i, name in enumerate(names)},
        strength={name: strength_of(word, history.mix, fit.priors) for name, word in words.items()},
    )


@lru_cache(maxsize=4)
def _apart(seed: int, kinds: int, n: int) -> Array:
    """(kinds, n) standard normals, always the same for a seed: how far one pot is from the rest."""
    numbers = np.random.default_rng([seed, 1]).standard_normal((kinds, n))
    numbers.setflags(write=False)
    return numbers


def fragrances_of(history: BatchHistory) -> dict[str, FragranceWord]:
    """Every fragrance of the batch, those of pots without a word included."""
    words = {word.name: word for word in history.fragrances}
    for pot in history.pots:
        if pot.fragrance is not None:
            words.setdefault(pot.fragrance, FragranceWord(pot.fragrance))
    return words


def seen_by(history: BatchHistory, now: float) -> BatchHistory:
    """What had happened by ``now``."""
    pots = tuple(
        replace(
            pot,
            until=min(pot.until, now),
            fragrance_in=None if (pot.fragrance_in or 0.0) > now else pot.fragrance_in,
            blends=tuple(b for b in pot.blends if b.t <= now),
            taps=tuple(t for t in pot.taps if t.t <= now),
        )
        for pot in history.pots
    )
    return replace(history, pots=pots)


def batch_sd(fit: Fit) -> float:
    """sd of a batch's log rate as one normal: wider than the core of its t, by nearly all of its
    spread (ours; by simulated benches, where 80 % intervals of less held 72 of 100)."""
    tail = fit.priors.batch_tail
    return fit.sd.batch * (1.0 if np.isinf(tail) else (tail / (tail - 2.0)) ** 0.45)


def prior_pieces(fit: Fit, mix: Mix, words: Sequence[FragranceWord]) -> Pieces:
    """What is believed of the batch before anything is seen of it."""
    x = np.array(covariates(mix))
    p, d = len(x), AF + len(words)
    view = np.zeros((d, len(fit.theta)))
    view[RATE, :p] = x
    view[KAPPA, p] = view[LIGHT, p + 1] = 1.0
    view[GAPS, p + 2 :] = np.eye(4)
    combinations: list[tuple[Belief, ...]] = list(product(*(beliefs(fit, word) for word in words)))
    weights = np.array([np.prod([b.weight for b in pieces]) for pieces in combinations])
    best = np.argsort(-weights)[:MOST_PIECES]
    means, covariances = [], []
    for k in best:
        at, own = view.copy(), np.zeros(d)
        own[RATE], own[SPREAD] = batch_sd(fit) ** 2, fit.sd.spread**2
        mean = at @ fit.theta
        for i, belief in enumerate(combinations[k]):
            at[AF + i], own[AF + i], mean[AF + i] = belief.tie, belief.variance, belief.mean
        means.append(mean)
        covariances.append(at @ fit.covariance @ at.T + np.diag(own))
    return Pieces(weights[best] / weights[best].sum(), np.array(means), np.array(covariances))
