"""A pour that opens a place for itself within the rest of the mould: a drop, a blob, a cap.

Three area-preserving steps, each smooth and each exact up to its table's step:

1. the marbling drop of the unbounded plane, p = c + (q - c) sqrt(1 + r^2 / |q - c|^2); r may
   differ by direction, since at a fixed direction only |p - c|^2 - r^2 has to be kept;
2. rows: the images of the two walls become straight again, x = (x - left(y)) / w(y) with the
   new height the area under w;
3. columns: the images of floor and surface become level again, in the same way.

So the old rectangle of height ``level`` becomes the rectangle of height level + area less the
poured shape. Steps 2 and 3 fade with the distance of the drop from the walls; then it is round.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soapbench.barface.maps import Floats, Points, Pulled

NODES = 360
"""Steps of every table."""


def _round() -> tuple[Floats, Floats]:
    """Directions round a point (dx, dy), from straight down over right, up and left to down."""
    t = np.linspace(0.0, 4.0, NODES + 1)
    dy = np.where(t <= 2.0, t - 1.0, 3.0 - t)
    dx = np.where(t <= 2.0, 1.0, -1.0) * (1.0 - np.abs(dy))
    return dx, dy


FROM_UP: Floats = np.arctan2(*_round())
"""Angle of each direction of a shape from straight up, positive to the right, rad."""
_STEP: Floats = np.diff(np.unwrap(-FROM_UP))
WEIGHTS: Floats = 0.5 * np.abs(np.append(_STEP, 0.0) + np.insert(_STEP, 0, 0.0))
"""Angle that each direction stands for, rad; adds up to a full turn."""
_GRID: Floats = np.linspace(0.0, 1.0, NODES + 1)
_EVEN: Floats = np.linspace(0.0, 1.0, 81)
_CLOSE: Floats = np.sinh(np.linspace(-6.0, 6.0, 121))


def _along(low: float, high: float, near: float, scale: float) -> Floats:
    """Points from ``low`` to ``high``, closest together around ``near``."""
    close = near + scale * _CLOSE
    inside = close[(close > low) & (close < high)]
    return np.sort(np.concatenate([low + (high - low) * _EVEN, inside]))


def _area_under(heights: Floats, step: float) -> Floats:
    return np.asarray(
        np.concatenate([[0.0], np.cumsum(0.5 * step * (heights[1:] + heights[:-1]))]),
        dtype=np.float64,
    )


@dataclass(frozen=True, slots=True)
class Table:
    """Values at evenly spaced nodes and their differences, to read between them."""

    values: Floats
    rises: Floats

    @classmethod
    def of(cls, values: Floats) -> Table:
        return cls(values, np.append(np.diff(values), 0.0))

    def at(self, cell: NDArray[np.intp], part: Floats) -> Floats:
        low = self.values.take(cell, mode="clip")
        rise = self.rises.take(cell, mode="clip")
        rise *= part
        rise += low
        return rise


def _cell(at: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Cell and place in it for positions given in steps of a table."""
    i = at.astype(np.intp)
    return i, at - i


@dataclass(frozen=True, slots=True)
class Inclusion:
    """Batter poured into the rest about ``centre``, a place in the old rectangle."""

    entry: int
    centre: tuple[float, float]
    after: float
    """Level after the pour."""
    rr: Table
    """Squared radius by direction."""
    columns: tuple[Table, Table, Table]
    """By new x: x, height of the floor's image and height above it, after step 2."""
    rows: tuple[Table, Table, Table]
    """By height after step 2: height, left wall and width after step 1."""
    tall: float
    """Height that ``rows`` spans."""

    @classmethod
    def make(
        cls, entry: int, area: float, level: float, centre: tuple[float, float], shape: Floats
    ) -> Inclusion:
        """``shape``: radius in each direction of ``FROM_UP``, scaled so that it holds ``area``.

        ``centre`` lies within 0 < x < 1, 0 < y < level.
        """
        cx, cy = centre
        square = shape * shape
        rr = Table.of(square * (2.0 * area / float(WEIGHTS @ square)))
        push = float(np.sqrt(rr.values.max()))
        wall = _along(-push - 0.5, level + push + 0.5, cy, 0.5 * min(cx, 1.0 - cx))
        across = _along(0.0, 1.0, cx, 0.5 * min(cy, level - cy))
        left_x, left_y = _pushed(np.zeros_like(wall), wall, cx, cy, rr)
        right_x, right_y = _pushed(np.ones_like(wall), wall, cx, cy, rr)
        floor = _pushed(across, np.zeros_like(across), cx, cy, rr)
        surface = _pushed(across, np.full_like(across, level), cx, cy, rr)

        low, high = float(floor[1].min()), float(surface[1].max())
        y = low + (high - low) * _GRID
        left = np.interp(y, left_y, left_x)
        width = np.interp(y, right_y, right_x) - left
        risen = _area_under(width, (high - low) / NODES)
        tall = float(risen[-1])
        even = tall * _GRID
        rows = [Table.of(np.interp(even, risen, v)) for v in (y, left, width)]

        edges = []
        for edge_x, edge_y in (floor, surface):
            straight = (edge_x - np.interp(edge_y, y, left)) / np.interp(edge_y, y, width)
            edges.append(np.interp(_GRID, straight, np.interp(edge_y, y, risen)))
        height = edges[1] - edges[0]
        moved = _area_under(height, 1.0 / NODES)
        new_x = moved / moved[-1]
        columns = [Table.of(np.interp(_GRID, new_x, v)) for v in (_GRID, edges[0], height)]
        return cls(
            entry,
            centre,
            level + area,
            rr,
            (columns[0], columns[1], columns[2]),
            (rows[0], rows[1], rows[2]),
            tall,
        )

    def back(self, x: Floats, y: Floats) -> Pulled:
        """Where the points came from, and which of them lie in the poured batter."""
        old_x, floor, height = self.columns
        risen, left, width = self.rows
        i, f = _cell(x * NODES)
        x = old_x.at(i, f)
        y = floor.at(i, f) + height.at(i, f) * (y * (1.0 / self.after))
        i, f = _cell(y * (NODES / self.tall))
        dy = risen.at(i, f) - self.centre[1]
        dx = left.at(i, f) + width.at(i, f) * x
        dx -= self.centre[0]
        away = dx * dx + dy * dy
        beyond = 1.0 - _radius(self.rr, dx, dy) / away
        k = np.sqrt(np.maximum(beyond, 0.0))
        return self.centre[0] + dx * k, self.centre[1] + dy * k, beyond < 0.0

    def forth(self, x: Floats, y: Floats) -> Points:
        """Where points of the old rectangle are pushed to."""
        x, y = _pushed(x, y, *self.centre, self.rr)
        old_x, floor, height = self.columns
        risen, left, width = self.rows
        y = np.interp(y, risen.values, self.tall * _GRID)
        i, f = _cell(y * (NODES / self.tall))
        x = (x - left.at(i, f)) / width.at(i, f)
        new_x = np.interp(x, old_x.values, _GRID)
        i, f = _cell(new_x * NODES)
        return new_x, (y - floor.at(i, f)) / height.at(i, f) * self.after


def _radius(rr: Table, dx: Floats, dy: Floats) -> Floats:
    """Squared radius of the shape in the direction (dx, dy)."""
    # position on the round of _round, cheaper than an angle
    tilt = dy / (np.abs(dx) + np.abs(dy) + 1e-300)
    i, f = _cell((2.0 - np.copysign(1.0 - tilt, dx)) * (NODES / 4))
    return rr.at(i, f)


def _pushed(x: Floats, y: Floats, cx: float, cy: float, rr: Table) -> Points:
    dx, dy = x - cx, y - cy
    k = np.sqrt(1.0 + _radius(rr, dx, dy) / (dx * dx + dy * dy + 1e-300))
    return cx + dx * k, cy + dy * k
