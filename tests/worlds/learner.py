"""Somebody who knows the maker but must learn the fragrances: the bound of all learning here.

Known are the physics, the recipe's effect, the thresholds, the maker's habits, the size of every
noise, and how log AF is spread on the shelf by reputation. Learned by Bayes' rule from the taps of
past batches are each fragrance's log AF and each bottle's deviation from it. No noise is linearised
and no fragrance is held fixed while another is learned: each pot's times are tabulated over rate,
log AF and conversion; the effects of batch and pot are integrated out on grids; and fragrances that
met in a batch are sampled together (Gibbs).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from soapbench.batter import Reputation
from tests.worlds.kettle import Pots, milestone_times
from tests.worlds.luck import conduct
from tests.worlds.oracle import factors, together
from tests.worlds.world import (
    LOT_TAIL,
    Made,
    Maker,
    Setup,
    draw_fragrance,
    loaded,
    lot_sd,
    recipe_log_rate,
)

Array = npt.NDArray[np.float64]
Bottle = tuple[str, float]
"""A fragrance and the log AF of one bottle of it, which here only tells bottles apart."""

LOG_AF = np.linspace(-0.9, 4.7, 57)
RATES = np.linspace(-1.4, 1.4, 71)
"""Log rate of a batch or pot, the recipe's part apart."""
STRETCHES = np.linspace(-2.0, 2.0, 6)
"""In standard deviations."""
_RATES = np.linspace(-1.4, 1.4, 31)
_COARSE = np.linspace(LOG_AF[0], LOG_AF[-1], 19)
_THRESHOLDS = 18
_THREE = ((-(3.0**0.5), 1.0 / 6.0), (0.0, 2.0 / 3.0), (3.0**0.5, 1.0 / 6.0))
"""Nodes and weights of a standard normal (Gauss and Hermite)."""


def shelf(rng: np.random.Generator, sold: Reputation, n: int) -> Array:
    """(n,) log AF of fragrances sold as ``sold``, whatever the maker's shelf."""
    return np.array([draw_fragrance(rng, 0, sold, rng.normal(0.0, 0.08)).log_af for _ in range(n)])


def log_share(log_afs: Array) -> Array:
    """Of many fragrances or bottles, on ``LOG_AF``."""
    half = 0.5 * (LOG_AF[1] - LOG_AF[0])
    count, _ = np.histogram(log_afs, np.append(LOG_AF - half, LOG_AF[-1] + half))
    return np.asarray(np.log((count + 0.2) / (count + 0.2).sum()))


def log_time_tables(maker: Maker, made: Made, log_thresholds: Array) -> Array:
    """(pots, rates, log AFs, thresholds) log of when a pot gets there, scented or not."""
    setup, shape = made.setup, (len(made.setup.pots), len(_RATES), len(_COARSE))
    starts, lengths, up_at, state, t_f = (
        np.repeat(a, _RATES.size * _COARSE.size, 0)
        for a in conduct(setup.pots, maker.physics.litres_power)
    )
    words = {word.name: word for word in setup.fragrances}
    loads = [words[pot.fragrance].load if pot.fragrance else 0.03 for pot in setup.pots]
    afs = np.stack([loaded(maker, np.exp(_COARSE), load) for load in loads])
    waits = [maker.fragrance(p.fragrance).latency if p.fragrance else 0.0 for p in setup.pots]
    n = len(t_f)

    def each(a: Array) -> Array:
        return np.broadcast_to(a, shape).reshape(-1)

    times = milestone_times(
        maker.physics,
        Pots(
            log_rate=each(_RATES[:, None] + recipe_log_rate(maker, setup.mix)),
            batter_c=np.full(n, float(setup.batter_c)),
            room_c=np.full(n, setup.room_c),
            af=each(afs[:, None, :]),
            fragrance_in=t_f + np.repeat(waits, _RATES.size * _COARSE.size),
            blend_from=starts,
            blend_for=lengths,
            thresholds=np.tile(np.exp(log_thresholds), (n, 1)),
            up_at=up_at,
            up_to=maker.thresholds[state],
        ),
        # What lies far beyond the watch is simply not seen.
        horizon=2.0 * max(pot.until for pot in setup.pots),
    )
    return np.log(times).reshape(*shape, -1)


def log_likelihood(maker: Maker, made: Made, now: float) -> dict[str, Array]:
    """(rates x stretches, LOG_AF) of each fragrance's pots, given what the batch shares; "" holds
    (rates x stretches, 1) of the unscented ones."""
    from scipy import stats  # type: ignore[import-untyped]
    from scipy.ndimage import map_coordinates  # type: ignore[import-untyped]

    logs = np.log(maker.thresholds)
    apart = logs - logs[0]
    log_thresholds = logs[0] + np.linspace(0.4 * apart[1], 1.5 * apart[-1], _THRESHOLDS)
    reached = logs[0] + apart[:, None] * np.exp(maker.spread_sd * STRETCHES)
    kernel = stats.norm.pdf(RATES - RATES[:, None], scale=maker.pot_sd)
    kernel /= kernel.sum(axis=1, keepdims=True)
    by_name: dict[str, Array] = {}
    tables = log_time_tables(maker, made, log_thresholds)
    for pot, table in zip(made.history.pots, tables, strict=True):
        log_af = LOG_AF if pot.fragrance else np.zeros(1)
        shape = (len(RATES), len(STRETCHES), len(log_af))
        each: Array = np.zeros((1, 5))
        for noise, share in _THREE:
            where = (
                ((RATES - _RATES[0]) / (_RATES[1] - _RATES[0]))[:, None, None, None],
                ((log_af - _COARSE[0]) / (_COARSE[1] - _COARSE[0]))[:, None],
                (reached.T + maker.threshold_sd * noise - log_thresholds[0])[:, None]
                / (log_thresholds[1] - log_thresholds[0]),
            )
            at = np.stack([np.broadcast_to(w, (*shape, 5)).reshape(-1) for w in where])
            times = np.exp(map_coordinates(table, at, order=1, mode="nearest")).reshape(-1, 5)
            each = each + share * factors(maker.hand, pot, times, now)
        likely = np.exp(together(maker.hand, pot, each, now)).reshape(len(RATES), -1)
        values = np.log(kernel @ likely + 1e-300).reshape(-1, len(log_af))
        by_name[pot.fragrance or ""] = by_name.get(pot.fragrance or "", 0.0) + values
    return by_name


@dataclass
class Evidence:
    """What a batch says of the bottles in it: one table, an axis each."""

    bottles: tuple[Bottle, ...]
    log: Array


def evidence(maker: Maker, made: Made, now: float = np.inf) -> Evidence | None:
    """By ``now``, the batch's effects averaged out; None where no pot was scented."""
    from scipy import stats  # type: ignore[import-untyped]

    by_fragrance = log_likelihood(maker, made, now)
    rate = stats.t(4).logpdf(RATES / maker.batch_scale)
    prior = (rate[:, None] + stats.norm.logpdf(STRETCHES)).reshape(-1, 1)
    plain = prior + by_fragrance.pop("", 0.0)
    if not by_fragrance:
        return None
    bottles = tuple((name, made.setup.lot_log_af[name]) for name in by_fragrance)
    first, *rest = by_fragrance.values()
    both = np.exp(first + plain - (first + plain).max())
    if not rest:
        return Evidence(bottles, np.log(both.sum(axis=0) + 1e-300))
    (second,) = rest
    return Evidence(bottles, np.log(both.T @ np.exp(second - second.max()) + 1e-300))


@dataclass
class Learned:
    """Draws from what the batches taught, (n,) each."""

    fragrances: dict[str, Array] = field(default_factory=dict)
    bottles: dict[Bottle, Array] = field(default_factory=dict)


def learn(
    rng: np.random.Generator, maker: Maker, past: Iterable[Made], n: int, thin: int = 3
) -> Learned:
    """``n`` draws of every fragrance's and bottle's log AF, given ``past``."""
    from scipy import stats  # type: ignore[import-untyped]

    known = [e for e in (evidence(maker, made) for made in past) if e is not None]
    words = {s.word.name: s.word.reputation for s in maker.fragrances}
    prior = {r: log_share(shelf(rng, r, 8000)) for r in Reputation}
    wide = np.asarray(lot_sd(maker, LOG_AF))[:, None] / np.sqrt(LOT_TAIL / (LOT_TAIL - 2.0))
    # (fragrance, bottle) log density of a bottle of a fragrance.
    lot = stats.t(LOT_TAIL).logpdf((LOG_AF - LOG_AF[:, None]) / wide) - np.log(wide)
    tables: dict[Bottle, list[tuple[Array, Bottle | None]]] = defaultdict(list)
    for e in known:
        if len(e.bottles) == 1:
            tables[e.bottles[0]].append((e.log, None))
        else:
            tables[e.bottles[0]].append((e.log.T, e.bottles[1]))
            tables[e.bottles[1]].append((e.log, e.bottles[0]))
    own = {b: np.sum([t for t, other in ts if other is None], axis=0) for b, ts in tables.items()}
    met = {b: [(t, other) for t, other in ts if other] for b, ts in tables.items()}
    of: dict[str, list[Bottle]] = defaultdict(list)
    for b in tables:
        of[b[0]].append(b)
    a = {name: int(np.argmax(prior[words[name]])) for name in of}
    at = {b: a[b[0]] for b in tables}

    def draw(logs: Array) -> int:
        mass = np.cumsum(np.exp(logs - logs.max()))
        return min(int(np.searchsorted(mass, rng.random() * mass[-1])), len(logs) - 1)

    kept: list[tuple[dict[str, int], dict[Bottle, int]]] = []
    for sweep in range(200 + n * thin):
        for b in tables:
            logs = lot[a[b[0]]] + own[b]
            for table, other in met[b]:
                logs = logs + table[at[other]]
            at[b] = draw(logs)
        for name, bottles in of.items():
            a[name] = draw(prior[words[name]] + lot[:, [at[b] for b in bottles]].sum(axis=1))
        if sweep >= 200 and sweep % thin == 0:
            kept.append((dict(a), dict(at)))
    kept = kept[:n]
    width = LOG_AF[1] - LOG_AF[0]

    def values(indices: Sequence[int]) -> Array:
        return np.asarray(LOG_AF[list(indices)] + width * rng.uniform(-0.5, 0.5, len(indices)))

    return Learned(
        {name: values([k[0][name] for k in kept]) for name in of},
        {b: values([k[1][b] for k in kept]) for b in tables},
    )


def log_af(
    rng: np.random.Generator, maker: Maker, setup: Setup, learned: Learned | None, n: int
) -> Mapping[str, Array]:
    """(n,) by fragrance: what is believed of the bottles of a batch before anything is seen of it.

    ``learned`` None: the fragrances are known and only bottles are not. Its draws are repeated in
    turn, the same for all bottles, until there are ``n``.
    """
    by_name = {}
    fragrances = {s.word.name: s for s in maker.fragrances}
    for name, value in setup.lot_log_af.items():
        if learned is not None and (name, value) in learned.bottles:
            by_name[name] = np.resize(learned.bottles[name, value], n)
            continue
        if learned is None:
            fragrance = np.full(n, fragrances[name].log_af)
        elif name in learned.fragrances:
            fragrance = np.resize(learned.fragrances[name], n)
        else:
            fragrance = shelf(rng, fragrances[name].word.reputation, n)
        own = rng.standard_t(LOT_TAIL, n) / np.sqrt(LOT_TAIL / (LOT_TAIL - 2.0))
        by_name[name] = fragrance + lot_sd(maker, fragrance) * own
    return by_name
