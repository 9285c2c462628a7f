"""The app wires screens together and keeps the terminal clean; every screen owns its keys."""

from __future__ import annotations

import gc
import os
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType

from soapbench.logfile.patience import OPEN_S, NoAnswer, within
from soapbench.reading.safetext import clean
from soapbench.ui import ways
from soapbench.ui.host import Host
from soapbench.ui.signals import listen
from soapbench.words import troubles

if TYPE_CHECKING:
    from textual.driver import Driver
    from textual.screen import Screen

    from soapbench.bench.folder import Bench
    from soapbench.desk.pourdesk import Desk
    from soapbench.desk.prefetch import Ahead
    from soapbench.desk.rehearsing import Wanted
    from soapbench.logfile.clock import Clock

LOADED_S = 2.0
"""All that the first screen needs is loaded by then."""


class SoapbenchApp(Host):
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
        super().__init__(bench, clock)
        self._plan_path = plan
        self._rehearsal = rehearsal
        self._ahead = ahead
        self.desk: Desk | None = None

    # ---- the terminal

    def get_driver_class(self) -> type[Driver]:
        """Our own, which no key, no closed window and no stopped terminal ends."""
        if os.name == "nt" and not os.environ.get("TEXTUAL_DRIVER"):
            from soapbench.ui.terminal.windows import ConsoleDriver

            return ConsoleDriver
        if os.name != "posix":
            return super().get_driver_class()
        if os.environ.get("TEXTUAL_DRIVER"):
            from soapbench.ui.terminal.tabdriver import TabDriver

            return TabDriver
        from soapbench.ui.terminal.drivers import TerminalDriver

        return TerminalDriver

    def look_no_further(self) -> None:
        """End the helper that worked a plan out, if it still does."""
        if self._ahead:
            self._ahead.end()

    def terminal_gone(self) -> None:
        """Nobody can see or press anything any more: let go of the pour and end."""
        self._end()

    def _handle_exception(self, error: Exception) -> None:
        """A screen taken away while it was still being put up has nothing to tell."""
        if not self._exit:
            super()._handle_exception(error)

    def _give_back(self) -> None:
        put_back = getattr(self._driver, "put_back", None)
        if put_back is not None:
            put_back()

    def draw_anew(self) -> None:
        self.refresh(repaint=True, layout=True)

    # ---- ways between screens

    def on_mount(self) -> None:
        listen(self._end, self.draw_anew, self._give_back)
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
        try:
            if not self.answers:
                raise NoAnswer
            logs = within(OPEN_S, lambda: self.bench.bring_home(self.clock.read().boot_id))
        except NoAnswer as hangs:
            self.notice = troubles.bench_unreadable(hangs.strerror)
            return
        self.stranded = tuple(log for log in logs if log.unsaved)
        if home := len(logs) - len(self.stranded):
            self.notice = troubles.now_saved(home)
        if self.stranded:
            why = self.stranded[0].unsaved
            self.notice = troubles.still_not_saved(
                len(self.stranded), clean(why.why) if why else ""
            )

    def on_go(self, message: ways.Go) -> None:
        """Take the way a screen asked for; one that cannot be taken leaves it where it is."""
        try:
            self.take(message.way, message.asked_by.stay)
        except Exception as error:  # noqa: BLE001 - the screen it was asked on tells it
            message.asked_by.stay()
            message.asked_by.met(error)
        message.asked_by.left()

    def take(self, way: ways.Way, stay: Callable[[str], None] = lambda _why: None) -> None:
        """Take ``way``, or tell ``stay`` why not; empty: the maker has thought better of it."""
        match way:
            case ways.CarryOn(path) | ways.ToAftercare(path):
                stay(self._take_up(path, pour=isinstance(way, ways.CarryOn)))
            case ways.PourOver(desk):
                self._pour_over(desk, stay)
            case ways.LeaveAftercare(desk):
                self._unless_lost(lambda: self._over(desk), stay)
            case ways.Leave():
                self._leave(stay)
            case _:
                self.switch_screen(self._screen_of(way))

    def _screen_of(self, way: ways.Way) -> Screen[None]:
        """The screen a way leads to. Only what is wanted is loaded: starts stay light."""
        match way:
            case ways.ToPlan(path, rehearse):
                from soapbench.ui.plan import PlanScreen

                return PlanScreen(path, rehearse=rehearse)
            case ways.ToWorkshop(draft):
                from soapbench.ui.workshop.screen import WorkshopScreen

                return WorkshopScreen(draft)
            case ways.ToFragrances(name):
                from soapbench.ui.fragrancebook import FragranceBookScreen

                return FragranceBookScreen(name)
            case ways.ToMaterials():
                from soapbench.ui.materials import MaterialsScreen

                return MaterialsScreen()
            case ways.ToSettings():
                from soapbench.ui.settings import SettingsScreen

                return SettingsScreen()
            case ways.ToRehearsal(wanted):
                return self._rehearsed(wanted)
            case ways.ToSetOut(sheet, typed):
                from soapbench.desk.starting import begin
                from soapbench.ui.pour.setout import SetOutScreen

                self.desk = begin(self.bench, self.clock, self.memory().known, sheet, typed)
                return SetOutScreen(self.desk, self.settings)
            case ways.ToPour(desk):
                return self._pour(desk)
            case ways.LeaveSetOut(desk):
                desk.close()
                self.desk = None
        from soapbench.ui.home import HomeScreen

        return HomeScreen()

    def _rehearsed(self, wanted: Wanted) -> Screen[None]:
        """The app holds no desk of it: leaving a rehearsal loses nothing."""
        from soapbench.desk.rehearsing import ScaledClock, rehearsal_desk
        from soapbench.ui.pour.rehearsal import RehearsalScreen

        clock = ScaledClock(self.clock, wanted.speed)
        desk = rehearsal_desk(self.bench, clock, self.swirls_anyhow(), self.known_anyhow, wanted)
        return RehearsalScreen(desk, wanted, self.settings)

    def _pour(self, desk: Desk) -> Screen[None]:
        from soapbench.ui.pour.screen import PourScreen

        self.desk = desk
        return PourScreen(desk, self.settings)

    def _take_up(self, path: Path, pour: bool) -> str:
        """Go on with the batch in ``path``, its ``pour`` or its aftercare; why not, if so."""
        from soapbench.desk.starting import CannotCarryOn, carry_on

        try:
            desk = carry_on(self.bench, self.clock, self.known_anyhow, path)
        except CannotCarryOn as why:
            reply = troubles.not_carried_on if pour else troubles.not_opened
            return reply(clean(path.name), why)
        if pour:
            self.switch_screen(self._pour(desk))
        else:
            self._aftercare(desk)
        return ""

    def _aftercare(self, desk: Desk) -> None:
        from soapbench.ui.aftercare.screen import AftercareScreen

        self.desk = desk
        self.switch_screen(AftercareScreen(desk, self.practice()))

    def _pour_over(self, desk: Desk, stay: Callable[[str], None]) -> None:
        from soapbench.bench.folder import REHEARSALS

        path = getattr(desk.log, "path", None)
        if path is not None and path.parent.name == REHEARSALS:
            self._unless_lost(lambda: self._over(desk), stay)
        else:
            self.forget()
            self._aftercare(desk)

    def _over(self, desk: Desk) -> None:
        """Back to the bench: let go of the log, learn from it."""
        desk.close()
        self.desk = None
        self.forget()
        self.switch_screen(self._screen_of(ways.ToBench()))

    # ---- leaving

    def action_leave(self) -> None:
        """Leave; during a pour only when that is meant."""
        self._leave()

    def _leave(self, stay: Callable[[str], None] = lambda _why: None) -> None:
        from soapbench.ui.dialogs import Ask

        if isinstance(self.screen, Ask):
            return
        state = self.desk.state if self.desk and not self.desk.watching else None
        if state is None or not state.begun or state.ended is not None:
            self._unless_lost(self._end, stay)
            return
        self.push_screen(
            Ask(troubles.QUIT, troubles.QUIT_MORE),
            lambda sure: self._unless_lost(self._end, stay) if sure else stay(""),
        )

    def _unless_lost(
        self, act: Callable[[], None], stay: Callable[[str], None] = lambda _why: None
    ) -> None:
        """Do ``act``, which closes the log; ask first when entries would be lost with it."""
        from soapbench.ui.dialogs import Ask
        from soapbench.ui.logwords import at_risk, keeping_words

        if self.desk is None or not at_risk(self.desk):
            act()
            return
        self.push_screen(
            Ask(troubles.QUIT_UNSAVED, keeping_words(self.desk)),
            lambda sure: act() if sure else stay(""),
        )

    async def action_quit(self) -> None:
        self.action_leave()

    def _end(self) -> None:
        if self.desk is not None:
            self.desk.close()
        self.exit(0)


def collect_again() -> None:
    """What loading has made stays: it need not be looked through for garbage ever again."""
    gc.freeze()
    gc.enable()


def app_of(
    folder: Path,
    plan: Path | None,
    rehearsal: Wanted | None = None,
    ahead: Ahead | None = None,
) -> SoapbenchApp:
    """The app on the bench in ``folder``, its settings read; no terminal is taken yet."""
    from soapbench.bench.folder import spill_folder
    from soapbench.bench.learned import open_bench
    from soapbench.logfile.clock import SystemClock

    return SoapbenchApp(open_bench(folder, spill_folder()), SystemClock(), plan, rehearsal, ahead)


def run(app: SoapbenchApp) -> int:
    """Run it; returns the exit code."""
    code = app.run() or 0
    app.look_no_further()
    for error in app.faults.values():
        print(troubles.CRASHED, file=sys.stderr)
        traceback.print_exception(error)
    return code
