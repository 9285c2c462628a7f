"""The app as its screens know it: the bench, how the maker likes it, and faults lived through.

Screens import this, the app imports the screens; between them they ask for ways (``ways.py``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import App

from soapbench.desk.openbench import Knowing
from soapbench.logfile.patience import OPEN_S, NoAnswer, within

if TYPE_CHECKING:
    from soapbench.bench.folder import Bench
    from soapbench.logfile.batchlog import BatchLog
    from soapbench.logfile.clock import Clock
    from soapbench.reading.faults import Fault
    from soapbench.settings import Settings

MOST_FAULTS = 5
"""Enough to report; a fault in every tick must not fill the memory."""


class Host(Knowing, App[int]):
    """What any screen may read of the app it is shown by."""

    settings: Settings
    settings_faults: tuple[Fault, ...]

    def __init__(self, bench: Bench, clock: Clock) -> None:
        super().__init__()
        self.bench = bench
        self.clock = clock
        self.notice = ""
        """What the next screen with a line for it should tell."""
        self.stranded: tuple[BatchLog, ...] = ()
        """Logs that are in the spill folder, for their bench cannot be written."""
        self.faults: dict[str, BaseException] = {}
        """Faults of this program that were met and lived through, by their words."""
        self.answers = True
        """The bench's disk answered when it was asked for the settings."""
        self.heard = ""
        """The last key that was acted on; the same again on the way from a screen only bounced."""
        self.read_settings()

    def read_settings(self) -> None:
        """The bench's settings; a faulty one is left out and told, never fatal."""
        from soapbench.bench.settingsfile import read_settings
        from soapbench.desk.keys import ACTS, pour_keys
        from soapbench.reading.faults import Fault
        from soapbench.settings import Settings
        from soapbench.ui.themes import ALL

        acts = [act.name for act in ACTS]
        try:
            result = within(OPEN_S, lambda: read_settings(self.bench.folder, acts))
        except NoAnswer as hangs:
            self.answers = False
            result = Settings(), (Fault("", f"cannot be read: {hangs.strerror}", "start again"),)
        self.settings, self.settings_faults = result
        self.set_keymap(pour_keys(self.settings.keys))
        for theme in ALL:
            self.register_theme(theme)
        self.theme = self.settings.theme

    def bell(self) -> None:
        if self.settings.sound != "silent":
            super().bell()

    def met(self, error: BaseException) -> None:
        """Keep a fault nobody foresaw, to be printed once the screen is given back."""
        if len(self.faults) < MOST_FAULTS:
            self.faults.setdefault(repr(error), error)
