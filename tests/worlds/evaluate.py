"""How well the model foresees invented worlds: ``python -m tests.worlds.evaluate --help``.

Priors and settings were tuned on worlds 0-19; figures are reported on worlds from 1000 on,
which nobody tuned to.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapbench.batter import Trace
from soapbench.thickening import Priors, fit
from tests.worlds import bound, oracle, strong
from tests.worlds.cases import (
    BASE,
    DRAWS,
    THICK,
    TWISTS,
    first_tap,
    model_times,
    world_batches,
)
from tests.worlds.kettle import HORIZON
from tests.worlds.learner import log_af
from tests.worlds.rivals import aft_quantiles, fragrance_means
from tests.worlds.scores import Tally, at_the_line, calibration_error, ratio, score

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

REPORTED_FROM = 1000
SIZES = (0, 3, 10, 30, 100, 1000)
OFTEN = 6
"""Batches with a fragrance from which on it is well known."""
PARTICLES = 1500
PERFECT = 20
"""How often the luck of a perfect forecaster is drawn."""


class Finish(NamedTuple):
    """Whether every pot of one pour is poured before it is too thick."""

    ours: float
    oracle: float
    """Their chances."""
    outcome: bool
    perfect: npt.NDArray[np.bool_]
    """(PERFECT,) outcomes had our own draws told the truth: what is left of the calibration error
    then is owed to the number of pours alone."""


def finish_of(
    rng: np.random.Generator, ours: Array, best: Array, truth: Array, start: float, own: Index
) -> Finish:
    """Pots are poured one after another, log-normal minutes each, some before medium and some
    before thick trace or set up. ``own``: which of our draws are taken for the truth.
    """
    pots = truth.shape[0]
    median = rng.uniform(20.0, 240.0)
    latest = rng.integers(Trace.MEDIUM, len(Trace), (pots,))
    order = rng.permutation(pots)

    def ok(t: Array) -> Array:
        spent = median * np.exp(0.3 * rng.standard_normal((len(t), pots)))
        ends = start + np.cumsum(spent, axis=1)
        return np.asarray(np.all(ends < t[:, order, latest[order]], axis=1))

    by_us, by_oracle = ok(ours), ok(best)
    return Finish(
        float(by_us.mean()), float(by_oracle.mean()), bool(ok(truth[None])[0]), by_us[own]
    )


def calibration(finish: Sequence[Finish]) -> tuple[float, float, float]:
    """Expected calibration error of ours, of the oracle, and of ours were it perfect."""
    perfect = [[(f.ours, bool(f.perfect[k])) for f in finish] for k in range(PERFECT)]
    return (
        calibration_error([(f.ours, f.outcome) for f in finish]),
        calibration_error([(f.oracle, f.outcome) for f in finish]),
        float(np.mean([calibration_error(pairs) for pairs in perfect])),
    )


Tallies = dict[tuple[str, int, str], Tally]
"""By (forecaster, size, situation)."""
Scores = tuple[Tallies, dict[int, list[Finish]]]
"""Tallies, and pours by size."""


def evaluate_world(
    seed: int, sizes: Sequence[int], tests: int, priors: Priors, rivals: bool, twist: str = BASE
) -> Scores:
    """Everybody's scores in one world."""
    tallies: Tallies = {}
    finish: dict[int, list[Finish]] = defaultdict(list)

    def tally(who: str, size: int, when: str) -> Tally:
        return tallies.setdefault((who, size, when), Tally())

    maker, past, future = world_batches(seed, max(sizes), tests, twist)
    rng, apart = np.random.default_rng([99, seed]), np.random.default_rng([98, seed])
    cases = []
    for m in future:
        before = oracle.particles(rng, maker, m, PARTICLES)
        bottles = log_af(apart, maker, m.setup, None, PARTICLES)
        blind = oracle.particles(apart, maker, m, PARTICLES, bottles)
        cases.append((m, "before", 0.0, before[:DRAWS], blind[:DRAWS]))
        tap = first_tap(m)
        if tap is not None:
            after = oracle.posterior(rng, maker, m, before, tap, DRAWS)
            blind_after = oracle.posterior(apart, maker, m, blind, tap, DRAWS)
            cases.append((m, "after", tap, after, blind_after))
    for size in sizes:
        fitted = fit([m.history for m in past[:size]], priors)
        means = fragrance_means(past[:size])
        p = (np.arange(200) + 0.5) / 200
        aft = aft_quantiles(past[:size], future, p) if rivals and size >= 30 else None
        prior_guess = fitted.theta[-5] + np.exp(fitted.theta[-3:-1]).sum()
        at = 0
        for made, when, now, best, blind in cases:
            ours = model_times(made, fitted, now)
            for i, pot in enumerate(made.history.pots):
                truth = float(made.truth[i, THICK])
                if truth <= now or truth >= HORIZON:
                    continue
                score(tally("ours", size, when), ours[:, i, THICK], truth)
                score(tally("oracle", size, when), best[:, i, THICK], truth)
                score(tally("lot-blind", size, when), blind[:, i, THICK], truth)
                fragrance = fitted.fragrances.get(pot.fragrance) if pot.fragrance else None
                if when == "before" and (
                    not pot.fragrance or (fragrance and fragrance.batches >= OFTEN)
                ):
                    score(tally("ours", size, "known"), ours[:, i, THICK], truth)
                    score(tally("lot-blind", size, "known"), blind[:, i, THICK], truth)
                mean = means.get(pot.fragrance or "unscented", means.get(None, prior_guess))
                score(tally("mean", size, when), np.array([np.exp(mean)]), truth)
                if aft is not None and when == "before":
                    score(tally("lifelines", size, when), aft[at + i], truth)
            if when == "before":
                at += len(made.history.pots)
            fragrance_in = [q.fragrance_in for q in made.history.pots if q.fragrance_in]
            start = now or max(fragrance_in, default=600.0)
            own = apart.integers(len(ours), size=PERFECT)
            for _ in range(6):
                finish[size].append(finish_of(rng, ours, best, made.truth, start, own))
    return tallies, finish


def evaluate(
    seeds: Sequence[int],
    sizes: Sequence[int],
    tests: int,
    priors: Priors,
    rivals: bool,
    jobs: int,
    twist: str = BASE,
) -> Scores:
    """Scores over all worlds, in the order of ``seeds``."""
    tallies: Tallies = defaultdict(Tally)
    finish: dict[int, list[Finish]] = defaultdict(list)
    world = partial(
        evaluate_world, sizes=sizes, tests=tests, priors=priors, rivals=rivals, twist=twist
    )
    with ProcessPoolExecutor(jobs) as pool:
        for seed, (row, outcomes) in zip(seeds, pool.map(world, seeds), strict=True):
            for key, scores in row.items():
                tallies[key].worlds.extend([seed] * len(scores.crps))
                tallies[key].crps.extend(scores.crps)
                tallies[key].covered.extend(scores.covered)
            for size, rows in outcomes.items():
                finish[size].extend(rows)
    return tallies, finish


def report(
    seeds: Sequence[int],
    sizes: Sequence[int],
    tests: int,
    priors: Priors,
    rivals: bool,
    jobs: int,
    twist: str = BASE,
) -> None:
    """Print the table of scores."""
    tallies, finish = evaluate(seeds, sizes, tests, priors, rivals, jobs, twist)

    def mean(who: str, size: int, when: str) -> float:
        scores = tallies[who, size, when].crps
        return float(np.mean(scores)) if scores else float("nan")

    pots = len(tallies["ours", sizes[0], "before"].crps)
    print(f"{twist}: worlds {seeds[0]}-{seeds[-1]}, {tests} batches foreseen in each ({pots} pots)")
    print("CRPS of log time to thick trace, before any tap / after the first tap of the batch;")
    print("of P(finish): Brier score and expected calibration error, in brackets the oracle's")
    print("(and of ours in as many pours, were its own draws the truth)")
    print("and at the warning line false alarms and misses; ± is one standard error;")
    print("the oracle knows the bottle; the lot-blind knows the maker and the fragrances, not that")
    print(f"known: its ratio without a fragrance, or with one met in {OFTEN} batches or more")
    print(
        "batches  ours           oracle         to the lot-blind         to the oracle"
        "            known  frag. mean  "
        "ours/mean  lifelines  80 % cover   Brier          ECE                   "
        "false alarms   missed"
    )
    for size in sizes:
        a0, a1 = (mean(who, size, "before") for who in ("ours", "oracle"))
        b0, b1 = (mean(who, size, "after") for who in ("ours", "oracle"))
        m = [mean("mean", size, w) for w in ("before", "after")]
        covers = [np.mean(tallies["ours", size, w].covered) for w in ("before", "after")]
        f = finish[size]
        pairs = [[(row[k], row.outcome) for row in f] for k in (0, 1)]
        brier = [np.mean([(chance - outcome) ** 2 for chance, outcome in p]) for p in pairs]
        ece = calibration(f)
        (alarms, missed), (alarms_known, missed_known) = (at_the_line(listed) for listed in pairs)
        ratios = []
        for who in ("lot-blind", "oracle"):
            lines = [
                ratio(tallies["ours", size, when], tallies[who, size, when])
                for when in ("before", "after")
            ]
            ratios.append(" / ".join(f"{value:.3f}±{error:.3f}" for value, error in lines))
        print(
            f"{size:7d}  {a0:.3f} / {b0:.3f}  {a1:.3f} / {b1:.3f}  "
            f"{'  '.join(ratios)}  "
            f"{mean('ours', size, 'known') / mean('lot-blind', size, 'known'):.2f}   "
            f"{m[0]:.3f}       {a0 / m[0]:.2f}       {mean('lifelines', size, 'before'):.3f}      "
            f"{covers[0]:.2f} / {covers[1]:.2f}  {brier[0]:.3f} ({brier[1]:.3f})  "
            f"{ece[0]:.3f} ({ece[1]:.3f}, {ece[2]:.3f})  {alarms:.3f} ({alarms_known:.3f})  "
            f"{missed:.3f} ({missed_known:.3f})"
        )


def main() -> None:
    """Entry point of the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=REPORTED_FROM)
    parser.add_argument("--worlds", type=int, default=24)
    parser.add_argument("--tests", type=int, default=25)
    parser.add_argument("--sizes", type=int, nargs="+", help="batches before; of a bound: 100")
    parser.add_argument("--twist", choices=TWISTS, default=BASE)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--no-rivals", action="store_true")
    parser.add_argument("--strong", action="store_true", help=strong.__doc__)
    parser.add_argument("--bound", action="store_true", help=bound.__doc__)
    args = parser.parse_args()
    seeds = range(args.first, args.first + args.worlds)
    priors = Priors()
    if args.bound:
        for size in args.sizes or [100]:
            bound.report(seeds, size, args.tests, priors, args.jobs, args.twist)
        return
    if not args.strong:
        sizes = args.sizes or list(SIZES)
        report(seeds, sizes, args.tests, priors, not args.no_rivals, args.jobs, args.twist)
    if args.strong:
        strong.report(seeds, 5, priors)


if __name__ == "__main__":
    main()
