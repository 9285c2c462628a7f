"""Colour as it is seen, against a colour library and the published test pairs."""

from __future__ import annotations

import numpy as np
import pytest

from soapbench.photos.colour import coded, differences, lab, linear

# Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21-30: pairs from their supplementary data
# (L, a, b), as quoted by colour libraries; the differences agree there to four decimals.
SHARMA = [
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 2.49, -0.001), (50, -2.49, 0.0009), 7.1792),
    ((50, 2.49, -0.001), (50, -2.49, 0.0011), 7.2195),
    ((50, 2.5, 0), (73, 25, -18), 27.1492),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


@pytest.mark.parametrize(("one", "other", "apart"), SHARMA)
def test_difference_of_sharmas_pairs(
    one: tuple[float, ...], other: tuple[float, ...], apart: float
) -> None:
    assert float(differences(np.array(one), np.array(other))) == pytest.approx(apart, abs=5e-5)
    assert float(differences(np.array(other), np.array(one))) == pytest.approx(apart, abs=5e-5)


def test_difference_as_coloraide_has_it() -> None:
    from coloraide import Color

    rng = np.random.default_rng(1)
    one = rng.uniform([0, -100, -100], [100, 100, 100], (300, 3))
    other = np.clip(one + rng.normal(0, 30, one.shape), [0, -128, -128], [100, 128, 128])
    theirs = [
        Color("lab-d65", a).delta_e(Color("lab-d65", b), method="2000")
        for a, b in zip(one.tolist(), other.tolist(), strict=True)
    ]
    assert differences(one, other) == pytest.approx(np.array(theirs), abs=1e-9)


def test_lab_of_srgb_as_coloraide_has_it() -> None:
    from coloraide import Color

    pixels = np.random.default_rng(2).integers(0, 256, (200, 3)).astype(np.uint8)
    theirs = [Color("srgb", [*(p / 255)]).convert("lab-d65").coords() for p in pixels]
    assert lab(linear(pixels)) == pytest.approx(np.array(theirs), abs=1e-9)


def test_light_and_back() -> None:
    every = np.arange(256, dtype=np.uint8)
    assert (coded(linear(every)) == every).all()
