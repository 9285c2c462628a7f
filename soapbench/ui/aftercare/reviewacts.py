"""What each key of the cut review does: an answer, a photograph, the outcome, the verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.message import Message

from soapbench.aftercare.cutreview import (
    PARTS,
    VERDICTS,
    Verdict,
    answer_values,
    is_part,
    questions,
    review,
    verdict_values,
)
from soapbench.log import Kind, Outcome
from soapbench.reading.safetext import clean
from soapbench.ui.aftercare.dialogs import Choose, LongWords
from soapbench.ui.aftercare.undoing import undo_after
from soapbench.ui.basescreen import BaseScreen, in_background
from soapbench.ui.dialogs import Words
from soapbench.words import review as words
from soapbench.words.events import undone
from soapbench.words.pouring import NOTHING_TO_UNDO
from soapbench.words.troubles import VIEW_ONLY

if TYPE_CHECKING:
    from pathlib import Path

    from soapbench.desk.photographs import Taken
    from soapbench.desk.pourdesk import Desk

MOST_ANSWERS = 4
"""What a question of the review has."""
WHILE_WATCHING = ("back", "question", "part", "photo_and_face")
"""What can be done to a batch that another window writes."""


class CutReviewActs(BaseScreen[None]):
    """A review and its keys; how it is drawn is ``CutReviewScreen``'s."""

    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        *(
            Binding(str(n), f"answer({n})", "answer", show=n <= MOST_ANSWERS, id=f"review.{n}")
            for n in range(1, 10)
        ),
        Binding("up", "question(-1)", "question", id="review.up"),
        Binding("down", "question(1)", "question", id="review.down"),
        Binding("left", "part(-1)", "part of the loaf", id="review.left"),
        Binding("right", "part(1)", "part of the loaf", id="review.right"),
        Binding("shift+tab", "part(-1)", show=False, id="review.back_tab"),
        Binding("tab", "part(1)", show=False, id="review.tab"),
        Binding("b", "bar", "one bar", id="review.bar"),
        Binding("p", "photo", "photo", id="review.photo"),
        Binding("f", "photo_and_face", "photo and face", id="review.photo_and_face"),
        Binding("o", "outcome", "outcome", id="review.outcome"),
        Binding("v", "verdict", "verdict", id="review.verdict"),
        Binding("u", "undo", "undo", id="review.undo"),
        Binding("escape", "back", "back", id="review.back"),
    ]

    class Photographed(Message):
        """A photograph is kept and measured, or why not."""

        def __init__(self, taken: Taken | None, why: str = "") -> None:
            self.taken, self.why = taken, why
            super().__init__()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._questions = questions([pot.name for pot in desk.plan.sunk])
        self._bars: list[str] = [p for p in review(desk.facts).parts if p not in PARTS]
        self._part = PARTS[1]
        self._at = 0
        self._said = ""

    def _draw(self) -> None:
        raise NotImplementedError

    @property
    def _parts(self) -> list[str]:
        return [*PARTS, *self._bars]

    # ---- keys

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return None if self.desk.watching and action not in WHILE_WATCHING else True

    def without_effect(self) -> None:
        self.tell(VIEW_ONLY)

    def tell(self, words: str) -> None:
        """Say what came of a key, and show what it changed."""
        self._said = words
        self._draw()

    def action_back(self) -> None:
        self.dismiss(None)

    def action_question(self, step: int) -> None:
        self._at = min(max(self._at + step, 0), len(self._questions) - 1)
        self._draw()

    def action_part(self, step: int) -> None:
        parts = self._parts
        self._part = parts[(parts.index(self._part) + step) % len(parts)]
        self._at = 0
        self._draw()

    def action_answer(self, number: int) -> None:
        question = self._questions[self._at]
        if number > len(question.answers):
            self.tell(words.answers_are(len(question.answers)))
            return
        values = answer_values(self._part, question, number - 1)
        self.desk.record(Kind.CUT_SEEN, question.pot, **values)
        self._at = min(self._at + 1, len(self._questions) - 1)
        self.tell(
            words.answered(self._part, question.words, question.answers[number - 1], question.pot)
        )

    def action_undo(self) -> None:
        last = undo_after(self.desk, Kind.CUT_SEEN, Kind.VERDICT, Kind.OUTCOME)
        self.tell(undone(last.kind) if last else NOTHING_TO_UNDO)

    def action_bar(self) -> None:
        self.app.push_screen(Words(words.WHICH_BAR), self._bar)

    def _bar(self, written: str | None) -> None:
        if written is None:
            return
        number = written.strip()
        part = f"bar {int(number)}" if number.isascii() and number.isdigit() else ""
        if not is_part(part):
            self._said = words.BAR_RANGE
        else:
            if part not in self._bars:
                self._bars.append(part)
            self._part, self._at = part, 0
        self._draw()

    # ---- photographs

    def action_photo(self) -> None:
        self.app.push_screen(Words(words.photo_of(self._part)), self._photo)

    def _photo(self, written: str | None) -> None:
        if not written:
            return
        from soapbench.bench.photofile import pictures_in, typed_path

        try:
            path = typed_path(written)
            files = pictures_in(path) if path.is_dir() else (path,)
        except (OSError, ValueError) as error:
            self._said = words.not_a_photo(getattr(error, "strerror", None) or error)
        else:
            if len(files) > 1:
                names = [file.name for file in files]
                self.app.push_screen(
                    Choose(words.which_photo(self._part), names),
                    lambda chosen: self._take(None if chosen is None else files[chosen]),
                )
                return
            self._said = "" if files else words.NO_PICTURES
            self._take(files[0] if files else None)
        self._draw()

    def _take(self, file: Path | None) -> None:
        log = getattr(self.desk.log, "path", None)
        if file is None or log is None:
            return
        self.tell(words.READING_PHOTO)
        self._measure(file, log, self._part)

    @in_background("photo")
    def _measure(self, file: Path, log: Path, part: str) -> None:
        from soapbench.bench.photofile import NotAPhotograph
        from soapbench.desk.photographs import take

        desk = self.desk
        try:
            taken = take(desk, log.parent.parent, log.stem, part, file)
        except (NotAPhotograph, OSError) as why:
            self.post_message(self.Photographed(None, words.not_added(clean(str(why), 160))))
        else:
            self.post_message(self.Photographed(taken))

    def on_cut_review_acts_photographed(self, message: Photographed) -> None:
        from soapbench.desk.photographs import note

        self.tell(note(self.desk, message.taken) if message.taken else message.why)

    def action_photo_and_face(self) -> None:
        from soapbench.ui.aftercare.photo import PhotoScreen

        photos = review(self.desk.facts).photos.get(self._part)
        log = getattr(self.desk.log, "path", None)
        if not photos or log is None:
            self.tell(words.no_photo(self._part))
            return
        self.app.push_screen(PhotoScreen(self.desk, log.parent.parent, self._part, photos[-1]))

    # ---- how it came out, and the verdict

    def action_outcome(self) -> None:
        def came_out(number: int | None) -> None:
            if number is not None:
                self.tell(self.desk.tell_outcome(list(Outcome)[number]).words)

        self.app.push_screen(Choose(words.HOW_NOW, list(Outcome)), came_out)

    def action_verdict(self) -> None:
        verdicts = [words.shown(verdict) for verdict in VERDICTS]
        self.app.push_screen(Choose(words.AGAIN, verdicts), self._verdict)

    def _verdict(self, number: int | None) -> None:
        """Verdict, then the swirl for next time, then words; only the first is asked for."""
        if number is None:
            return
        verdict = VERDICTS[number]
        given = review(self.desk.facts).verdict
        before = given.next_time if given else ""
        pours = [kind.name for kind in self.desk.swirls.pours]
        pours.sort(key=lambda name: name not in self.desk.plan.swirl.steps)

        def swirl(chosen: int | None) -> None:
            steps = (pours[chosen],) if chosen is not None else ()
            self.app.push_screen(
                LongWords(words.WHAT_CHANGE, before),
                lambda change: self._keep(Verdict(verdict, change or "", steps)),
            )

        self.app.push_screen(Choose(words.NEXT_SWIRL, pours, words.NOT_SURE), swirl)

    def _keep(self, verdict: Verdict) -> None:
        self.desk.record(Kind.VERDICT, **verdict_values(verdict))
        self.tell(words.saved(verdict.verdict))
