"""After the pour: what was foreseen and what happened, stage by stage and pot by pot."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Static

from soapbench.reading.safetext import clean
from soapbench.ui.dialogs import Ask
from soapbench.ui.keyline import KeyLine
from soapbench.ui.loaf import Loaf
from soapbench.ui.logwords import KeepingLine
from soapbench.ui.pour.onward import OnwardScreen
from soapbench.ui.ways import LeaveSetOut, PourOver, ToPour
from soapbench.words import afterpour as words
from soapbench.words.afterpour import came_out
from soapbench.words.chances import clock
from soapbench.words.lines import cut, fit
from soapbench.words.pouring import saying

if TYPE_CHECKING:
    from soapbench.barface.words import Showing
    from soapbench.desk.pourdesk import Desk

LEAST_FACE, MOST_FACE = 20, 48
"""Columns of the face beside the stages."""


class SummaryScreen(OnwardScreen):
    """What this pour showed; Enter leaves for what comes next."""

    AUTO_FOCUS = "#body"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,escape", "over", words.SUMMARY_KEYS["over"], id="summary.over"),
        Binding("v", "cut_face", words.SUMMARY_KEYS["cut_face"], id="summary.cut_face"),
        Binding("u", "undo", words.SUMMARY_KEYS["undo"], id="summary.undo"),
        Binding("d", "drop", words.SUMMARY_KEYS["drop"], id="summary.drop"),
    ]

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk

    def compose(self) -> ComposeResult:
        title = words.title(clean(self._desk.plan.title))
        yield Static(title, id="title", markup=False, classes="strong")
        with Horizontal(id="both"):
            with VerticalScroll(id="body"):
                yield Static(self._text())
            yield Loaf(id="loaf")
        yield KeepingLine(self._desk)
        yield KeyLine([("up down", words.SCROLL)])

    def on_mount(self) -> None:
        self.query_one(Loaf).work_out(lambda: next(iter(self._loaves()), None))

    def on_resize(self) -> None:
        self.query_one(Loaf).styles.width = min(max(LEAST_FACE, self.size.width - 62), MOST_FACE)

    def _loaves(self) -> tuple[Showing, ...]:
        """As poured, then as foreseen."""
        from soapbench.barface.words import poured_showings

        desk = self._desk
        return poured_showings(
            desk.batch, desk.plan, desk.amounts, desk.known, desk.state, desk.foreseen.face
        )

    def _text(self) -> Text:
        state = self._desk.state
        text = Text()
        ended = words.ended(came_out(state), state.ended or 0, state.came_to_something)
        text.append(f"{clean(ended, 200)}\n\n", Style(bold=True))
        text.append(f"{words.STEP:<40}{words.USUAL:>8}{words.YOURS:>9}\n", Style(underline=True))
        for done in state.done:
            took = words.SKIPPED if done.skipped else clock(done.done - done.begun)
            # Blending ends at a state: there is no usual time of its handwork alone to tell.
            usual = clock(math.inf if done.stage.blend_to is not None else done.stage.median_s)
            act = cut(saying(done.stage).sentence, 38)
            text.append(f"{fit(act, 40)}{usual:>8}{took:>9}\n")
        text.append("\n")
        for pot in state.pots.values():
            taps = words.taps_at([(tap.state.words, tap.t) for tap in pot.taps])
            fragrance = words.fragrance_at(pot.fragrance_in, pot.second_dose)
            marks = "; ".join(part for part in (fragrance, taps) if part)
            text.append(f"{clean(pot.name):<14}", Style(bold=True))
            text.append(f"{marks or words.NO_TAPS}\n")
        if state.notes:
            text.append(f"\n{words.NOTES}\n", Style(bold=True))
        for note in state.notes:
            text.append(f"{clock(note.t):>8}  {clean(note.pot or '')}  {clean(note.text)}\n")
        return text

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Nothing is taken back of a pour that another window writes."""
        if action in ("undo", "drop"):
            return not self._desk.watching
        return super().check_action(action, parameters)

    def action_onward(self) -> None:
        self.action_over()

    def action_over(self) -> None:
        self.go(PourOver(self._desk))

    def action_cut_face(self) -> None:
        from soapbench.ui.face import FaceScreen

        title, sinking = self._desk.plan.title, self._desk.known.sinking
        self.app.push_screen(FaceScreen(title, self._loaves, sinking.words))

    def action_undo(self) -> None:
        self._desk.undo()
        self.go(ToPour(self._desk))

    def action_drop(self) -> None:
        self.app.push_screen(Ask(words.DROP, words.DROP_MORE), self._dropped)

    def _dropped(self, sure: bool | None) -> None:
        if sure:
            self._desk.drop()
            self.go(LeaveSetOut(self._desk))
