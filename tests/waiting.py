"""Until what is worked out on other threads is on screen; no clock is waited for."""

from __future__ import annotations

from collections.abc import Collection
from contextlib import suppress
from typing import Any

from textual.app import App
from textual.worker import WorkerCancelled


async def worked_out(app: App[Any], but: Collection[str] = ()) -> None:
    """Wait for every worker except those of the groups ``but``.

    One that was given up because a newer one is on its way is not waited for, and is no failure:
    how many there are of these goes by how busy the machine is.
    """
    while running := [w for w in app.workers if not w.is_finished and w.group not in but]:
        with suppress(WorkerCancelled):
            await app.workers.wait_for_complete(running)
