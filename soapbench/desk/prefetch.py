"""A plan's sheet worked out by a second process while this one starts its screens.

What the helper finds is put on the shelf of kept sheets. This process takes it from there, then
works the sheet out itself, so that nothing hangs on the helper: without it the sheet comes later.
"""

from __future__ import annotations

import contextlib
import gc
import os
import sys
from pathlib import Path
from threading import Thread

from soapbench.bench.helpers import end_with_parent, start_helper

PATIENCE_S = 0.6
"""So long it is waited for: where a bench has all to learn anew, amounts must not wait with it."""
MARGIN = 3
"""Columns of the plan screen that hold no text."""


def sheet_width(columns: int) -> int:
    """How wide a sheet's text is on a screen of so many columns."""
    return max(40, columns - MARGIN)


class Ahead:
    """The helper at work on one plan."""

    def __init__(
        self, plan: Path, folder: Path, width: int, patience_s: float = PATIENCE_S
    ) -> None:
        self.width = width
        self._patience = patience_s
        self._process = start_helper(__name__, str(plan.absolute()), str(folder), str(width))
        self._answer = ""
        self._listens = Thread(target=self._listen, daemon=True)
        self._listens.start()

    def _listen(self) -> None:
        if self._process and self._process.stdout:
            with contextlib.suppress(OSError, ValueError):  # closed meanwhile
                line = self._process.stdout.readline(100)
                self._answer = line.decode("ascii", "replace").strip()

    def key(self) -> str | None:
        """What the sheet is kept under, once it is there; None: it does not come, or not soon.

        Waits, so not for the screen's own thread.
        """
        self._listens.join(self._patience)
        if self._listens.is_alive():
            self.end()
            return None
        return self._answer or None

    def end(self) -> None:
        """Let it go, whatever it is doing."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()


def look_ahead(plan: Path, folder: Path, columns: int) -> Ahead | None:
    """A helper for the sheet of ``plan``; None where it would only be in the way."""
    if (os.cpu_count() or 1) < 2:
        return None
    return Ahead(plan, folder, sheet_width(columns))


def put_on_shelf(plan: Path, folder: Path, width: int) -> str:
    """Work out the sheet of ``plan`` and keep it, unless it is kept; returns what under."""
    from soapbench.bench.keptsheets import SheetShelf
    from soapbench.bench.settingsfile import read_settings
    from soapbench.desk.keys import ACTS

    settings = read_settings(folder, [act.name for act in ACTS])[0]
    shelf = SheetShelf(folder)
    key = shelf.key(plan, width, settings)
    if key is None or shelf.find(key):
        return key or ""
    from soapbench.bench.learned import open_bench, remember
    from soapbench.bench.planfile import weigh_out
    from soapbench.sheet.front import front
    from soapbench.sheet.plansheet import foreseen_sheet

    ready = weigh_out(plan, folder / "tables")
    known = remember(open_bench(folder), settings.risk).known
    shelf.keep(key, front(foreseen_sheet(ready, known), width, settings))
    return key


if __name__ == "__main__":
    gc.disable()  # it is over before that would pay
    end_with_parent()
    print(put_on_shelf(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])), flush=True)
    os._exit(0)  # nothing is left to tidy, and somebody may be waiting for this processor
