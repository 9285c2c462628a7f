"""The app wires screens together and keeps the terminal clean; every screen owns its keys."""

from __future__ import annotations

import asyncio
import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import Binding, BindingType

if TYPE_CHECKING:
    from soapbench.disk.bench import Bench
    from soapbench.disk.clock import Clock
    from soapbench.disk.memory import Memory
    from soapbench.plansheet import PlanSheet
    from soapbench.ui.desk import Desk


class SoapbenchApp(App[int]):
    """One maker's bench. ``plan``: open this plan at once."""

    CSS_PATH = "soapbench.tcss"
    TITLE = "soapbench"
    # Over a pour the palette would swallow one-key notes.
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "leave", "leave", priority=True, show=False)
    ]

    def __init__(self, bench: Bench, clock: Clock, plan: Path | None = None) -> None:
        super().__init__()
        self.bench = bench
        self.clock = clock
        self._plan_path = plan
        self._memory: Memory | None = None
        self.desk: Desk | None = None

    # ---- what the bench knows

    def memory(self) -> Memory:
        """Fit, pace and tables; worked out when first asked for, and again after a pour."""
        if self._memory is None:
            from soapbench.disk.memory import remember

            self._memory = remember(self.bench)
        return self._memory

    def forget(self) -> None:
        """The logs have changed: what they taught is worked out again when next asked for."""
        self._memory = None

    # ---- ways between screens

    def on_mount(self) -> None:
        self._listen_for_hangup()
        if self._plan_path:
            from soapbench.ui.plan import PlanScreen

            self.push_screen(PlanScreen(self._plan_path))
        else:
            from soapbench.ui.home import HomeScreen

            self.push_screen(HomeScreen())

    def set_out(self, sheet: PlanSheet) -> None:
        """From the plan sheet to the set-out: here the batch's log begins."""
        from soapbench.ui.pour.setout import SetOutScreen
        from soapbench.ui.start import begin

        self.desk = begin(self.bench, self.clock, self.memory().known, sheet)
        self.switch_screen(SetOutScreen(self.desk))

    def leave_set_out(self, desk: Desk) -> None:
        """Back to the bench; what was ticked stays in the log of a batch never begun."""
        from soapbench.ui.home import HomeScreen

        desk.close()
        self.desk = None
        self.switch_screen(HomeScreen())

    def open_pour(self, desk: Desk) -> None:
        from soapbench.ui.pour.screen import PourScreen

        self.desk = desk
        self.switch_screen(PourScreen(desk))

    def pour_over(self, desk: Desk) -> None:
        """The pour is done with: let go of its log, learn from it, back to the bench."""
        from soapbench.ui.home import HomeScreen

        desk.close()
        self.desk = None
        self.forget()
        self.switch_screen(HomeScreen())

    # ---- leaving

    def action_leave(self) -> None:
        """Leave; during a pour only when that is meant."""
        if self.desk is None or not self.desk.state.begun or self.desk.state.ended is not None:
            self._go()
            return
        from soapbench.ui.dialogs import Ask

        if isinstance(self.screen, Ask):
            return
        self.push_screen(
            Ask("Leave while pouring?", "y", "The clock runs on; the next start carries on"),
            lambda sure: self._go() if sure else None,
        )

    async def action_quit(self) -> None:
        self.action_leave()

    def _go(self) -> None:
        if self.desk is not None:
            self.desk.close()
        self.exit(0)

    def _listen_for_hangup(self) -> None:
        """A closed window or a kill leaves the terminal as it was; the log is safe already."""
        loop = asyncio.get_running_loop()
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None and os.name == "posix":
                loop.add_signal_handler(number, self._go)


def run(folder: Path, plan: Path | None) -> int:
    """Run the app on the bench in ``folder``; returns the exit code."""
    from soapbench.disk.bench import spill_folder
    from soapbench.disk.clock import SystemClock
    from soapbench.disk.memory import open_bench

    app = SoapbenchApp(open_bench(folder, spill_folder()), SystemClock(), plan)
    return app.run() or 0
