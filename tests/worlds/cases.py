"""What is to be foreseen in a world, and how the model foresees it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from soapbench.batter import BatchHistory, Trace
from soapbench.thickening import Fit, live, milestone_times
from tests.worlds.world import Made, Maker, draw_maker, draw_setup, make, make_many

Array = npt.NDArray[np.float64]

THICK = 2
DRAWS = 1000


def world_batches(seed: int, count: int, tests: int) -> tuple[Maker, list[Made], list[Made]]:
    """A maker, the batches of the past, and those to be foreseen."""
    rng = np.random.default_rng([20_260, seed])
    maker = draw_maker(rng)
    past = make_many(rng, maker, count)
    future = [make(rng, maker, draw_setup(rng, maker, f"b{count + i:06d}")) for i in range(tests)]
    return maker, past, future


def first_tap(made: Made) -> float | None:
    """When the batch's first milestone is tapped, s."""
    times = [t.t for p in made.history.pots for t in p.taps if t.state is not Trace.EMULSION]
    return min(times, default=None)


def model_times(history: BatchHistory, fitted: Fit, now: float) -> Array:
    """(DRAWS, pots, 4) by the model."""
    draws = live(fitted, history, now, n=DRAWS)
    return np.stack(
        [milestone_times(draws, p.fragrance, p.fragrance_in, p.blends) for p in history.pots],
        axis=1,
    )[..., Trace.LIGHT :]
