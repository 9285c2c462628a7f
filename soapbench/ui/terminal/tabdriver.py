"""The toolkit's driver of a tab in a browser with our own keyboard and output."""

from __future__ import annotations

import contextlib
import os
import select
import sys
from typing import Any

from textual.drivers._byte_stream import ByteStream
from textual.drivers.web_driver import WebDriver
from textual.geometry import Size

from soapbench.ui.signals import end_anyhow
from soapbench.ui.terminal.drivers import PATIENCE_S, Steady
from soapbench.ui.terminal.keyboard import Keyboard, fits
from soapbench.ui.terminal.output import Output


class TabDriver(Steady, WebDriver):
    """A tab of a browser, behind the server that started this program; it ends with that one."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self._output = Output(self.fileno, self._lost, self._anew)
        self._write = self._output.write  # type: ignore[assignment]

    def close(self) -> None:
        end_anyhow()
        self._output.close(PATIENCE_S)

    def run_input_thread(self) -> None:
        keyboard, packets = Keyboard(), ByteStream()
        source = sys.__stdin__.fileno() if sys.__stdin__ else 0
        while not self.exit_event.is_set():
            try:
                if select.select([source], [], [], 0.1)[0]:
                    data = os.read(source, 4096)
                    if not data:
                        raise EOFError
                    for kind, payload in packets.feed(data):
                        if kind == "D":
                            for message in keyboard.feed(payload):
                                self.process_message(message)
                        else:
                            self._take_meta(kind, payload)
            except (OSError, ValueError, EOFError):
                self._lost()
                return
            for message in keyboard.tick():
                self.process_message(message)

    def _take_meta(self, kind: str, payload: bytes) -> None:
        # Whatever the toolkit makes of a packet that is none of its own: it is left out.
        with contextlib.suppress(Exception):
            self._on_meta(kind, payload)

    def on_meta(self, packet_type: str, payload: dict[str, object]) -> None:
        if packet_type in ("quit", "exit"):  # the page is gone: let go of the pour first
            self._lost()
            return
        if packet_type == "resize":
            size = Size(int(str(payload["width"])), int(str(payload["height"])))
            if not fits(size):
                return
        super().on_meta(packet_type, payload)
