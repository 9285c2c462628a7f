"""What is done with a draft by keys: values asked for, its text changed, saved, left."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Static

from soapbench.desk import draft, planchanges
from soapbench.desk.draft import ChangedOnDisk, Draft
from soapbench.desk.draftanswer import Answer, trial_words, work_out
from soapbench.desk.plankeys import ADD, MORE, SIZE, Keys, value_at
from soapbench.logfile.tomlfile import parse_text
from soapbench.plan.fields import table_at
from soapbench.plan.values import kinds_of
from soapbench.reading.faults import FileFaults
from soapbench.reading.units import QuantityError
from soapbench.ui.basescreen import BaseScreen, Dialog, failure_words
from soapbench.ui.dialogs import Ask, Words
from soapbench.ui.editor import Editor
from soapbench.ui.grid import Grid
from soapbench.ui.keyline import KeyLine
from soapbench.ui.ways import ToBench, ToPlan
from soapbench.ui.workshop.questions import more_question, question
from soapbench.words import workshop as words
from soapbench.words.colours import NAMES
from soapbench.words.troubles import not_saved

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from soapbench.bench.learned import Memory
    from soapbench.fragrances.shelf import ShelfFragrance

LISTS = ("additives", "embeds")
"""What a plan has several of, each with a table of its own."""


class WorkshopActs(BaseScreen[None]):
    """One plan being made. Its text is the only truth; every key gives a new text. How it is shown
    is ``WorkshopScreen``'s."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "edit", "edit", id="workshop.edit"),
        Binding("delete,backspace", "remove", "remove", id="workshop.remove"),
        Binding("equals_sign", "fill_up", "fill to 100 %", id="workshop.fill_up"),
        Binding("w", "weights", "weights/shares", id="workshop.weights"),
        Binding("m", "mould", "resize", id="workshop.mould"),
        Binding("f", "swap", "swap fragrance", id="workshop.swap"),
        Binding("v", "cut_face", "cut face", id="workshop.cut_face"),
        Binding("u", "undo", "undo", id="workshop.undo"),
        Binding("s", "save", "save", id="workshop.save"),
        Binding("p", "to_sheet", "save, plan sheet", id="workshop.to_sheet"),
        Binding("escape", "close", "close", id="workshop.close"),
    ]

    def __init__(self, first: Draft) -> None:
        super().__init__()
        self.draft = first
        self.answer: Answer | None = None
        self._memory: Memory | None = None
        self._shelf: Mapping[str, ShelfFragrance] = {}

    @property
    def tables(self) -> dict[str, Any]:
        """The draft's tables; empty while its text is no TOML."""
        try:
            return parse_text(self.draft.text, "the draft")
        except FileFaults:
            return {}

    def take(self, text: str) -> None:
        raise NotImplementedError

    def _changed(self) -> None:
        raise NotImplementedError

    def _show(self) -> None:
        raise NotImplementedError

    # ---- keys

    @property
    def _keys(self) -> Keys:
        """Where the cell in hand is kept."""
        cell = self.query_one("#page", Grid).cell
        return cell.keys if cell else ()

    def action_edit(self) -> None:
        self._ask(self._keys)

    def action_remove(self) -> None:
        self.take(planchanges.removed(self.draft.text, self._keys))

    def action_fill_up(self) -> None:
        self.take(planchanges.made_whole(self.draft.text, self._keys))

    def action_undo(self) -> None:
        if not self.draft.past:
            self.say(words.UNDONE_ALL)
            return
        self.draft = self.draft.undone()
        self._changed()

    def action_weights(self) -> None:
        """The recipe by weight, which stands, or by share, sized to the mould."""
        sheet = self.answer.sheet if self.answer else None
        if sheet is None:
            self.say(words.NOT_YET)
            return
        oils_g = [oil.g for oil in sheet.amounts.oils]
        if planchanges.is_by_weight(self.tables):
            self.take(planchanges.by_share(self.draft.text, oils_g))
            self.say(words.SHARES_NOW)
        else:
            self.take(planchanges.by_weight(self.draft.text, oils_g))
            self.say(words.WEIGHTS_NOW)

    def _remembered(self) -> Memory | None:
        """What the bench knows; waited for, so that the keys that follow find their question."""
        if self._memory is None:
            try:
                self._memory, self._shelf = self.app.memory(), self.app.shelf()
            except FileFaults as refused:
                self.say(failure_words(refused))
        return self._memory

    def action_swap(self) -> None:
        """To the fragrance's name, asked at once."""
        grid = self.query_one("#page", Grid)
        for keys in (("fragrance", "name"), ("fragrance", 0, "name"), ("fragrance", ADD)):
            if grid.go_to(keys):
                self._ask(keys)
                return

    def _ask(self, keys: Keys) -> None:
        """Ask for the value at ``keys`` and put what is given into the plan."""
        memory = self._remembered()
        if memory is None or not keys:
            return
        if keys[-1] == MORE:
            asked = more_question(keys[:-1], self.tables)
            self.app.push_screen(Editor(asked, ""), lambda key: self._ask_more(keys[:-1], key))
            return
        known, settings, text, shelf = memory.known, self.app.settings, self.draft.text, self._shelf
        asked = question(keys, self.tables, known, shelf, settings)
        start = self._start(keys)
        before = self.answer.chance if self.answer else None

        def put(typed: str) -> str:
            changed = planchanges.put(text, keys, typed, shelf, settings)
            return planchanges.with_usual(changed, keys, known)

        def trial(typed: str) -> str:
            return trial_words(work_out(put(typed), known, whole=False), before)

        def given(typed: str | None) -> None:
            if typed is not None and (typed != start or not typed) and self.draft.text == text:
                self.take(put(typed))
                if keys[-1] == ADD and keys[0] != "swirl":
                    row = planchanges.newest(self.draft.text, keys[:-1])
                    grid = self.query_one("#page", Grid)
                    any(grid.go_to((*row, key)) for key in ("share", "mass", "load", "dose"))

        self.app.push_screen(Editor(asked, start, trial), given)

    def _ask_more(self, table: Keys, key: str | None) -> None:
        """A value that was not given so far; a list of tables begins with its first."""
        if not key:
            return
        inner = table_at((*table, key))
        if inner is table_at(table):
            self._ask((*table, key))
        elif key in LISTS:
            self._ask((*table, key, ADD))
        else:
            self._ask((*table, key, next(iter(kinds_of(inner)))))

    def _start(self, keys: Keys) -> str:
        """What an editor starts from."""
        value = None if keys[-1] in (ADD, MORE) else value_at(self.tables, keys)
        if keys[-1] == SIZE:
            cell = self.query_one("#page", Grid).cell
            return cell.shown if cell and not cell.quiet else ""
        if keys[-1] == "look" and isinstance(value, str):
            return next((name for name, look in NAMES.items() if look == value), value)
        return ", ".join(map(str, value)) if isinstance(value, list) else str(value or "")

    def action_cut_face(self) -> None:
        """The cut face, full screen."""
        from soapbench.barface.words import showings
        from soapbench.ui.face import FaceScreen

        sheet, memory = self.answer.sheet if self.answer else None, self._memory
        if sheet is None or sheet.outlook is None or memory is None:
            self.say(words.NOT_YET)
            return
        plan, amounts, known = sheet.plan, sheet.amounts, memory.known
        self.app.push_screen(
            FaceScreen(plan.title, lambda: showings(plan, known, amounts), known.sinking.words)
        )

    def action_mould(self) -> None:
        sheet = self.answer.sheet if self.answer else None
        if sheet is None:
            self.say(words.NOT_YET)
            return
        ml = sheet.amounts.mould_ml

        def given(typed: str | None) -> None:
            if typed:
                try:
                    self.take(
                        planchanges.other_mould(self.draft.text, typed, ml, self.app.settings)
                    )
                except QuantityError as fault:
                    self.say(f"! {fault}")

        self.app.push_screen(Words(words.new_mould(ml)), given)

    # ---- keeping it

    def _save(self, to_sheet: bool = False, over: bool = False) -> None:
        plans = self.app.bench.folder / "plans"
        try:
            self.draft = draft.saved(self.draft, plans, str(self.tables.get("title", "")), over)
        except ChangedOnDisk:
            self.app.push_screen(
                Ask(words.OVERWRITE),
                lambda sure: self._save(to_sheet, over=True) if sure else None,
            )
            return
        except OSError as error:
            self.say(not_saved(error.strerror))
            return
        self._show()
        self.say(words.saved_as(self.draft.path))
        if to_sheet and self.draft.path is not None:
            self.go(ToPlan(self.draft.path))

    def action_save(self) -> None:
        self._save()

    def action_to_sheet(self) -> None:
        self._save(to_sheet=True)

    def action_close(self) -> None:
        if not self.draft.changed or (self.draft.path is None and not self.draft.past):
            self.go(ToBench())
        else:
            self.app.push_screen(CloseUnsaved(), self._close_or_stay)

    def _close_or_stay(self, answer: str | None) -> None:
        if answer == "s":
            self._save()
        if answer == "y" or (answer == "s" and not self.draft.changed):
            self.go(ToBench())


class CloseUnsaved(Dialog[str | None]):
    """Closing with changes: y, s to save first; any other key goes on."""

    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer('y')", "close", id="unsaved.close"),
        Binding("s", "answer('s')", "save and close", id="unsaved.save"),
    ]

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(words.CLOSE, markup=False, classes="strong")
            yield KeyLine([("escape", words.KEEP_EDITING)])

    def action_answer(self, key: str) -> None:
        self.dismiss(key)

    def other_key(self) -> None:
        self.dismiss(None)
