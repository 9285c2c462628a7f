"""A page of help; every page is one screen of 80 by 24, or two to scroll through."""

from __future__ import annotations

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from soapbench.ui.basescreen import Dialog
from soapbench.ui.keyline import KeyLine
from soapbench.words.dialogs import ANY_KEY


class Page(Dialog[None]):
    """One page of help; any key but the arrows closes it."""

    AUTO_FOCUS = "#page"

    def __init__(self, page: str) -> None:
        super().__init__()
        self._text = page

    def compose(self) -> ComposeResult:
        text = Text()
        for line in self._text.splitlines():
            first = line.split("  ")[0]
            heading = line[:1].isupper() and first.upper().startswith(first)
            text.append(line + "\n", Style(bold=heading))
        text.rstrip()
        with VerticalScroll(id="page"):
            yield Static(text)
        yield KeyLine([("up down", "scroll"), ("escape", ANY_KEY)])

    def other_key(self) -> None:
        self.dismiss(None)
