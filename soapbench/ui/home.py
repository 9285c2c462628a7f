"""The bench: plans to pour, pours to carry on, what was poured lately."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from soapbench.text import clean

if TYPE_CHECKING:
    from soapbench.ui.app import SoapbenchApp


class HomeScreen(Screen[None]):
    """The maker's bench."""

    app: SoapbenchApp
    AUTO_FOCUS = "#list"

    def compose(self) -> ComposeResult:
        yield Static("soapbench", id="title", markup=False, classes="strong")
        yield OptionList(id="list")
        yield Static(id="said", markup=False)
        yield Static("Enter open   ↑↓ choose   Ctrl+Q leave", id="keys", markup=False, classes="quiet")

    def on_mount(self) -> None:
        self._fill()

    def on_screen_resume(self) -> None:
        self._fill()

    def _fill(self) -> None:
        listed = self.query_one("#list", OptionList)
        listed.clear_options()
        self._paths: list[tuple[str, Path]] = []
        batches = self.app.bench.batches()
        for row in batches.unfinished:
            self._paths.append(("pour", self.app.bench.path(row)))
            listed.add_option(Option(Text(f"carry on   {clean(row.title)}, begun {row.started[:16]}")))
        for path in self.app.bench.plans():
            self._paths.append(("plan", path))
            listed.add_option(Option(Text(f"plan       {clean(path.stem)}")))
        for row in batches.rows[:20]:
            if row.finished:
                self._paths.append(("", self.app.bench.path(row)))
                listed.add_option(Option(Text(f"poured     {clean(row.title)}, {row.started[:10]}")))
        if not self._paths:
            self.query_one("#said", Static).update(
                f"Nothing here yet. Plans go into {self.app.bench.folder / 'plans'}"
            )

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        what, path = self._paths[event.option_index]
        if what == "plan":
            from soapbench.ui.plan import PlanScreen

            self.app.switch_screen(PlanScreen(path))
        elif what == "pour":
            self._carry_on(path)

    def _carry_on(self, path: Path) -> None:
        from soapbench.ui.start import CannotCarryOn, carry_on

        try:
            desk = carry_on(self.app.bench, self.app.clock, self.app.memory().known, path)
        except CannotCarryOn as why:
            self.query_one("#said", Static).update(f"This pour cannot be carried on. {why}")
        else:
            self.app.open_pour(desk)

    def on_key(self, event: events.Key) -> None:
        if event.key == "escape":
            event.stop()
            self.app.action_leave()
