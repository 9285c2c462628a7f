"""What is to be foreseen in a world, and how the model foresees it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from soapbench.batter import BatchHistory, Reputation, Trace
from soapbench.thickening import Fit, live, milestone_times
from tests.worlds.making import make, make_many
from tests.worlds.world import Made, Maker, draw_maker, draw_setup

Array = npt.NDArray[np.float64]

THICK = 3
DRAWS = 1000


BASE = "base"
TWISTS = (BASE, "new bottle", "new bottle not named", "late taps", "seizing", "no blender", "off")
"""What may be different: bottles never opened, named or not; a maker who taps 20-60 s late;
fragrances one in four of whose batches seizes; a maker who never keys the blender; a thermometer
that is 4 K off."""


def twisted(rng: np.random.Generator, maker: Maker, twist: str) -> Maker:
    """The maker with what ``twist`` says of them."""
    hand = maker.hand
    if twist == "late taps":
        hand = replace(hand, late=0.9, late_delay=rng.uniform(20.0, 60.0))
    if twist == "no blender":
        hand = replace(hand, keys_blender=False)
    if twist == "off":
        hand = replace(hand, thermometer=float(rng.choice([-4.0, 4.0])))
    fragrances = maker.fragrances
    if twist == "seizing":
        fast = (Reputation.ACCELERATES, Reputation.NOTORIOUS)
        fragrances = tuple(
            replace(s, seizes=0.25 if s.word.reputation in fast else s.seizes) for s in fragrances
        )
    return replace(maker, hand=hand, fragrances=fragrances)


def world_batches(
    seed: int, count: int, tests: int, twist: str = BASE
) -> tuple[Maker, list[Made], list[Made]]:
    """A maker, the batches of the past, and those to be foreseen."""
    rng = np.random.default_rng([20_260, seed])
    maker = twisted(np.random.default_rng([20_261, seed]), draw_maker(rng), twist)
    past = make_many(rng, maker, count)
    future = []
    for i in range(tests):
        lot = f"new {i}" if twist.startswith("new bottle") else None
        setup = draw_setup(rng, maker, f"b{count + i:06d}", lot=lot)
        words = setup.fragrances
        if twist == "new bottle":
            words = tuple(replace(word, lot=lot) for word in words)
        if twist == "new bottle not named":
            words = tuple(replace(word, lot=None) for word in words)
        future.append(make(rng, maker, replace(setup, fragrances=words)))
    return maker, past, future


def as_planned(made: Made) -> BatchHistory:
    """The batch without bursts keyed on the way to a state: only that it was blended up to it."""
    pots = []
    for pot, meant in zip(made.history.pots, made.setup.pots, strict=True):
        ups = tuple(b for b in meant.blends if b.to is not None)
        done = max((b.end for b in ups), default=0.0)
        rest = tuple(b for b in pot.blends if b.t >= done and b.to is None)
        pots.append(replace(pot, blends=(*ups, *rest)))
    return replace(made.history, pots=tuple(pots))


def first_tap(made: Made) -> float | None:
    """When the batch's first milestone is tapped, s."""
    times = [t.t for p in made.history.pots for t in p.taps if t.state is not Trace.EMULSION]
    return min(times, default=None)


def model_times(made: Made, fitted: Fit, now: float) -> Array:
    """(DRAWS, pots, 5) by the model, from what was keyed by ``now``, or from the plan: to what the
    blender is to bring it, and not yet how long that took."""
    history = made.history if now > 0.0 else as_planned(made)
    draws = live(fitted, history, now, n=DRAWS)
    return np.stack(
        [milestone_times(draws, p.fragrance, p.fragrance_in, p.blends) for p in history.pots],
        axis=1,
    )
