"""The app wires screens together and keeps the terminal clean; every screen owns its keys."""

from __future__ import annotations

import gc
import os
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import Binding, BindingType

from soapbench.desk.openbench import Knowing
from soapbench.reading.safetext import clean
from soapbench.ui.signals import listen

if TYPE_CHECKING:
    from textual.driver import Driver

    from soapbench.bench.folder import Bench
    from soapbench.desk.draft import Draft
    from soapbench.desk.pourdesk import Desk
    from soapbench.desk.prefetch import Ahead
    from soapbench.desk.rehearsing import Wanted
    from soapbench.logfile.batchlog import BatchLog
    from soapbench.logfile.clock import Clock
    from soapbench.reading.faults import Fault
    from soapbench.settings import Settings
    from soapbench.sheet.plansheet import PlanSheet
    from soapbench.ui.pour.rehearsal import RehearsalScreen

LOADED_S = 2.0
"""All that the first screen needs is loaded by then."""
MOST_FAULTS = 5
"""Enough to report; a fault in every tick must not fill the memory."""


class SoapbenchApp(Knowing, App[int]):
    """One maker's bench. ``plan``, ``rehearsal``: what to open at once."""

    CSS_PATH = "soapbench.tcss"
    TITLE = "soapbench"
    # Over a pour the palette would swallow one-key notes.
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "leave", "leave", priority=True, show=False)
    ]

    def __init__(
        self,
        bench: Bench,
        clock: Clock,
        plan: Path | None = None,
        rehearsal: Wanted | None = None,
        ahead: Ahead | None = None,
    ) -> None:
        super().__init__()
        self.bench = bench
        self.clock = clock
        self._plan_path = plan
        self._rehearsal = rehearsal
        self._ahead = ahead
        self.desk: Desk | None = None
        self.said = ""
        """What the next screen with a line for it should tell."""
        self.stranded: tuple[BatchLog, ...] = ()
        """Logs that are in the spill folder, for their bench cannot be written."""
        self.faults: dict[str, BaseException] = {}
        """Faults of this program that were met and lived through, by their words."""
        self.read_settings()

    # ---- how the maker likes it

    def read_settings(self) -> None:
        """The bench's settings; a faulty one is left out and told, never fatal."""
        from soapbench.bench.settingsfile import read_settings
        from soapbench.desk.keys import ACTS
        from soapbench.ui.themes import ALL

        self.settings: Settings
        self.settings_faults: tuple[Fault, ...]
        self.settings, self.settings_faults = read_settings(
            self.bench.folder, [act.name for act in ACTS]
        )
        for theme in ALL:
            self.register_theme(theme)
        self.theme = self.settings.theme

    def bell(self) -> None:
        if self.settings.sound == "bell":
            super().bell()

    def met(self, error: BaseException) -> None:
        """Keep a fault nobody foresaw, to be printed once the screen is given back."""
        if len(self.faults) < MOST_FAULTS:
            self.faults.setdefault(repr(error), error)

    # ---- ways between screens

    def get_driver_class(self) -> type[Driver]:
        """Our own, which no key, no closed window and no stopped terminal ends."""
        if os.name != "posix":
            return super().get_driver_class()
        from soapbench.ui.terminal.drivers import TabDriver, TerminalDriver

        return TabDriver if os.environ.get("TEXTUAL_DRIVER") else TerminalDriver

    def terminal_gone(self) -> None:
        """Nobody can see or press anything any more: let go of the pour and end."""
        self._go()

    def draw_anew(self) -> None:
        self.refresh(repaint=True, layout=True)

    def on_mount(self) -> None:
        listen(self._go, self.draw_anew)
        self.set_timer(LOADED_S, collect_again)
        self._bring_home()
        if self._rehearsal:
            self.push_screen(self._rehearsed(self._rehearsal))
        elif self._plan_path:
            from soapbench.ui.plan import PlanScreen

            self.push_screen(PlanScreen(self._plan_path, ahead=self._ahead))
        else:
            from soapbench.ui.home import HomeScreen

            self.push_screen(HomeScreen())

    def _bring_home(self) -> None:
        """Entries that only reached the spill folder go into their logs now."""
        logs = self.bench.bring_home(self.clock.read().boot_id)
        self.stranded = tuple(log for log in logs if log.unsaved)
        if home := len(logs) - len(self.stranded):
            self.said = f"What could not be saved before is now in its log ({home} in all)"
        if self.stranded:
            why = self.stranded[0].unsaved
            self.said = f"Still not saved in the bench: {len(self.stranded)} log(s)"
            self.said += f": {clean(why.why)}" if why else ""

    def carry_on(self, path: Path) -> str:
        """Open the pour in ``path``; says why not when it cannot be carried on."""
        from soapbench.desk.starting import CannotCarryOn, carry_on

        try:
            desk = carry_on(self.bench, self.clock, self.known_anyhow, path)
        except CannotCarryOn as why:
            return f"{clean(path.name)} cannot be carried on. {why}"
        self.open_pour(desk)
        return ""

    def to_bench(self) -> None:
        from soapbench.ui.home import HomeScreen

        self.switch_screen(HomeScreen())

    def to_plan(self, path: Path) -> None:
        from soapbench.ui.plan import PlanScreen

        self.switch_screen(PlanScreen(path))

    def to_workshop(self, first: Draft) -> None:
        from soapbench.ui.workshop.screen import WorkshopScreen

        self.switch_screen(WorkshopScreen(first))

    def to_fragrances(self, name: str = "") -> None:
        """The scent book, open at ``name`` where that is in it."""
        from soapbench.ui.fragrancebook import FragranceBookScreen

        self.switch_screen(FragranceBookScreen(name))

    def to_rehearsal(self, path: Path) -> None:
        """The plan in ``path``; once it is worked out, how fast to rehearse it is asked."""
        from soapbench.ui.plan import PlanScreen

        self.switch_screen(PlanScreen(path, rehearse=True))

    def rehearse(self, wanted: Wanted) -> None:
        """A rehearsal from its beginning."""
        self.switch_screen(self._rehearsed(wanted))

    def _rehearsed(self, wanted: Wanted) -> RehearsalScreen:
        """The app holds no desk of it: leaving a rehearsal loses nothing."""
        from soapbench.desk.rehearsing import ScaledClock, rehearsal_desk
        from soapbench.ui.pour.rehearsal import RehearsalScreen

        clock = ScaledClock(self.clock, wanted.speed)
        desk = rehearsal_desk(self.bench, clock, self.swirls_anyhow(), self.known_anyhow, wanted)
        return RehearsalScreen(desk, wanted, self.settings.keys)

    def set_out(self, sheet: PlanSheet) -> None:
        """From the plan sheet to the set-out: here the batch's log begins."""
        from soapbench.desk.starting import begin
        from soapbench.ui.pour.setout import SetOutScreen

        self.desk = begin(self.bench, self.clock, self.memory().known, sheet)
        self.switch_screen(SetOutScreen(self.desk, self.settings))

    def leave_set_out(self, desk: Desk) -> None:
        """Back to the bench; what was ticked stays in the log of a batch never begun."""
        from soapbench.ui.home import HomeScreen

        desk.close()
        self.desk = None
        self.switch_screen(HomeScreen())

    def open_pour(self, desk: Desk) -> None:
        from soapbench.ui.pour.screen import PourScreen

        self.desk = desk
        self.switch_screen(PourScreen(desk, self.settings.keys))

    def pour_over(self, desk: Desk) -> None:
        """The pour is done with: to its aftercare; a rehearsal has none."""
        from soapbench.bench.folder import REHEARSALS

        path = getattr(desk.log, "path", None)
        if path is not None and path.parent.name == REHEARSALS:
            self._unless_lost(lambda: self._over(desk))
        else:
            self.forget()
            self.open_aftercare(desk)

    def open_aftercare(self, desk: Desk) -> None:
        from soapbench.ui.aftercare.screen import AftercareScreen

        self.desk = desk
        self.switch_screen(AftercareScreen(desk, self.practice()))

    def to_aftercare(self, path: Path) -> str:
        """Open the aftercare of the batch in ``path``; says why not when it cannot be."""
        from soapbench.desk.starting import CannotCarryOn, carry_on

        try:
            desk = carry_on(self.bench, self.clock, self.known_anyhow, path)
        except CannotCarryOn as why:
            return f"{clean(path.name)} cannot be opened. {why}"
        self.open_aftercare(desk)
        return ""

    def leave_aftercare(self, desk: Desk) -> None:
        """Back to the bench: let go of the log, learn from it."""
        self._unless_lost(lambda: self._over(desk))

    def _over(self, desk: Desk) -> None:
        from soapbench.ui.home import HomeScreen

        desk.close()
        self.desk = None
        self.forget()
        self.switch_screen(HomeScreen())

    # ---- leaving

    def action_leave(self) -> None:
        """Leave; during a pour only when that is meant."""
        from soapbench.ui.dialogs import Ask

        if isinstance(self.screen, Ask):
            return
        state = self.desk.state if self.desk and not self.desk.watching else None
        if state is None or not state.begun or state.ended is not None:
            self._unless_lost(self._go)
            return
        self.push_screen(
            Ask("Leave while pouring?", "y", "The clock runs on; the next start carries on"),
            lambda sure: self._unless_lost(self._go) if sure else None,
        )

    def _unless_lost(self, act: Callable[[], None]) -> None:
        """Do ``act``, which closes the log; ask first when entries would be lost with it."""
        from soapbench.ui.dialogs import Ask
        from soapbench.ui.logwords import at_risk, keeping_words

        if self.desk is None or not at_risk(self.desk):
            act()
            return
        self.push_screen(
            Ask("Lose what is in memory only?", "y", keeping_words(self.desk)),
            lambda sure: act() if sure else None,
        )

    async def action_quit(self) -> None:
        self.action_leave()

    def _go(self) -> None:
        if self.desk is not None:
            self.desk.close()
        self.exit(0)


def collect_again() -> None:
    """What loading has made stays: it need not be looked through for garbage ever again."""
    gc.freeze()
    gc.enable()


def run(
    folder: Path,
    plan: Path | None,
    rehearsal: Wanted | None = None,
    ahead: Ahead | None = None,
) -> int:
    """Run the app on the bench in ``folder``; returns the exit code."""
    from soapbench.bench.folder import spill_folder
    from soapbench.bench.learned import open_bench
    from soapbench.logfile.clock import SystemClock

    app = SoapbenchApp(open_bench(folder, spill_folder()), SystemClock(), plan, rehearsal, ahead)
    code = app.run() or 0
    if ahead:
        ahead.end()
    for error in app.faults.values():
        print("soapbench met a fault of its own; please report it:", file=sys.stderr)
        traceback.print_exception(error)
    return code
