"""Invented headers and events for the tests of the file side."""

from __future__ import annotations

import errno
import os
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench.figures import Figures
from soapbench.log import Event, Kind, Value
from soapbench.logfile.batchlog import BatchLog
from soapbench.logfile.records import Header, event_text, header_text

if TYPE_CHECKING:  # writers that are killed need not load it
    import pytest

CREATED = datetime(2024, 5, 1, 18, 55, tzinfo=UTC)
EVENING = datetime(2024, 5, 1, 19, 2, 3, 123456, tzinfo=timezone(timedelta(hours=2)))
PLAN = {
    "title": "Harbour at Dusk (invented)",
    "fragrance": {"name": "Kelp & Fig", "load": 0.04},
    "oils": [{"name": "olive", "share": 0.45}, {"name": "coconut", "share": 0.55}],
    "swirl": {"steps": ["drop swirl", "textured top"]},
}


def header(title: str = "Harbour at Dusk (invented)", id: str = "b1") -> Header:
    return Header(id, title, CREATED, "0.1.0", PLAN, Figures(chance=0.83))


def event(n: int, kind: Kind = Kind.NOTE, **values: Value) -> Event:
    at = EVENING + timedelta(seconds=n)
    return Event(at, 1234.567 + n, kind, "base", values, 5000.25 + n, "boot-a", f"{n:08x}")


def text_of(*events: Event, head: Header | None = None) -> bytes:
    return header_text(head or header()) + b"".join(map(event_text, events))


def pour(log: BatchLog, *, ended: bool = True) -> None:
    log.append(event(0, Kind.LYE_MEETS_OILS))
    log.append(event(1, text="thickens fast"))
    if ended:
        log.append(event(2, Kind.POUR_ENDED))


def files(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*")) if folder.exists() else []


class Disk:
    """A disk whose syncing can be made to fail, of the log, of what is spilled, or of both."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.fails: tuple[str, ...] = ()
        self.syncs = 0
        self.error = OSError(errno.EIO, "Input/output error")
        real = os.fsync

        def fsync(fd: int) -> None:
            self.syncs += 1
            name = os.readlink(f"/proc/self/fd/{fd}")
            if any(f"/{part}" in name for part in self.fails):
                raise self.error
            real(fd)

        patch.setattr(os, "fsync", fsync)
