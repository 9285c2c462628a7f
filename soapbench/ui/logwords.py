"""What the screens say about the log's keeping: not saved, watched only, held elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.widgets import Static

from soapbench.reading.safetext import clean, counted

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import App

    from soapbench.desk.pourdesk import Desk

GOES_UNSEEN = "It would go on unseen"
VIEW_ONLY = "View only – keys have no effect"


def keeping_words(desk: Desk) -> str:
    """What the maker must know about where the events are; empty while all is well."""
    if desk.watching:
        return _watching_words(desk)
    unsaved = desk.log.unsaved
    if unsaved is None:
        return ""
    count = len(unsaved.events)
    what = "the plan's page" if not count else f"last {counted(count, 'key')}"
    kept = "in the backup folder" if unsaved.spilled_to else "still in memory"
    return clean(f"NOT SAVED: {what} ({kept}): {unsaved.why}")


class KeepingLine(Static):
    """A line that is there only while something is not saved; it has that tried again, too."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(id="keeping", markup=False, classes="strong")
        self._desk = desk
        self._words = ""
        self.display = False

    def on_mount(self) -> None:
        self.look()
        self.set_interval(1.0, self.look)

    def look(self) -> None:
        """Say what holds now."""
        self._desk.tend()
        words = keeping_words(self._desk)
        if words != self._words:
            self._words = words
            self.display = bool(words)
            self.update(words)


def _watching_words(desk: Desk) -> str:
    holder = desk.holder
    if holder is None:
        return "The other window is gone. Enter: carry on here"
    if not holder.sure and not holder.host:
        return "The lock file is damaged. Enter: carry on here if nobody else pours this"
    if not holder.sure:
        return clean(f"{holder.host} had this last. Enter: carry on here if it is finished there")
    return "View only – the pour runs in another window"


def at_risk(desk: Desk) -> int:
    """Entries that are in memory only: leaving loses them."""
    unsaved = desk.log.unsaved
    return len(unsaved.events) if unsaved and not unsaved.spilled_to else 0


def take_over(
    app: App[int], desk: Desk, told: Callable[[bool], None], sure: bool | None = None
) -> None:
    """Write a watched log from here, once nobody else does, and tell whether that came about.

    Another machine's word, which may be long off, is asked about first.
    """
    holder = desk.holder
    if holder and not holder.sure and sure is None:
        from soapbench.ui.dialogs import Ask

        left = f"Is {holder.host} really finished with this batch?"
        asked = Ask(left if holder.host else "Does nobody else pour this?", GOES_UNSEEN)
        app.push_screen(asked, lambda yes: take_over(app, desk, told, bool(yes)))
    elif sure is not False:
        told(desk.take_over(override=bool(sure)))
