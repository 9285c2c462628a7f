"""How long advice takes while pouring, and the search of changes that go together.

Run with ``OMP_NUM_THREADS=1 python -m tests.bench.bench_advice``.

Reach: live update with its advice, 5 pots and 12 taps, p99 at most 10 ms, off the screen's thread;
changes together: first answer within 0.1 s, all within 0.5 s.
"""

from __future__ import annotations

import argparse
import gc
from collections.abc import Callable
from functools import partial

import numpy as np

from soapbench.advice.changes import changes_together, levers, sets_by_size
from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.pace import Pace
from soapbench.thickening import no_batches
from tests.bench.bench_thickening import timed
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import sample

BONFIRE = sample(SAMPLES / "midsummer_bonfire.toml")
TAPS = (("flame", 0), ("ember", 0), ("spark", 0), ("ash", 0), ("base", 0), ("base", 1))


def busy(known: Known) -> Callable[[], object]:
    """Advice for five pots and twelve taps, some fragrances in, told the advice before it as the
    pour screen tells it."""
    clock = FakeClock()
    pour = desk(BONFIRE, known, clock)
    work(pour, clock, "stir in fragrance/spark", each_s=25)
    taps = 0
    while taps < 12:
        for pot, state in TAPS:
            clock.passes(2)
            taps += pour.trace_seen(pot, Trace(state)).logged
            clock.passes(1)
            if taps >= 12:
                break
    pour.heed(pour.advise())
    return pour.advise


def measured(updates: int = 300) -> list[tuple[str, list[float], str]]:
    """What is timed, its times in seconds, and the reach of their 99 of 100."""
    known = Known(no_batches(), Pace(), tables.swirls(), tables.oils(), tables.colourants())
    advise = busy(known)
    advise()
    gc.collect()
    gc.freeze()  # as the app does before its first screen
    forecast = Foreseen(BONFIRE, known).outlook()
    cases: list[tuple[str, Callable[[], object], int, str]] = [
        ("live update with its advice, 5 pots, 12 taps", advise, updates, "p99 10 ms"),
        (
            "what would help, each alone",
            partial(levers, BONFIRE, known, forecast.chance),
            10,
            "",
        ),
        (
            "changes together, first answer",
            lambda: next(sets_by_size(BONFIRE, known)),
            10,
            "100 ms",
        ),
        (
            "changes together",
            partial(changes_together, BONFIRE, known, forecast.worth),
            10,
            "500 ms",
        ),
    ]
    return [(what, timed(case, times)[0], reach) for what, case, times, reach in cases]


def main() -> None:
    """Entry point of the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--updates", type=int, default=300)
    args = parser.parse_args()
    for what, wall, reach in measured(args.updates):
        p50, p99 = 1e3 * np.quantile(wall, [0.5, 0.99])
        print(f"{what}: {p50:.1f}, p99 {p99:.1f} ms  (reach {reach or 'none'})")


if __name__ == "__main__":
    main()
