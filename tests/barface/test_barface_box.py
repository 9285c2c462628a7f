"""The mould's own maps: area kept, walls kept, undone exactly; far from walls the plain drop.

The measure is the definition itself: a determinant of 1 (differences), a round trip, and the
plane's drop map of A. Jaffer's "Dropping Ink" as the limit.
"""

from __future__ import annotations

import numpy as np
import pytest

from soapbench.barface.box import Layer, Profile, Twist
from soapbench.barface.inclusion import FROM_UP, WEIGHTS, Inclusion
from tests.barface.drops import drop_back

ROUND = np.ones_like(FROM_UP)
OVAL = 1.0 / np.sqrt(np.sin(FROM_UP) ** 2 / 2.0 + np.cos(FROM_UP) ** 2 * 2.0)
STREAM = 1.0 + 1.2 * np.exp(-((FROM_UP / 0.3) ** 2))
WAVY = np.cos(np.linspace(0.0, 9.0, 193))

OPS = {
    "layer": Layer(0, 0.5, Profile.of(0.06 * WAVY, 0.5)),
    "deep layer": Layer(0, 0.2, Profile.of(0.1 * WAVY, 0.2)),
    "twist": Twist(0.4, 0.3, 0.3, 0.28, 2.4),
    "drop in the middle": Inclusion.make(0, 0.03, 0.6, (0.5, 0.3), ROUND),
    "drop at a wall": Inclusion.make(0, 0.03, 0.6, (0.06, 0.3), ROUND),
    "stream to the floor": Inclusion.make(0, 0.04, 0.6, (0.6, 0.05), STREAM),
    "cap on top": Inclusion.make(0, 0.05, 0.6, (0.4, 0.58), OVAL),
    "more than there was": Inclusion.make(0, 0.4, 0.3, (0.45, 0.15), OVAL),
}
LEVEL = {"layer": 0.6, "deep layer": 0.35, "twist": 0.6} | {
    name: op.after for name, op in OPS.items() if isinstance(op, Inclusion)
}


def points(name: str, n: int = 4000) -> tuple[np.ndarray, np.ndarray]:
    x, y = np.random.default_rng(4).uniform(0.002, 0.998, (2, n))
    return x, y * LEVEL[name]


def kept(name: str, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Points that lie in the older batter."""
    pulled = OPS[name].back(x, y)
    return ~pulled[2] if len(pulled) == 3 else np.ones(x.shape, dtype=bool)


@pytest.mark.parametrize("name", OPS)
def test_determinant_is_one(name: str) -> None:
    x, y = points(name)
    step = 1e-5
    old = kept(name, x, y)
    for dx, dy in ((step, 0), (-step, 0), (0, step), (0, -step)):
        old &= kept(name, x + dx, y + dy)
    x, y = x[old], y[old]
    right, left = OPS[name].back(x + step, y), OPS[name].back(x - step, y)
    up, down = OPS[name].back(x, y + step), OPS[name].back(x, y - step)
    det = ((right[0] - left[0]) * (up[1] - down[1]) - (up[0] - down[0]) * (right[1] - left[1])) / (
        4.0 * step**2
    )
    assert np.median(np.abs(det - 1.0)) < 2e-3
    assert det.mean() == pytest.approx(1.0, abs=2e-3)
    assert np.quantile(np.abs(det - 1.0), 0.98) < 0.03  # the tables' steps


@pytest.mark.parametrize("name", OPS)
def test_poured_area_is_what_was_poured(name: str) -> None:
    level = LEVEL[name]
    x, y = np.meshgrid((np.arange(700) + 0.5) / 700, (np.arange(700) + 0.5) / 700 * level)
    old = kept(name, x.ravel(), y.ravel()).mean() * level
    before = {"layer": 0.5, "deep layer": 0.2, "twist": 0.6, "more than there was": 0.3}
    assert old == pytest.approx(before.get(name, 0.6), abs=1e-3)


@pytest.mark.parametrize("name", OPS)
def test_older_batter_comes_from_the_old_rectangle(name: str) -> None:
    x, y = points(name)
    old = kept(name, x, y)
    pulled = OPS[name].back(x, y)
    top = {"layer": 0.5, "deep layer": 0.2, "more than there was": 0.3}.get(name, 0.6)
    assert pulled[0][old].min() > -2e-3
    assert pulled[0][old].max() < 1.0 + 2e-3
    assert pulled[1][old].min() > -2e-3
    assert pulled[1][old].max() < top + 2e-3


@pytest.mark.parametrize("name", OPS)
def test_forth_undoes_back(name: str) -> None:
    x, y = points(name)
    old = kept(name, x, y)
    pulled = OPS[name].back(x, y)
    again = OPS[name].forth(pulled[0][old], pulled[1][old])
    away = np.hypot(again[0] - x[old], again[1] - y[old])
    assert np.quantile(away, 0.99) < 1e-3  # a tenth of a pixel at 100 pixels


def test_small_drop_far_from_walls_is_the_drop_of_the_plane() -> None:
    radius = 0.02
    area = np.pi * radius**2
    op = Inclusion.make(0, area, 1.0, (0.5, 0.5), ROUND)
    angle = np.linspace(0.0, 6.28, 60)
    x, y = 0.5 + 0.05 * np.cos(angle), 0.5 * (1.0 + area) + 0.05 * np.sin(angle)
    ours = op.back(x, y)
    plain = drop_back(x, y, 0.5, 0.5 * (1.0 + area), radius)
    assert np.hypot(ours[0] - plain[0], ours[1] + 0.5 * area - plain[1]).max() < 4e-4


@pytest.mark.parametrize("x", [0.3, 0.5, 0.7])
def test_drop_applied_last_is_round(x: float) -> None:
    area = 0.01
    op = Inclusion.make(0, area, 0.7, (x, 0.35), ROUND)
    gx, gy = np.meshgrid((np.arange(900) + 0.5) / 900, (np.arange(900) + 0.5) / 900 * op.after)
    hit = op.back(gx.ravel(), gy.ravel())[2]
    dx, dy = gx.ravel()[hit], gy.ravel()[hit]
    spread = np.linalg.eigvalsh(np.cov(dx, dy))
    assert np.sqrt(spread[1] / spread[0]) < 1.03
    # a disc's second moment about its centre is area^2 / (2 pi), the least of any shape
    assert spread.sum() == pytest.approx(area / (2.0 * np.pi), rel=0.01)


def test_directions_go_once_round() -> None:
    assert WEIGHTS.sum() == pytest.approx(2.0 * np.pi, abs=1e-9)
