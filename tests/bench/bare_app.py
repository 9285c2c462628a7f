"""The least app of the toolkit: a line that a key changes, and a clock four times a second."""

from __future__ import annotations

import time

from textual import events
from textual.app import App, ComposeResult
from textual.widgets import Static


class Bare(App[None]):
    def compose(self) -> ComposeResult:
        yield Static("ready", id="line", markup=False)
        yield Static("", id="clock", markup=False)

    def on_mount(self) -> None:
        self._begun = time.monotonic()
        self.set_interval(0.25, self._tick)

    def on_key(self, event: events.Key) -> None:
        self.query_one("#line", Static).update(f"{event.key} pressed")

    def _tick(self) -> None:
        seconds = int(time.monotonic() - self._begun)
        self.query_one("#clock", Static).update(f"{seconds // 60}:{seconds % 60:02}")


if __name__ == "__main__":
    Bare().run()
