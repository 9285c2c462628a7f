"""How long fits and live updates take.

Run with ``OMP_NUM_THREADS=1 python -m tests.bench.bench_thickening``.

Reach: fit of 100 batches about 0.05 s, 1,000 at most 0.8 s, 10,000 at most 3 s; live update of 5
pots and 12 taps, 4,000 draws, p99 at most 7 ms.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from soapbench.batter import BatchHistory
from soapbench.thickening import fit, live
from tests.worlds.making import make_many
from tests.worlds.world import draw_maker


def timed(what: Callable[[], object], times: int) -> tuple[np.ndarray, np.ndarray]:
    """Wall and processor seconds of each of ``times`` calls; the latter on a shared machine."""
    spent = []
    for _ in range(times):
        wall, cpu = time.perf_counter(), time.process_time()
        what()
        spent.append((time.perf_counter() - wall, time.process_time() - cpu))
    return np.array(spent)[:, 0], np.array(spent)[:, 1]


def tell(what: str, spent: tuple[np.ndarray, np.ndarray]) -> None:
    """Print median and 99th percentile, ms."""
    (w50, w99), (c50, c99) = (1e3 * np.quantile(s, [0.5, 0.99]) for s in spent)
    print(f"{what}: wall p50 {w50:.1f} p99 {w99:.1f} ms, processor p50 {c50:.1f} p99 {c99:.1f} ms")


def busy(histories: Sequence[BatchHistory]) -> BatchHistory:
    """A batch of 5 pots and 12 taps."""
    for history in histories:
        taps = sorted(t.t for p in history.pots for t in p.taps)
        if len(history.pots) == 5 and len(taps) >= 12:
            pots = tuple(
                replace(p, taps=tuple(t for t in p.taps if t.t <= taps[11])) for p in history.pots
            )
            return replace(history, pots=pots)
    raise LookupError("no batch of 5 pots and 12 taps among these")


def batches(most: int) -> list[BatchHistory]:
    """Invented batches; beyond a thousand the same ones come again under other names and lots,
    for only size matters."""
    rng = np.random.default_rng(5)
    histories = [m.history for m in make_many(rng, draw_maker(rng), min(most, 1000))]
    return [
        replace(
            h,
            batch=f"{h.batch}-{again}",
            fragrances=tuple(
                replace(f, lot=f"{f.lot}-{again}" if f.lot else None) for f in h.fragrances
            ),
        )
        for again in range(max(1, most // 1000))
        for h in histories
    ]


def update(histories: Sequence[BatchHistory]) -> Callable[[], object]:
    """A live update of a busy batch, on what a hundred batches taught."""
    fitted, history = fit(histories[:100]), busy(histories)
    now = max(t.t for p in history.pots for t in p.taps)
    return partial(live, fitted, history, now)


def main() -> None:
    """Entry point of the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=10_000)
    parser.add_argument("--updates", type=int, default=500)
    args = parser.parse_args()
    histories = batches(args.most)
    for size in (10, 100, 1000, 10_000):
        if size <= len(histories):
            tell(f"fit {size} batches", timed(partial(fit, histories[:size]), 3 + 300 // size))
    updated = update(histories)
    updated()
    tell("live update, 5 pots, 12 taps", timed(updated, args.updates))


if __name__ == "__main__":
    main()
