"""A colour by the name a maker gives it, and the name nearest to a colour.

Makers' own names and shades of them (``words.colours``), then those of CSS; what is light, dark
and near is coloraide's to say, in OKLCh (Ottosson 2020).
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from soapbench.words.colours import NAMES, SHADES
from soapbench.words.signs import LOOK

if TYPE_CHECKING:
    from coloraide import Color

NEAR_SHADES = ("dark", "light")
"""Those a colour is named by; the others only a maker uses."""


@lru_cache(maxsize=500)
def colour_named(words: str) -> str | None:
    """ "#rrggbb" for "dark red", "Slate", "lightsalmon" or "#8a2020"; None: not known."""
    plain = " ".join(words.casefold().split())
    if LOOK.fullmatch(plain):
        return plain
    if plain in NAMES:
        return NAMES[plain]
    shade, _, name = plain.partition(" ")
    if shade in SHADES and name and (base := colour_named(name)):
        return _hex(_shaded(base, shade))
    from coloraide import Color

    bare = plain.replace(" ", "").replace("grey", "gray")
    if not bare.isalpha():
        return None
    try:
        return _hex(Color(bare))
    except ValueError:
        return None


@lru_cache(maxsize=500)
def name_of(look: str) -> str:
    """The maker's word nearest to ``look`` (#rrggbb): "dark red"."""
    from coloraide import Color

    colour = Color(look)
    return min(_palette(), key=lambda name: colour.delta_e(_palette()[name], method="ok"))


@lru_cache(maxsize=1)
def _palette() -> dict[str, Color]:
    from coloraide import Color

    named = {name: Color(look) for name, look in NAMES.items()}
    shades = {
        f"{shade} {name}": Color(_hex(_shaded(look, shade)))
        for name, look in NAMES.items()
        for shade in NEAR_SHADES
        if Color(look).convert("oklch")["lightness"] < 0.93 and name != "black"
    }
    return {**shades, **named}


def _shaded(look: str, shade: str) -> Color:
    """How much each shade moves a colour is ours, by eye."""
    from coloraide import Color

    colour = Color(look).convert("oklch")
    light, chroma = colour["lightness"], colour["chroma"]
    match shade:
        case "dark":
            light *= 0.68
        case "deep":
            light, chroma = light * 0.8, chroma * 1.2
        case "light":
            light += (1 - light) * 0.45
        case "pale":
            light, chroma = light + (1 - light) * 0.6, chroma * 0.5
        case "bright":
            chroma *= 1.35
        case "dusty":
            chroma *= 0.5
    colour["lightness"], colour["chroma"] = light, chroma
    return colour


def _hex(colour: Color) -> str:
    return colour.convert("srgb").fit().to_string(hex=True)
