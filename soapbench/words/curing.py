"""Why something falls due when it does, while a batch gels, is cut and cures."""

from __future__ import annotations

from collections.abc import Sequence

from soapbench.reading.safetext import counted
from soapbench.words import numbers

BRITTLE = "brittle oils: as soon as firm, it shatters later"
SALTY = "much salt: within hours, or use single moulds"
CASTILE = "nearly all olive: soft for days"
COOKED = "hot process"
EXPECTED = {
    "prevent": "if it doesn't gel",
    "allow": "if it gels",
    "force": "if it gels through",
}
SEEN = {"prevent": "it didn't gel", "allow": "it gelled in part", "force": "it gelled"}
"""By which window of times holds: gel as chosen, and as it was seen."""
SOFT_OILS, MUCH_WATER = "soft oils", "much water"
WHILE_FRESH = "while you remember"
SAME_BARS, SAME_AS_BEFORE = "the same bars", "the same bars as before"


def kept_warm(heat: str, low_c: float, high_c: float) -> str:
    """How a forced gel is kept warm, and when the heat goes off; ``heat``: by what, "" unsaid."""
    by = f"{heat}, " if heat else ""
    warm = f"{numbers.celsius(low_c)} to {numbers.celsius(high_c)}"
    return f"{by}about {warm}; heat off when the middle is translucent"


def weeks(least: float, most: float) -> str:
    """ "4 to 6 weeks"."""
    return f"{numbers.span(least, most)} {'week' if most == 1 else 'weeks'}"


def castile(weeks: str, months: str) -> str:
    return f"usable after {weeks}, by custom left {months} months"


def by_weighings(count: int, why: str) -> str:
    return f"from {counted(count, 'weighing')}, {why}"


def at_least(least: float) -> str:
    return f"and at least {weeks(least, least)}"


def little_left(share: float) -> str:
    return f"under {numbers.written_share(share)} left to lose"


def early(when: str, why: str) -> str:
    """To somebody about to do it before its time."""
    return f"Early: usually from {when}{f' ({why})' if why else ''}"


def due(what: str, opens: str, closes: str, overdue: bool, ready: bool) -> str:
    """ "cut: ready now, by Tuesday 14:00"; ``opens``: empty once it is time."""
    if opens:
        return f"{what}: {opens}"
    if overdue:
        return f"{what}: overdue since {closes}"
    return f"{what}: {'ready now' if ready else 'now'}{f', by {closes}' if closes else ''}"


def sprayed(count: int, last: str) -> str:
    """ "sprayed once, today 22:38"; "sprayed twice, last today 22:43"."""
    if count == 1:
        return f"sprayed once, {last}"
    return f"sprayed {'twice' if count == 2 else f'{count} times'}, last {last}"


def heats_itself(with_: Sequence[str]) -> str:
    return f"With {', '.join(with_)} it heats itself: look often, uncover if it rises."


def heavier(after_g: float, before_g: float) -> str:
    after, before = numbers.g(after_g, 0), numbers.g(before_g, 0)
    return f"{after} after {before}: heavier than last time. Damp air, or different bars?"


def too_light(low_g: float, first_g: float, water_g: float) -> str:
    low, first, water = (numbers.g(mass, 0) for mass in (low_g, first_g, water_g))
    line = f"{low} is less than {first} without all its water ({water})"
    return f"{line}: different bars, or the scale?"
