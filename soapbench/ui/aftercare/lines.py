"""Lines of text wrapped to a width with a hanging indent."""

from __future__ import annotations

from soapbench.words.wrapping import wrapped


def hung(words: str, width: int, first: str = "  ", rest: str = "    ") -> str:
    """``words`` wrapped to ``width``, later lines further in."""
    lines = wrapped(words, max(width, 20), rest, first)
    return "\n".join(lines)
