"""How fast the cut face is drawn: one face and a loaf at 160 x 96, anti-aliased, one thread.

Run: OMP_NUM_THREADS=1 python tests/bench/bench_barface.py
Aim: a face within 60 ms, a loaf of ten within 500 ms.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from functools import partial

from soapbench.barface import (
    Colour,
    Design,
    Manner,
    Pouring,
    ToolPass,
    Top,
    WireLed,
    face,
    half_blocks,
    loaf,
    svg,
)

COLOURS = tuple(
    Colour(name, look, i)
    for i, (name, look) in enumerate(
        [
            ("slate", "#4a5a6a"),
            ("foam", "#e9e4d6"),
            ("teal", "#2f8f8b"),
            ("plum", "#7b3b5e"),
            ("sand", "#c8a56a"),
        ]
    )
)


def design(manner: Manner, base: Manner, *tools: ToolPass, top: bool = False) -> Design:
    accents = tuple(Pouring(i, 0.11, manner, 1.0, 1.0) for i in range(1, 5))
    return Design(
        COLOURS, (Pouring(0, 0.56, base, 1.0), *accents, *tools), top=Top() if top else None
    )


def cases() -> dict[str, Design]:
    named = {
        manner.value: design(
            manner, manner if manner in (Manner.IN_THE_POT, Manner.BLEND) else Manner.FILL
        )
        for manner in Manner
    }
    named["drop, hanger, textured top"] = design(
        Manner.DROP,
        Manner.FILL,
        ToolPass(WireLed.UP_DOWN, 1.2),
        ToolPass(WireLed.LOOPS, 1.5),
        top=True,
    )
    return named


def milliseconds(work: Callable[[], object], times: int) -> tuple[float, float]:
    """Median and best; on a shared machine the best tells more about the code."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        took.append((time.perf_counter() - start) * 1e3)
    return statistics.median(took), min(took)


def main() -> None:
    print(f"{'160 x 96':28s} {'face':>8s} {'best':>8s} {'ten':>8s} {'best':>8s}   ms")
    for name, drawn in cases().items():
        one, best = milliseconds(partial(face, drawn, 0.5, 160, 96, 7), 15)
        ten, ten_best = milliseconds(partial(loaf, drawn, 10, 160, 96, 7), 5)
        print(f"{name:28s} {one:8.1f} {best:8.1f} {ten:8.1f} {ten_best:8.1f}")
    shown = face(cases()["drop, hanger, textured top"], 0.5, 160, 96, 7, polish=False)
    print(f"half blocks {milliseconds(lambda: half_blocks(shown.rgb, shown.cover), 15)[0]:.1f} ms")
    drawn_svg = svg(shown)
    print(f"svg {milliseconds(lambda: svg(shown), 15)[0]:.1f} ms, {len(drawn_svg) / 1024:.0f} KiB")


if __name__ == "__main__":
    main()
