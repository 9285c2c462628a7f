"""Photographs of drawn faces: noise, lamp, slant and a table to lie on, of known truth."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from soapbench.barface import (
    AIR,
    Colour,
    Design,
    Face,
    Manner,
    Pouring,
    SinkDepth,
    ToolPass,
    Top,
    WireLed,
    face,
)
from soapbench.barface.reach import depth_of, reach
from soapbench.photos.measure import Measured, measure

Bytes = NDArray[np.uint8]

LOOKS = {
    "harbour": ("#4a5a6a", "#e9e4d6", "#2f8f8b", "#b5483a"),
    "dunes": ("#e8dfc8", "#c98a4b", "#7a4a2e", "#3d5a4c"),
    "night": ("#22252e", "#f0ead8", "#6a3f8f", "#d8a03c"),
    "heather": ("#d9cfe0", "#7b3b6e", "#3f6b52", "#f4f1e6"),
    "two": ("#efe6d2", "#5c3a26"),
}
SHARES = (0.55, 0.2, 0.15, 0.1)


def design(looks: tuple[str, ...], manner: Manner, trace: float, top: bool, tool: bool) -> Design:
    colours = tuple(Colour(f"pot {i}", look, i) for i, look in enumerate(looks))
    shares = SHARES if len(looks) == 4 else (0.7, 0.3)
    first = manner if manner in (Manner.IN_THE_POT, Manner.BLEND) else Manner.FILL
    pours = [Pouring(0, shares[0], first, trace)]
    pours += [Pouring(i, share, manner, trace) for i, share in enumerate(shares) if i]
    steps = [*pours, *([ToolPass(WireLed.LOOPS, trace)] if tool else [])]
    return Design(colours, tuple(steps), top=Top(3.0) if top else None, sink=SinkDepth())


@dataclass(frozen=True)
class Lamp:
    """What a photograph does to a face."""

    gain: tuple[float, float, float] = (1.0, 1.0, 1.0)
    slope: tuple[float, float] = (0.0, 0.0)
    corners_dark: float = 0.0
    noise: float = 0.0
    """Standard deviation, of 255 steps."""
    quality: int = 0
    """Of JPEG; 0: not compressed."""


PLAIN = Lamp()


def lit(srgb: Bytes, lamp: Lamp, rng: np.random.Generator) -> Bytes:
    high, wide = srgb.shape[:2]
    y, x = np.mgrid[-1 : 1 : high * 1j, -1 : 1 : wide * 1j]
    coded = srgb / 255.0
    light = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    light *= np.array(lamp.gain)
    slope = lamp.slope[0] * x + lamp.slope[1] * y - lamp.corners_dark * (x * x + y * y)
    light *= np.exp(slope)[..., None]
    light = np.clip(light, 0, 1)
    out = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055) * 255
    return np.clip(np.round(out + rng.normal(0, lamp.noise, out.shape)), 0, 255).astype(np.uint8)


def on_a_table(
    drawn: Face, table: str, corners: NDArray[np.float64], size: tuple[int, int]
) -> Bytes:
    """The face projected onto four corners (left and right top, right and left bottom, pixels) of
    a plain table; air shows the table."""
    ground = np.array(list(bytes.fromhex(table[1:])), np.uint8)
    rgb = np.where(drawn.cover[..., None] >= 128, drawn.rgb, ground).astype(np.uint8)
    high, wide = rgb.shape[:2]
    square = [(0, 0), (wide, 0), (wide, high), (0, high)]
    rows, right = [], []
    for (x, y), (u, v) in zip(corners, square, strict=True):  # picture to face
        rows += [[x, y, 1, 0, 0, 0, -x * u, -y * u], [0, 0, 0, x, y, 1, -x * v, -y * v]]
        right += [u, v]
    solution = np.linalg.solve(np.array(rows, float), np.array(right, float))
    image = Image.fromarray(rgb).transform(
        size, Image.Transform.PERSPECTIVE, tuple(solution), Image.Resampling.BICUBIC,
        fillcolor=tuple(int(c) for c in ground),
    )  # fmt: skip
    return np.asarray(image)


def compressed(rgb: Bytes, quality: int) -> Bytes:
    if not quality:
        return rgb
    held = io.BytesIO()
    Image.fromarray(rgb).save(held, "JPEG", quality=quality)
    return np.asarray(Image.open(held).convert("RGB"))


def truth(drawn: Face, pots: int) -> tuple[list[float], list[str]]:
    shares = [drawn.shares.get(i, 0.0) for i in range(pots)]
    soap = drawn.pots != AIR
    return shares, [reach(depth_of(drawn.pots == i, soap)) for i in range(pots)]


def worn(rgb: Bytes, rng: np.random.Generator, ash: bool, rivers: bool) -> Bytes:
    """A face with a film of soda ash, white and patchy, thickest along its top rim and
    down its sides; and with glycerin rivers, clear veins that make the soap look darker."""
    high, wide = rgb.shape[:2]
    out = rgb.astype(float)
    y, x = np.mgrid[0 : 1 : high * 1j, 0 : 1 : wide * 1j]
    if ash:
        waves = rng.uniform(1, 7, (5, 4))
        patchy = sum(np.sin(f * x * 6.3 + p) * np.sin(g * y * 6.3 + q) for f, g, p, q in waves) / 5
        rim = 0.85 * np.exp(-y / rng.uniform(0.012, 0.03))
        rim += 0.4 * np.exp(-np.minimum(x, 1 - x) / 0.008)
        film = np.clip(rim * (1 + patchy), 0, 0.85)[..., None]
        out = out * (1 - film) + 238 * film
    for _ in range(int(rng.integers(3, 8)) if rivers else 0):
        f, p, q, swing, thin, clear = rng.uniform(
            (1, 0, 0.1, 0.05, 0.002, 0.25), (3, 6.3, 0.9, 0.25, 0.006, 0.6)
        )
        along, across = (x, y) if rng.random() < 0.5 else (y, x)
        vein = clear * np.exp(-(((across - q - swing * np.sin(6.3 * f * along + p)) / thin) ** 2))
        out *= 1 - vein[..., None] * np.array([0.28, 0.34, 0.5])
    return np.clip(out, 0, 255).astype(np.uint8)


def photograph(
    design_: Design, seed: int, slant: float = 0.05, ash: bool = False, rivers: bool = False
) -> tuple[Bytes, Face]:
    """A snapshot of one face: everything about it drawn from ``seed``."""
    rng = np.random.default_rng(seed)
    off = rng.normal(0, 6, (len(design_.colours), 3))
    looks = [np.array(list(bytes.fromhex(c.look[1:]))) for c in design_.colours]
    real = [np.clip(look + o, 0, 255).astype(int) for look, o in zip(looks, off, strict=True)]
    colours = tuple(
        Colour(c.name, "#" + bytes(list(map(int, r))).hex(), c.pattern)
        for c, r in zip(design_.colours, real, strict=True)
    )
    soap = Design(colours, design_.steps, design_.mould, design_.top, design_.sink)
    where = float(rng.uniform(0.1, 0.9))
    drawn = face(soap, where, 400, 310, seed)
    if ash or rivers:
        marked = worn(drawn.rgb, np.random.default_rng(seed + 5), ash, rivers)
        drawn = replace(drawn, rgb=marked)
    wide, high = 720, 560
    left, top, right, bottom = 104, 80, 616, 480
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], float)
    corners += rng.normal(0, slant * 240, (4, 2)).clip(-48, 48)
    turn = rng.normal(0, 4) / 57.3
    middle = corners.mean(axis=0)
    spun = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    corners = (corners - middle) @ spun.T + middle
    table = ["#8a8d90", "#c9b79c", "#3a3a3d", "#f5f5f2", "#5d7a8c"][int(rng.integers(5))]
    taken = on_a_table(drawn, table, corners, (wide, high))
    exposure = float(np.exp(rng.normal(-0.1, 0.25)))
    tint = np.exp(rng.normal(0, 0.12, 3))
    lamp = Lamp(
        tuple(float(g) for g in exposure * tint),
        (float(rng.normal(0, 0.15)), float(rng.normal(0, 0.15))),
        float(rng.uniform(0, 0.12)),
        float(rng.uniform(1, 6)),
        int(rng.integers(70, 95)),
    )
    return compressed(lit(taken, lamp, rng), lamp.quality), drawn


@dataclass(frozen=True)
class Taken:
    """A snapshot measured, and the truth."""

    measured: Measured
    shares: list[float]
    reached: list[str]


def taken(design_: Design, seed: int, over: bool = False, worn: bool = False) -> Taken:
    """Measured by the plan's looks, from which the soap's own differ a little, and beside a face
    drawn for the plan by another hand. ``over``: taken upside down; ``worn``: ash and rivers."""
    picture, drawn = photograph(design_, seed, ash=worn, rivers=worn)
    if over:
        picture = np.ascontiguousarray(picture[::-1, ::-1])
    looks = [colour.look for colour in design_.colours]
    shares, reached = truth(drawn, len(looks))
    foreseen = face(design_, 0.5, 72, 54, seed + 999, polish=False).pots
    return Taken(measure(picture, looks, design_.shares, 0.0, foreseen), shares, reached)
