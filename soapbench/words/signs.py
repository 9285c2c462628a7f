"""One sign and one letter a pot, so that colour is never the only way to tell pots apart."""

from __future__ import annotations

import re

LOOK = re.compile(r"#[0-9a-fA-F]{6}")
"""What something looks like, "#rrggbb"."""

PATTERNS = "█░▓▒≈╱•╳─│+∘=◦#~"
"""One sign a pot, in an order that keeps neighbours apart; all one cell wide."""
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdef"


def pattern(index: int) -> str:
    """The sign of a pattern index, round and round through PATTERNS."""
    return PATTERNS[index % len(PATTERNS)]
