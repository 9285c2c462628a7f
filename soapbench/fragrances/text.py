"""The fragrance book and the tool's own score in words, in lines of at most ``width``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from soapbench.advice.known import Known
from soapbench.advice.ways import SwirlChoice
from soapbench.fragrances import axis
from soapbench.fragrances.book import (
    ENOUGH_BATCHES,
    FAST_FROM,
    SLOW_BELOW,
    Entry,
    FragranceBook,
    WordWorth,
)
from soapbench.fragrances.score import LEVEL, Bin, Score, record_words
from soapbench.fragrances.suited import advice as advice_of
from soapbench.reading.safetext import clean, counted
from soapbench.words import numbers
from soapbench.words.chances import percent
from soapbench.words.review import shown
from soapbench.words.wrapping import wrapped

SUPPLIERS = "Were the suppliers right?"
PREDICTIONS = "How good were our predictions?"
EMPTY = "No fragrances yet. Press f on the bench to add one."


def book_text(book: FragranceBook, width: int = 80) -> str:
    """The whole book: a line a fragrance, then what words and chances were worth."""
    if not book.entries:
        return f"{EMPTY}\n"
    lines = [head_line(width), *(entry_line(entry, width) for entry in book.entries)]
    lines += ["", SUPPLIERS.upper(), *word_lines(book.words, width)]
    lines += ["", PREDICTIONS.upper(), *told_lines(book, width)]
    return "\n".join(lines) + "\n"


def head_line(width: int = 80) -> str:
    """What stands over the lines of ``entry_line``."""
    name, wide = _widths(width)
    return f"{'fragrance':<{name}}{'speed-up':>8}  {axis.scale(wide)}  from"


def entry_line(entry: Entry, width: int = 80) -> str:
    """One fragrance: name, speed-up with its range drawn, where that is from."""
    name, wide = _widths(width)
    factor = numbers.times(entry.factor.p50)
    drawn = axis.bar(entry.factor, wide)
    return f"{clean(entry.name, name - 1):<{name}}{factor:>8}  {drawn}  {_batches(entry)}"[:width]


def _widths(width: int) -> tuple[int, int]:
    """Columns of a name and of the axis."""
    return max(16, width // 4), max(16, width // 4)


def _batches(entry: Entry) -> str:
    if not entry.batches:
        return "another maker" if entry.others_batches else "supplier's word"
    poured = sum(t.poured for t in entry.swirls)
    right = sum(t.as_planned for t in entry.swirls)
    count = counted(entry.batches, "batch", "batches")
    if not poured:
        return count
    if poured == right > 1:
        return f"{count}, all {right} worked out"
    return f"{count}, {right} of {poured} worked out"


def entry_text(
    entry: Entry,
    swirls: Sequence[SwirlChoice],
    known: Known,
    width: int = 80,
    batches: Sequence[tuple[float, bool]] = (),
) -> str:
    """All the book holds of one fragrance. ``batches``: as ``book.each_batch`` has them."""
    facts = entry.facts
    lines = wrapped(clean(f"{entry.name}. {advice_of(entry, swirls, known)}."), width)
    lines += dot_lines(entry, batches, width)
    lines += wrapped(_speed_words(entry), width)
    if entry.swirls:
        tallies = (f"{clean(t.name)} {t.as_planned} of {t.poured}" for t in entry.swirls)
        lines += _listed("Worked out: ", tallies, width)
    if entry.verdicts:
        verdicts = (f"{n}x {shown(clean(word))}" for word, n in entry.verdicts)
        lines += _listed("Your verdicts: ", verdicts, width)
    if entry.next_time:
        lines += wrapped(f"Next time: {clean(entry.next_time)}", width)
    chances = (f"{c.name} {percent(c.chance)}" for c in swirls)
    lines += _listed("In a usual batch (1 L, three pots): ", chances, width)
    if facts and facts.limit is not None:
        lines.append(f"Limit {numbers.written_share(facts.limit)} of the finished soap")
    if facts and facts.note:
        lines += wrapped(f"Note: {clean(facts.note)}", width)
    return "\n".join(lines) + "\n"


def _speed_words(entry: Entry) -> str:
    factor = entry.factor
    count = counted(entry.batches, "batch", "batches")
    source = f"from your {count}" if entry.batches else "from the supplier's word alone"
    if entry.others_batches and not entry.batches:
        source = f"from {entry.rests_on}"
    return (
        f"{numbers.times(factor.p50)} ({factor.p10:.1f}–{factor.p90:.1f}) {source}; "
        f"supplier says: {entry.reputation.value}."
    )


def dot_lines(entry: Entry, batches: Sequence[tuple[float, bool]], width: int) -> list[str]:
    """A dot a batch over what is expected of the next one."""
    head = 13
    wide = min(width - head, 60)
    lines = [f"{'':<{head}}{axis.scale(wide)}"]
    if batches:
        lines.append(f"{'each batch':<{head}}{axis.dots(batches, wide)}")
    lines.append(f"{'the next one':<{head}}{axis.bar(entry.factor, wide)}")
    if batches:
        lines.append(f"{'':<{head}}{axis.GOOD} swirl worked out   {axis.BAD} it did not")
    return [line.rstrip() for line in lines]


def _listed(head: str, parts: Iterable[str], width: int) -> list[str]:
    return wrapped(head + ", ".join(parts) + ".", width, "  ")


def word_lines(words: Sequence[WordWorth], width: int = 80) -> list[str]:
    """What each reputation turned out to be worth."""
    head = f"{'described as':<16}{'fragrances':>11}{'not faster':>12}{'a bit':>7}{'fast':>6}"
    lines = [f"{head}{'so expect':>11}"]
    for w in words:
        counts = f"{w.fragrances:>11}{w.slow:>12}{w.between:>7}{w.fast:>6}"
        lines.append(f"{w.reputation.value:<16}{counts}{numbers.times(w.usual):>11}")
    lines += wrapped(
        f"Not faster: less than {SLOW_BELOW:g}x; fast: {FAST_FROM:g}x and more. Only "
        f"fragrances with {ENOUGH_BATCHES} batches or more count.",
        width,
    )
    return lines


CELLS = 20
"""Of a bar from 0 to 100 %."""


def told_lines(book: FragranceBook, width: int = 80, details: bool = False) -> list[str]:
    """What became of the pours and of the advice, then how the chances came true."""
    if not book.record.pours:
        return score_lines(book.score, width, details)
    plain = [line for sentence in record_words(book.record) for line in wrapped(sentence, width)]
    return [*plain, *score_lines(book.score, width, details)]


def score_lines(judged: Score, width: int = 80, details: bool = False) -> list[str]:
    """What was said before pours and what came true, as bars; ``details``: intervals too."""
    if not any(b.pours for b in judged.bins):
        return ["No pour with a chance has ended yet."]
    lines = [f"{'we said':<10}{'0 %':<{CELLS - 5}}100 %   it worked out"]
    for b in judged.bins:
        if b.pours:
            lines += _bin_lines(b, details)
    if details:
        lines += _details(judged, width)
    return [line[:width] for line in lines]


def _bin_lines(b: Bin, details: bool) -> list[str]:
    """ "77 %  ▂▂▂▂  6 of 8": the bar is what came true, the mark what was said."""
    given, came = b.given or 0.0, b.as_planned / b.pours
    line = ["█" if i < round(came * CELLS) else "·" for i in range(CELLS)]
    line[min(int(given * CELLS), CELLS - 1)] = "◆"
    low, high = b.interval
    more = f"  ({numbers.share_span(low, high)} in the long run)" if details else ""
    return [f"{percent(given):<10}{''.join(line)}   {b.as_planned} of {b.pours}{more}"]


def _details(judged: Score, width: int) -> list[str]:
    if judged.brier is None or judged.brier_of_share is None:
        return []
    return wrapped(
        f"In brackets: what to expect in the long run, {LEVEL * 100:.0f} times of a hundred. Over "
        f"{counted(judged.pours, 'pour')} we missed by {judged.brier:.3f}, squared (0 is perfect; "
        f"always saying {percent(judged.as_planned / judged.pours)} would have missed by "
        f"{judged.brier_of_share:.3f}). "
        "A pour that took the backup did not work out as planned.",
        width,
    )
