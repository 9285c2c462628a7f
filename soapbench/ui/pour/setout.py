"""The set-out on screen: everything ticked off before lye meets oil."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Static

from soapbench.log import Kind
from soapbench.reading.safetext import clean
from soapbench.settings import USUAL, Settings
from soapbench.sheet.setout import Item, items
from soapbench.ui.basescreen import BaseScreen
from soapbench.ui.canvas import Canvas, as_text
from soapbench.ui.dialogs import Ask, Words
from soapbench.ui.keyline import KeyLine
from soapbench.ui.logwords import KeepingLine
from soapbench.ui.ways import LeaveSetOut, ToPour
from soapbench.words import getready as words
from soapbench.words.lines import Line, Piece, spread

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk


BAR = 10
"""Cells of the bar that shows how much is ticked."""
_AMOUNT = re.compile(r"([\d,]+)(\.\d+)? (\S+)  (.*)")
"""How a row of the list begins that is weighed: an amount, two spaces, what of."""


class SetOutScreen(BaseScreen[None]):
    """The checklist; every tick is in the log, with its lot number where there is one."""

    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "tick", words.KEYS["tick"], id="setout.tick"),
        Binding("a", "tick_above", words.KEYS["tick_above"], id="setout.tick_above"),
        Binding("up", "move(-1)", words.KEYS["move"], id="setout.up"),
        Binding("down", "move(1)", words.KEYS["move"], id="setout.down"),
        Binding("home", "move(-999)", show=False, id="setout.first"),
        Binding("end", "move(999)", show=False, id="setout.last"),
        Binding("l", "lot", words.KEYS["lot"], id="setout.lot"),
        Binding("u", "undo", words.KEYS["undo"], id="setout.undo"),
        Binding("enter", "pour", words.KEYS["pour"], id="setout.pour"),
        Binding("escape", "back", words.KEYS["back"], id="setout.back"),
    ]

    def __init__(self, desk: Desk, settings: Settings = USUAL) -> None:
        super().__init__()
        self._desk = desk
        self._items = items(desk.plan, desk.amounts, desk.swirls, settings)
        self._at = 0

    def compose(self) -> ComposeResult:
        yield Static(id="title")
        with VerticalScroll(id="body", can_focus=False):
            yield Canvas(id="list")
        yield Static(id="said", markup=False, classes="strong")
        yield KeepingLine(self._desk)
        yield KeyLine()

    def on_mount(self) -> None:
        self._draw()

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)  # the list's own height is known only then

    def _draw(self) -> None:
        ticked = self._desk.state.weighed
        amounts = aligned([item.words for item in self._items])
        lines: list[Line] = []
        group, at = "", 0
        for i, (item, row) in enumerate(zip(self._items, amounts, strict=True)):
            if item.group != group:
                group = item.group
                lines.append((Piece(group.upper(), "muted strong"),))
            if i == self._at:
                at = len(lines)
            lot = ticked.get(item.id) or item.expected_lot
            shown = words.with_lot(row, clean(lot)) if lot and item.lot else row
            lines.append(_row(item.id in ticked, i == self._at, shown))
        left = sum(item.id not in ticked for item in self._items)
        total = len(self._items)
        head = (Piece(words.title(clean(self._desk.plan.title)), "strong"),)
        left_line = (
            Piece(words.to_go(left) if left else words.ALL_READY, "strong" if left else "good"),
        )
        wide = self.size.width - 2
        line = spread(head, (*left_line, Piece(f"  {_bar(total - left, total)}", "muted")), wide)
        self.query_one("#title", Static).update(as_text(line, self.app.theme_variables))
        page, body = self.query_one(Canvas), self.query_one("#body", VerticalScroll)
        page.styles.height = len(lines)
        page.show(lines)
        self.query_one(KeepingLine).look()
        if body.size.height:  # none before the first layout: it would open a row too far down
            body.scroll_to(y=max(0, at - body.size.height // 2), animate=False)

    def say(self, words: str) -> None:
        self.query_one("#said", Static).update(words)

    @property
    def _item(self) -> Item:
        return self._items[self._at]

    def _on_to(self, at: int) -> None:
        """Take the row ``at`` in hand, or the nearest there is; whatever was said is over."""
        self._at = min(max(at, 0), len(self._items) - 1)
        self.say("")
        self._draw()

    # ---- keys

    def action_tick(self, lot: str = "") -> None:
        item = self._item
        self._desk.record(Kind.WEIGHED_OUT, item=item.id, lot=lot or item.expected_lot)
        self._on_to(self._at + 1)

    def action_tick_above(self) -> None:
        """Everything down to the row in hand; each is an event of its own."""
        ticked = self._desk.state.weighed
        for item in self._items[: self._at + 1]:
            if item.id not in ticked:
                self._desk.record(Kind.WEIGHED_OUT, item=item.id, lot=item.expected_lot)
        self._on_to(self._at + 1)

    def action_move(self, rows: int) -> None:
        self._on_to(self._at + rows)

    def action_lot(self) -> None:
        if not self._item.lot:
            self.say(words.NO_LOT)
            return
        question = words.lot_of(clean(self._item.words, 60))
        self.app.push_screen(Words(question), lambda lot: self.action_tick(lot) if lot else None)

    def action_undo(self) -> None:
        self._desk.undo()
        self._on_to(self._at)

    def action_pour(self) -> None:
        left = sum(item.id not in self._desk.state.weighed for item in self._items)
        if not left:
            self.go(ToPour(self._desk))
            return
        self.app.push_screen(
            Ask(words.not_ticked(left), words.NO_PAUSE),
            lambda sure: self.go(ToPour(self._desk)) if sure else None,
        )

    def action_back(self) -> None:
        self.go(LeaveSetOut(self._desk))


def _row(done: bool, here: bool, words: str) -> Line:
    box = ("[x] ", "good") if done else ("[ ] ", "")
    ink = "strong" if here else "muted" if done else ""
    return (Piece("▸ " if here else "  ", "accent strong"), Piece(*box), Piece(words, ink))


def _bar(done: int, total: int) -> str:
    full = done * BAR // max(1, total)
    return "▰" * full + "▱" * (BAR - full)


def aligned(words: Sequence[str]) -> list[str]:
    """Rows as they are shown: amounts one below the other, by their decimal points."""
    parts = [_AMOUNT.fullmatch(clean(row)) for row in words]
    whole = max((len(m[1]) for m in parts if m), default=0)
    part = max((len(m[2] or "") for m in parts if m), default=0)
    return [
        f"{m[1]:>{whole}}{m[2] or '':<{part}} {m[3]}  {m[4]}" if m else clean(row)
        for m, row in zip(parts, words, strict=True)
    ]
