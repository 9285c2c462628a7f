"""How fast the bench opens: ``python tests/bench/bench_home.py [batches]``. Prints a table.

Every batch is one real pour under a fake clock, written again under other days and fragrances.
Each line is measured in a process of its own, so that its memory is its own: the logs are made in
another, and the helpers that read many logs are measured on a line of theirs.
"""

from __future__ import annotations

import asyncio
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

Seconds = dict[str, float]


def fill(folder: Path, count: int) -> Seconds:
    from soapbench.logfile.batchlog import log_name, read_log
    from soapbench.logfile.records import event_text, header_text
    from tests.bench_screen.bench_kit import poured
    from tests.fakes import FakeClock

    with tempfile.TemporaryDirectory() as first:
        poured(Path(first), FakeClock())
        log = read_log(next(Path(first).glob("batches/*.toml")))
    assert log.header is not None
    (folder / "batches").mkdir(parents=True)
    for i in range(count):
        off = timedelta(hours=-7 * i)
        plan = {**log.header.plan}
        plan["fragrance"] = [{**plan["fragrance"][0], "name": f"Invented fragrance {i % 60}"}]
        head = replace(
            log.header, id=f"b{i:08x}", title=f"Invented batch {i}", plan=plan,
            created=log.header.created + off,
        )  # fmt: skip
        events = (replace(event, at=event.at + off) for event in log.events)
        data = header_text(head) + b"".join(map(event_text, events))
        (folder / "batches" / log_name(head.title, head.created)).write_bytes(data)
    return {}


def helper(folder: Path, count: int) -> Seconds:
    """A tenth of the logs read by one process, as a helper does; nothing is kept."""
    from soapbench.bench.learned import lesson_of
    from soapbench.bench.readers import read_here
    from soapbench.bench.summary import Derive

    paths = [f"batches/{file.name}" for file in (folder / "batches").iterdir()][: count // 10]
    begun = time.perf_counter()
    for path in paths:
        assert read_here(folder, [path], Derive(str, lesson_of))
    return {"listed": time.perf_counter() - begun}


def known(folder: Path, count: int) -> Seconds:
    """From the start of Python on: the list, all that is known, and every lesson read."""
    begun = time.perf_counter()
    from soapbench.bench.learned import open_bench, remember

    bench = open_bench(folder)
    assert len(bench.batches().rows) == count
    listed = time.perf_counter()
    memory = remember(bench)
    all_known = time.perf_counter()
    assert memory.known.fit.batches == count
    seconds = {"listed": listed - begun, "all known": all_known - begun}
    return {**seconds, "memory": peak_mb()}


def lessons(folder: Path, count: int) -> Seconds:
    from soapbench.bench.learned import open_bench, remember

    memory = remember(open_bench(folder))
    begun = time.perf_counter()
    assert len(memory.lessons) == count
    return {"lessons": time.perf_counter() - begun}


def home(folder: Path, count: int) -> Seconds:
    """The screen: until the list is there, until all is known, and for a word to be found."""
    return asyncio.run(_opened(folder, count))


async def _opened(folder: Path, count: int) -> Seconds:
    begun = time.perf_counter()
    from textual.widgets import Input

    from soapbench.bench.learned import open_bench
    from soapbench.ui.app import SoapbenchApp
    from soapbench.ui.home import HomeScreen
    from tests.fakes import FakeClock

    painted: list[float] = []
    fill_list = HomeScreen._fill

    def watched(screen: HomeScreen) -> None:
        fill_list(screen)
        if screen.on.batches is not None and not painted:
            screen.call_after_refresh(lambda: painted.append(time.perf_counter()))

    HomeScreen._fill = watched  # type: ignore[method-assign]
    app = SoapbenchApp(open_bench(folder), FakeClock())
    async with app.run_test(size=(120, 40)) as pilot:
        screen = app.screen
        assert isinstance(screen, HomeScreen)
        while not painted:
            await asyncio.sleep(0.001)  # a pilot's pause would wait for the other thread as well
        listed = painted[0] - begun
        await app.workers.wait_for_complete()
        await pilot.pause()
        whole = time.perf_counter() - begun
        assert len(screen.on.batches.rows) == count
        screen.query_one("#wanted", Input).value = "fragrance 7"
        begun = time.perf_counter()
        screen._fill()
        return {"listed": listed, "all known": whole, "a word": time.perf_counter() - begun}


def peak_mb() -> float:
    """Peak memory of this process alone, MB.

    Linux's ``ru_maxrss`` also counts the process it was started by (getrusage(2), execve(2)).
    """
    try:
        status = Path("/proc/self/status").read_text()
    except OSError:
        scale = 1 << 20 if sys.platform == "darwin" else 1 << 10
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / scale
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024


TASKS: dict[str, Callable[[Path, int], Seconds]] = {
    task.__name__: task for task in (fill, helper, known, lessons, home)
}
LINES = (
    ("rebuilt", known, True),
    ("warm", known, False),
    ("every lesson", lessons, False),
    ("home, rebuilt", home, True),
    ("home, warm", home, False),
    ("a helper's tenth", helper, False),
)
COLUMNS = ("listed", "all known", "lessons", "a word", "memory")


def measured(task: Callable[[Path, int], Seconds], folder: Path, count: int) -> Seconds:
    """What ``task`` says of itself in a process of its own."""
    command = [sys.executable, __file__, task.__name__, str(folder), str(count)]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
    seconds: Seconds = json.loads(done.stdout)
    return seconds


def main(most: int) -> None:
    print(f"{'':24}" + "".join(f"{column:>12}" for column in COLUMNS))
    for count in (most // 10, most):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name) / "bench"
            measured(fill, folder, count)
            for words, task, anew in LINES:
                if anew:
                    for file in (folder / ".derived").glob("*"):
                        file.unlink()
                seconds = measured(task, folder, count)
                units = {"memory": "MB"}
                shown = (
                    f"{seconds[c]:>9.2f} {units.get(c, 's'):2}" if c in seconds else " " * 12
                    for c in COLUMNS
                )
                print(f"{count:>6,} {words:17}" + "".join(shown), flush=True)


if __name__ == "__main__":
    if len(sys.argv) == 4:
        result = TASKS[sys.argv[1]](Path(sys.argv[2]), int(sys.argv[3]))
        print(json.dumps({"memory": peak_mb(), **result}))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
