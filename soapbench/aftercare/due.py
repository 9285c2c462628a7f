"""What is due when with a resting batch: windows from recipe and gel, weighings, end of cure.

Hours and weeks are common practice; the end of the cure follows the weighings once there are
enough of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from soapbench.aftercare.cure import LossCurve, Weighing, loss_curve
from soapbench.aftercare.practice import Hours, Practice
from soapbench.aftercare.resting import Resting


class What(StrEnum):
    """Something that falls due after a pour."""

    SPRAY_AGAIN = "spray again"
    GEL_WATCH = "look for gel"
    UNMOULD = "unmould"
    CUT = "cut"
    REVIEW = "cut review"
    WEIGH = "weigh"
    CURE_OVER = "end of cure"


@dataclass(frozen=True, slots=True)
class Due:
    """Something to do with a resting batch, from ``opens`` on, best before ``closes``."""

    batch: str
    title: str
    what: What
    opens: datetime
    closes: datetime | None
    why: str
    """What the time rests on."""
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


def firms_like(batch: Resting) -> str:
    """Which window holds: what gel was seen goes before what was chosen."""
    if batch.cooked:
        return "cooked"
    if batch.gel_reached == "to the edges":
        return "force"
    if batch.gel_reached in ("the middle only", "half way"):
        return "allow"
    return "prevent" if batch.gel_reached == "none" else batch.gel


def window(batch: Resting, hours: Mapping[str, Hours], practice: Practice) -> Hours:
    """Earliest and latest hour after the pour, by gel and recipe."""
    early, late = hours[firms_like(batch)]
    times = 1.0
    if batch.saturated < practice.soft_below:
        times *= practice.soft_times
    if batch.concentration < practice.wet_below:
        times *= practice.wet_times
    return early * times, late * times


def window_words(batch: Resting, practice: Practice) -> str:
    """Why the windows are where they are."""
    gel = {
        "prevent": "no gel",
        "allow": "some gel may come" if not batch.gel_reached else "gelled in part",
        "force": "gelled" if batch.gel_reached else "gel forced",
        "cooked": "hot process",
    }[firms_like(batch)]
    said = [gel]
    if batch.saturated < practice.soft_below:
        said.append("soft oils")
    if batch.concentration < practice.wet_below:
        said.append("much water")
    return f"{', '.join(said)}; {practice.source}"


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
    least, most = practice.cooked_weeks if batch.cooked else practice.cure_weeks
    soonest, usual = batch.cut + timedelta(weeks=least), batch.cut + timedelta(weeks=most)
    weeks = f"{least:g} to {most:g} weeks, {practice.source}"
    found = curve(batch)
    if found is None:
        return Ready(usual, soonest, usual, weeks, False)
    first = batch.weighed[0][0]
    early, late = (first + timedelta(days=d) for d in found.dry_days(practice.to_go))
    about = first + timedelta(days=found.dry_day(practice.to_go))
    if about <= soonest:
        words = f"dry by then; {least:g} weeks at least, {practice.source}"
    else:
        words = f"less than {practice.to_go * 100:g} % is still to go then (ours)"
    words = f"{found.weighings} weighings; {words}"
    return Ready(max(about, soonest), max(early, soonest), max(late, soonest), words, True)


def _days(passed: timedelta) -> float:
    return passed.total_seconds() / 86_400


# ---------------------------------------------------------------- due


def due(batch: Resting, practice: Practice) -> tuple[Due, ...]:
    """All that is still to do with ``batch``, soonest first; empty once it is put away.

    What comes after something not done yet (weighings before the cut) is not listed.
    """
    if batch.cured is not None:
        return ()
    found = [*_soft(batch, practice), *_cut(batch, practice)]
    return tuple(sorted(found, key=lambda d: d.opens))


def _soft(batch: Resting, practice: Practice) -> list[Due]:
    """What is to do while it is in its mould."""
    found: list[Due] = []
    if batch.unmoulded is not None or batch.cut is not None:
        return found

    def to_do(what: What, opens: datetime, closes: datetime, why: str, lapses: bool) -> None:
        found.append(Due(batch.batch, batch.title, what, opens, closes, why, lapses))

    if len(batch.sprayed) == 1:
        again = batch.sprayed[0] + timedelta(seconds=practice.spray_again_s)
        to_do(What.SPRAY_AGAIN, again, again + timedelta(hours=1), practice.source, True)
    if batch.gel != "prevent" and not batch.gel_reached and not batch.cooked:
        opens, closes = (batch.poured + timedelta(hours=h) for h in practice.gel_h)
        to_do(What.GEL_WATCH, opens, closes, practice.source, True)
    opens, closes = (
        batch.poured + timedelta(hours=h) for h in window(batch, practice.unmould_h, practice)
    )
    if not batch.paste:
        to_do(What.UNMOULD, opens, closes, window_words(batch, practice), False)
    return found


def _cut(batch: Resting, practice: Practice) -> list[Due]:
    """Cut, review, weighings and the end of the cure."""
    found: list[Due] = []

    def to_do(what: What, opens: datetime, closes: datetime | None, why: str) -> None:
        found.append(Due(batch.batch, batch.title, what, opens, closes, why))

    if batch.cut is None:
        hours = window(batch, practice.cut_h, practice)
        opens, closes = (batch.poured + timedelta(hours=h) for h in hours)
        if not batch.paste:
            to_do(What.CUT, opens, closes, window_words(batch, practice))
        return found
    if not batch.verdict:
        to_do(What.REVIEW, batch.cut, None, "while it is fresh in mind (ours)")
    ends = ready(batch, practice)
    every = timedelta(days=practice.weigh_every_days)
    next_weighing = batch.weighed[-1][0] + every if batch.weighed else batch.cut
    if ends is not None:
        if next_weighing <= max(ends.about, ends.latest):
            to_do(What.WEIGH, next_weighing, next_weighing + every, practice.source)
        to_do(What.CURE_OVER, ends.about, None, ends.rests_on)
    return found


def early_words(batch: Resting, what: What, practice: Practice, now: datetime) -> str:
    """What to say to somebody about to do it before its time; empty when it is time."""
    for item in due(batch, practice):
        if item.what is what and now < item.opens:
            return f"It is early: usually from {when_words(item.opens, now)} on ({item.why})"
    return ""


def is_resting(batch: Resting, now: datetime, practice: Practice) -> bool:
    """Whether it is still to be looked after: not put away, and not forgotten long ago."""
    if batch.cured is not None:
        return False
    return now - (batch.cut or batch.poured) < timedelta(weeks=practice.forgotten_weeks)


def due_today(batches: Iterable[Resting], now: datetime, practice: Practice) -> tuple[Due, ...]:
    """What is due by the end of today (in ``now``'s own time zone), longest due first.

    What is not done stays due on later days.
    """
    tomorrow = now.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)
    there = (batch for batch in batches if is_resting(batch, now, practice))
    found = [d for batch in there for d in due(batch, practice) if d.opens < tomorrow]
    still = [d for d in found if not (d.lapses and d.closes is not None and d.closes < now)]
    return tuple(sorted(still, key=lambda d: (d.opens, d.title)))


def due_words(item: Due, now: datetime) -> str:
    """ "cut: now, best before Tuesday 14:00", in ``now``'s time zone."""
    opens = item.opens.astimezone(now.tzinfo)
    closes = item.closes.astimezone(now.tzinfo) if item.closes else None
    if opens > now:
        return f"{item.what}: {when_words(opens, now)}"
    if closes is not None and closes < now:
        return f"{item.what}: late, was best before {when_words(closes, now)}"
    best = f", best before {when_words(closes, now)}" if closes else ""
    return f"{item.what}: now{best}"


def when_words(at: datetime, now: datetime) -> str:
    """A time as people say it near ``now``: today and tomorrow by the hour, then the day."""
    at = at.astimezone(now.tzinfo)
    days = (at.date() - now.date()).days
    clock = f"{at:%H:%M}"
    if days == 0:
        return f"today {clock}"
    if days in (1, -1):
        return f"{'tomorrow' if days == 1 else 'yesterday'} {clock}"
    if 1 < days < 5:
        return f"{at:%A} {clock}"
    return f"{at.day} {at:%B}" + (f" {at.year}" if at.year != now.year else "")
