"""Plan sheets as they were last shown, so that a sheet is there before the model has loaded.

Derived and deletable. A kept sheet is shown for the moment until the real one has been worked
out; it is kept under everything it was made from, so that a change of any of it shows none.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from dataclasses import asdict
from pathlib import Path

from soapbench import __version__
from soapbench.logfile.door import read_file
from soapbench.logfile.durable import save_text
from soapbench.logfile.tomlfile import LARGEST_FILE
from soapbench.settings import Settings
from soapbench.sheet.screenlines import Front, front_of

MOST_KEPT = 60
"""Sheets; the oldest go first."""


class SheetShelf:
    """The kept sheets of one bench."""

    def __init__(self, bench: Path) -> None:
        self._bench = bench
        self._folder = bench / ".derived" / "sheets"

    def key(self, plan: Path, width: int, settings: Settings) -> str | None:
        """What the sheet of ``plan``, ``width`` columns wide, is kept under; None: unreadable."""
        stamp = hashlib.blake2b(digest_size=16)
        try:
            stamp.update(read_file(plan, LARGEST_FILE))
        except OSError:
            return None
        stamp.update(f"{__version__}\0{width} {settings}\0".encode())
        tables = sorted((self._bench / "tables").glob("*.toml"))
        for file in (self._bench / "batches", self._bench / ".derived" / "fit.json", *tables):
            with contextlib.suppress(OSError):
                stat = file.stat()
                stamp.update(os.fsencode(f"{file.name}\0{stat.st_mtime_ns}\0{stat.st_size}\n"))
        return stamp.hexdigest()

    def find(self, key: str | None) -> Front | None:
        """The sheet kept under ``key``; None when there is none, or it cannot be used."""
        if key is None:
            return None
        try:
            kept = json.loads(read_file(self._folder / f"{key}.json", LARGEST_FILE))
            return front_of(kept)
        except (
            OSError,
            ValueError,
            TypeError,
            LookupError,
            RecursionError,
        ):  # gone, damaged, of another version
            return None

    def keep(self, key: str | None, sheet: Front) -> None:
        """Keep ``sheet``; a disk that will not take it only makes the next start slower."""
        if key is None or self.find(key) == sheet:
            return
        with contextlib.suppress(OSError):
            save_text(self._folder / f"{key}.json", json.dumps(asdict(sheet)))
            kept = sorted(self._folder.glob("*.json"), key=lambda file: file.stat().st_mtime_ns)
            for old in kept[:-MOST_KEPT]:
                old.unlink(missing_ok=True)
