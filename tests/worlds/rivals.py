"""The plain forecasters: the mean of each fragrance, and lifelines' log-normal AFT fit."""

from __future__ import annotations

import warnings
from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from soapbench.batter import Trace
from soapbench.thickening.evidence import covariates
from tests.worlds.world import Made

Array = npt.NDArray[np.float64]


def fragrance_means(made: Sequence[Made]) -> dict[str | None, float]:
    """Mean log time of the thick traces tapped, by fragrance; None holds that of all pots."""
    logs: dict[str | None, list[float]] = defaultdict(list)
    for pot in (p for m in made for p in m.history.pots):
        for tap in pot.taps:
            if tap.state is Trace.THICK:
                logs[None].append(np.log(tap.t))
                logs[pot.fragrance or "unscented"].append(np.log(tap.t))
    return {name: float(np.mean(values)) for name, values in logs.items()}


def aft_frame(pairs: Iterable[tuple[Made, int]], names: Sequence[str]) -> Array:
    """Rows of (time, tapped, covariates, one column a fragrance) for lifelines."""
    rows = []
    for made, i in pairs:
        pot = made.history.pots[i]
        thick = [t.t for t in pot.taps if t.state is Trace.THICK]
        fragrance = [float(pot.fragrance == name) for name in names]
        t_f = pot.fragrance_in or 600.0
        blended = sum(b.seconds for b in pot.blends)
        x = [*covariates(made.setup.mix), np.log(t_f / 600.0), blended / 20.0]
        rows.append([thick[0] if thick else pot.until, float(bool(thick)), *x, *fragrance])
    return np.array(rows)


def aft_quantiles(past: Sequence[Made], tests: Sequence[Made], p: Array) -> list[Array] | None:
    """Quantiles of thick trace of each test pot by lifelines, or None where it gives up."""
    import pandas  # type: ignore[import-untyped]
    from lifelines import LogNormalAFTFitter  # type: ignore[import-untyped]
    from lifelines.exceptions import ConvergenceError  # type: ignore[import-untyped]
    from scipy.stats import norm  # type: ignore[import-untyped]

    names = sorted({q.fragrance for m in past for q in m.history.pots if q.fragrance})
    frame = pandas.DataFrame(
        aft_frame([(m, i) for m in past for i in range(len(m.setup.pots))], names)
    )
    frame.columns = frame.columns.map(str)
    wanted = pandas.DataFrame(
        aft_frame([(m, i) for m in tests for i in range(len(m.setup.pots))], names)
    )
    wanted.columns = wanted.columns.map(str)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = LogNormalAFTFitter(penalizer=0.01).fit(frame, "0", "1")
    except (ConvergenceError, ValueError, np.linalg.LinAlgError):
        return None
    median = np.log(model.predict_median(wanted).to_numpy())
    sigma = float(np.exp(model.params_["sigma_"].iloc[0]))
    return [np.exp(m + sigma * norm.ppf(p)) for m in median]
