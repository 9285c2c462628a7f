"""The toolkit's driver of a Windows console, so that no key makes it deaf.

Never tried on Windows: driven by tests with a console that is made up. The toolkit's own input
thread (Textual 8.2) ends in silence at half a character, or at a key code no character has.
"""

from __future__ import annotations

from textual.drivers import win32
from textual.drivers.windows_driver import WindowsDriver
from textual.message import Message

from soapbench.ui.terminal.keyboard import fit

AGAIN_S = 0.05
"""A console that is gone must not be asked without end."""


class Monitor(win32.EventMonitor):
    """Goes on after what cannot be read; the next key is heard."""

    def run(self) -> None:
        while not self.exit_event.is_set():
            super().run()
            self.exit_event.wait(AGAIN_S)


class ConsoleDriver(WindowsDriver):
    """A console whose keys are fit to be shown."""

    def start_application_mode(self) -> None:
        plain, win32.EventMonitor = win32.EventMonitor, Monitor  # type: ignore[misc]
        try:
            super().start_application_mode()
        finally:
            win32.EventMonitor = plain  # type: ignore[misc]

    def process_message(self, message: Message) -> None:
        for fitting in fit([message]):
            super().process_message(fitting)
