"""Shared by every test: a clock that only moves when told to, and a bench that knows nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fakes import FakeClock


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No setting of the person running the tests reaches them, and none of their files is used."""
    for name in ("NO_COLOR", "TEXTUAL_THEME", "COLUMNS", "LINES", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("SOAPBENCH_DIR", str(tmp_path / "bench"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture(scope="session")
def known() -> object:
    """What an empty bench knows."""
    from soapbench.advice import Known
    from soapbench.disk import tables
    from soapbench.pace import Pace
    from soapbench.thickening.fitting import no_batches

    return Known(no_batches(), Pace(), tables.swirls(), tables.oils(), tables.colourants())
