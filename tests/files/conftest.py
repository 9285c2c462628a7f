"""What the tests of the file side share."""

from __future__ import annotations

import threading

import pytest
from hung_kit import Named


@pytest.fixture
def named() -> Named:
    """Threads begun since the test began, by name: others in this process may have left theirs."""
    before = threading.enumerate()
    return lambda name: [
        thread for thread in threading.enumerate() if thread.name == name and thread not in before
    ]
