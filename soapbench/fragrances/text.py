"""The fragrance book and the tool's own score in words, in lines of at most ``width``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from soapbench.advice import Known
from soapbench.fragrances.book import (
    ENOUGH_BATCHES,
    FAST_FROM,
    SLOW_BELOW,
    Entry,
    FragranceBook,
    WordWorth,
)
from soapbench.fragrances.book import advice as advice_of
from soapbench.fragrances.score import LEVEL, Bin, Score
from soapbench.reading.safetext import clean, counted
from soapbench.ways import SwirlChoice
from soapbench.words.chances import percent
from soapbench.words.wrapping import wrapped


def book_text(book: FragranceBook, width: int = 80) -> str:
    """The whole book: a line a fragrance, then what words and chances were worth."""
    if not book.entries:
        return "No fragrance poured yet, and none in the bench's own table.\n"
    lines = [head_line(width), *(entry_line(entry, width) for entry in book.entries)]
    lines += ["", "WHAT THE SUPPLIER'S WORD WAS WORTH", *word_lines(book.words, width)]
    lines += ["", "WHAT THE CHANCES WERE WORTH", *score_lines(book.score, width)]
    return "\n".join(lines) + "\n"


def head_line(width: int = 80) -> str:
    """What stands over the lines of ``entry_line``."""
    return f"{'fragrance':<{_name_width(width)}}{'faster':>8}{'four of five':>14}  rests on"


def entry_line(entry: Entry, width: int = 80) -> str:
    """One fragrance: name, factor with its interval, what that rests on."""
    wide = _name_width(width)
    name, factor = clean(entry.name, wide - 1), entry.factor
    interval = f"{factor.p10:.1f}–{factor.p90:.1f}"
    said = f"{name:<{wide}}{f'×{factor.p50:.1f}':>8}{interval:>14}  {_batches(entry)}"
    return said[:width]


def _name_width(width: int) -> int:
    return max(16, width - 56)


def _batches(entry: Entry) -> str:
    if not entry.batches:
        return "only its reputation"
    poured = sum(t.poured for t in entry.swirls)
    right = sum(t.as_planned for t in entry.swirls)
    made = counted(entry.batches, "batch", "batches")
    return f"{made}, {right} of {poured} as planned" if poured else made


def entry_text(entry: Entry, swirls: Sequence[SwirlChoice], known: Known, width: int = 80) -> str:
    """All the book holds of one fragrance."""
    factor, facts = entry.factor, entry.facts
    lines = wrapped(clean(f"{entry.name}. {advice_of(entry, swirls, known)}."), width)
    lines += wrapped(
        f"×{factor.p50:.1f} (four of five: {factor.p10:.1f}–{factor.p90:.1f}), "
        f"by {entry.rests_on}; sold as {entry.reputation.value}.",
        width,
    )
    if entry.swirls:
        tallies = (f"{clean(t.name)} {t.as_planned} of {t.poured}" for t in entry.swirls)
        lines += _listed("Finished as planned: ", tallies, width)
    if entry.verdicts:
        said = (f"{clean(word)} {n}" for word, n in entry.verdicts)
        lines += _listed("Said at the cut: ", said, width)
    if entry.next_time:
        lines += wrapped(f"Next time: {clean(entry.next_time)}", width)
    foreseen = (f"{c.name} {percent(c.chance)}" for c in swirls)
    lines += _listed("In a usual batch (1 L, three pots): ", foreseen, width)
    if facts and facts.limit is not None:
        lines.append(f"Limit in the finished product, by its table: {facts.limit * 100:.4g} %")
    if facts and facts.note:
        lines += wrapped(f"Note: {clean(facts.note)}", width)
    return "\n".join(lines) + "\n"


def _listed(head: str, parts: Iterable[str], width: int) -> list[str]:
    return wrapped(head + ", ".join(parts) + ".", width, "  ")


def word_lines(words: Sequence[WordWorth], width: int = 80) -> list[str]:
    """What each reputation turned out to be worth."""
    lines = [f"{'sold as':<16}{'fragrances':>11}{'slow':>7}{'between':>9}{'fast':>7}{'expect':>9}"]
    for w in words:
        counts = f"{w.fragrances:>11}{w.slow:>7}{w.between:>9}{w.fast:>7}"
        lines.append(f"{w.reputation.value:<16}{counts}{f'×{w.usual:.1f}':>9}")
    lines += wrapped(
        f"Slow: less than {SLOW_BELOW:g} times faster; fast: {FAST_FROM:g} times and more "
        f"(ours). Only fragrances with {ENOUGH_BATCHES} batches or more are counted.",
        width,
    )
    return lines


def score_lines(found: Score, width: int = 80) -> list[str]:
    """Of the pours given a chance, how many were finished as planned."""
    if found.brier is None or found.brier_of_share is None:
        return ["No pour with a chance has ended yet."]
    lines = [_bin_line(b, width) for b in found.bins if b.pours]
    lines += wrapped(
        f"In brackets: the share to expect in the long run ({LEVEL * 100:.0f} % interval, "
        f"Wilson). Brier score {found.brier:.3f} over {counted(found.pours, 'pour')} (0 is "
        f"perfect; always saying {percent(found.as_planned / found.pours)} would have had "
        f"{found.brier_of_share:.3f}). A pour that took the quicker way is not as planned.",
        width,
    )
    return lines


def _bin_line(b: Bin, width: int) -> str:
    about = percent(b.given or 0.0)
    low, high = b.interval
    said = (
        f"of {counted(b.pours, 'pour')} given about {about}, {b.as_planned} finished as planned "
        f"({low * 100:.0f}–{high * 100:.0f} %)"
    )
    return said[:width]
