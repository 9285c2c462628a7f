"""The textbook maps of mathematical marbling keep areas.

Source for drop and tine line: A. Jaffer's pages on marbling ("Dropping Ink", "Mathematics of
Marbling"); rational fall-off, wave and circular tine are from memory, so their determinants are
derived here with sympy rather than taken on trust.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pytest

from soapbench.barface.maps import circular_tine, tine, wave
from tests.barface.drops import drop_back, drop_forth

if TYPE_CHECKING:
    import sympy as sp

Map = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]

MAPS: dict[str, tuple[Map, Map]] = {
    "drop": (
        lambda x, y: drop_forth(x, y, 0.3, 0.1, 0.8),
        lambda x, y: drop_back(x, y, 0.3, 0.1, 0.8),
    ),
    "tine": (
        lambda x, y: tine(x, y, (0.2, -0.1), 0.7, 0.5, 0.2),
        lambda x, y: tine(x, y, (0.2, -0.1), 0.7, -0.5, 0.2),
    ),
    "wave": (
        lambda x, y: wave(x, y, 1.1, 0.3, 5.0, 0.4),
        lambda x, y: wave(x, y, 1.1, -0.3, 5.0, 0.4),
    ),
    "circular tine": (
        lambda x, y: circular_tine(x, y, -0.2, 0.3, 2.0, 0.6),
        lambda x, y: circular_tine(x, y, -0.2, 0.3, -2.0, 0.6),
    ),
}


def circle(n: int = 200_000) -> tuple[np.ndarray, np.ndarray]:
    angle = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    return np.cos(angle), np.sin(angle)


def polygon_area(x: np.ndarray, y: np.ndarray) -> float:
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


@pytest.mark.parametrize("name", MAPS)
def test_determinant_by_differences(name: str) -> None:
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-1.5, 1.5, (2, 400))
    step = 1e-6
    forth = MAPS[name][0]
    x_right, y_right = forth(x + step, y)
    x_left, y_left = forth(x - step, y)
    x_up, y_up = forth(x, y + step)
    x_down, y_down = forth(x, y - step)
    det = ((x_right - x_left) * (y_up - y_down) - (x_up - x_down) * (y_right - y_left)) / (
        4.0 * step**2
    )
    assert np.quantile(np.abs(det - 1.0), 0.99) < 1e-5  # a tine's own line is a crease


@pytest.mark.parametrize("name", MAPS)
def test_back_undoes_forth(name: str) -> None:
    x, y = np.random.default_rng(2).uniform(-1.5, 1.5, (2, 400))
    forth, back = MAPS[name]
    again = back(*forth(x, y))
    np.testing.assert_allclose(again, (x, y), atol=1e-9)


def symbolic() -> dict[str, tuple[sp.Expr, sp.Expr]]:
    import sympy as sp

    x, y, a, r, number, phase, cx, cy = sp.symbols("x y a r n p cx cy", real=True)
    fall_off, turn = sp.Function("f"), sp.Function("t")
    k = sp.sqrt(1 + r**2 / ((x - cx) ** 2 + (y - cy) ** 2))
    across = y * sp.cos(a) - x * sp.sin(a)
    rho = sp.sqrt(x**2 + y**2)
    c, s = sp.cos(turn(rho)), sp.sin(turn(rho))
    ripple = sp.sin(number * across + phase)
    return {
        "drop": (cx + (x - cx) * k, cy + (y - cy) * k),
        "tine, any fall-off": (x + fall_off(across) * sp.cos(a), y + fall_off(across) * sp.sin(a)),
        "wave": (x + ripple * sp.cos(a), y + ripple * sp.sin(a)),
        "circular tine, any turn": (c * x - s * y, s * x + c * y),
    }


@pytest.mark.parametrize("name", ["drop", "tine, any fall-off", "wave", "circular tine, any turn"])
def test_determinant_is_one_symbolically(name: str) -> None:
    import sympy as sp

    x, y = sp.symbols("x y", real=True)
    det = sp.Matrix(symbolic()[name]).jacobian([x, y]).det().doit()
    assert sp.simplify(det - 1) == 0


def test_drop_inside_a_circle_adds_its_own_area() -> None:
    # unit circle, drop of radius 0.8 at (0.3, 0.1): pi (1 + 0.64), worked out independently
    x, y = drop_forth(*circle(), 0.3, 0.1, 0.8)
    assert polygon_area(x, y) == pytest.approx(5.15221, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "moved"),
    [
        ("drop outside", drop_forth(*circle(), 2.0, 0.5, 0.8)),
        ("rational tine", tine(*circle(), (0.1, 0.2), 0.6, 0.7, 0.3)),
    ],
)
def test_circle_keeps_its_area(name: str, moved: tuple[np.ndarray, np.ndarray]) -> None:
    assert polygon_area(*moved) == pytest.approx(np.pi, abs=1e-4), name


def test_image_of_a_drop_lies_outside_it() -> None:
    x, y = np.random.default_rng(3).uniform(-1.0, 1.0, (2, 500))
    moved = drop_forth(x, y, 0.3, 0.1, 0.8)
    assert np.hypot(moved[0] - 0.3, moved[1] - 0.1).min() >= 0.8
