"""Days and times of day, as people say them."""

from __future__ import annotations

from datetime import datetime


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
    return day_words(at, now)


def day_words(at: datetime, now: datetime) -> str:
    """ "21 November", with the year where it is not ``now``'s; in its time zone."""
    at = at.astimezone(now.tzinfo)
    return f"{at.day} {at:%B}{_year(at, now)}"


def short_day(at: datetime, now: datetime | None = None) -> str:
    """ "21 Nov"; with its year where that is not ``now``'s, or where there is no ``now``."""
    return f"{at.day} {at:%b}{_year(at, now)}"


def _year(at: datetime, now: datetime | None) -> str:
    return f" {at.year}" if now is None or at.year != now.year else ""
