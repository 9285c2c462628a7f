"""What the cut review shows: parts of the loaf, questions and answers, shares, the verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text

from soapbench.reading.safetext import clean
from soapbench.words import review as words
from soapbench.words.afterpour import came_out

if TYPE_CHECKING:
    from soapbench.aftercare.cutreview import Question, Review
    from soapbench.desk.pourdesk import Desk
    from soapbench.pour.state import PourState


def parts_text(answers: Review, parts: Sequence[str], in_hand: str, of: int) -> Text:
    """``parts`` of the loaf, each with how many of ``of`` questions are answered."""
    text = Text()
    for part in parts:
        count = len(answers.answers.get(part, {}))
        done = f" {count}/{of}" if count else ""
        here = part == in_hand
        text.append(
            f"{'▸' if here else ' '}{words.shown(part)}{done} ", Style(bold=here, reverse=here)
        )
        text.append(" ")
    return text


def questions_text(
    answers: Review,
    questions: Sequence[Question],
    part: str,
    at: int,
    foreseen: Mapping[tuple[str, str], str],
    width: int,
) -> Text:
    """``questions`` of ``part``, the one at ``at`` in hand; below, what was ``foreseen``."""
    text = Text(no_wrap=True, overflow="ellipsis")
    wide = 26 if width >= 100 else 22
    for i, question in enumerate(questions):
        given = answers.answer(part, question)
        here = i == at
        text.append("▸ " if here else "  ", Style(bold=True))
        text.append(f"{clean(question.words, wide - 1):<{wide}}", Style(bold=here))
        for number, answer in enumerate(question.answers, 1):
            chosen = answer == given
            mark = "●" if chosen else str(number)
            text.append(f"{mark} {words.shown(answer)}", Style(bold=chosen, reverse=chosen))
            text.append("  ")
        # only once answered: an answer should be of the bar, not of the picture
        reach = foreseen.get((part, question.pot or "")) if given else None
        sure = answers.by_photo.get(part, {}).get((question.aspect, question.pot))
        notes = [words.from_photo(clean(sure, 20))] if sure else []
        notes += [words.predicted(reach)] if reach else []
        if notes:
            text.append(f"\n{'':{wide + 2}}{'; '.join(notes)}")
        text.append("\n")
    return text


def shares_text(desk: Desk, answers: Review, part: str) -> Text:
    """What the photograph of ``part`` shows beside what was poured into that mould; empty without
    one."""
    text = Text()
    shares, pots = answers.shares.get(part, ()), desk.plan.pots
    if len(shares) != len(pots):
        return text
    text.append(words.IN_THE_PHOTO)
    in_loaf = desk.plan.filled[0].pots
    whole = sum(desk.amounts.pot(name).ml for name in in_loaf)
    for share, pot, poured in zip(shares, pots, desk.amounts.pots, strict=True):
        if pot.name not in in_loaf:
            continue
        text.append("█ ", Style(color=pot.colour))
        text.append(words.photo_share(clean(pot.name, 14), share, poured.ml / whole))
    return text


def verdict_words(state: PourState, answers: Review) -> str:
    """How it came out, and whether it would be poured again."""
    came, verdict = came_out(state), answers.verdict
    line = f"{came}. {words.VERDICT_KEY}"
    if verdict is not None:
        swirl, change = clean(" + ".join(verdict.next_swirl), 60), clean(verdict.next_time, 200)
        line = words.verdict_line(came, clean(verdict.verdict, 40), swirl, change)
    return clean(line, 400)
