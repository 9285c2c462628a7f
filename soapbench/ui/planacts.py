"""What is done with a plan from its sheet: set out, practised, edited, bettered, printed, drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soapbench.reading.safetext import clean
from soapbench.ui.basescreen import BaseScreen
from soapbench.ui.ways import ToRehearsal, ToSetOut
from soapbench.words import plansheet as words
from soapbench.words.chances import chances_words

if TYPE_CHECKING:
    from pathlib import Path

    from soapbench.advice.changes import Together
    from soapbench.sheet.plansheet import PlanSheet

SHEETS = "sheets"
"""Folder of the bench that sheets to be printed go to."""


class PlanActs(BaseScreen[None]):
    """A plan and its sheet once that is worked out; how it is shown is ``PlanScreen``'s."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path
        self.sheet: PlanSheet | None = None

    def _read_again(self) -> None:
        raise NotImplementedError

    def _ask_speed(self) -> None:
        from soapbench.desk.rehearsing import FASTEST, SLOWEST, USUAL_SPEED
        from soapbench.ui.dialogs import Words

        if self.sheet is None or self.sheet.outlook is None:
            self.say(words.NOT_PRACTISED)
            return
        asked = words.practice_speed(SLOWEST, FASTEST)
        self.app.push_screen(Words(asked, f"{USUAL_SPEED:g}"), self._rehearse)

    def _rehearse(self, typed: str | None) -> None:
        from soapbench.desk.rehearsing import Wanted, a_seed, speed_of

        if typed is None or self.sheet is None:
            return
        try:
            speed = speed_of(typed)
        except ValueError as wrong:
            self.say(words.no_practice(wrong))
        else:
            self.go(ToRehearsal(Wanted(self.sheet, speed, a_seed())))

    def _edit(self) -> None:
        from soapbench.desk.draft import opened
        from soapbench.ui.ways import ToWorkshop

        self.go(ToWorkshop(opened(self._path)))

    def _ask_change(self, number: int, sheet: PlanSheet) -> None:
        """Whether to make what would help the plan."""
        from soapbench.sheet.front import helps
        from soapbench.ui.dialogs import Ask

        changes = helps(sheet)
        if not 1 <= number <= len(changes):
            self.app.bell()
            return
        help = changes[number - 1]
        more = words.make_plan(clean(help.change, 200), chances_words(help))
        self.app.push_screen(
            Ask(words.MAKE_PLAN, more),
            lambda sure: self._change(sheet, help) if sure else None,
        )

    def _change(self, sheet: PlanSheet, help: Together) -> None:
        """Written into the plan's own file, its comments and order kept."""
        from soapbench.desk.draft import ChangedOnDisk, opened, saved
        from soapbench.desk.planchanges import as_advised

        draft = opened(self._path)
        try:
            saved(draft.to(as_advised(draft.text, sheet.plan, help.plan)), self._path.parent, "")
        except (ChangedOnDisk, OSError) as error:
            self.say(words.plan_not_saved(error))
        else:
            self.say(words.plan_changed(clean(help.change, 200)))
            self._read_again()

    def _print(self, sheet: PlanSheet) -> None:
        """The whole sheet as text beside the bench's plans, to be printed or sent."""
        from soapbench.logfile.durable import save_text
        from soapbench.sheet.text import as_text

        path = self.app.bench.folder / SHEETS / f"{self._path.stem}.txt"
        try:
            path.parent.mkdir(exist_ok=True)
            save_text(path, as_text(sheet, 80, self.app.settings))
        except OSError as error:
            self.say(words.sheet_not_saved(error.strerror or error))
        else:
            self.say(words.sheet_saved(path))

    def _set_out(self, sheet: PlanSheet, typed: str = "") -> None:
        """To the set-out. A plan with a stop asks for a typed yes first."""
        from soapbench.recipe.severity import YES
        from soapbench.ui.dialogs import Words

        if sheet.may_be_poured(typed):
            self.go(ToSetOut(sheet, typed))
        elif sheet.impossible or typed:
            self.app.bell()
        else:
            asked = words.pour_anyway(sheet.stops[0].text, YES)
            self.app.push_screen(Words(asked), lambda typed: self._set_out(sheet, typed or "no"))

    def _show_face(self, sheet: PlanSheet) -> None:
        if sheet.outlook is None:
            self.app.bell()
            return
        from soapbench.barface.words import showings
        from soapbench.ui.face import FaceScreen

        known = self.app.memory().known
        self.app.push_screen(
            FaceScreen(
                sheet.plan.title,
                lambda: showings(sheet.plan, known, sheet.amounts),
                known.sinking.words,
            )
        )
