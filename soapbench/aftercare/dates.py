"""A resting batch's dates ahead: unmould, cut, every weighing, end of cure.

Unlike what is due, dates after a step not done yet are worked out as if it were done in time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from soapbench.aftercare.due import What, ready, window, window_words
from soapbench.aftercare.practice import Hours, Practice
from soapbench.aftercare.resting import Resting

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
    found: list[Entry] = []
    if batch.cut is None:
        if batch.unmoulded is None:
            found.append(_hours(What.UNMOULD, batch, practice.unmould_h, practice))
        found.append(_hours(What.CUT, batch, practice.cut_h, practice))
        first = batch.poured + timedelta(hours=window(batch, practice.cut_h, practice)[0])
        batch = replace(batch, cut=first)
    return (*found, *_cure(batch, practice))


def _hours(what: What, batch: Resting, hours: Mapping[str, Hours], practice: Practice) -> Entry:
    opens, closes = (batch.poured + timedelta(hours=h) for h in window(batch, hours, practice))
    return Entry(what.name.lower(), what, window_words(batch, practice), opens, closes)


def _cure(batch: Resting, practice: Practice) -> list[Entry]:
    """Weighings still to come, numbered from the cut, and the end of the cure."""
    ends = ready(batch, practice)
    if ends is None or batch.cut is None:
        return []
    zone = batch.poured.tzinfo
    over = ends.about.astimezone(zone).date()
    cut = batch.cut.astimezone(zone).date()
    last = batch.weighed[-1][0].astimezone(zone).date() if batch.weighed else None
    found = []
    for number in range(MOST_WEIGHINGS):
        day = cut + timedelta(days=round(number * practice.weigh_every_days))
        if day > over:
            break
        if last is None or day > last:
            key = f"weigh {number}"
            found.append(_day(key, What.WEIGH, f"the same bars as before; {practice.source}", day))
    words = f"about dry: {ends.rests_on}"
    return [*found, _day("cure", What.CURE_OVER, words, over)]


def _day(key: str, what: What, words: str, day: date) -> Entry:
    return Entry(key, what, words, day, day + timedelta(days=1))
