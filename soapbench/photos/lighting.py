"""The light a photograph was taken in, worked out from the colours the plan says are there.

A photograph's light is the colour's own times a gain in each channel (the lamp's tint, the
camera's exposure) times a slope across the picture (the lamp stands to one side, the lens darkens
corners). Both are fitted in log light together with which colour each pixel is, turn by turn.
Figures are ours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soapbench.photos.colour import Floats, differences, lab

ROUNDS = 10
DARKEST = 0.008
"""Linear light added before a logarithm: darker than this a camera shows noise."""
USUAL_TINT, USUAL_EXPOSURE, USUAL_SLOPE = 0.35, 0.8, 0.25
"""How much log gain of a channel, exposure and slope are expected to be; they are held to it
as firmly as ``HELD`` pixels would."""
HELD = 0.02
MISSED = 1.5
"""CIEDE2000 that a light may cost by which all of a face shows other colours than were poured."""
FAR_OFF = 0.8
"""Share of the pixels that count, those nearest a colour of the plan."""


@dataclass(frozen=True, slots=True)
class Light:
    """A photograph's light: log gain of each channel (3,), and its slopes (5,)."""

    gain: Floats
    slopes: Floats

    def undone(self, light: Floats, x: Floats, y: Floats) -> Floats:
        """Linear light as it would be in the plan's light; x and y from -1 to 1."""
        log = self.gain + (_slopes(x, y) @ self.slopes)[..., None]
        linear: Floats = (light + DARKEST) / np.exp(log) - DARKEST
        return linear


def fitted(light: Floats, x: Floats, y: Floats, looks: Floats, shares: Floats) -> Light:
    """The light of pixels ``light`` (n, 3), linear, at ``x`` and ``y`` (n,).

    ``looks`` (k, 3): linear light of the colours; ``shares`` (k,): of the batter, from which the
    first guess is made: a face of these colours in these shares has a light of its own on the
    whole. A start without any gain is tried too; the better fit is kept.
    """
    mean = np.log(light.mean(axis=0) + DARKEST) - np.log(shares @ looks + DARKEST)
    even = np.full(3, float(mean.mean()))
    starts = [mean, 0.5 * (mean + even), even, np.zeros(3)]
    fits = [_from(start, light, x, y, looks, shares) for start in starts]
    return min(fits, key=lambda pair: pair[1])[0]


def _from(
    gain: Floats, light: Floats, x: Floats, y: Floats, looks: Floats, shares: Floats
) -> tuple[Light, float]:
    """Fitted from one guess, and how badly it fits: mean CIEDE2000 and what was unusual in it."""
    log_light, log_looks = np.log(light + DARKEST), np.log(looks + DARKEST)
    slopes = _slopes(x, y)
    lit = Light(gain, np.zeros(slopes.shape[1]))
    seen_as = lab(looks)
    nearest, off = _nearest(lit.undone(light, x, y), seen_as)
    for _ in range(ROUNDS):
        near = off <= np.quantile(off, FAR_OFF)
        wanted = (log_light - log_looks[nearest])[near]
        # what is dark says little of the light: noise counts for more in its logarithm
        weight = (looks[nearest][near].mean(axis=1) / (looks.mean() + DARKEST)).clip(0.05, 1.5)
        lit = _light(wanted, slopes[near], weight)
        was = nearest
        nearest, off = _nearest(lit.undone(light, x, y), seen_as)
        if (was == nearest).mean() > 0.999:
            break
    tint = lit.gain - lit.gain.mean()
    unusual = (
        float((tint**2).sum()) / USUAL_TINT**2
        + float(lit.gain.mean()) ** 2 / USUAL_EXPOSURE**2
        + float((lit.slopes**2).sum()) / USUAL_SLOPE**2
    )
    worst = np.quantile(off, FAR_OFF)
    measured = np.bincount(nearest, minlength=len(looks)) / len(nearest)
    missed = float(np.abs(measured - shares / shares.sum()).sum())
    return lit, float(np.minimum(off, worst).mean()) + 0.25 * unusual + MISSED * missed


def _light(wanted: Floats, slopes: Floats, weight: Floats) -> Light:
    """Gains (3) and slopes (5) by weighted least squares, each held a little to being usual."""
    m = slopes.shape[1]
    unknowns = 3 + m
    normal, right = np.zeros((unknowns, unknowns)), np.zeros(unknowns)
    weighted = slopes * weight[:, None]
    for channel in range(3):
        normal[channel, channel] += weight.sum()
        normal[channel, 3:] += weighted.sum(axis=0)
        normal[3:, channel] += weighted.sum(axis=0)
        normal[3:, 3:] += weighted.T @ slopes
        right[channel] += weight @ wanted[:, channel]
        right[3:] += weighted.T @ wanted[:, channel]
    hold = HELD * float(weight.sum())
    normal[:3, :3] += hold / USUAL_TINT**2 * (np.eye(3) - 1 / 3) * 0.1
    normal[:3, :3] += hold / USUAL_EXPOSURE**2 / 9 * 0.1
    normal[3:, 3:] += hold / USUAL_SLOPE**2 * np.eye(m)
    solved = np.linalg.solve(normal, right)
    return Light(solved[:3], solved[3:])


def _nearest(light: Floats, looks: Floats) -> tuple[NDArray[np.intp], Floats]:
    off = differences(lab(light)[:, None], looks[None])
    nearest = off.argmin(axis=1)
    return nearest, off[np.arange(len(off)), nearest]


def _slopes(x: Floats, y: Floats) -> Floats:
    return np.stack([x, y, x * x - 1 / 3, y * y - 1 / 3, x * y], axis=-1)
