"""The solver in special cases that well-kept libraries also solve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import Trace
from soapbench.thickening.evidence import NO_LOT, NOT_KEYED_UP, Rows
from soapbench.thickening.exposure import Dose
from soapbench.thickening.priors import Component
from soapbench.thickening.solve import Setting, solve

FIXED = float("inf")


def plain_rows(x: np.ndarray, log_time: np.ndarray, tapped: np.ndarray, group: np.ndarray) -> Rows:
    """Sightings of one milestone, without fragrance, blending, skips or delay."""
    order = np.argsort(~tapped, kind="stable")
    n = len(log_time)
    none = np.zeros(n)
    return Rows(
        x=x[order],
        batch=group[order],
        lot=np.full(n, NO_LOT),
        milestone=np.full(n, Trace.LIGHT, dtype=np.intp),
        to=np.full(n, NOT_KEYED_UP),
        strength=np.ones(n),
        dose=Dose(none, np.exp(log_time[order]), none, none),
        tapped=tapped[order],
        floor=none,
        unsure=none,
    )


def flat(columns: int, batch: Component, noise: Component) -> Setting:
    """Flat priors on coefficients and intercept; what one milestone cannot tell is pinned."""
    precision = np.array([*([0.0] * columns), 1.0, 0.0, 1.0, 1.0, 1.0, 1.0])
    return Setting(
        mean=np.zeros(columns + 6),
        precision=precision,
        batch=batch,
        spread=Component(1e-3, FIXED),
        lot=Component(1.0, FIXED),
        noise=noise,
        fragrance_of=np.zeros(0, dtype=np.intp),
        pull=lambda a, v: (a, v),
    )


def test_without_random_effects_it_is_a_log_normal_aft_fit() -> None:
    """lifelines 0.30.3, LogNormalAFTFitter on its data set of re-arrests (load_rossi)."""
    from lifelines import LogNormalAFTFitter
    from lifelines.datasets import load_rossi

    rossi = load_rossi()
    names = ["age", "fin", "mar", "paro", "prio", "race", "wexp"]
    rows = plain_rows(
        rossi[names].to_numpy(dtype=float),
        np.log(rossi["week"].to_numpy(dtype=float)),
        rossi["arrest"].to_numpy() == 1,
        np.arange(len(rossi)),
    )
    setting = flat(len(names), Component(1e-6, FIXED), Component(1.0, 0.0))
    solution = solve(rows, len(rossi), setting, rounds=2000, tolerance=1e-7)
    ours = {name: -c for name, c in zip(names, solution.at.theta, strict=False)}  # rate, not time
    ours["Intercept"] = solution.at.theta[len(names) + 1]

    printed = {  # as lifelines 0.30.3 printed them on another day
        "age": 0.027206, "fin": 0.342826, "mar": 0.460236, "paro": 0.055876,
        "prio": -0.065520, "race": -0.363107, "wexp": 0.268130, "Intercept": 4.267537,
    }  # fmt: skip
    theirs = LogNormalAFTFitter().fit(rossi, "week", "arrest").params_
    assert ours == pytest.approx(printed, abs=1e-3)
    assert ours == pytest.approx(theirs["mu_"].to_dict(), abs=1e-3)
    assert np.log(solution.sd.noise) == pytest.approx(theirs["sigma_"]["Intercept"], abs=1e-3)


def test_without_censoring_it_is_a_mixed_model() -> None:
    """statsmodels MixedLM by maximum likelihood, random intercepts, unbalanced groups."""
    import pandas
    from statsmodels.regression.mixed_linear_model import MixedLM

    rng = np.random.default_rng(3)
    sizes = rng.integers(2, 9, 40)
    group = np.repeat(np.arange(40), sizes)
    x = rng.standard_normal((len(group), 2))
    y = 3.0 - x @ [0.5, -0.3] + 0.4 * rng.standard_normal(40)[group]
    y = y + 0.2 * rng.standard_normal(len(group))
    rows = plain_rows(x, y, np.ones(len(y), dtype=bool), group)
    setting = flat(2, Component(0.3, 0.0), Component(0.3, 0.0))
    solution = solve(rows, 40, setting, rounds=3000, tolerance=1e-8)

    frame = pandas.DataFrame({"y": y, "a": x[:, 0], "b": x[:, 1], "g": group})
    theirs = MixedLM.from_formula("y ~ a + b", groups="g", data=frame).fit(reml=False)
    assert -solution.at.theta[:2] == pytest.approx(
        theirs.fe_params[["a", "b"]].to_numpy(), abs=1e-4
    )
    assert solution.at.theta[3] == pytest.approx(theirs.fe_params["Intercept"], abs=1e-4)
    assert solution.sd.batch**2 == pytest.approx(float(theirs.cov_re.iloc[0, 0]), rel=2e-3)
    assert solution.sd.noise**2 == pytest.approx(float(theirs.scale), rel=2e-3)
    error = np.sqrt(np.diag(solution.covariance))[[0, 1, 3]]
    expected = theirs.bse_fe[["a", "b", "Intercept"]].to_numpy()
    assert error == pytest.approx(expected, rel=5e-3)


def test_batches_that_stray_as_a_student_t_are_trusted_as_one() -> None:
    """scipy.stats.t, three degrees of freedom: place and scale of largest likelihood, and a few
    batches far off that would drag a normal's along."""
    from scipy import stats

    rng = np.random.default_rng(8)
    n = 60
    y = 5.0 + 0.3 * rng.standard_t(3.0, n)
    y[:4] += 3.0
    rows = plain_rows(np.zeros((n, 1)), y, np.ones(n, dtype=bool), np.arange(n))
    setting = flat(1, Component(0.3, 0.0), Component(0.01, FIXED))
    pinned = np.array([1.0, 1.0, 0.0, 1.0, 1.0, 1.0, 1.0])  # all but the place
    setting = replace(setting, precision=pinned, batch_tail=3.0)
    solution = solve(rows, n, setting, rounds=3000, tolerance=1e-8)
    _, place, scale = stats.t.fit(y, fdf=3.0)
    assert solution.at.theta[2] == pytest.approx(place, abs=0.01)
    assert solution.sd.batch == pytest.approx(scale, rel=0.02)
    assert y.mean() > place + 0.1
