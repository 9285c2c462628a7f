"""Scores of forecasts, and how sure one may be of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from tests.worlds.kettle import HORIZON

Array = npt.NDArray[np.float64]


@dataclass
class Tally:
    """Scores of one forecaster in one situation."""

    crps: list[float] = field(default_factory=list)
    covered: list[bool] = field(default_factory=list)
    worlds: list[int] = field(default_factory=list)
    """The seed of the world each score is from."""


def score(tally: Tally, times: Array, truth: float) -> None:
    """CRPS of log time and whether the 80 % interval holds the truth."""
    import scoringrules  # type: ignore[import-untyped]

    logs = np.log(np.clip(times, 1.0, HORIZON))
    tally.crps.append(float(scoringrules.crps_ensemble(np.log(truth), logs, estimator="qd")))
    low, high = np.quantile(logs, [0.1, 0.9])
    tally.covered.append(bool(low <= np.log(truth) <= high))


def ratio(ours: Tally, best: Tally) -> tuple[float, float]:
    """Ratio of mean CRPS, and its standard error, leaving out one world at a time (nan of one)."""
    worlds, top, bottom = (np.array(a) for a in (ours.worlds, ours.crps, best.crps))
    value, n = float(top.mean() / bottom.mean()), len(set(ours.worlds))
    if n < 2:
        return value, float("nan")
    kept = [worlds != world for world in dict.fromkeys(ours.worlds)]
    left = np.array([top[k].mean() / bottom[k].mean() for k in kept])
    return value, float(np.sqrt((n - 1) / n * np.sum((left - left.mean()) ** 2)))


def calibration_error(pairs: Sequence[tuple[float, bool]], bins: int = 10) -> float:
    """Expected calibration error over equal-width bins."""
    p = np.array([a for a, _ in pairs])
    y = np.array([b for _, b in pairs], dtype=float)
    which = np.minimum((p * bins).astype(int), bins - 1)
    return float(
        sum(
            abs(p[which == k].mean() - y[which == k].mean()) * np.mean(which == k)
            for k in range(bins)
            if np.any(which == k)
        )
    )


WARN_BELOW = 0.8
"""A line to compare forecasts at; the app has none."""


def at_the_line(
    pairs: Sequence[tuple[float, bool]], warn_below: float = WARN_BELOW
) -> tuple[float, float]:
    """False alarms: warned of, among pours that finished. Missed: not warned of, among the rest."""
    warned = np.array([chance < warn_below for chance, _ in pairs])
    finished = np.array([outcome for _, outcome in pairs])
    return float(warned[finished].mean()), float((~warned)[~finished].mean())
