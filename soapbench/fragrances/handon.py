"""What one fragrance taught, handed on to another maker; and such a word taken in.

A small table that says how many times faster batter thickened with it, over how many batches.
Taken in, it counts as a word about the fragrance: a better one than a supplier's, but never as a
batch of one's own. Nothing else is handed on: no plan, no day, no name of anybody. A usage limit
least of all: that comes from the bottle's own certificate.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from soapbench.batter import ByOthers, FragranceWord, Reputation
from soapbench.reading.entries import Entry
from soapbench.reading.faults import Fault
from soapbench.reading.safetext import clean
from soapbench.recipe.fragrances import others_of
from soapbench.thickening import Fit, acceleration

TABLE = "fragrance found"
"""The one table of such a file."""
KEYS = ("name", "described_as", "times_faster", "four_in_five", "batches", "told_on")
LONGEST_NAME = 60
DIGITS = 3


class NothingLearned(Exception):
    """There is nothing to hand on; the text is for the maker."""


@dataclass(frozen=True, slots=True)
class Word:
    """A fragrance as another maker found it."""

    name: str
    described_as: Reputation
    by_others: ByOthers


def word_of(fit: Fit, name: str, sold: Reputation) -> Word:
    """What the bench's own batches taught of a fragrance. Raises NothingLearned.

    What was told by others is not handed on again: it would come back as if two had found it.
    """
    learnt = fit.fragrances.get(name)
    if learnt is None or not learnt.batches:
        raise NothingLearned(f'no batch of yours with "{clean(name, 60)}" has taught anything yet')
    factor = acceleration(fit, FragranceWord(name, learnt.reputation))
    middle, low, high = (_short(factor.quantile(p)) for p in (0.5, 0.1, 0.9))
    experience = ByOthers(middle, min(low, middle), max(high, middle), learnt.batches)
    return Word(name, learnt.reputation if sold is Reputation.UNKNOWN else sold, experience)


def _short(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def as_table(word: Word, today: date) -> dict[str, Any]:
    """The table of a file; the day as ISO 8601 writes it."""
    return {
        "name": word.name,
        "described_as": word.described_as.value,
        "times_faster": word.by_others.times_faster,
        "four_in_five": [word.by_others.low, word.by_others.high],
        "batches": word.by_others.batches,
        "told_on": today.isoformat(),
    }


def word_in(tables: Mapping[str, Any]) -> tuple[Word | None, tuple[Fault, ...]]:
    """The word in the tables of such a file; None, and all that is wrong, where there is none."""
    faults: list[Fault] = []
    for name in list(tables)[:20]:
        if name != TABLE:
            wrong = "it does not belong in here"
            faults.append(Fault(clean(str(name), 60), wrong, f'one table, ["{TABLE}"]'))
    entry = Entry("", tables, faults, {}).group(TABLE)
    if entry is None:
        if TABLE not in tables:
            faults.append(Fault(TABLE, "missing", f'a table ["{TABLE}"], from another maker'))
        return None, tuple(faults)
    for key in [key for key in entry.table if key not in KEYS][:20]:
        entry.fault(clean(key, 60), "unknown setting", ", ".join(KEYS))
    name = entry.text("name")
    if not name.strip() or len(name) > LONGEST_NAME or name != entry.table.get("name"):
        entry.fault("name", "no name", f"a name of 1 to {LONGEST_NAME} characters, on one line")
    sold = Reputation(entry.word("described_as", list(Reputation), Reputation.UNKNOWN))
    day = entry.table.get("told_on", "2000-01-01")
    if not isinstance(day, str | date) or not _is_day(str(day)):
        entry.fault("told_on", "no day", 'told_on = "2026-03-01"')
    experience = others_of(entry)
    return (None if faults or experience is None else Word(name, sold, experience)), tuple(faults)


def _is_day(written: str) -> bool:
    try:
        date.fromisoformat(written[:40])
    except ValueError:
        return False
    return True


def words(word: Word) -> str:
    """What it says, for the maker."""
    of = word.by_others
    batches = "batch" if of.batches == 1 else "batches"
    return (
        f"{clean(word.name, 60)}: thickens {of.times_faster:g}x faster "
        f"({of.low:g}–{of.high:g}), as another maker found it in {of.batches} {batches}"
    )
