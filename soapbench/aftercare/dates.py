"""A resting batch's dates ahead: unmould, cut, every weighing, end of cure.

Unlike what is due, dates after a step not done yet are worked out as if it were done in time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from soapbench.aftercare.due import What, due, ready
from soapbench.aftercare.practice import FINISHES, Practice, Span
from soapbench.aftercare.resting import Resting
from soapbench.aftercare.windows import window, window_words
from soapbench.words.curing import SAME_AS_BEFORE

MOST_WEIGHINGS = 26


@dataclass(frozen=True, slots=True)
class Entry:
    """One date: a window of hours, or a whole day."""

    key: str
    """The same for the same entry of a batch, however often it is worked out."""
    what: What
    words: str
    starts: datetime | date
    ends: datetime | date
    """Exclusive, as RFC 5545 wants it."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """Ids of what is to be minded with it."""
        return _MIND.get(self.what, ())


_MIND: Mapping[What, tuple[str, ...]] = {
    What.UNMOULD: ("fresh-soap-gloves",),
    What.CUT: ("fresh-soap-gloves",),
    What.CURE_OVER: ("dry-is-not-safe", "zap-no-proof", "after-local-rules"),
}


def entries(batch: Resting, practice: Practice) -> tuple[Entry, ...]:
    """The dates ahead, soonest first; none once it is put away, or for soap of KOH alone.

    Whole days are those of the pour's own UTC offset.
    """
    if batch.cured is not None or batch.paste:
        return ()
    dates: list[Entry] = []
    if batch.cut is None:
        if batch.unmoulded is None:
            dates.append(_hours(What.UNMOULD, batch, practice.unmould_h, practice))
        dates.append(_hours(What.CUT, batch, practice.cut_h, practice))
        first = batch.poured + timedelta(hours=window(batch, practice.cut_h, practice)[0])
        batch = replace(batch, cut=first)
    return (*dates, *sorted(_cure(batch, practice), key=lambda day: str(day.starts)))


def _hours(what: What, batch: Resting, hours: Mapping[str, Span], practice: Practice) -> Entry:
    opens, closes = (batch.poured + timedelta(hours=h) for h in window(batch, hours, practice))
    words = _sourced(window_words(batch, practice), practice)
    return Entry(what.name.lower(), what, words, opens, closes)


def _cure(batch: Resting, practice: Practice) -> list[Entry]:
    """Weighings still to come, numbered from the cut, and the end of the cure."""
    ends = ready(batch, practice)
    if ends is None or batch.cut is None:
        return []
    zone = batch.poured.tzinfo
    over = ends.about.astimezone(zone).date()
    cut = batch.cut.astimezone(zone).date()
    last = batch.weighed[-1][0].astimezone(zone).date() if batch.weighed else None
    dates = []
    for number in range(MOST_WEIGHINGS):
        day = cut + timedelta(days=round(number * practice.weigh_every_days))
        if day > over:
            break
        if last is None or day > last:
            key = f"weigh {number}"
            dates.append(_day(key, What.WEIGH, _sourced(SAME_AS_BEFORE, practice), day))
    dates.append(_day("cure", What.CURE_OVER, _sourced(ends.rests_on, practice), over))
    return [*dates, *_finish(batch, practice)]


def _finish(batch: Resting, practice: Practice) -> list[Entry]:
    """Finishing touches wanted, each on its first day."""
    zone = batch.poured.tzinfo
    touches = (d for d in due(batch, practice) if d.what.value in FINISHES)
    words = _sourced("", practice)
    return [_day(d.what.value, d.what, words, d.opens.astimezone(zone).date()) for d in touches]


def _sourced(words: str, practice: Practice) -> str:
    """A calendar shows each entry by itself, so each says what its time is."""
    return f"{words}; {practice.rule}" if words else practice.rule


def _day(key: str, what: What, words: str, day: date) -> Entry:
    return Entry(key, what, words, day, day + timedelta(days=1))
