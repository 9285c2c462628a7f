"""Shared by every test: a clock that only moves when told to, and a bench that knows nothing."""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

import pytest
from _pytest.pathlib import import_path
from hypothesis import HealthCheck, settings

from tests.fakes import FakeClock

settings.register_profile(
    "any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("any machine")  # speed is measured, never asserted in a test

LIMIT_S = 300
"""A test that waits for a program or a lock may fail, but not wait for ever."""


def pytest_configure(config: pytest.Config) -> None:
    """What is compiled is kept: programs that tests start need not compile everything anew."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False


def pytest_sessionstart(session: pytest.Session) -> None:
    """Of several workers each compiles its share of all tests, instead of each of them all.

    A fault in a file is told when the file is collected. Nothing collected is ever garbage.
    """
    worker = os.environ.get("PYTEST_XDIST_WORKER", "")
    if not worker or session.config.args != ["tests"]:
        return
    gc.disable()
    workers, top = int(os.environ["PYTEST_XDIST_WORKER_COUNT"]), Path(__file__).parent
    files = sorted(top.rglob("test_*.py"), key=lambda path: path.stat().st_size)
    for path in files[int(worker.removeprefix("gw")) :: workers]:
        with contextlib.suppress(Exception):
            import_path(path, root=session.config.rootpath, consider_namespace_packages=False)


def pytest_collection_finish(session: pytest.Session) -> None:
    gc.freeze()
    gc.enable()


@pytest.fixture(autouse=True)
def not_for_ever(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fails a test still at it after ``LIMIT_S``; what it began is ended by its own fixtures."""
    here = threading.current_thread() is threading.main_thread()
    if not hasattr(signal, "SIGALRM") or not here or request.node.get_closest_marker("long"):
        yield
        return

    def late(number: int, frame: FrameType | None) -> None:
        raise TimeoutError(f"still at it after {LIMIT_S} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(LIMIT_S)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No setting of the person running the tests reaches them, and none of their files is used."""
    for name in ("NO_COLOR", "TEXTUAL_THEME", "COLUMNS", "LINES", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm")  # no 256 colours: faces are drawn in signs
    monkeypatch.setenv("SOAPBENCH_DIR", str(tmp_path / "bench"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture(scope="session")
def known() -> object:
    """What an empty bench knows."""
    from soapbench.advice.known import Known
    from soapbench.bench import tables
    from soapbench.pace import Pace
    from soapbench.thickening.fitted import no_batches

    return Known(no_batches(), Pace(), tables.swirls(), tables.oils(), tables.colourants())
