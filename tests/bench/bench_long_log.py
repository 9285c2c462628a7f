"""Keys of a pour whose log is long: the desk alone, its log on a real disk, no screen.

``python -m tests.bench.bench_long_log`` prints milliseconds by the number of events.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import cautions
from soapbench.desk.pourdesk import Desk
from soapbench.desk.starting import begin
from soapbench.log import Event, Kind
from soapbench.sheet.plansheet import plan_sheet
from tests.bench.bench_app import FIVE_POTS
from tests.fakes import FakeClock
from tests.plans import plan

SIZES = (500, 1000, 2000, 5000)


def long_pour(folder: Path, events: int) -> tuple[Desk, FakeClock]:
    """A pour of which ``events`` facts are in the log: stages, taps, looks and notes."""
    clock, bench = FakeClock(), open_bench(folder)
    known: Known = remember(bench).known
    desk = begin(bench, clock, known, plan_sheet(plan(FIVE_POTS), known, cautions(), levers=False))
    desk.lye_meets_oils()
    while desk.state.stage is not None and "drop an accent" not in desk.state.stage.id:
        clock.passes(20)
        desk.stage_done()
    desk.trace_seen("base", Trace.EMULSION)
    log = desk.log
    for i in range(events - len(log.events)):
        clock.passes(1)
        reading, kind = clock.read(), Kind.LOOK if i % 50 == 0 else Kind.NOTE
        values = {} if kind is Kind.LOOK else {"text": "invented, for measuring"}
        now = desk.now()
        log.append(Event(reading.at, now, kind, "base", values, reading.boot_s, reading.boot_id))
    desk.tend()
    desk.refold()
    return desk, clock


def ms(act: Callable[[], object], times: int) -> float:
    """Median of ``times`` runs."""
    took = []
    for _ in range(times):
        begun = time.perf_counter()
        act()
        took.append(1e3 * (time.perf_counter() - begun))
    return statistics.median(took)


def measured(events: int, times: int = 40) -> dict[str, float]:
    """Milliseconds a key, and a tick of the aftercare screen, with so many events in the log."""
    with tempfile.TemporaryDirectory() as name:
        desk, _ = long_pour(Path(name), events)
        seconds = {
            "note": ms(lambda: desk.note("base", "air bubbles"), times),
            "look": ms(lambda: desk.look("base"), times),
            "undo": ms(desk.undo, times),
        }
        desk.end(finished=True)
        seconds["aftercare tick"] = ms(lambda: desk.resting, times)
        desk.close()
    return seconds


def main() -> None:
    for events in SIZES:
        print(f"{events:>6,}", "  ".join(f"{k} {v:.2f} ms" for k, v in measured(events).items()))


if __name__ == "__main__":
    main()
