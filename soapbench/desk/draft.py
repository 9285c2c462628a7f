"""A plan while it is made: its text, where it is kept, and the way back."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from soapbench.bench.planedit import from_tables
from soapbench.logfile.durable import save_text
from soapbench.logfile.tomlfile import read_text
from soapbench.plan.pourplan import as_given
from soapbench.reading.faults import FileFaults
from soapbench.words.workshop import ANOTHER_PLAN, copy_of

FIRST_PLAN = """\
# Made in the workshop. A plain start: change what you like.
title = "New plan"

[mould]
volume = "1.2 L"
fill = "92 %"

[[oils]]
name = "olive"
share = "70 %"

[[oils]]
name = "coconut"
share = "25 %"

[[oils]]
name = "castor"
share = "5 %"

[lye]
alkali = "NaOH"
purity = "98 %"
superfat = "5 %"
concentration = "31 %"

[conditions]
batter = "28 °C"
room = "20 °C"
blend = "to stable emulsion"
gel = "allow"

[[pots]]
name = "base"
share = "70 %"
look = "#e8dfc8"

[[pots]]
name = "accent"
share = "30 %"
[[pots.colourants]]
name = "mica"
dose = "1 tsp"
disperse_in = "oil"
look = "#7a5a8a"

[swirl]
steps = ["in-the-pot swirl"]
"""
LONGEST_PAST = 200
DEVICES = re.compile("con|prn|aux|nul|(com|lpt)[0-9]")
"""What no file may be called on Windows, whatever its ending."""


class ChangedOnDisk(Exception):
    """Another program has written the file since it was read."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A plan's text. ``on_disk``: what the file says as far as we know; None: not saved yet."""

    text: str
    path: Path | None = None
    on_disk: str | None = None
    past: tuple[str, ...] = ()

    @property
    def changed(self) -> bool:
        return self.text != self.on_disk

    def to(self, text: str) -> Draft:
        """With another text; the one before can be had back."""
        if text == self.text:
            return self
        return replace(self, text=text, past=(*self.past[-LONGEST_PAST:], self.text))

    def undone(self) -> Draft:
        if not self.past:
            return self
        return replace(self, text=self.past[-1], past=self.past[:-1])


def opened(path: Path) -> Draft:
    """The plan in ``path``, to be saved there again. Raises FileFaults when it is no text."""
    text = read_text(path)
    return Draft(text, path, text)


def copied(text: str, title: str) -> Draft:
    """A new plan that starts from another's text, under another title."""
    from soapbench.bench.planedit import with_value

    return Draft(with_value(text, ("title",), title))


def of_batch(tables: Mapping[str, Any], batch: str) -> Draft:
    """A new plan from the plan in a batch's log."""
    text = from_tables(as_given(tables), f"# From batch {re.sub('[^0-9A-Za-z-]', '', batch)}.\n")
    return copied(text, again(str(tables.get("title", ""))))


def again(title: str) -> str:
    """A title for another pour of it, within the length a title may have."""
    return copy_of(title[:52].strip()) if title else ANOTHER_PLAN


def file_name(title: str) -> str:
    """A name for the plan's file, of plain letters."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    words = re.sub("[^a-z0-9]+", "_", plain.lower()).strip("_")
    if DEVICES.fullmatch(words):
        words += "_plan"
    return (words or "plan")[:50]


def saved(draft: Draft, plans: Path, title: str, over: bool = False) -> Draft:
    """The draft, written: to its own file, else to a new one in ``plans``.

    A text that is on disk already is not written again. Raises ChangedOnDisk when the file is not
    as it was read (``over``: write all the same), OSError when it cannot be written.
    """
    if draft.path is not None and not draft.changed:
        return draft
    path = draft.path or _free(plans, file_name(title))
    if draft.path is not None and not over:
        try:
            now: str | None = read_text(path)
        except FileFaults:
            now = None
        if now is not None and now != draft.on_disk:
            raise ChangedOnDisk(path.name)
    save_text(path, draft.text)
    return replace(draft, path=path, on_disk=draft.text)


def _free(folder: Path, name: str) -> Path:
    """A file that is not there yet."""
    path = folder / f"{name}.toml"
    for number in range(2, 10_000):
        if not path.exists():
            break
        path = folder / f"{name}_{number}.toml"
    return path
