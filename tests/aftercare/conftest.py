"""A bench with finished batches, made once; tests that write make their own."""

from __future__ import annotations

from pathlib import Path

import pytest
from aftercare_kit import Finished, finished_bench


@pytest.fixture(scope="session")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Finished:
    return finished_bench(tmp_path_factory.mktemp("finished"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "bench"
