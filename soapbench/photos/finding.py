"""Where the cut face lies in a photograph, and that face seen straight on.

A bar on a plain ground is found by what differs from the ground; its four sides are fitted as
lines, so that a picture taken from the side or a little turned is put straight. Where no bar can
be told from the ground the whole picture counts as the face, and says so. Figures are ours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soapbench.photos.colour import Floats, lab, linear

Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]
LOOK_PX = 300
"""Long side of the picture in which the bar is looked for."""
BORDER = 0.03
"""Part of the picture at each side that shows the ground, where there is any."""
PLAIN = 10.0
"""CIELAB distance within which most of a plain ground keeps to its own colour and light."""
LEAST_APART, TIMES_SPREAD = 5.0, 3.0
"""What lies farther from the ground's colour, and from how much that differs, is not ground."""
GAP = 3
"""Pixels by which parts of one bar may lie apart, where a colour is like the ground's."""
LOST = 0.05
"""Part of what is no ground that may lie outside the bar."""
LEAST_SIDE = 0.45
"""Sides facing each other are at least so much alike."""
LEAST_OF_PICTURE, MOST_OF_PICTURE = 0.06, 0.97
WHOLLY_IN = 0.004
"""Part of the picture by which every corner lies within it."""
FILLED = (0.88, 1.12)
"""The bar's pixels against the area between its fitted sides."""
MIDDLE = 0.6
"""Part of a side that its line is fitted to; towards the corners other sides begin."""
TRIM = 0.005
"""Rim left out: edges of bars are rounded and darker."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A face seen straight on."""

    light: Floats
    """(h, w, 3) linear light, row 0 on top."""
    soap: Mask
    """(h, w) false where the ground shows, as above a textured top."""
    corners: tuple[tuple[float, float], ...]
    """x and y of the face in the photograph, as parts of its width and height: left and right top,
    right and left bottom."""
    has_bar: bool
    """A bar was told from the ground; else the whole picture was taken."""


WHOLE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))


def place(rgb: Bytes, wide: int, high: int) -> Placed:
    """The face in a photograph (h, w, 3) as a picture of ``wide`` by ``high`` pixels."""
    step = max(1, -(-max(rgb.shape[:2]) // LOOK_PX))
    small = shrunk(rgb, step)
    bar = _bar(small)
    corners = _corners(bar) if bar is not None else None
    if bar is None or corners is None:
        straight = _warp(linear(rgb), _pixels(WHOLE, rgb), wide, high)
        return Placed(straight, np.ones((high, wide), np.bool_), WHOLE, False)
    parts = tuple((float(x) / bar.shape[1], float(y) / bar.shape[0]) for x, y in corners)
    inner = _trimmed(_pixels(parts, rgb))
    soap = _warp(bar[..., None].astype(np.float64), inner / step, wide, high)
    return Placed(_warp(linear(rgb), inner, wide, high), soap[..., 0] > 0.5, parts, True)


def shrunk(rgb: Bytes, step: int) -> Bytes:
    """Every ``step`` by ``step`` pixels become one, of their mean."""
    if step == 1:
        return rgb
    high, wide = (n // step * step for n in rgb.shape[:2])
    blocks = rgb[:high, :wide].reshape(high // step, step, wide // step, step, -1)
    return np.asarray(np.round(blocks.astype(np.float32).mean(axis=(1, 3))), np.uint8)


def _bar(rgb: Bytes) -> Mask | None:
    """Pixels of what lies on a plain ground; None where the ground is not plain."""
    high, wide = rgb.shape[:2]
    colours = lab(_calm(linear(rgb)))
    y, x = np.mgrid[-1 : 1 : high * 1j, -1 : 1 : wide * 1j]
    border = np.zeros((high, wide), np.bool_)
    rim_y, rim_x = max(2, round(high * BORDER)), max(2, round(wide * BORDER))
    border[:rim_y] = border[-rim_y:] = border[:, :rim_x] = border[:, -rim_x:] = True
    basis = np.stack([np.ones_like(x), x, y, x * x, y * y], axis=-1)
    ground, edge = basis[border], colours[border]
    kept = np.ones(len(edge), np.bool_)
    for _ in range(4):  # what hangs into the border is left out, the farthest fifth each time
        fitted, *_ = np.linalg.lstsq(ground[kept], edge[kept], rcond=None)
        off = np.linalg.norm(edge - ground @ fitted, axis=1)
        kept = off <= np.quantile(off, 0.8)
    spread = float(np.quantile(off, 0.8))
    if spread > PLAIN:
        return None
    apart = np.linalg.norm(colours - basis @ fitted, axis=-1)
    there = apart > max(LEAST_APART, TIMES_SPREAD * spread)
    bar = _filled(_largest(_closed(there)))
    lost = float((there & ~bar).sum() / max(int(there.sum()), 1))
    whole = LEAST_OF_PICTURE < bar.mean() < MOST_OF_PICTURE
    return bar if whole and lost < LOST else None


def _calm(light: Floats) -> Floats:
    """Each pixel the mean of itself and its eight neighbours."""
    padded = np.pad(light, ((1, 1), (1, 1), (0, 0)), mode="edge")
    high, wide = light.shape[:2]
    around = (padded[i : i + high, j : j + wide] for i in range(3) for j in range(3))
    return np.asarray(sum(around) / 9)


def _closed(mask: Mask) -> Mask:
    """Gaps of up to ``GAP`` pixels on either side filled: grown, then shrunk again."""
    return ~_grown(~_grown(np.pad(mask, 2 * GAP)))[2 * GAP : -2 * GAP, 2 * GAP : -2 * GAP]


def _grown(mask: Mask) -> Mask:
    grown = mask.copy()
    for axis in (0, 1):
        before = grown.copy()
        for step in range(1, GAP + 1):
            grown |= np.roll(before, step, axis) | np.roll(before, -step, axis)
    return grown


def _largest(mask: Mask) -> Mask:
    """The largest patch of neighbouring pixels: runs of each row, joined where they touch."""
    runs: list[tuple[int, int, int]] = []
    root: list[int] = []

    def top(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    above: list[int] = []
    for row in range(len(mask)):
        ends = np.flatnonzero(np.diff(mask[row], prepend=False, append=False))
        here = []
        for a, b in zip(ends[::2].tolist(), ends[1::2].tolist(), strict=True):
            here.append(len(runs))
            root.append(len(runs))
            runs.append((row, a, b))
            for other in above:
                if runs[other][1] < b and a < runs[other][2]:
                    root[top(other)] = top(here[-1])
        above = here
    sizes: dict[int, int] = {}
    for i, (_, a, b) in enumerate(runs):
        sizes[top(i)] = sizes.get(top(i), 0) + b - a
    largest_part = np.zeros_like(mask)
    if sizes:
        largest = max(sizes, key=lambda i: sizes[i])
        for i, (row, a, b) in enumerate(runs):
            if top(i) == largest:
                largest_part[row, a:b] = True
    return largest_part


def _filled(bar: Mask) -> Mask:
    """With its holes: what lies between soap to its left and right and above and below."""
    across = np.maximum.accumulate(bar, 1) & np.maximum.accumulate(bar[:, ::-1], 1)[:, ::-1]
    down = np.maximum.accumulate(bar, 0) & np.maximum.accumulate(bar[::-1], 0)[::-1]
    return bar | (across & down)


def _corners(bar: Mask) -> Floats | None:
    """(4, 2) x and y where the sides' lines meet; None where the shape has not four sides."""
    rows, columns = (np.nonzero(bar.any(axis=axis))[0] for axis in (1, 0))
    rows, columns = _middle(rows), _middle(columns)
    if len(rows) < 8 or len(columns) < 8:
        return None
    left = _line(rows, np.argmax(bar[rows], axis=1))
    right = _line(rows, bar.shape[1] - np.argmax(bar[rows, ::-1], axis=1))
    top = _line(columns, np.argmax(bar[:, columns], axis=0), outer=-1)
    bottom = _line(columns, bar.shape[0] - np.argmax(bar[::-1, columns], axis=0))
    corners = np.array([_meet(s, o) for s, o in
                      ((left, top), (right, top), (right, bottom), (left, bottom))])  # fmt: skip
    x, y = corners[:, 0], corners[:, 1]
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    if not np.isfinite(corners).all() or area <= 0:
        return None
    size = np.array([bar.shape[1], bar.shape[0]])
    if (corners < WHOLLY_IN * size).any() or (corners > (1 - WHOLLY_IN) * size).any():
        return None
    sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
    if _unlike(sides):
        return None
    return corners if FILLED[0] < bar.sum() / area < FILLED[1] else None


def _unlike(sides: Floats) -> bool:
    """Whether sides facing each other are too different for a bar seen from the side."""
    (top, right, bottom, left) = (float(side) for side in sides)
    return min(top, bottom) < LEAST_SIDE * max(top, bottom) or min(left, right) < (
        LEAST_SIDE * max(left, right)
    )


def _middle(places: NDArray[np.int64]) -> NDArray[np.int64]:
    cut = int(len(places) * (1 - MIDDLE) / 2)
    return places[cut : len(places) - cut]


def _line(along: NDArray[np.int64], across: NDArray[np.int64], outer: int = 0) -> Floats:
    """across = a + b * along, by least absolute residuals; ``outer`` -1 or 1: moved to where
    nearly all of a rough side (a textured top) lies within it."""
    basis = np.stack([np.ones(len(along)), along + 0.5], axis=1)
    positions = across.astype(np.float64)
    weights = np.ones(len(along))
    for _ in range(12):
        fitted, *_ = np.linalg.lstsq(basis * weights[:, None], positions * weights, rcond=None)
        off = positions - basis @ fitted
        weights = 1 / np.sqrt(np.maximum(np.abs(off), 0.25))
    if outer:
        fitted[0] += outer * max(float(np.quantile(outer * off, 0.97)) - 0.5, 0.0)
    return np.asarray(fitted)


def _meet(side: Floats, level: Floats) -> tuple[float, float]:
    """x = a + b y and y = c + d x."""
    (a, b), (c, d) = side, level
    x = (a + b * c) / (1 - b * d)
    return x, c + d * x


def _pixels(parts: tuple[tuple[float, float], ...], rgb: Bytes) -> Floats:
    return np.array(parts) * [rgb.shape[1], rgb.shape[0]]


def _trimmed(corners: Floats) -> Floats:
    """A little within each corner, along both sides that meet there."""
    before, after = np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0)
    return corners + TRIM * (before - corners) + TRIM * (after - corners)


def _warp(pixels: Floats, corners: Floats, wide: int, high: int) -> Floats:
    """What lies between four corners as a rectangle, by the projection that takes it there."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float64)
    rows, right = [], []
    for (u, v), (x, y) in zip(square, corners, strict=True):
        rows += [[u, v, 1, 0, 0, 0, -u * x, -v * x], [0, 0, 0, u, v, 1, -u * y, -v * y]]
        right += [x, y]
    h = np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0).reshape(3, 3)
    n = max(1, round(np.sqrt(_area(corners) / (wide * high))))  # samples a pixel and side
    n = min(n, 4)
    v, u = np.mgrid[0 : high * n, 0 : wide * n]
    points = np.stack([(u + 0.5) / (wide * n), (v + 0.5) / (high * n), np.ones(u.shape)])
    x, y, w = np.tensordot(h, points, axes=1)
    sampled = _sampled(pixels, x / w - 0.5, y / w - 0.5)
    return np.asarray(sampled.reshape(high, n, wide, n, -1).mean(axis=(1, 3)))


def _area(corners: Floats) -> float:
    x, y = corners[:, 0], corners[:, 1]
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def _sampled(pixels: Floats, x: Floats, y: Floats) -> Floats:
    """Between the four pixels around each place; past the rim the rim's own."""
    high, wide = pixels.shape[:2]
    x, y = np.clip(x, 0, wide - 1), np.clip(y, 0, high - 1)
    left, above = x.astype(np.intp), y.astype(np.intp)
    right, below = np.minimum(left + 1, wide - 1), np.minimum(above + 1, high - 1)
    fx, fy = (x - left)[..., None], (y - above)[..., None]
    top = pixels[above, left] * (1 - fx) + pixels[above, right] * fx
    bottom = pixels[below, left] * (1 - fx) + pixels[below, right] * fx
    return np.asarray(top * (1 - fy) + bottom * fy)
