"""The cut face itself: which pot shows at each pixel, and its colour.

Area shares: on every single face each pot covers its share of the batter (to the pixels'
accuracy), because every map keeps areas; along the loaf only places and shapes drift.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soapbench.barface.box import Twist
from soapbench.barface.design import Design
from soapbench.barface.maplist import Recipe, recipe
from soapbench.barface.maps import Floats

Bytes = NDArray[np.uint8]
AIR = 255
"""Pot index of the pixels above a textured top."""
# sub-samples on a triangle round the pixel's centre, which was sampled already
OFFSETS = ((-0.36, -0.14), (0.30, -0.30), (0.06, 0.38))
BLOCK = 4096
"""Points worked through at a time; about twice as fast as all at once, which leaves the cache."""
JUST_SEEN = 10
"""Steps of 255 below which two neighbouring blends need no anti-aliasing."""


@dataclass(frozen=True, slots=True)
class Face:
    """One cut face, row 0 on top."""

    pots: Bytes
    """(h, w) pot index; AIR above a textured top. A blended colour alternates its pots."""
    tints: NDArray[np.uint16]
    """(h, w) row of ``palette``; len(palette), one past its end, above a textured top."""
    palette: Bytes
    """(n, 3) sRGB of every colour that shows: the pots first, then their blends."""
    rgb: Bytes
    """(h, w, 3) sRGB, anti-aliased; black in the air, to be masked by ``cover``."""
    cover: Bytes
    """(h, w) 0 air to 255 soap."""
    where: float
    """Place along the loaf, 0 to 1."""
    aspect: float
    """Width / height of what is shown, in the mould's proportions."""

    @property
    def shares(self) -> dict[int, float]:
        """Share of the face covered by each pot that shows."""
        pots, counts = np.unique(self.pots[self.pots != AIR], return_counts=True)
        return {int(p): float(c / counts.sum()) for p, c in zip(pots, counts, strict=True)}


def face(
    design: Design, where: float, width_px: int, height_px: int, seed: int, polish: bool = True
) -> Face:
    """Draw the face cut at ``where`` (0 one end, 1 the other) along the loaf.

    ``height_px`` takes in the crests of a textured top. Same arguments, same face. ``polish``
    adds a faint unevenness and rounded edges to ``rgb``; leave it off for a terminal, where
    even colour compresses into longer runs.
    """
    if width_px < 1 or height_px < 1:
        raise ValueError(f"a face of {width_px} by {height_px} pixels cannot be drawn")
    cut = recipe(design, where, seed)
    tall = cut.depth + cut.headroom
    linear = _palette(design, cut)
    air = len(linear) - 1
    x, y = np.meshgrid(
        (np.arange(width_px) + 0.5) / width_px,
        (height_px - np.arange(height_px) - 0.5) * (tall / height_px),
    )
    tints = _tints(cut, len(design.colours), x.ravel(), y.ravel()).reshape(x.shape)
    light, cover = linear[tints], np.where(tints == air, 0.0, 1.0)
    edge = np.flatnonzero(_edges(tints, _encode(linear)).ravel())
    if edge.size:
        ox, oy = (np.array(o)[:, None] for o in zip(*OFFSETS, strict=True))
        xs = x.ravel()[edge] + ox / width_px
        ys = y.ravel()[edge] - oy * (tall / height_px)
        pixels = _tints(cut, len(design.colours), xs.ravel(), ys.ravel()).reshape(xs.shape)
        pixels = np.vstack([tints.ravel()[edge], pixels])
        solid = (pixels != air)[..., None]
        count = solid.sum(axis=0)
        light.reshape(-1, 3)[edge] = (linear[pixels] * solid).sum(axis=0) / np.maximum(count, 1)
        cover.reshape(-1)[edge] = count[:, 0] / len(pixels)
    if polish:
        light *= _bloom(width_px, height_px, seed)[..., None]
    return Face(
        pots=_pots(cut, len(design.colours), tints),
        tints=tints,
        palette=_encode(linear[:air]),
        rgb=_encode(light),
        cover=np.round(cover * 255).astype(np.uint8),
        where=where,
        aspect=1.0 / tall,
    )


def loaf(
    design: Design, n_faces: int, width_px: int, height_px: int, seed: int, polish: bool = True
) -> tuple[Face, ...]:
    """``n_faces`` cut faces, each in the middle of its slice, from one end to the other."""
    return tuple(
        face(design, (i + 0.5) / n_faces, width_px, height_px, seed, polish) for i in range(n_faces)
    )


def _tints(cut: Recipe, n_pots: int, x: Floats, y: Floats) -> NDArray[np.uint16]:
    """Palette row at each point: pots 0 to n - 1, then n + entry for a blend, then air."""
    pixels = np.full(x.shape, n_pots + len(cut.mixes), dtype=np.uint16)
    for start in range(0, x.size, BLOCK):
        part = slice(start, start + BLOCK)
        _unpour(cut, n_pots, x[part], y[part], pixels[part])
    return pixels


def _unpour(cut: Recipe, n_pots: int, x: Floats, y: Floats, pixels: NDArray[np.uint16]) -> None:
    """Take the pours back, last first, until each point lies in what was just poured."""
    index = np.arange(x.size)
    if cut.top is not None:
        height, area = cut.top.at(x)
        soap = y <= height
        index, height = index[soap], height[soap]
        x, y = area[soap] / cut.depth, y[soap] * (cut.depth / height)
    for op in reversed(cut.ops):
        if isinstance(op, Twist):
            x, y = op.back(x, y)
            continue
        was_x, was_y = x, y
        x, y, hit = op.back(x, y)
        if not hit.any():
            continue
        mine = index[hit]
        mix = cut.mixes[op.entry]
        if op.entry in cut.swirls:
            pixels[mine] = cut.swirls[op.entry].pots_at(was_x[hit], was_y[hit])
        else:
            pixels[mine] = mix[0][0] if len(mix) == 1 else n_pots + op.entry
        keep = np.flatnonzero(~hit)
        if not keep.size:
            break
        x, y, index = x[keep], y[keep], index[keep]


def _edges(tints: NDArray[np.uint16], palette: Bytes) -> NDArray[np.bool_]:
    """Pixels whose neighbour beside, above or below is of a clearly different colour."""
    n = len(palette)
    apart = np.abs(palette[:, None].astype(np.int16) - palette[None]).max(axis=2) > JUST_SEEN
    apart[-1, :-1] = apart[:-1, -1] = True  # soap against air, whatever its colour
    edge = np.zeros(tints.shape, dtype=np.bool_)
    key = tints.astype(np.intp)
    beside = apart.ravel()[key[:, 1:] * n + key[:, :-1]]
    below = apart.ravel()[key[1:] * n + key[:-1]]
    edge[:, 1:] |= beside
    edge[:, :-1] |= beside
    edge[1:] |= below
    edge[:-1] |= below
    return edge


def _pots(cut: Recipe, n_pots: int, tints: NDArray[np.uint16]) -> Bytes:
    """Pot at each pixel; the pots of a blend alternate in an even, unordered-looking grain."""
    air = n_pots + len(cut.mixes)
    pots = np.where(tints == air, AIR, tints).astype(np.uint8)
    rows, columns = np.indices(tints.shape)
    # the fractional parts of i / g + j / g^2 (g^3 = g + 1) fill 0 to 1 evenly
    grain: Floats = np.asarray(columns * 0.7548776662466927 + rows * 0.5698402909980532) % 1.0
    for row in np.unique(tints):
        if n_pots <= row < air:
            mine = tints == row
            (low, _), (high, share) = cut.mixes[int(row) - n_pots]
            pots[mine] = np.where(grain[mine] < share, high, low)
    return pots


def _palette(design: Design, cut: Recipe) -> Floats:
    """(n, 3) linear light of every palette row, then the air's."""
    srgb = np.array([list(bytes.fromhex(colour.look[1:])) for colour in design.colours])
    n = len(srgb)
    table = np.zeros((n + len(cut.mixes) + 1, 3))
    table[:n] = _decode(srgb / 255.0)
    for row, mix in enumerate(cut.mixes, start=n):
        for pot, share in mix:
            table[row] += share * table[pot]
    return table


def _decode(srgb: Floats) -> Floats:
    """sRGB 0 to 1 to linear light (IEC 61966-2-1)."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def _encode(light: Floats) -> Bytes:
    """Linear light to sRGB bytes, through a table fine enough for every dark step."""
    return SRGB[np.clip(light * (len(SRGB) - 1) + 0.5, 0, len(SRGB) - 1).astype(np.intp)]


def _srgb_table() -> Bytes:
    light = np.linspace(0.0, 1.0, 16384)
    coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(coded * 255).astype(np.uint8)


SRGB = _srgb_table()


def _bloom(width_px: int, height_px: int, seed: int) -> Floats:
    """Factor on the light: faint mottling and darker, rounded edges, as on a cut bar."""
    x = (np.arange(width_px) + 0.5) / width_px
    y = (np.arange(height_px) + 0.5) / height_px
    phase = [6.28 * float(p) for p in np.random.default_rng(seed).random(6)]
    mottle = sum(
        np.outer(np.sin(f * y + p), np.sin(g * x + q))
        for f, g, p, q in (
            (9.0, 13.0, phase[0], phase[1]),
            (23.0, 17.0, phase[2], phase[3]),
            (41.0, 59.0, phase[4], phase[5]),
        )
    )
    sides = np.minimum(x, 1 - x)[None, :], np.minimum(y, 1 - y)[:, None]
    rounded = 1.0 - 0.22 * (np.exp(-sides[0] / 0.008) + np.exp(-sides[1] / 0.011))
    return np.asarray((1.0 + 0.022 * mottle) * np.maximum(rounded, 0.6), dtype=np.float64)
