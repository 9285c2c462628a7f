"""What is due when with a resting batch: windows from recipe and gel, weighings, end of cure.

Hours and weeks are common practice; the end of the cure follows the weighings once there are
enough of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from soapbench.aftercare.cure import LossCurve, Weighing, loss_curve
from soapbench.aftercare.practice import FINISHES, SPRAY_AGAIN_FOR_S, Practice
from soapbench.aftercare.resting import Resting
from soapbench.aftercare.soapkind import Soap
from soapbench.aftercare.windows import soap, window, window_words
from soapbench.words import curing as words
from soapbench.words import numbers
from soapbench.words.days import when_words

WEEKS_A_MONTH = 365.25 / 12 / 7


class What(StrEnum):
    """Something that falls due after a pour."""

    SPRAY_AGAIN = "spray again"
    GEL_WATCH = "check for gel"
    UNMOULD = "unmould"
    CUT = "cut"
    REVIEW = "cut review"
    WEIGH = "weigh"
    CURE_OVER = "end of cure"
    PLANE = "plane"
    STAMP = "stamp"
    WRAP = "wrap"


@dataclass(frozen=True, slots=True)
class Due:
    """Something to do with a resting batch, from ``opens`` on, best before ``closes``."""

    batch: str
    title: str
    what: What
    opens: datetime
    closes: datetime | None
    why: str
    """What moves the time, apart from common practice; may be empty."""
    lapses: bool = False
    """Pointless once ``closes`` is past."""


@dataclass(frozen=True, slots=True)
class Ready:
    """When a batch will be about dry: a plain day, its range, what it rests on."""

    about: datetime
    earliest: datetime
    latest: datetime
    rests_on: str
    measured: bool
    """From weighings; else common practice alone."""


# ---------------------------------------------------------------- cure


def weighings(batch: Resting) -> tuple[Weighing, ...]:
    """The weighings as days since the first of them."""
    if not batch.weighed:
        return ()
    first = batch.weighed[0][0]
    return tuple(Weighing(max(_days(at - first), 0.0), g) for at, g in batch.weighed)


def curve(batch: Resting) -> LossCurve | None:
    return loss_curve(weighings(batch), batch.water_share)


def ready(batch: Resting, practice: Practice) -> Ready | None:
    """When it is about dry; None before the cut. Never before the shortest usual cure."""
    if batch.cut is None:
        return None
    kind = soap(batch, practice)
    least, most = practice.cure_weeks[kind.value]
    soonest, usual = batch.cut + timedelta(weeks=least), batch.cut + timedelta(weeks=most)
    weeks = words.weeks(least, most)
    if kind is Soap.CASTILE:
        weeks = words.castile(weeks, numbers.span(*practice.castile_months))
    drying = curve(batch)
    if drying is None:
        return Ready(usual, soonest, usual, weeks, False)
    first = batch.weighed[0][0]
    early, late = (first + timedelta(days=d) for d in drying.dry_days(practice.to_go))
    about = first + timedelta(days=drying.dry_day(practice.to_go))
    why = words.at_least(least) if about <= soonest else words.little_left(practice.to_go)
    why = words.by_weighings(drying.weighings, why)
    return Ready(max(about, soonest), max(early, soonest), max(late, soonest), why, True)


def _days(passed: timedelta) -> float:
    return passed.total_seconds() / 86_400


# ---------------------------------------------------------------- due


def due(batch: Resting, practice: Practice) -> tuple[Due, ...]:
    """All that is still to do with ``batch``, soonest first; empty once it is put away.

    What comes after something not done yet (weighings before the cut) is not listed.
    """
    if batch.cured is not None:
        return ()
    todo = [*_soft(batch, practice), *_cut(batch, practice), *_finish(batch, practice)]
    return tuple(sorted(todo, key=lambda d: d.opens))


def _soft(batch: Resting, practice: Practice) -> list[Due]:
    """What is to do while it is in its mould."""
    todo: list[Due] = []
    if batch.unmoulded is not None or batch.cut is not None:
        return todo

    def to_do(what: What, opens: datetime, closes: datetime, why: str, lapses: bool) -> None:
        todo.append(Due(batch.batch, batch.title, what, opens, closes, why, lapses))

    if len(batch.sprayed) == 1:
        again = batch.sprayed[0] + timedelta(seconds=practice.spray_again_s)
        closes = again + timedelta(seconds=SPRAY_AGAIN_FOR_S)
        to_do(What.SPRAY_AGAIN, again, closes, "", True)
    if batch.gel != "prevent" and not batch.gel_reached and not batch.cooked:
        opens, closes = (batch.poured + timedelta(hours=h) for h in practice.gel_h)
        to_do(What.GEL_WATCH, opens, closes, forced_words(batch, practice), True)
    opens, closes = (
        batch.poured + timedelta(hours=h) for h in window(batch, practice.unmould_h, practice)
    )
    if not batch.paste:
        to_do(What.UNMOULD, opens, closes, window_words(batch, practice), False)
    return todo


def _cut(batch: Resting, practice: Practice) -> list[Due]:
    """Cut, review, weighings and the end of the cure."""
    todo: list[Due] = []

    def to_do(what: What, opens: datetime, closes: datetime | None, why: str) -> None:
        todo.append(Due(batch.batch, batch.title, what, opens, closes, why))

    if batch.cut is None:
        hours = window(batch, practice.cut_h, practice)
        opens, closes = (batch.poured + timedelta(hours=h) for h in hours)
        if not batch.paste:
            to_do(What.CUT, opens, closes, window_words(batch, practice))
        return todo
    if not batch.verdict:
        to_do(What.REVIEW, batch.cut, None, words.WHILE_FRESH)
    ends = ready(batch, practice)
    every = timedelta(days=practice.weigh_every_days)
    next_weighing = batch.weighed[-1][0] + every if batch.weighed else batch.cut
    if ends is not None:
        if next_weighing <= max(ends.about, ends.latest):
            to_do(What.WEIGH, next_weighing, next_weighing + every, words.SAME_BARS)
        to_do(What.CURE_OVER, ends.about, None, ends.rests_on)
    return todo


def _finish(batch: Resting, practice: Practice) -> list[Due]:
    """Finishing touches that are wanted and not done, from the cut on."""
    if (ends := ready(batch, practice)) is None or batch.cut is None:
        return []
    done = {act for act, _ in batch.finished}
    todo = []
    for act in FINISHES:
        if act in done or act not in (*practice.finish_always, *batch.wished):
            continue
        start = ends.about if act == "wrap" else batch.cut
        opens, closes = (start + timedelta(days=d) for d in practice.finish_days[act])
        todo.append(Due(batch.batch, batch.title, What(act), opens, closes, ""))
    return todo


def forced_words(batch: Resting, practice: Practice) -> str:
    """How a forced gel is kept warm, and when the heat goes off; empty where none is forced."""
    if batch.gel != "force":
        return ""
    return words.kept_warm(batch.heat, *practice.gel_at_c)


def early_words(batch: Resting, what: What, practice: Practice, now: datetime) -> str:
    """What to say to somebody about to do it before its time; empty when it is time."""
    for item in due(batch, practice):
        if item.what is what and now < item.opens:
            return words.early(when_words(item.opens, now), item.why)
    return ""


def is_resting(batch: Resting, now: datetime, practice: Practice) -> bool:
    """Whether it is still to be looked after: not put away, and not forgotten long ago."""
    if batch.cured is not None:
        return False
    weeks = practice.forgotten_weeks
    if soap(batch, practice) is Soap.CASTILE:
        weeks += practice.castile_months[1] * WEEKS_A_MONTH
    return now - (batch.cut or batch.poured) < timedelta(weeks=weeks)


def due_today(batches: Iterable[Resting], now: datetime, practice: Practice) -> tuple[Due, ...]:
    """What is due by the end of today (in ``now``'s own time zone), longest due first.

    What is not done stays due on later days.
    """
    tomorrow = now.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)
    there = (batch for batch in batches if is_resting(batch, now, practice))
    todo = [d for batch in there for d in due(batch, practice) if d.opens < tomorrow]
    still = [d for d in todo if not (d.lapses and d.closes is not None and d.closes < now)]
    return tuple(sorted(still, key=lambda d: (d.opens, d.title)))


def due_words(item: Due, now: datetime) -> str:
    """ "cut: ready now, by Tuesday 14:00", in ``now``'s time zone."""
    return words.due(
        item.what,
        when_words(item.opens, now) if item.opens > now else "",
        when_words(item.closes, now) if item.closes else "",
        overdue=item.closes is not None and item.closes < now,
        ready=item.what in (What.UNMOULD, What.CUT),
    )
