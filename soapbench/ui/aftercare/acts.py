"""What each key of the aftercare does: to the log first, then to the words that say so."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType

from soapbench.aftercare import page as page
from soapbench.aftercare.due import What, early_words
from soapbench.aftercare.practice import FINISHES
from soapbench.aftercare.resting import GEL_REACHES, HEATS, Resting
from soapbench.bench.tables import packaged
from soapbench.desk.keys import TAKE_OVER
from soapbench.log import Kind, Value
from soapbench.reading.safetext import clean
from soapbench.ui.aftercare.dialogs import Choose
from soapbench.ui.aftercare.timers import heat_wait
from soapbench.ui.aftercare.undoing import undo_after
from soapbench.ui.basescreen import BaseScreen
from soapbench.ui.dialogs import Ask, Words
from soapbench.ui.help import Page
from soapbench.ui.logwords import take_over
from soapbench.ui.ways import LeaveAftercare
from soapbench.words import aftercare as words
from soapbench.words.events import FINISHED, GEL_REACHED, undone
from soapbench.words.pouring import NOTHING_TO_UNDO, STILL_THEIRS
from soapbench.words.troubles import VIEW_ONLY

if TYPE_CHECKING:
    from soapbench.aftercare.practice import Practice
    from soapbench.desk.pourdesk import Desk

BEFORE, AFTER, ALWAYS = "aftercare.before.", "aftercare.after.", "aftercare.always."
"""How the ids of keys begin. All act before and after the cut; shown are those that make sense."""
ACTS: Mapping[str, Mapping[str, str]] = {
    BEFORE: {
        "s": "spray", "f": "force_gel", "a": "gel('allow')", "p": "gel('prevent')",
        "1": "gel_seen(0)", "2": "gel_seen(1)", "3": "gel_seen(2)", "4": "gel_seen(3)",
        "c": "gel_trouble('cracking')", "h": "gel_trouble('overheating')",
        "m": "unmould", "k": "cut",
    },
    AFTER: {
        "w": "weigh(False)", "o": "weigh(True)", "v": "review", "t": "finish",
        "l": "papers(True)", "d": "close_batch",
    },
    ALWAYS: {
        "r": "papers(False)", "n": "note", "u": "undo", "i": "sources", "x": "set_aside",
        "escape": "bench",
    },
}  # fmt: skip
WHILE_WATCHING = ("papers", "sources", "bench", "take_over")
"""What can be done to a batch that another window writes."""


def _bindings() -> Iterator[Binding]:
    for when, acts in ACTS.items():
        for key, act in acts.items():
            yield Binding(key, act, words.KEYS[key], id=when + key)


class AftercareActs(BaseScreen[None]):
    """A resting batch and its keys; how it is drawn is ``AftercareScreen``'s."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *_bindings(),
        Binding(TAKE_OVER, "take_over", show=False, id="aftercare.take_over"),
    ]

    def __init__(self, desk: Desk, practice: Practice) -> None:
        super().__init__()
        self.desk = desk
        self._practice = practice
        self._said = ""
        self._rung: set[str] = set()
        """Timers that have rung."""

    def show(self) -> None:
        raise NotImplementedError

    def _write_report(self, to_sell: bool) -> object:
        raise NotImplementedError

    @property
    def rests(self) -> Resting | None:
        """The batch as its events tell it now."""
        return self.desk.resting

    @property
    def _cut_up(self) -> bool:
        return (batch := self.rests) is not None and batch.cut is not None

    def heat_wait(self) -> float:
        return heat_wait(self.desk.facts, self._practice, self.desk.clock.read())

    def _early(self, what: What) -> str:
        now = self.desk.clock.read().at.astimezone()
        return early_words(batch, what, self._practice, now) if (batch := self.rests) else ""

    def tell(self, words: str) -> None:
        """Say what came of a key, and show what it changed."""
        self._said = words
        self.show()

    # ---- keys

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "take_over":
            return self.desk.watching
        return None if self.desk.watching and action not in WHILE_WATCHING else True

    def without_effect(self) -> None:
        self.tell(VIEW_ONLY)

    def action_bench(self) -> None:
        self.go(LeaveAftercare(self.desk))

    def action_take_over(self) -> None:
        take_over(self.app, self.desk, self._taken_over)
        self.show()

    def _taken_over(self, taken: bool) -> None:
        self.tell(words.TAKEN if taken else STILL_THEIRS)
        self.refresh_bindings()

    def action_sources(self) -> None:
        self.app.push_screen(Page(page.sources_page(packaged("aftercare.toml"))))

    def action_papers(self, to_sell: bool) -> None:
        self.tell(words.WRITING)
        self._write_report(to_sell)

    def action_set_aside(self) -> None:
        self.tell(self.desk.set_aside(not self.desk.state.set_aside).words)

    def action_undo(self) -> None:
        last = undo_after(self.desk)
        self.tell(undone(last.kind) if last else NOTHING_TO_UNDO)

    def action_note(self) -> None:
        def noted(text: str | None) -> None:
            if text:
                self.desk.note(None, text)
                self.tell(words.NOTED)

        self.app.push_screen(Words(words.NOTE), noted)

    # ---- until the cut

    def action_spray(self) -> None:
        def sprayed(heater_off: bool | None) -> None:
            if heater_off:
                self.desk.record(Kind.SPRAY)
                self._rung.clear()
            self.tell(words.SPRAYED if heater_off else words.NOT_SPRAYED)

        self.app.push_screen(Ask(words.HEATER_OFF, words.FLAMMABLE), sprayed)

    def action_gel(self, gel: str) -> None:
        self.desk.record(Kind.GEL_CHOSEN, gel=gel)
        self.tell(words.gel_wanted(gel, self.heat_wait()))

    def action_force_gel(self) -> None:
        def forced(heat: int | None) -> None:
            if heat is not None:
                self.desk.record(Kind.GEL_CHOSEN, gel="force", heat=HEATS[heat])
                self.tell(words.gel_wanted("force", self.heat_wait()))

        self.app.push_screen(Choose(words.WHAT_HEATS, HEATS), forced)

    def action_gel_seen(self, number: int) -> None:
        reach = GEL_REACHES[number]
        self.desk.record(Kind.GEL_SEEN, reach=reach)
        self.tell(words.gel_noted(GEL_REACHED[reach]))

    def action_gel_trouble(self, trouble: str) -> None:
        self.desk.record(Kind.GEL_SEEN, trouble=trouble)
        self.tell(words.trouble(trouble))

    def action_unmould(self) -> None:
        early = self._early(What.UNMOULD)
        self.desk.record(Kind.UNMOULD)
        self.tell(words.unmoulded(early))

    def action_cut(self) -> None:
        def cut(written: str | None) -> None:
            if written is None:
                return
            if not (written.isascii() and written.isdigit() and 1 <= int(written) <= 200):
                self.tell(words.BARS_WRONG)
            else:
                self.desk.record(Kind.CUT, bars=int(written))
                self.tell(words.cut_into(int(written)))

        self.app.push_screen(Words(words.how_many_bars(self._early(What.CUT))), cut)

    # ---- once it is cut

    def action_weigh(self, other: bool) -> None:
        if (batch := self.rests) is None or batch.cut is None:
            self.tell(words.WEIGH_FIRST)
            return

        def weighed(written: str | None) -> None:
            if written is None:
                return
            weight, count = page.bars_weighed(written)
            g, wrong = page.grams(weight, self.desk.amounts.batter_g)
            if wrong:
                self.tell(words.not_noted(clean(wrong, 120)))
                return
            values: dict[str, Value] = {"g": g}
            values |= {"other_bars": True} if other else {}
            values |= {"count": count} if count else {}
            self.desk.record(Kind.WEIGHING, None, None, **values)
            self.tell(words.weighed(g))

        self.app.push_screen(Words(words.weigh_question(not batch.weighed, other)), weighed)

    def action_finish(self) -> None:
        """Date a finishing touch, or say that one with a date is done."""
        if (batch := self.rests) is None or batch.cut is None:
            self.tell(words.CUT_FIRST)
            return
        done = {act for act, _ in batch.finished}
        dated = {*batch.wished, *self._practice.finish_always} - done
        acts = [act for act in FINISHES if act not in done]
        asked = [FINISHED[act] if act in dated else words.date_to(act) for act in acts]

        def chosen(number: int | None) -> None:
            if number is not None:
                kind = Kind.FINISH_DONE if acts[number] in dated else Kind.FINISH_WISHED
                self.desk.record(kind, act=acts[number])
                self.tell(asked[number].capitalize())

        if acts:
            self.app.push_screen(Choose(words.FINISHING, asked), chosen)
        else:
            self.tell(words.FINISHED_ALL)

    def action_review(self) -> None:
        from soapbench.ui.aftercare.review import CutReviewScreen

        if self._cut_up:
            self.app.push_screen(CutReviewScreen(self.desk))
        else:
            self.tell(words.REVIEW_FIRST)

    def action_close_batch(self) -> None:
        def closed(sure: bool | None) -> None:
            if sure:
                self.desk.record(Kind.CURED)
                self.tell(words.CLOSED)

        self.app.push_screen(Ask(words.CLOSE, words.CLOSE_MORE), closed)
