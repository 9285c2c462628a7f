"""Colour as it is seen: linear light, CIELAB and CIEDE2000, on whole pictures at once.

Arrays end in three channels. Written for pictures: a library of colours takes them one by one.
Formulae: IEC 61966-2-1 (sRGB), CIE 15 (CIELAB, D65), Sharma, Wu & Dalal 2005 (CIEDE2000).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TO_XYZ = np.array(
    [
        [0.4123907992659595, 0.3575843393838780, 0.1804807884018343],
        [0.2126390058715104, 0.7151686787677559, 0.0721923153607337],
        [0.0193308187155918, 0.1191947797946260, 0.9505321522496608],
    ]
)
"""Linear sRGB to XYZ, from the primaries and the white of IEC 61966-2-1."""
WHITE = TO_XYZ.sum(axis=1)


def linear(srgb: NDArray[np.uint8]) -> Floats:
    """Bytes of sRGB to linear light, 0 to 1."""
    return _LINEAR[srgb]


def coded(light: Floats) -> NDArray[np.uint8]:
    """Linear light to bytes of sRGB."""
    held = np.clip(light, 0.0, 1.0)
    low, high = 12.92 * held, 1.055 * held ** (1 / 2.4) - 0.055
    return np.asarray(np.round(np.where(held <= 0.0031308, low, high) * 255), np.uint8)


def _table() -> Floats:
    coded = np.arange(256) / 255.0
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


_LINEAR = _table()


def lab(light: Floats) -> Floats:
    """CIELAB (D65) of linear sRGB; light below 0 or above 1 is taken as it comes."""
    ratio = light @ TO_XYZ.T / WHITE
    small = (6 / 29) ** 3
    f = np.where(ratio > small, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def differences(one: Floats, other: Floats) -> Floats:
    """CIEDE2000 between two arrays of CIELAB that numpy can broadcast, without the channels."""
    l1, a1, b1 = one[..., 0], one[..., 1], one[..., 2]
    l2, a2, b2 = other[..., 0], other[..., 1], other[..., 2]
    mean7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    grey = 1.5 - 0.5 * np.sqrt(mean7 / (mean7 + 25.0**7))
    a1, a2 = a1 * grey, a2 * grey
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = _hue(a1, b1), _hue(a2, b2)
    both = c1 * c2 > 0
    turn = np.where(both, (h2 - h1 + 180) % 360 - 180, 0.0)
    # exactly opposite hues: the published formula turns forward
    turn = np.where((turn == -180) & (h2 > h1), 180.0, turn)
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    lm, cm = (l1 + l2) / 2, (c1 + c2) / 2
    far = np.abs(h1 - h2) > 180
    hm = np.where(both, (h1 + h2 + np.where(far, np.where(h1 + h2 < 360, 360, -360), 0)) / 2,
                  h1 + h2)  # fmt: skip
    t = (
        1
        - 0.17 * _cos(hm - 30)
        + 0.24 * _cos(2 * hm)
        + 0.32 * _cos(3 * hm + 6)
        - 0.20 * _cos(4 * hm - 63)
    )
    sl = 1 + 0.015 * (lm - 50) ** 2 / np.sqrt(20 + (lm - 50) ** 2)
    sc, sh = 1 + 0.045 * cm, 1 + 0.015 * cm * t
    cm7 = cm**7
    rotation = (
        -2
        * np.sqrt(cm7 / (cm7 + 25.0**7))
        * np.sin(np.radians(60 * np.exp(-(((hm - 275) / 25) ** 2))))
    )
    light, c, h = dl / sl, dc / sc, dh / sh
    apart: Floats = np.sqrt(np.maximum(light**2 + c**2 + h**2 + rotation * c * h, 0.0))
    return apart


def _hue(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.degrees(np.arctan2(b, a)) % 360)


def _cos(degrees: Floats) -> Floats:
    return np.asarray(np.cos(np.radians(degrees)))
