"""Which test runs which line, and how long it takes: measured by running the tests once.

What a fixture of a whole file or session runs counts for each test that uses it, what a test file
runs when it is imported for each of its tests; remembered results are forgotten between tests.
"""

from __future__ import annotations

import functools
import sys
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

Lines = dict[str, set[int]]
"""By path from the root."""
QUICK_S = 0.3
CALLS = 50
"""So many calls of a function are followed line by line within a test."""


@dataclass(frozen=True, slots=True)
class Touching:
    """What was measured of the tests that passed."""

    seconds: dict[str, float] = field(default_factory=dict)
    """Of processor: the machine may be busy with something else."""
    lines: dict[str, Lines] = field(default_factory=dict)
    failed: set[str] = field(default_factory=set)

    def add(self, other: Touching) -> None:
        self.seconds.update(other.seconds)
        self.lines.update(other.lines)
        self.failed.update(other.failed)

    def slow(self, test: str) -> bool:
        return self.seconds[test] > QUICK_S

    def tests(self, path: str, lines: tuple[int, int] | None) -> list[str]:
        """Those that run one of ``lines`` of ``path`` (None: any of it), in the order to run."""
        wanted = None if lines is None else set(range(lines[0], lines[1] + 1))
        paths = [
            test
            for test, ran in self.lines.items()
            if path in ran and (wanted is None or wanted & ran[path])
        ]
        of_file: defaultdict[str, float] = defaultdict(float)
        for test in paths:
            of_file[file_of(test)] += self.seconds[test]

        def order(test: str) -> tuple[bool, float, str, float]:
            """By file, lest fixtures of a file are set up again and again; slow tests last."""
            return self.slow(test), of_file[file_of(test)], file_of(test), self.seconds[test]

        return sorted(paths, key=order)


def file_of(test: str) -> str:
    return test.split("::")[0]


class Map:
    """A plugin of pytest that notes what each test runs of ``root``/soapbench."""

    def __init__(self, root: Path) -> None:
        self.root = f"{root}/"
        self.within: object = None
        self.ran: defaultdict[object, defaultdict[str, set[int]]]
        self.ran = defaultdict(lambda: defaultdict(set))
        self.calls = Counter[tuple[object, int]]()
        self.measured = Touching()

    def trace(self, frame: FrameType, event: str, arg: object) -> Any:
        code = frame.f_code
        if not code.co_filename.startswith(self.root + "soapbench/"):
            return None
        self.calls[self.within, id(code)] += 1
        if self.calls[self.within, id(code)] > CALLS:
            return None  # little new to note: at full speed
        ran = self.ran[self.within][code.co_filename.removeprefix(self.root)]

        def line(frame: FrameType, event: str, arg: object) -> Any:
            ran.add(frame.f_lineno)
            return line

        return line(frame, event, arg)

    def _noting(self, within: object) -> Iterator[None]:
        before, self.within = self.within, within
        sys.settrace(self.trace)
        threading.settrace(self.trace)
        yield
        self.within = before
        if before is None:
            sys.settrace(None)

    @pytest.hookimpl(hookwrapper=True)
    def pytest_make_collect_report(self, collector: pytest.Collector) -> Iterator[None]:
        yield from self._noting(collector.nodeid if isinstance(collector, pytest.File) else None)

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        yield from self._noting(fixturedef if fixturedef.scope != "function" else self.within)

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Function) -> Iterator[None]:
        for remembered in _caches():
            remembered.cache_clear()
        began = time.process_time()
        yield from self._noting(item.nodeid)
        self.measured.seconds[item.nodeid] = time.process_time() - began
        fixtures = [one for many in item._fixtureinfo.name2fixturedefs.values() for one in many]
        ran: Lines = {}
        for within in (item.nodeid, file_of(item.nodeid), *fixtures):
            for path, lines in self.ran[within].items():
                ran.setdefault(path, set()).update(lines)
        self.measured.lines[item.nodeid] = ran
        self.ran.pop(item.nodeid)
        self.calls.clear()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.measured.failed.add(report.nodeid)


def _caches() -> list[functools._lru_cache_wrapper[Any]]:
    modules = [module for name, module in sys.modules.items() if name.startswith("soapbench")]
    things = [thing for module in modules for thing in vars(module).values()]
    return [thing for thing in things if isinstance(thing, functools._lru_cache_wrapper)]
