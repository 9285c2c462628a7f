"""What the screens say about the log's keeping: not saved, watched only, held elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.widgets import Static

from soapbench.reading.safetext import clean
from soapbench.words import troubles as words

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import App

    from soapbench.desk.pourdesk import Desk


def keeping_words(desk: Desk) -> str:
    """What the maker must know about where the events are; empty while all is well."""
    if desk.watching:
        return _watching_words(desk)
    unsaved = desk.log.unsaved
    if unsaved is None:
        return ""
    count, spilled = len(unsaved.events), unsaved.spilled_to is not None
    return clean(words.keys_not_saved(count, spilled, unsaved.why))


class KeepingLine(Static):
    """A line that is there only while something is not saved; it has that tried again, too."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(id="keeping", markup=False, classes="strong")
        self._desk = desk
        self._keeping = ""
        self.display = False

    def on_mount(self) -> None:
        self.look()
        self.set_interval(1.0, self.look)

    def look(self) -> None:
        """Say what holds now."""
        self._desk.tend()
        words = keeping_words(self._desk)
        if words != self._keeping:
            self._keeping = words
            self.display = bool(words)
            self.update(words)


def _watching_words(desk: Desk) -> str:
    holder = desk.holder
    if holder is None:
        return words.OTHER_GONE
    if not holder.sure and not holder.host:
        return words.LOCK_DAMAGED
    if not holder.sure:
        return clean(words.had_last(holder.host))
    return words.ELSEWHERE


def at_risk(desk: Desk) -> int:
    """Entries that are in memory only: leaving loses them."""
    unsaved = desk.log.unsaved
    return len(unsaved.events) if unsaved and not unsaved.spilled_to else 0


def take_over(
    app: App[int], desk: Desk, then: Callable[[bool], None], sure: bool | None = None
) -> None:
    """Write a watched log from here, once nobody else does, and tell whether that came about.

    Another machine's word, which may be long off, is asked about first.
    """
    holder = desk.holder
    if holder and not holder.sure and sure is None:
        from soapbench.ui.dialogs import Ask

        left = words.host_finished(holder.host) if holder.host else words.NOBODY_ELSE
        asked = Ask(left, words.GOES_UNSEEN)
        app.push_screen(asked, lambda yes: take_over(app, desk, then, bool(yes)))
    elif sure is not False:
        then(desk.take_over(override=bool(sure)))
