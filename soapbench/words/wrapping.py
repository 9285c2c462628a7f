"""Lines of words for people: no figure torn from its unit, no swirl's name broken at a hyphen."""

from __future__ import annotations

import textwrap


def wrapped(text: str, width: int, rest: str = "", first: str = "") -> list[str]:
    """``text`` in lines of at most ``width``; ``first`` begins the first, ``rest`` the others."""
    lines = textwrap.wrap(
        text.replace(" %", "\u00a0%"),
        width,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]
