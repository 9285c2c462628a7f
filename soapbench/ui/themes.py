"""Colours of the screens: dark, light, and high contrast, all our own."""

from __future__ import annotations

from rich.style import Style
from rich.text import Text
from textual.theme import Theme


def _scrollbar(thumb: str) -> dict[str, str]:
    """A thumb that stands out from its track by 3:1 and more, whatever it is doing."""
    return {
        "scrollbar": thumb,
        "scrollbar-hover": thumb,
        "scrollbar-active": thumb,
    }


DUSK = Theme(
    name="dusk",
    dark=True,
    background="#12171c",
    surface="#1b232a",
    panel="#26313a",
    foreground="#e9e4da",
    primary="#7fb2c9",
    secondary="#9db89a",
    accent="#f0b266",
    warning="#f2c14e",
    error="#ff8a7a",
    success="#8fd19e",
    variables={"text-muted": "#b3bcc2", **_scrollbar("#6c8798")},
)
LINEN = Theme(
    name="linen",
    dark=False,
    background="#f7f2e8",
    surface="#fffdf8",
    panel="#e8dfcf",
    foreground="#22262a",
    primary="#1f5a73",
    secondary="#3d6139",
    accent="#8a4a10",
    warning="#7a5500",
    error="#a3261b",
    success="#1f6b38",
    variables={"text-muted": "#4d545a", **_scrollbar("#6b7c86")},
)
SLATE = Theme(
    name="slate",
    dark=True,
    background="#000000",
    surface="#000000",
    panel="#1a1a1a",
    foreground="#ffffff",
    primary="#66d9ff",
    secondary="#b6ffb0",
    accent="#ffe14d",
    warning="#ffe14d",
    error="#ff9b9b",
    success="#9dff9d",
    variables={"text-muted": "#e0e0e0", **_scrollbar("#7f8c94")},
)
ALL = (DUSK, LINEN, SLATE)
"""In the order of ``settings.THEMES``."""


def swatch(look: str, wide: int = 2, sign: str = "█") -> Text:
    """A patch of ``look`` (#rrggbb) between edges in the ink of the text around it.

    The edges show where a colour like the ground is; without colour the sign still tells.
    """
    return Text.assemble("▐", (sign * wide, Style(color=look)), "▌")
