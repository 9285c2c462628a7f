"""Work on another thread that lets the screen's own thread draw first."""

from __future__ import annotations

import time
from importlib import import_module

DRAWN_S = 0.04
"""What is there is drawn within this time; loading what works out more would hold that up."""


def let_draw() -> None:
    """Stand back until the maker sees the screen and can press keys; not on the screen's thread."""
    time.sleep(DRAWN_S)


def load_pour() -> None:
    """Have at hand what carrying on a pour takes; not on the screen's thread."""
    for name in ("bench.planfile", "logfile.slowdisk", "desk.starting", "ui.pour.screen"):
        import_module(f"soapbench.{name}")
