"""Every number the program is held to, measured in one run: ``python -m tests.bench``.

Prints a table in Markdown, side by side with a bare app of the same toolkit. About five minutes
on two cores; ``--batches 1000`` is quicker. Let the machine rest meanwhile. Linux.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np

from soapbench.thickening import fit
from tests.bench import (
    bench_advice,
    bench_app,
    bench_disk,
    bench_home,
    bench_long_log,
    bench_thickening,
)
from tests.plans import plan
from tests.stress.terminal import straight_to_pour


class Line(NamedTuple):
    what: str
    ours: str
    bare: str
    reach: str


START_REACH = {"bench": "1.35 x", "plan sheet shown before": "1.35 x"}
"""How many times the bare app's start each may take; any other ``OTHER_START_REACH``."""
OTHER_START_REACH = "2.0 x"


def starts(place: Path, times: int) -> list[Line]:
    medians = bench_app.starts(place, times)
    bare = medians.pop("bare app")
    return [
        Line(
            f"start: {what}",
            f"{ms:.0f} ms, {ms / bare:.2f} x",
            f"{bare:.0f} ms",
            START_REACH.get(what, OTHER_START_REACH),
        )
        for what, ms in medians.items()
    ]


def keys(place: Path, times: int) -> list[Line]:
    folder = place / "keys"
    log = bench_app.poured(folder, plan(bench_app.FIVE_POTS))
    ours = bench_app.keys(straight_to_pour(log), folder, bench_app.POUR, bench_app.NOTE_KEYS, times)
    bare = bench_app.keys(bench_app.BARE, folder, "ready", bench_app.BARE_KEYS, times)
    lines = []
    for what, q, reach in (("median", 0.5, "2 x"), ("99 of 100", 0.99, "bare + 5 ms")):
        ms, beside = bench_app.at(ours, q), bench_app.at(bare, q)
        lines.append(
            Line(
                f"key to screen, 5 pots, {what}",
                f"{ms:.1f} ms, {ms / beside:.2f} x",
                f"{beside:.1f} ms",
                reach,
            )
        )
    return lines


def idle(place: Path, seconds: float) -> list[Line]:
    bare, _ = bench_app.idle_share(bench_app.BARE, place, "ready", seconds)
    figures = []
    for what, reputation in (("all well", "well behaved"), ("warning", "notorious")):
        folder = place / reputation
        log = bench_app.poured(folder, plan(bench_app.FIVE_POTS.replace("accelerates", reputation)))
        share, sent = bench_app.idle_share(straight_to_pour(log), folder, bench_app.POUR, seconds)
        figures.append(Line(f"idle pour, {what}", f"{share:.2%}", f"{bare:.2%}", "1.25 x"))
        figures.append(Line(f"idle pour, {what}, to the terminal", f"{sent:.0f} B/s", "", "2 kB/s"))
    return figures


def durable(place: Path) -> list[Line]:
    raw, ours = bench_disk.appends(place / "append")
    p99, beside = (bench_disk.quantile(times, 0.99) for times in (ours, raw))
    return [
        Line(
            "event on disk, 99 of 100",
            f"{p99:.2f} ms",
            f"{beside:.2f} ms raw append and fsync",
            "raw + 3 ms",
        )
    ]


def long_logs() -> list[Line]:
    figures = []
    for events in bench_long_log.SIZES:
        ms = bench_long_log.measured(events)
        ours = f"{ms['note']:.2f} ms, undo {ms['undo']:.2f} ms"
        figures.append(
            Line(f"key at {events:,} events, the desk alone", ours, "", "the same at each")
        )
    return figures


def model() -> list[Line]:
    histories = bench_thickening.batches(10_000)
    figures = []
    for size, reach in ((100, "0.05 s"), (1000, "0.8 s"), (10_000, "3 s")):
        wall, _ = bench_thickening.timed(partial(fit, histories[:size]), 1 + 300 // size)
        figures.append(Line(f"fit of {size:,} batches", f"{np.median(wall):.2f} s", "", reach))
    update = bench_thickening.update(histories)
    wall, _ = bench_thickening.timed(update, 500)
    p50, p99 = 1e3 * np.quantile(wall, [0.5, 0.99])
    figures.append(Line("live update, 5 pots, 12 taps", f"{p50:.1f}, p99 {p99:.1f} ms", "", ""))
    return figures


def advice() -> list[Line]:
    lines = []
    for what, wall, reach in bench_advice.measured():
        p50, p99 = 1e3 * np.quantile(wall, [0.5, 0.99])
        lines.append(Line(what, f"{p50:.1f}, p99 {p99:.1f} ms", "", reach))
    return lines


def bench(place: Path, count: int) -> list[Line]:
    folder = place / "bench"
    bench_home.measured(bench_home.fill, folder, count)
    rebuilt = bench_home.measured(bench_home.known, folder, count)
    warm = bench_home.measured(bench_home.known, folder, count)
    home = bench_home.measured(bench_home.home, folder, count)
    name = f"bench of {count:,} batches"
    return [
        Line(f"{name}: listed, warm", f"{warm['listed']:.2f} s", "", "1 s"),
        Line(f"{name}: on screen, warm", f"{home['listed']:.2f} s", "", "1 s"),
        Line(f"{name}: all known, warm", f"{warm['all known']:.2f} s", "", ""),
        Line(f"{name}: all derived anew", f"{rebuilt['all known']:.1f} s", "", "15 s"),
        Line(f"{name}: memory, anew", f"{rebuilt['memory']:.0f} MB", "", "250 MB"),
        Line(f"{name}: memory, on screen", f"{home['memory']:.0f} MB", "", "250 MB"),
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--starts", type=int, default=7)
    parser.add_argument("--keys", type=int, default=200)
    parser.add_argument("--idle", type=float, default=20.0)
    parser.add_argument("--batches", type=int, default=10_000)
    args = parser.parse_args()
    print("| what | ours | bare app | reach |\n|---|---|---|---|", flush=True)
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        for part in (
            partial(starts, place, args.starts),
            partial(keys, place, args.keys),
            partial(idle, place, args.idle),
            partial(durable, place),
            long_logs,
            model,
            advice,
            partial(bench, place, args.batches),
        ):
            for line in part():
                print("| " + " | ".join(line) + " |", flush=True)


if __name__ == "__main__":
    if os.environ.get("OMP_NUM_THREADS") != "1":  # numpy reads it when it is loaded
        os.execve(
            sys.executable,
            [sys.executable, "-m", "tests.bench", *sys.argv[1:]],
            {**os.environ, "OMP_NUM_THREADS": "1"},
        )
    main()
