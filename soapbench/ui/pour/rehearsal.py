"""A rehearsal on screen: the pour screen over a simulated batter, then how it went."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.desk.keys import shown
from soapbench.desk.voice import command_of
from soapbench.outlook.chartlines import chart_lines
from soapbench.reading.safetext import clean
from soapbench.settings import USUAL, Settings
from soapbench.ui.basescreen import failure_words, in_background
from soapbench.ui.canvas import as_text
from soapbench.ui.keyline import KeyLine
from soapbench.ui.later import let_draw
from soapbench.ui.pour.aloud import Aloud
from soapbench.ui.pour.onward import OnwardScreen
from soapbench.ui.pour.screen import PourScreen
from soapbench.ui.ways import ToBench, ToRehearsal
from soapbench.words import afterpour as after
from soapbench.words import pouring as words
from soapbench.words.lines import plain
from soapbench.words.troubles import not_worked_out

if TYPE_CHECKING:
    from soapbench.desk.pourdesk import Desk
    from soapbench.desk.rehearsing import Wanted
    from soapbench.outlook.chart import PourChart
    from soapbench.rehearsal.rehearsal import Batter


class RehearsalScreen(PourScreen):
    """The pour screen with one more line: what the batter in hand looks like, to judge trace by."""

    class Mixed(Message):
        """The batter, drawn on another thread: the screen and its keys are there before it."""

        def __init__(self, batter: Batter) -> None:
            self.batter = batter
            super().__init__()

    def __init__(self, desk: Desk, wanted: Wanted, settings: Settings = USUAL) -> None:
        super().__init__(desk, settings)
        self._batter: Batter | None = None
        self._wanted = wanted

    def on_mount(self) -> None:
        self._mix()

    @in_background("batter")
    def _mix(self) -> None:
        let_draw()
        from soapbench.desk.rehearsing import mixed

        self.post_message(self.Mixed(mixed(self.desk, self._wanted)))

    def on_rehearsal_screen_mixed(self, message: Mixed) -> None:
        self._batter = message.batter
        self._ask_model()
        self._guarded(self._render_now)

    def _ask_model(self) -> None:
        if self._batter:  # what the bench knows is loaded with it
            super()._ask_model()

    def on_unmount(self) -> None:
        super().on_unmount()
        self.desk.close()

    @property
    def asks(self) -> bool:
        return False  # the report knows

    def _leave(self) -> None:
        self.go(ToBench())

    def _head(self) -> str:
        return after.practice_head(self._wanted.speed, self._look_words())

    def _sight(self) -> str:
        running = self.desk.state.begun and self.desk.state.ended is None
        return (
            self._looks_like(self.desk.look_wanted or self._hand)
            if running and self._batter
            else ""
        )

    def _look_words(self) -> str:
        state = self.desk.state
        keys = {act.name: shown(key) for key, act in self._keys.items()}
        if not state.begun:
            offer = words.VOICE_OFFER if self._settings.sound == "bell" and command_of("") else ""
            return after.practice_start(keys["blender"], offer)
        if state.ended is not None:
            return after.OVER
        if self._batter is None:
            return after.MIXING
        return self._looks_like(self._hand)

    def _looks_like(self, pot: str) -> str:
        """What the batter of ``pot`` looks like; it must have been mixed."""
        from soapbench.rehearsal.rehearsal import looks_like

        assert self._batter
        look = looks_like(self._batter, self.desk.state, self.desk.now())[pot]
        where = {"mould": after.IN_MOULD, "base": after.IN_BASE}
        return f"{clean(pot)}{where.get(self.desk.state.pots[pot].where, '')}: {look.words}"

    def _to_summary(self) -> None:
        from soapbench.desk.rehearsing import judge_taps

        batter = self._batter
        if batter is None:
            return
        self._guarded(lambda: judge_taps(self.desk, batter, self._wanted.speed))
        report = ReportScreen(self.desk, batter, self._wanted, self._settings)
        self.app.switch_screen(report)


class ReportScreen(OnwardScreen):
    """How the rehearsal went; gone through on another thread, for that takes a moment."""

    AUTO_FOCUS = "#body"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,escape", "bench", after.REPORT_KEYS["bench"], id="report.bench"),
        Binding("a", "another", after.REPORT_KEYS["another"], id="report.another"),
        Binding("s", "same", after.REPORT_KEYS["same"], id="report.same"),
        Binding("v", "cut_face", after.REPORT_KEYS["cut_face"], id="report.cut_face"),
    ]

    class Ready(Message):
        def __init__(self, text: str, chart: PourChart) -> None:
            self.text, self.chart = text, chart
            super().__init__()

    def __init__(
        self, desk: Desk, batter: Batter, wanted: Wanted, settings: Settings = USUAL
    ) -> None:
        super().__init__()
        self._desk, self._batter, self._wanted = desk, batter, wanted
        self._aloud = Aloud(settings.sound)

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="body"):
            yield Static(after.REPLAYING, id="text", markup=False)
        yield KeyLine([("up down", after.SCROLL)])

    def on_mount(self) -> None:
        self._work_out()

    @in_background("report")
    def _work_out(self) -> None:
        from soapbench.rehearsal.report import report
        from soapbench.rehearsal.text import cost_lines, outcome_words, report_text, trace_words

        desk = self._desk
        played = report(self._batter, desk.amounts, desk.known, desk.log.events, desk.now())
        width = max(40, self.size.width - 3)
        text = report_text(played, desk.plan.title, self._wanted.seed, width)
        self._aloud.say(
            " ".join([outcome_words(played), trace_words(played), *cost_lines(played)[:1]])
        )
        self.post_message(self.Ready(text, played.chart))

    def on_report_screen_ready(self, message: Ready) -> None:
        text = Text()
        drawn = chart_lines(message.chart, max(40, self.size.width - 3))
        coloured = {plain(line): line for line in drawn}
        for i, line in enumerate(message.text.splitlines()):
            heading = line in after.HEADINGS
            if line in coloured and line.strip():
                text.append_text(as_text(coloured[line], self.app.theme_variables)).append("\n")
            else:
                text.append(f"{line}\n", Style(bold=heading or i < 3, underline=heading))
        self.query_one("#text", Static).update(text)

    def failed(self, error: BaseException) -> None:
        self.query_one("#text", Static).update(not_worked_out(failure_words(error)))

    def on_unmount(self) -> None:
        self._aloud.close()

    def action_onward(self) -> None:
        self.action_bench()

    def action_bench(self) -> None:
        self.go(ToBench())

    def action_another(self) -> None:
        self.go(ToRehearsal(self._wanted.another()))

    def action_same(self) -> None:
        self.go(ToRehearsal(self._wanted))

    def action_cut_face(self) -> None:
        from soapbench.barface.words import Showing, poured_showings
        from soapbench.ui.face import FaceScreen

        desk, draws = self._desk, self._batter.draws

        def loaves() -> tuple[Showing, ...]:
            return poured_showings(
                desk.batch, desk.plan, desk.amounts, desk.known, desk.state, draws=draws
            )

        self.app.push_screen(FaceScreen(desk.plan.title, loaves, desk.known.sinking.words))
