"""The real app, opened at once at a pour that was left: what the next start does, without keys."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from textual import events
from textual.screen import Screen

from soapbench.bench.folder import spill_folder
from soapbench.bench.learned import open_bench
from soapbench.logfile.clock import SystemClock
from soapbench.ui import app
from soapbench.ui.signals import listen
from soapbench.ui.ways import CarryOn


class Straight(app.SoapbenchApp):
    """Skips the bench screen."""

    CSS_PATH = Path(app.__file__).with_name("soapbench.tcss")

    def on_mount(self, event: events.Mount) -> None:
        event.prevent_default()  # the toolkit calls the bases' own otherwise, too
        listen(self._end, lambda: self.refresh(repaint=True, layout=True))
        self.push_screen(Screen())  # the pour takes the place of a screen
        self.call_after_refresh(lambda: self.take(CarryOn(Path(sys.argv[1]))))


def straight() -> int:
    bench = open_bench(Path(os.environ["SOAPBENCH_DIR"]), spill_folder())
    return Straight(bench, SystemClock()).run() or 0


if __name__ == "__main__":
    sys.exit(straight())
