"""Lines of words for people: no figure torn from its unit, no swirl's name broken at a hyphen."""

from __future__ import annotations

import re
import textwrap

_UNIT = re.compile(r"(?<=\d) (?=%|(?:g|mL|L|cm|in|oz|s|min|h|°C|°F)\b)")


def wrapped(text: str, width: int, rest: str = "", first: str = "") -> list[str]:
    """``text`` in lines of at most ``width``; ``first`` begins the first, ``rest`` the others."""
    lines = textwrap.wrap(
        _UNIT.sub("\u00a0", text),
        width,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]
