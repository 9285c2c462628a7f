"""Until what is worked out on other threads is on screen; no clock is waited for."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Any

from textual.app import App
from textual.pilot import Pilot
from textual.worker import WorkerCancelled


async def worked_out(app: App[Any]) -> None:
    """Wait for every worker.

    One that was given up because a newer one is on its way is not waited for, and is no failure:
    how many there are of these goes by how busy the machine is.
    """
    while running := [w for w in app.workers if not w.is_finished]:
        with suppress(WorkerCancelled):
            await app.workers.wait_for_complete(running)


async def until(pilot: Pilot[Any], holds: Callable[[], bool]) -> None:
    """Wait for an answer to be on screen; one may ask the next question."""
    for _ in range(50):
        await worked_out(pilot.app)
        await pilot.pause()
        if holds():
            return
    raise AssertionError("it never came")
