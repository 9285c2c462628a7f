"""How fast the file side is: ``python tests/bench/bench_disk.py [logs]``. Prints a table.

The logs are invented: about 40 events and a plan of four pots each.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from soapbench.figures import Figures
from soapbench.log import Event, Kind
from soapbench.logfile.batchlog import BatchLog, log_name
from soapbench.logfile.records import Header, ReadLog, event_text, header_text

START = datetime(2024, 3, 1, 19, tzinfo=UTC)
POTS = ("base", "foam", "slate", "rust")


def header(number: int) -> Header:
    plan = {
        "title": f"Invented batch {number}",
        "oils": [
            {"name": name, "mass_g": 100.0 + number, "share": 0.2, "saponification_mg_g": 190.5}
            for name in ("olive", "coconut", "palm", "castor", "shea")
        ],
        "lye": {"alkali": "NaOH", "purity": 0.98, "superfat": 0.05, "concentration": 0.33},
        "conditions": {"batter_c": 24.0, "room_c": 20.0},
        "fragrance": {"name": f"Invented fragrance {number % 60}", "load": 0.04, "limit": 0.095},
        "pots": [
            {"name": p, "share": 0.25, "colourants": [{"name": f"{p} mica", "dose_g": 2.0}]}
            for p in POTS
        ],
        "swirl": {"steps": ["drop swirl", "hanger swirl", "textured top"]},
    }
    foreseen = Figures(chance=0.83, room_s=dict.fromkeys(POTS, 600.0))
    created = START + timedelta(hours=7 * number)
    return Header(f"{number:012x}", plan["title"], created, "0.1.0", plan, foreseen)


def events(number: int) -> list[Event]:
    at = START + timedelta(hours=7 * number)
    kinds = [Kind.LYE_MEETS_OILS] + [
        Kind.STAGE_SKIPPED,
        Kind.TRACE_SEEN,
        Kind.NOTE,
        Kind.STAGE_DONE,
    ] * 9
    kinds += [Kind.POUR_ENDED, Kind.CUT, Kind.VERDICT]
    return [
        Event(
            at + timedelta(seconds=31.7 * i),
            31.7 * i,
            kind,
            POTS[i % 4],
            {"state": i % 5, "text": "invented, for measuring", "stage": f"stage {i // 4}"},
            9000.25 + 31.7 * i,
            "6d1bb8a4-0000-4000-8000-9b6b2f0c6a11",
            f"{number:06x}{i:02x}",
        )
        for i, kind in enumerate(kinds)
    ]


def history(folder: Path, log: ReadLog, facts: object) -> object:
    """About what a model keeps of a batch."""
    return [[e.t, e.kind.value, e.pot] for e in log.events if e.kind is not Kind.NOTE]


def fill(folder: Path, logs: int) -> None:
    (folder / "batches").mkdir(parents=True)
    for number in range(logs):
        head = header(number)
        text = header_text(head) + b"".join(map(event_text, events(number)))
        (folder / "batches" / log_name(head.title, head.created)).write_bytes(text)


def quantile(times: list[float], q: float) -> float:
    return sorted(times)[min(len(times) - 1, int(q * len(times)))] * 1e3


def appends(folder: Path, count: int = 1000) -> tuple[list[float], list[float]]:
    """Seconds of each raw append and fsync, and of each append to a log, taken by turns."""
    log = BatchLog.create(folder, header(0))
    fd = os.open(folder / "raw", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    raw: list[float] = []
    ours: list[float] = []
    for i in range(count):
        event = events(i)[i % 40]
        text = event_text(event)
        begun = time.perf_counter()
        os.write(fd, text)
        os.fsync(fd)
        raw.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        log.append(event)
        ours.append(time.perf_counter() - begun)
    os.close(fd)
    if log.unsaved or len(log.events) != count:
        raise SystemExit(f"not everything was written: {log.unsaved}")
    return raw, ours


OPEN = """
import sys, time
from pathlib import Path
sys.path.insert(0, {here!r})
from bench_disk import history
from bench_home import peak_mb
begun = time.perf_counter()
from soapbench.bench.folder import Bench
from soapbench.bench.summary import Derive
bench = Bench(Path({folder!r}), derive=Derive(lambda: "1", history))
listing = bench.batches()
listed = time.perf_counter() - begun
kept = bench.histories(listing)
everything = time.perf_counter() - begun
print(len(listing.rows), len(kept), listed, everything, peak_mb())
"""


def opened(folder: Path) -> list[float]:
    """Rows, histories, seconds to list, seconds with histories, peak MB, in a fresh process."""
    code = OPEN.format(here=str(Path(__file__).parent), folder=str(folder))
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return [float(word) for word in done.stdout.split()]


def main(logs: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        raw, ours = appends(place / "append")
        for label, times in (("raw append + fsync", raw), ("append to a log", ours)):
            p50, p99 = quantile(times, 0.5), quantile(times, 0.99)
            print(f"{label:28} p50 {p50:7.3f} ms  p99 {p99:7.3f} ms")
        above = quantile(ours, 0.99) - quantile(raw, 0.99)
        print(f"{'p99 above raw':28} {above:+.3f} ms (target 3)")
        for count in (logs // 10, logs):
            fill(place / str(count), count)
            for label in ("rebuilt", "warm", "warm again"):
                rows, kept, listed, everything, peak = opened(place / str(count))
                print(
                    f"{count:6} logs, {label:12} {rows:6.0f} rows {listed:7.3f} s,"
                    f" with {kept:.0f} histories {everything:7.3f} s, peak {peak:5.0f} MB"
                )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
