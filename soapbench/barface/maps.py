"""The area-preserving maps of mathematical marbling, in the unbounded plane.

Points are two arrays ``x``, ``y`` of one shape; ``forth`` maps move paint, ``back`` maps find
where it came from. The tine line is after A. Jaffer's pages on marbling (its principle
read there; the rational fall-off, wave and circular tine from memory).
The mould's own maps (``box``) are these and a drop, kept within walls.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Points = tuple[Floats, Floats]
Pulled = tuple[Floats, Floats, Flags]
"""Where points came from, and which of them lie in what was just poured."""


def tine(
    x: Floats, y: Floats, through: tuple[float, float], angle: float, pull: float, width: float
) -> Points:
    """Paint dragged by ``pull`` along a line, falling off as width / (distance + width).

    The inverse is the same call with ``-pull``.
    """
    mx, my = np.cos(angle), np.sin(angle)
    away = np.abs((y - through[1]) * mx - (x - through[0]) * my)
    shift = pull * width / (away + width)
    return x + shift * mx, y + shift * my


def wave(x: Floats, y: Floats, angle: float, height: float, number: float, phase: float) -> Points:
    """Paint shifted along ``angle`` by a sine of the distance across it.

    ``number`` is radians per unit length. The inverse is the same call with ``-height``.
    """
    mx, my = np.cos(angle), np.sin(angle)
    shift = height * np.sin(number * (y * mx - x * my) + phase)
    return x + shift * mx, y + shift * my


def circular_tine(x: Floats, y: Floats, cx: float, cy: float, turn: float, reach: float) -> Points:
    """Paint turned about (cx, cy): by ``turn`` rad at the centre, fading with ``reach``.

    The inverse is the same call with ``-turn``.
    """
    dx, dy = x - cx, y - cy
    angle = turn * np.exp(-(dx * dx + dy * dy) / reach**2)
    c, s = np.cos(angle), np.sin(angle)
    return cx + c * dx - s * dy, cy + s * dx + c * dy
