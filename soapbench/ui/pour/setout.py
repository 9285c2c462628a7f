"""The set-out on screen: everything ticked off before lye meets oil."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from soapbench.log import Kind
from soapbench.reading.safetext import clean
from soapbench.setout import Item, items
from soapbench.settings import USUAL, Settings
from soapbench.ui.basescreen import BaseScreen
from soapbench.ui.dialogs import Ask, Words
from soapbench.ui.logwords import KeepingLine
from soapbench.ui.ways import LeaveSetOut, ToPour

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk


class SetOutScreen(BaseScreen[None]):
    """The checklist; every tick is in the log, with its lot number where there is one."""

    AUTO_FOCUS = None

    def __init__(self, desk: Desk, settings: Settings = USUAL) -> None:
        super().__init__()
        self._desk = desk
        self._items = items(desk.plan, desk.made, desk.swirls, settings)
        self._at = 0

    def compose(self) -> ComposeResult:
        yield Static(f"{clean(self._desk.plan.title)}: set out", markup=False, classes="strong")
        with VerticalScroll(id="body"):
            yield Static(id="list")
        yield KeepingLine(self._desk)
        yield Static(
            "Space tick   ↑↓ move   l lot number   u undo   Enter to the pour   Esc back",
            id="keys",
            markup=False,
            classes="quiet",
        )

    def on_mount(self) -> None:
        self._draw()

    def _draw(self) -> None:
        ticked = self._desk.state.weighed
        text = Text()
        group = ""
        row = 0
        for i, item in enumerate(self._items):
            if item.group != group:
                group = item.group
                text.append(f"{group}\n", Style(underline=True))
                row += 1
            if i == self._at:
                self._row = row
            done = item.id in ticked
            mark = "▸" if i == self._at else " "
            lot = ticked.get(item.id) or item.expected_lot
            lot_words = f"   lot {clean(lot)}" if lot and item.lot else ""
            box = "[x]" if done else "[ ]"
            style = Style(bold=i == self._at, dim=done and i != self._at)
            text.append(f"{mark} {box} {clean(item.words)}{lot_words}\n", style)
            row += 1
        left = sum(item.id not in ticked for item in self._items)
        text.append(f"\n{left} left" if left else "\nAll set out.", Style(bold=True))
        self.query_one("#list", Static).update(text)
        self.query_one(KeepingLine).look()
        body = self.query_one("#body", VerticalScroll)
        body.scroll_to(y=max(0, self._row - body.size.height // 2), animate=False)

    @property
    def _item(self) -> Item:
        return self._items[self._at]

    def _tick(self, lot: str = "") -> None:
        item = self._item
        self._desk.record(Kind.WEIGHED_OUT, item=item.id, lot=lot or item.expected_lot)
        self._at = min(self._at + 1, len(self._items) - 1)
        self._draw()

    def on_key(self, event: events.Key) -> None:
        event.stop()
        match event.key:
            case "space":
                self._tick()
            case "up" | "down":
                step = 1 if event.key == "down" else -1
                self._at = min(max(self._at + step, 0), len(self._items) - 1)
                self._draw()
            case "l" if self._item.lot:
                question = f"Lot number of {self._item.words}"
                self.app.push_screen(Words(question), lambda lot: self._tick(lot) if lot else None)
            case "u":
                self._desk.undo()
                self._draw()
            case "enter":
                self._go()
            case "escape":
                self.go(LeaveSetOut(self._desk))

    def _go(self) -> None:
        left = sum(item.id not in self._desk.state.weighed for item in self._items)
        if not left:
            self.go(ToPour(self._desk))
            return
        self.app.push_screen(
            Ask(
                f"{left} not ticked. Go to the pour?",
                "y",
                "Nothing can be paused once lye meets oils",
            ),
            lambda sure: self.go(ToPour(self._desk)) if sure else None,
        )
