"""How long advice takes while pouring, and the search of changes that go together.

Run with ``OMP_NUM_THREADS=1 python -m tests.bench.bench_advice``.

Reach: live update with its advice, 5 pots and 12 taps, p99 at most 10 ms, off the screen's thread;
changes together: first answer within 0.1 s, all within 0.5 s.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from functools import partial

from soapbench.advice import Foreseen, Known
from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.pace import Pace
from soapbench.thickening import no_batches
from soapbench.together import changes_together, levers, sets_by_size
from tests.bench.bench_thickening import tell, timed
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import sample

BONFIRE = sample(SAMPLES / "midsummer_bonfire.toml")
TAPS = (("flame", 0), ("ember", 0), ("spark", 0), ("ash", 0), ("base", 0), ("base", 1))


def busy(known: Known) -> Callable[[], object]:
    """Advice for five pots and twelve taps, some fragrances in."""
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
    return pour.advise


def main() -> None:
    """Entry point of the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--updates", type=int, default=300)
    args = parser.parse_args()
    known = Known(no_batches(), Pace(), tables.swirls(), tables.oils(), tables.colourants())
    advise = busy(known)
    advise()
    tell("live update with its advice, 5 pots, 12 taps", timed(advise, args.updates))
    seen = Foreseen(BONFIRE, known).outlook()
    tell("what would help, each alone", timed(partial(levers, BONFIRE, known, seen.chance), 10))
    tell("changes together, first answer", timed(lambda: next(sets_by_size(BONFIRE, known)), 10))
    tell("changes together", timed(partial(changes_together, BONFIRE, known, seen.worth), 10))


if __name__ == "__main__":
    main()
