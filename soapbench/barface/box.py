"""Area-preserving maps that keep the batter within the mould's walls.

The cut face is the rectangle 0 <= x <= 1 (the mould's width is the unit), 0 <= y <= level.
A pour of area A raises the level by A: its map takes the old rectangle onto the new one less
the poured shape, area for area. ``back`` answers where a point came from and whether it lies in
what was just poured; ``forth`` is its inverse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from soapbench.barface.maps import Floats, Points, Pulled


@dataclass(frozen=True, slots=True)
class Profile:
    """A height over 0 <= x <= 1, piecewise linear through evenly spaced ``heights``."""

    heights: Floats
    areas: Floats
    """Area under the profile from x = 0 to each node."""

    @classmethod
    def of(cls, heights: Floats, mean: float) -> Profile:
        """The profile lifted or lowered so that its mean height is exactly ``mean``."""
        cell = 0.5 * (heights[1:] + heights[:-1])
        lifted = heights + (mean - float(cell.mean()))
        areas = np.concatenate([[0.0], np.cumsum(0.5 * (lifted[1:] + lifted[:-1]))])
        return cls(lifted, areas / (len(heights) - 1))

    def at(self, x: Floats) -> tuple[Floats, Floats]:
        """Height at ``x`` and the area under the profile up to there."""
        cells = len(self.heights) - 1
        along = x * cells
        i = np.clip(along.astype(np.intp), 0, cells - 1)
        f = along - i
        low = self.heights.take(i)
        rise = (self.heights.take(i + 1) - low) * f
        return low + rise, self.areas.take(i) + f * (low + 0.5 * rise) * (1.0 / cells)

    def x_of(self, area: Floats) -> Floats:
        """Where the area under the profile reaches ``area``."""
        cells = len(self.heights) - 1
        i = np.clip(np.searchsorted(self.areas, area, side="right") - 1, 0, cells - 1)
        low, slope = self.heights[i], self.heights[i + 1] - self.heights[i]
        rest = (area - self.areas[i]) * cells
        root = np.sqrt(np.maximum(low * low + 2.0 * slope * rest, 0.0))
        return np.asarray((i + 2.0 * rest / (low + root)) / cells, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Layer:
    """Batter poured over all the rest, which comes to lie below ``profile``.

    What lies below is squeezed: columns keep their area and rows their order, so
    x_old = S(x) / level, y_old = y level / s(x) with S' = s; the determinant is 1.
    """

    entry: int
    level: float
    """Level before this pour; the mean height of ``profile``."""
    profile: Profile

    def back(self, x: Floats, y: Floats) -> Pulled:
        height, area = self.profile.at(x)
        if self.level <= 0.0:
            return x, y, np.ones(x.shape, dtype=np.bool_)
        return area / self.level, y * (self.level / height), y > height

    def forth(self, x: Floats, y: Floats) -> Points:
        moved = self.profile.x_of(x * self.level)
        return moved, y * self.profile.at(moved)[0] / self.level


@dataclass(frozen=True, slots=True)
class Twist:
    """A circular tine within an ellipse that touches no wall: ``turn`` rad at the centre.

    The angle depends only on the (scaled) distance from the centre, so the determinant is 1;
    it fades to nothing at the rim, so the mould stays full.
    """

    cx: float
    cy: float
    across: float
    """Half-width of the ellipse."""
    up: float
    """Half-height of the ellipse."""
    turn: float
    """Between -2 pi and 2 pi."""

    def _turned(self, x: Floats, y: Floats, turn: float) -> Points:
        u, v = (x - self.cx) / self.across, (y - self.cy) / self.up
        away = u * u + v * v
        inside = np.flatnonzero(away < 1.0)
        if not inside.size:
            return x, y
        u, v = u[inside], v[inside]
        # quarter angle by its tangent, doubled twice: a rotation without sines
        t = np.tan(turn / 4.0) * (1.0 - away[inside]) ** 2
        square = t * t
        c, s = (1.0 - square) / (1.0 + square), 2.0 * t / (1.0 + square)
        c, s = 2.0 * c * c - 1.0, 2.0 * c * s
        x, y = x.copy(), y.copy()
        x[inside] = self.cx + self.across * (c * u - s * v)
        y[inside] = self.cy + self.up * (s * u + c * v)
        return x, y

    def back(self, x: Floats, y: Floats) -> Points:
        return self._turned(x, y, -self.turn)

    def forth(self, x: Floats, y: Floats) -> Points:
        return self._turned(x, y, self.turn)
