"""The real app in a real pseudo-terminal of 80x24, and a bare app of its toolkit beside it.

``python -m tests.bench`` prints what is measured here. Linux, for /proc.
"""

from __future__ import annotations

import compileall
import shutil
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

from soapbench.advice.known import Known
from soapbench.bench.folder import Bench
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import cautions
from soapbench.desk.starting import begin
from soapbench.logfile.clock import SystemClock
from soapbench.plan import Plan
from soapbench.sheet.plansheet import plan_sheet
from tests.plans import THREE_POTS, plan
from tests.stress.terminal import Terminal, soapbench

BARE = [sys.executable, str(Path(__file__).parent / "bare_app.py")]
SAMPLE = Path(__file__).parents[2] / "sample_plans" / "harbour_at_dusk.toml"
FIVE_POTS = THREE_POTS.replace('share = "60 %"', 'share = "40 %"').replace(
    "[swirl]",
    '[[pots]]\nname = "mast"\nshare = "10 %"\n[[pots]]\nname = "sail"\nshare = "10 %"\n[swirl]',
)
SETTLED_S = 3.0
"""After this long nothing is being worked out any more."""
HAND_S = 0.2
"""Nobody presses a key sooner after what it answers to has come."""
SHEET, POUR = "each dot", "what I see"
"""What a plan sheet and a pour show once they are whole."""
NOTE_KEYS = (("l", ": spilt"), ("a", ": air"))
"""Keys of the pour, and what the screen says once they are in the log."""
BARE_KEYS = (("r", "r pressed"), ("a", "a pressed"))


def poured(folder: Path, of: Plan) -> Path:
    """The log of a pour just begun and then left."""
    bench: Bench = open_bench(folder)
    known: Known = remember(bench).known
    desk = begin(bench, SystemClock(), known, plan_sheet(of, known, cautions(), levers=False))
    desk.lye_meets_oils()
    desk.close()
    bench.close()
    return next((folder / "batches").glob("*.toml"))


def start_ms(argv: list[str], bench: Path, shows: str) -> float:
    """From spawning the process to ``shows`` on the screen."""
    begun = time.perf_counter()
    terminal = Terminal(argv, bench)
    try:
        terminal.wait(shows)
        return (terminal.stamp - begun) * 1e3
    finally:
        terminal.close()


def carried_on_ms(bench: Path) -> float:
    """From spawning the process to a pour that was left, the maker's hand not counted."""
    begun = time.perf_counter()
    terminal = Terminal(soapbench(), bench)
    try:
        terminal.wait("POUR RUNNING")
        shown = terminal.stamp
        rest(terminal, HAND_S)
        pressed = time.perf_counter()
        terminal.send("\r")
        terminal.wait(POUR)
        return (shown - begun + terminal.stamp - pressed) * 1e3
    finally:
        terminal.close()


def starts(place: Path, times: int) -> dict[str, float]:
    """Median start-ups, ms, taken by turns so that a busy moment falls on all of them."""
    # As after a first start: where Python may write no bytecode, each would compile it all anew.
    compileall.compile_dir(SAMPLE.parents[1] / "soapbench", quiet=1)
    poured(place / "pour", plan())
    kept, bench = place / "kept", place / "bench"
    sheet = soapbench("pour", str(SAMPLE))
    start_ms(sheet, kept, SHEET)

    def anew(argv: list[str], shows: str) -> float:
        shutil.rmtree(place / "new", ignore_errors=True)
        return start_ms(argv, place / "new", shows)

    cases: dict[str, Callable[[], float]] = {
        "bare app": lambda: start_ms(BARE, bench, "ready"),
        "bench": lambda: start_ms(soapbench(), bench, "Your bench"),
        "plan sheet shown before": lambda: start_ms(sheet, kept, SHEET),
        "plan sheet never shown before": lambda: anew(sheet, SHEET),
        "rehearsal": lambda: anew(soapbench("rehearse", str(SAMPLE)), "PRACTICE"),
        "bench, Enter on a pour left": lambda: carried_on_ms(place / "pour"),
    }
    took: dict[str, list[float]] = {name: [] for name in cases}
    for turn in range(times + 1):
        for name, case in cases.items():
            ms = case()
            if turn:  # the first round only fills caches
                took[name].append(ms)
    return {name: statistics.median(listed) for name, listed in took.items()}


def keys(
    argv: list[str], bench: Path, ready: str, pairs: tuple[tuple[str, str], ...], times: int
) -> list[float]:
    """Milliseconds from each key to what it shows, sorted. ``pairs``: keys, and what each shows."""
    terminal = Terminal(argv, bench)
    took = []
    try:
        terminal.wait(ready)
        rest(terminal, SETTLED_S)
        for i in range(times):
            key, shows = pairs[i % len(pairs)]
            rest(terminal, 0.03 + 0.013 * (i % 7))
            begun = time.perf_counter()
            terminal.send(key)
            terminal.wait(shows)
            took.append((terminal.stamp - begun) * 1e3)
    finally:
        terminal.close()
    return sorted(took)


def rest(terminal: Terminal, seconds: float) -> None:
    """Take in all that comes for so long."""
    end = time.perf_counter() + seconds
    while (left := end - time.perf_counter()) > 0:
        terminal.pump(left)


def idle_share(argv: list[str], bench: Path, ready: str, seconds: float) -> tuple[float, float]:
    """While no key is pressed: share of one core used, its helpers counted in, and bytes a
    second sent to the terminal."""
    terminal = Terminal(argv, bench)
    try:
        terminal.wait(ready)
        rest(terminal, SETTLED_S)
        before, begun = processor_s(terminal.process.pid), time.perf_counter()
        sent = len(terminal.raw)
        rest(terminal, seconds)
        took = time.perf_counter() - begun
        used = processor_s(terminal.process.pid) - before
        return used / took, (len(terminal.raw) - sent) / took
    finally:
        terminal.close()


def processor_s(pid: int) -> float:
    """Processor seconds of every thread of a process and of its children, by /proc/[pid]/task."""
    total = 0.0
    for task in Path(f"/proc/{pid}/task").iterdir():
        total += int((task / "schedstat").read_text().split()[0]) / 1e9
        for child in (task / "children").read_text().split():
            total += processor_s(int(child))
    return total


def at(ordered: list[float], q: float) -> float:
    return ordered[min(len(ordered) - 1, int(q * len(ordered)))]
