"""Simulation-based calibration: is the posterior as wide as it should be?

After Talts, Betancourt, Simpson, Vehtari, Gelman 2018 (arXiv:1804.06788): draw the truth from the
prior and the taps from the model, and the truth's rank among posterior draws is uniform. The
model here has normal noise, no delay and no skips, so that simulating it is exact.
"""

from __future__ import annotations

import numpy as np
import pytest

from soapbench.batter import (
    MILESTONES,
    BatchHistory,
    Blend,
    FragranceWord,
    Mix,
    PotHistory,
    Reputation,
    Tap,
    Trace,
)
from soapbench.thickening import Draws, Priors, fit, live, milestone_times, no_batches
from soapbench.thickening.priors import Component

FIXED = float("inf")
PRIORS = Priors(
    batch=Component(0.25, FIXED),
    spread=Component(0.12, FIXED),
    lot=Component(0.10, FIXED),
    noise=Component(0.08, FIXED),
    batch_tail=FIXED,
    tail=FIXED,
    delay=0.0,
    latency=0.0,
    pot=(0.0, 0.0),
    skipped=1e-4,
    skipped_counts=1e9,
    untended=0.0,
    mistaken=1e-4,
)
WORD = FragranceWord("Kelp", Reputation.UNKNOWN)
BLENDS = (Blend(20.0, 6.0), Blend(60.0, 8.0))
MIX = Mix(27.0, 0.35, 0.45)
BINS = 10
ALARM = 1e-4
SIMULATIONS = 150


def simulated(rng: np.random.Generator, truth: Draws, i: int, name: str) -> BatchHistory:
    """The i-th draw of the truth made and watched: two scented pots and a plain one."""
    pots = []
    for p, (fragrance, t_f) in enumerate((("Kelp", 300.0), ("Kelp", 500.0), (None, None))):
        until = rng.uniform(500.0, 2000.0)
        noisy = truth.log_thresholds[i : i + 1] + PRIORS.noise.sd * rng.standard_normal((1, 5))
        one = Draws(
            truth.log_rate[i : i + 1],
            np.maximum.accumulate(noisy, axis=1),
            truth.kappa[i : i + 1],
            {"Kelp": truth.log_af["Kelp"][i : i + 1]},
            truth.strength,
        )
        times = milestone_times(one, fragrance, t_f, BLENDS)[0]
        taps = tuple(
            Tap(float(t), m)
            for t, m in zip(times, MILESTONES, strict=True)
            if m >= Trace.LIGHT and t <= until
        )
        pots.append(PotHistory(f"pot {p}", until, fragrance, t_f, BLENDS, taps))
    return BatchHistory(name, MIX, tuple(pots), (WORD,))


def ranks(values: np.ndarray, truth: float, widened: float) -> float:
    """Where the truth lies among draws pulled apart from their mean by ``widened``, 0 to 1."""
    centre = values.mean()
    return float(np.mean(centre + widened * (values - centre) < truth))


def p_uniform(where: list[float]) -> float:
    from scipy import stats

    counts, _ = np.histogram(where, BINS, (0.0, 1.0))
    return float(stats.chisquare(counts).pvalue)


@pytest.fixture(scope="module")
def posteriors() -> list[tuple[dict[str, np.ndarray], dict[str, float]]]:
    """Posterior draws and truths of the quantities that matter, over many simulated batches."""
    rng = np.random.default_rng(2)
    empty = no_batches(PRIORS)
    unseen = BatchHistory("b", MIX, (PotHistory("p", 0.0, "Kelp", None),), (WORD,))
    truth = live(empty, unseen, 0.0, n=600, seed=9)
    pairs = []
    for i in range(truth.n):
        draws = live(empty, simulated(rng, truth, i, "b"), 1e9, n=1000, seed=i)

        def quantities(d: Draws) -> dict[str, np.ndarray]:
            return {
                "log AF": d.log_af["Kelp"],
                "log rate": d.log_rate - d.log_thresholds[:, Trace.LIGHT],
                "log time to set up": np.log(
                    milestone_times(d, "Kelp", 300.0, BLENDS)[:, Trace.SET_UP]
                ),
            }

        true = {name: float(values[i]) for name, values in quantities(truth).items()}
        pairs.append((quantities(draws), true))
    return pairs


@pytest.mark.parametrize("quantity", ["log AF", "log rate", "log time to set up"])
def test_live_posterior_is_calibrated_and_the_check_would_notice(
    quantity: str, posteriors: list[tuple[dict[str, np.ndarray], dict[str, float]]]
) -> None:
    p = {
        widened: p_uniform([ranks(d[quantity], t[quantity], widened) for d, t in posteriors])
        for widened in (1.0, 1.4, 1.0 / 1.4)
    }
    print(p)
    assert p[1.0] > ALARM
    assert p[1.4] < ALARM
    assert p[1.0 / 1.4] < ALARM


def test_fit_posterior_is_calibrated_and_the_check_would_notice() -> None:
    """What six batches teach about the recipe-free rate and the thresholds."""
    from scipy import stats

    rng = np.random.default_rng(3)
    empty = no_batches(PRIORS)
    root = np.sqrt(np.diag(empty.covariance))
    bottle = BatchHistory("b", MIX, (PotHistory("p", 0.0, "Kelp", None),), (WORD,))
    log_af = rng.permutation(live(empty, bottle, 0.0, n=SIMULATIONS, seed=8).log_af["Kelp"])
    places: dict[int, list[float]] = {3: [], 4: [], 6: []}  # log kappa, log light, light-medium
    for k in range(SIMULATIONS):
        theta = empty.theta + root * rng.standard_normal(len(root))
        known = no_batches(PRIORS)
        known = type(known)(**{**vars(known), "theta": theta, "covariance": 1e-12 * np.eye(9)})
        histories = []
        for b in range(6):
            truth = live(known, bottle, 0.0, n=40, seed=1000 * k + b)
            truth.log_af["Kelp"][:] = log_af[k]  # one bottle in all six
            histories.append(simulated(rng, truth, int(rng.integers(40)), f"b{b}"))
        fitted = fit(histories, PRIORS)
        sd = np.sqrt(np.diag(fitted.covariance))
        for j, where in places.items():
            where.append(float((theta[j] - fitted.theta[j]) / sd[j]))
    for z in places.values():
        p = {w: p_uniform(list(stats.norm.cdf(np.array(z) / w))) for w in (1.0, 1.4, 1 / 1.4)}
        print(p, np.std(z), np.mean(z))
        assert p[1.0] > ALARM
