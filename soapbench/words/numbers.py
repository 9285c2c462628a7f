"""Every figure a maker reads, written one way: thousands with a comma, a space before the unit."""

from __future__ import annotations

FINE_G = 99.5
"""From here on a tenth of a gram tells nothing."""


def ml(volume: float) -> str:
    """ "1,200 mL"."""
    return f"{volume:,.0f} mL"


def g(mass: float, decimals: int | None = None) -> str:
    """ "1,470 g"; "27.1 g" below a hundred, where ``decimals`` are left to it."""
    places = decimals if decimals is not None else 0 if mass >= FINE_G else 1
    return f"{mass:,.{places}f} g"


def written_g(mass: float) -> str:
    """A mass as somebody gave it, no figure more: "1,219.5 g"."""
    return f"{mass:,g} g"


def share(part: float, decimals: int = 0) -> str:
    """ "92 %" of a fraction."""
    return f"{part * 100:.{decimals}f} %"


def share_span(low: float, high: float, decimals: int = 0) -> str:
    """ "3.3 to 6.7 %"."""
    return f"{low * 100:.{decimals}f} to {high * 100:.{decimals}f} %"


def written_share(part: float) -> str:
    """A share as somebody gave it, no figure more: "2.5 %"."""
    return f"{part * 100:.4g} %"


def fine_share(part: float) -> str:
    """ "2.25 %": three figures tell apart what was changed."""
    return f"{part * 100:.3g} %"


def celsius(c: float) -> str:
    return f"{c:.0f} °C"


def written_celsius(c: float) -> str:
    """A temperature as somebody gave it, no figure more: "24.5 °C"."""
    return f"{c:g} °C"


def fahrenheit(c: float) -> str:
    """ "79 °F" of degrees Celsius."""
    return f"{c * 9 / 5 + 32:.0f} °F"


def times(factor: float) -> str:
    """ "4.4x"; a whole factor needs no decimal from ten on."""
    return f"{factor:.1f}x" if factor < 10 else f"{factor:.0f}x"


def span(low: float, high: float) -> str:
    """ "4 to 6", or "4"."""
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def minutes(seconds: float) -> int:
    """Whole minutes; what is under one is one."""
    return max(1, round(seconds / 60))


def minutes_span(middle: float, low: float, high: float) -> str:
    """ "33 min (12 to 64)", of seconds; hours where they tell more: "2 h (1 to 4)"."""
    if middle >= 2 * 3600:
        return f"{middle / 3600:.0f} h ({low / 3600:.0f} to {high / 3600:.0f})"
    return f"{minutes(middle)} min ({minutes(low)} to {minutes(high)})"


def fine_ml(volume: float) -> str:
    """ "4.9 mL": of a spoonful the tenth tells something."""
    return f"{volume:.1f} mL"
