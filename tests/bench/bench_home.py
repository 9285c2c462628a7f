"""How fast the bench opens: ``python tests/bench/bench_home.py [batches]``. Prints a table.

Every batch is one real pour under a fake clock, written again under other days and fragrances.
"""

from __future__ import annotations

import asyncio
import resource
import sys
import tempfile
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from textual.widgets import Input

from soapbench.disk.batchlog import log_name, read_log
from soapbench.disk.memory import open_bench
from soapbench.disk.records import event_text, header_text
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.home import HomeScreen
from tests.bench_screen.bench_kit import poured
from tests.fakes import FakeClock


def fill(folder: Path, count: int) -> None:
    with tempfile.TemporaryDirectory() as first:
        poured(Path(first), FakeClock())
        log = read_log(next(Path(first).glob("batches/*.toml")))
    assert log.header is not None
    (folder / "batches").mkdir(parents=True)
    for i in range(count):
        off = timedelta(hours=-7 * i)
        plan = {**log.header.plan}
        plan["fragrance"] = [{**plan["fragrance"][0], "name": f"Invented scent {i % 60}"}]
        head = replace(
            log.header, id=f"b{i:08x}", title=f"Invented batch {i}", plan=plan,
            created=log.header.created + off,
        )  # fmt: skip
        events = (replace(event, at=event.at + off) for event in log.events)
        data = header_text(head) + b"".join(map(event_text, events))
        (folder / "batches" / log_name(head.title, head.created)).write_bytes(data)


async def opened(folder: Path) -> tuple[float, float, float]:
    """Seconds until the list is there, until all is known, and for a word to be found."""
    begun = time.perf_counter()
    app = SoapbenchApp(open_bench(folder), FakeClock())
    async with app.run_test(size=(120, 40)) as pilot:
        screen = app.screen
        assert isinstance(screen, HomeScreen)
        while screen.on.batches is None:
            await pilot.pause()
        listed = time.perf_counter() - begun
        await app.workers.wait_for_complete()
        await pilot.pause()
        whole = time.perf_counter() - begun
        screen.query_one("#wanted", Input).value = "scent 7"
        begun = time.perf_counter()
        screen._fill()
        return listed, whole, time.perf_counter() - begun


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder:
        bench = Path(folder) / "bench"
        fill(bench, count)
        print(f"{count:,} batches{'listed':>12}{'all known':>12}{'a word found':>14}")
        for name in ("nothing derived", "warm"):
            listed, whole, found = asyncio.run(opened(bench))
            print(f"{name:<16}{listed:>10.2f} s{whole:>10.2f} s{found * 1000:>11.1f} ms")
        print(f"memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
