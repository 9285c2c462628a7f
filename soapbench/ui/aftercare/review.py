"""The cut review on screen: one key an answer, by part of the loaf or bar by bar; the verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Static

from soapbench.aftercare.cutreview import (
    PARTS,
    VERDICTS,
    Review,
    Verdict,
    answer_values,
    is_part,
    questions,
    review,
    verdict_values,
)
from soapbench.log import Kind
from soapbench.pour import Outcome
from soapbench.reading.safetext import clean
from soapbench.ui.aftercare.dialogs import Choose, LongWords
from soapbench.ui.aftercare.keys import undo_after
from soapbench.ui.basescreen import BaseScreen, failure_words, in_background
from soapbench.ui.dialogs import Words
from soapbench.ui.keyline import KeyLine
from soapbench.words import review as words
from soapbench.words.aftercare import REVIEW_KEYS
from soapbench.words.events import undone
from soapbench.words.pouring import NOTHING_TO_UNDO, came_out
from soapbench.words.troubles import VIEW_ONLY

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from soapbench.desk.photographs import Taken
    from soapbench.desk.pourdesk import Desk


def shares_text(desk: Desk, seen: Review, part: str) -> Text:
    """What the photograph of ``part`` shows beside what was poured; empty without one."""
    text = Text()
    shares, pots = seen.shares.get(part, ()), desk.plan.pots
    if len(shares) != len(pots):
        return text
    text.append(words.IN_THE_PHOTO)
    whole = sum(pot.ml for pot in desk.amounts.pots)
    for share, pot, poured in zip(shares, pots, desk.amounts.pots, strict=True):
        text.append("█ ", Style(color=pot.colour))
        text.append(words.photo_share(clean(pot.name, 14), share, poured.ml / whole))
    return text


class CutReviewScreen(BaseScreen[None]):
    """How the bars came out. An answer moves on to the next question."""

    AUTO_FOCUS = None

    class Foreseen(Message):
        def __init__(self, reaches: Mapping[tuple[str, str], str]) -> None:
            self.reaches = reaches
            super().__init__()

    class Photographed(Message):
        """A photograph is kept and measured, or why not."""

        def __init__(self, taken: Taken | None, why: str = "") -> None:
            self.taken, self.why = taken, why
            super().__init__()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._questions = questions([pot.name for pot in desk.plan.accents])
        self._bars: list[str] = [p for p in review(desk.facts).parts if p not in PARTS]
        self._part = PARTS[1]
        self._at = 0
        self._said = ""
        self._foreseen: Mapping[tuple[str, str], str] = {}

    def compose(self) -> ComposeResult:
        yield Static(words.title(clean(self.desk.plan.title)), markup=False, classes="strong")
        yield Static(id="parts")
        with VerticalScroll(id="body"):
            yield Static(id="questions")
        yield Static(id="shares")
        yield Static(id="verdict", markup=False)
        yield Static(id="said", markup=False)
        yield KeyLine(REVIEW_KEYS)

    def on_mount(self) -> None:
        self._draw()
        self._foresee()

    @in_background("foreseen")
    def _foresee(self) -> None:
        """How far each colour was foreseen to come; without it the review goes on as well."""
        from soapbench.barface.words import foreseen_showing, reaches_foreseen

        desk = self.desk
        shown = foreseen_showing(desk.plan, desk.amounts, desk.known, desk.foreseen.face)
        if shown is not None:
            self.post_message(self.Foreseen(reaches_foreseen(desk.plan, shown)))

    def on_cut_review_screen_foreseen(self, message: Foreseen) -> None:
        self._foreseen = message.reaches
        self._draw()

    def failed(self, error: BaseException) -> None:
        self._said = failure_words(error)
        self._draw()

    @property
    def _parts(self) -> list[str]:
        return [*PARTS, *self._bars]

    # ---- drawing

    def _draw(self) -> None:
        seen = review(self.desk.facts)
        self.query_one("#parts", Static).update(self._parts_text(seen))
        self.query_one("#questions", Static).update(self._questions_text(seen))
        self.query_one("#shares", Static).update(shares_text(self.desk, seen, self._part))
        body = self.query_one("#body", VerticalScroll)
        body.scroll_to(y=max(0, self._at - body.size.height + 3), animate=False)
        said = seen.verdict
        came = came_out(self.desk.state)
        line = f"{came}. {words.VERDICT_KEY}"
        if said is not None:
            swirl, change = clean(" + ".join(said.next_swirl), 60), clean(said.next_time, 200)
            line = words.verdict_line(came, clean(said.verdict, 40), swirl, change)
        self.query_one("#verdict", Static).update(clean(line, 400))
        self.query_one("#said", Static).update(clean(self._said))

    def _parts_text(self, seen: Review) -> Text:
        text = Text()
        for part in self._parts:
            count = len(seen.answers.get(part, {}))
            done = f" {count}/{len(self._questions)}" if count else ""
            here = part == self._part
            text.append(
                f"{'▸' if here else ' '}{words.shown(part)}{done} ", Style(bold=here, reverse=here)
            )
            text.append(" ")
        return text

    def _questions_text(self, seen: Review) -> Text:
        text = Text(no_wrap=True, overflow="ellipsis")
        wide = 26 if self.size.width >= 100 else 22
        for i, question in enumerate(self._questions):
            given = seen.answer(self._part, question)
            here = i == self._at
            text.append("▸ " if here else "  ", Style(bold=True))
            text.append(f"{clean(question.words, wide - 1):<{wide}}", Style(bold=here))
            for number, answer in enumerate(question.answers, 1):
                chosen = answer == given
                mark = "●" if chosen else str(number)
                text.append(f"{mark} {words.shown(answer)}", Style(bold=chosen, reverse=chosen))
                text.append("  ")
            # only once answered: an answer should be of the bar, not of the picture
            foreseen = self._foreseen.get((self._part, question.pot or "")) if given else None
            sure = seen.by_photo.get(self._part, {}).get((question.aspect, question.pot))
            notes = [words.from_photo(clean(sure, 20))] if sure else []
            notes += [words.predicted(foreseen)] if foreseen else []
            if notes:
                text.append(f"\n{'':{wide + 2}}{'; '.join(notes)}")
            text.append("\n")
        return text

    def on_resize(self) -> None:
        self._draw()

    # ---- keys

    def on_key(self, event: events.Key) -> None:
        key = event.key
        event.stop()
        event.prevent_default()
        if key == "escape":
            self.dismiss(None)
            return
        if key in ("up", "down"):
            step = 1 if key == "down" else -1
            self._at = min(max(self._at + step, 0), len(self._questions) - 1)
        elif key in ("left", "right", "tab", "shift+tab"):
            step = 1 if key in ("right", "tab") else -1
            parts = self._parts
            self._part = parts[(parts.index(self._part) + step) % len(parts)]
            self._at = 0
        elif self.desk.watching:
            self._said = VIEW_ONLY
        elif key in "123456789":
            self._answer(int(key) - 1)
        elif key == "b":
            self.app.push_screen(Words(words.WHICH_BAR), self._bar)
        elif key == "p":
            self.app.push_screen(Words(words.photo_of(self._part)), self._photo)
        elif key == "f":
            self._show_photo()
        elif key == "o":
            self.app.push_screen(Choose(words.HOW_NOW, list(Outcome)), self._outcome)
        elif key == "v":
            verdicts = [words.shown(verdict) for verdict in VERDICTS]
            self.app.push_screen(Choose(words.AGAIN, verdicts), self._verdict)
        elif key == "u":
            last = undo_after(self.desk, Kind.CUT_SEEN, Kind.VERDICT, Kind.OUTCOME)
            self._said = undone(last.kind) if last else NOTHING_TO_UNDO
        self._draw()

    def _answer(self, number: int) -> None:
        question = self._questions[self._at]
        if number >= len(question.answers):
            self._said = words.answers_are(len(question.answers))
            return
        self.desk.record(Kind.CUT_SEEN, question.pot, **answer_values(self._part, question, number))
        self._said = words.answered(self._part, question.words, question.answers[number])
        self._at = min(self._at + 1, len(self._questions) - 1)

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
        self._said = words.READING_PHOTO
        self._draw()
        self._measure(file, log, self._part)

    @in_background("photo")
    def _measure(self, file: Path, log: Path, part: str) -> None:
        from soapbench.bench.photofile import NotAPhotograph
        from soapbench.desk.photographs import take

        desk = self.desk
        try:
            taken = take(log.parent.parent, log.stem, part, file, desk.plan, desk.amounts)
        except (NotAPhotograph, OSError) as why:
            self.post_message(self.Photographed(None, words.not_added(clean(str(why), 160))))
        else:
            self.post_message(self.Photographed(taken))

    def on_cut_review_screen_photographed(self, message: Photographed) -> None:
        from soapbench.desk.photographs import note

        self._said = note(self.desk, message.taken) if message.taken else message.why
        self._draw()

    def _show_photo(self) -> None:
        from soapbench.ui.aftercare.photo import PhotoScreen

        photos = review(self.desk.facts).photos.get(self._part)
        log = getattr(self.desk.log, "path", None)
        if not photos or log is None:
            self._said = words.no_photo(self._part)
            self._draw()
            return
        self.app.push_screen(PhotoScreen(self.desk, log.parent.parent, self._part, photos[-1]))

    def _outcome(self, number: int | None) -> None:
        if number is not None:
            self._said = self.desk.tell_outcome(list(Outcome)[number]).words
            self._draw()

    def _verdict(self, number: int | None) -> None:
        """Verdict, then the swirl for next time, then words; only the first is asked for."""
        if number is None:
            return
        verdict = VERDICTS[number]
        said = review(self.desk.facts).verdict
        before = said.next_time if said else ""
        pours = [kind.name for kind in self.desk.swirls.pours]
        pours.sort(key=lambda name: name not in self.desk.plan.swirl.steps)

        def swirl(chosen: int | None) -> None:
            steps = (pours[chosen],) if chosen is not None else ()
            self.app.push_screen(
                LongWords(words.WHAT_CHANGE, before),
                lambda change: self._keep(Verdict(verdict, change or "", steps)),
            )

        self.app.push_screen(Choose(words.NEXT_SWIRL, pours, words.NOT_SURE), swirl)

    def _keep(self, said: Verdict) -> None:
        self.desk.record(Kind.VERDICT, **verdict_values(said))
        self._said = words.saved(said.verdict)
        self._draw()
