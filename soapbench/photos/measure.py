"""What a photograph of a cut face shows: the share each colour covers, how deep it came.

Pure, on arrays. Depth is that of a drawn face: as far down as nine tenths of a colour lie.
How sure an answer is comes from what is unclear in the picture: pixels that could be another
colour as well are counted once for it and once against it. Figures are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from soapbench.barface.reach import BOTTOM_FROM, HALF_WAY_FROM, depth_of, reach
from soapbench.photos.colour import Floats, differences, lab, linear
from soapbench.photos.finding import Bytes, Mask, Placed, place
from soapbench.photos.lighting import fitted
from soapbench.photos.upright import stands

LOOK_PX = (320, 240)
SAMPLES = 4000
"""Pixels from which the light is worked out."""
ALIKE = 7.0
"""CIEDE2000 below which two colours of a plan cannot be told apart in a photograph."""
CLEAR = 0.6
"""A pixel is clear when the next colour is this much farther off, as a part of their distance."""
STRANGE, MOST_STRANGE = 22.0, 0.25
"""CIEDE2000 from every colour of the plan that counts as none of them; part of a face that may."""
EDGE = 6.0
"""CIEDE2000 between neighbours from which a pixel lies on an edge and may be a blend of both."""
USUAL_OFF, MOST_MOVED = 8.0, 20.0
"""CIELAB distance by which soap differs from its planned look, and the most that is believed."""
TOLD_BY, HELD_SHARE = 100.0, 20.0
"""Pixels near each other say the same: all of them count as so many; shares as planned as these."""
LEAST_SPREAD, EM_ROUNDS = 2.0, 25
BURNT, MOST_BURNT = 0.99, 0.3
"""Light in some channel from which a camera saw no more of it; part of a face that may."""
MOST_OFF = 0.25
"""Part of the face by which a colour may differ from what was poured of it."""
LEAST_SHARE = 0.01
"""Below this share of the face nothing is said of how deep a colour came."""
NEAR_A_BOUND = 0.05
"""Depths this near to the next class are not called sure."""


class Sure(StrEnum):
    SURE = "sure"
    FAIRLY = "fairly sure"
    UNSURE = "not sure"


@dataclass(frozen=True, slots=True)
class MeasuredPot:
    """One colour as measured."""

    pot: int
    share: float
    """Of the face, 0 to 1."""
    share_range: tuple[float, float]
    depth: float
    """0 top to 1 bottom; nan where it hardly shows."""
    reached: str
    """In the cut review's words; empty where it hardly shows."""
    sure: Sure
    alike: bool = False
    """Another pot's colour is too like it to tell them apart, so that their shares mix."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A photograph measured."""

    pots: tuple[MeasuredPot, ...]
    """Every pot in the plan's order."""
    placed: Placed
    labels: NDArray[np.uint8]
    """(h, w) pot at each pixel; 255: ground, or none of the colours."""
    strange: float
    """Part of the face that is like none of the plan's colours."""
    trouble: str
    """Why it cannot be trusted, for the maker; empty when it can."""


PLAINLY = 1.12
"""A face so much wider than high, or higher than wide, tells when it lies on its side (ours)."""
SIDEWAYS = "the bar lies on its side: turn it, its top up"
ON_ITS_HEAD = "it looks upside down beside the drawn face: f, then r twice turns it; or leave it"
FLAT, MOST_FLAT = 2.0, 0.4
"""CIELAB step between neighbours below which nothing is seen to change; and the part of a border
between two colours that may run there: more of it, and it is one colour under an uneven light."""


def measure(
    rgb: Bytes,
    looks: Sequence[str],
    shares: Sequence[float],
    face: float = 0.0,
    drawn: Bytes | None = None,
) -> Measured:
    """Measure a photograph (h, w, 3) sRGB. ``looks``: '#rrggbb' of each pot; ``shares``: theirs
    of the batter, which only help to guess the lamp's colour. ``face``: width of a bar's
    face by its height, 0 where it is not known: a bar on its side is told by it. ``drawn``: (h, w)
    pot at each pixel of the face drawn for it: one on its head is told by it."""
    placed = place(rgb, *LOOK_PX)
    colours = linear(np.array([list(bytes.fromhex(look[1:])) for look in looks], np.uint8))
    planned = np.maximum(np.asarray(shares, np.float64), 1e-3)
    light = _calm(placed.light)
    high, wide = placed.soap.shape
    y, x = np.mgrid[-1 : 1 : high * 1j, -1 : 1 : wide * 1j]
    soap = placed.soap.ravel()
    some = np.flatnonzero(soap)
    some = some[:: max(1, len(some) // SAMPLES)]
    flat = light.reshape(-1, 3)
    lamp = fitted(flat[some], x.ravel()[some], y.ravel()[some], colours, planned)
    own = lamp.undone(light, x, y)
    pixels = lab(own)
    places = _moved(pixels.reshape(-1, 3)[some], lab(colours), planned)
    off = differences(pixels[:, :, None], places)
    labels = _labels(own, pixels, off, placed.soap)
    strange = float((off.min(axis=2) > STRANGE)[placed.soap].mean())
    alike = _alike(places) | _alike(lab(colours)) | _melting(labels, pixels, len(looks))
    pots = tuple(_pot_measured(pot, labels, off, placed, pot in alike) for pot in range(len(looks)))
    side = SIDEWAYS if placed.has_bar and _on_its_side(placed, rgb, face) else ""
    trouble = _trouble(strange, placed) or side or _unlikely(pots, planned / planned.sum())
    up = stands(labels, drawn, len(looks)) if drawn is not None and len(looks) > 1 else None
    if up and up.on_its_head:
        trouble = trouble or ON_ITS_HEAD
    if trouble:
        pots = tuple(replace(one, sure=Sure.UNSURE) for one in pots)
    elif up and not up.clear:
        fairly = (Sure.FAIRLY if one.sure is Sure.SURE else one.sure for one in pots)
        pots = tuple(replace(one, sure=sure) for one, sure in zip(pots, fairly, strict=True))
    return Measured(pots, placed, labels, strange, trouble)


def _trouble(strange: float, placed: Placed) -> str:
    if strange > MOST_STRANGE:
        return "its colours are not the plan's"
    burnt = (placed.light.max(axis=2) > BURNT)[placed.soap].mean()
    if burnt > MOST_BURNT:
        return "it is too bright: light colours cannot be told apart"
    return "" if placed.has_bar else "no edge of a bar was found: the whole picture was measured"


def _on_its_side(placed: Placed, rgb: Bytes, face: float) -> bool:
    """Whether a face wider than high is higher than wide here, or the other way round."""
    if face <= 0 or 1 / PLAINLY < face < PLAINLY:
        return False
    corners = np.array(placed.corners) * [rgb.shape[1], rgb.shape[0]]
    sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
    ratio = (sides[0] + sides[2]) / max(float(sides[1] + sides[3]), 1e-9)
    return bool((ratio < 1) != (face < 1))


def _unlikely(pots: Sequence[MeasuredPot], poured: Floats) -> str:
    """Every face shows about what was poured; far from it, colours were mistaken."""
    off = max(abs(pot.share - share) for pot, share in zip(pots, poured, strict=True))
    return "its colours cannot be told apart for certain" if off > MOST_OFF else ""


def _calm(light: Floats) -> Floats:
    """The middle of each pixel and its eight neighbours, channel by channel: noise goes, edges
    stay."""
    padded = np.pad(light, ((1, 1), (1, 1), (0, 0)), mode="edge")
    high, wide = light.shape[:2]
    around = [padded[i : i + high, j : j + wide] for i in range(3) for j in range(3)]
    return np.asarray(np.median(np.stack(around), axis=0))


def _moved(pixels: Floats, looks: Floats, shares: Floats) -> Floats:
    """Where the plan's colours really lie in this photograph: soap is seldom just as planned.

    A mixture of as many colours, each held to its planned look and its share of the batter, by
    expectation and maximisation. Pixels (n, 3) and looks (k, 3) CIELAB.
    """
    places, weights, spread = looks.copy(), shares / shares.sum(), USUAL_OFF
    enough = TOLD_BY / len(pixels)
    for _ in range(EM_ROUNDS):
        apart2 = ((pixels[:, None] - places) ** 2).sum(axis=2)
        belief = weights * np.exp(-0.5 * (apart2 - apart2.min(axis=1)[:, None]) / spread**2)
        belief /= belief.sum(axis=1)[:, None]
        belief[apart2.min(axis=1) > STRANGE**2] = 0.0
        mine = belief.sum(axis=0) * enough
        sums = belief.T @ pixels * enough
        hold = (spread / USUAL_OFF) ** 2
        places = (sums + hold * looks) / (mine + hold)[:, None]
        weights = (mine + HELD_SHARE * shares) / (mine.sum() + HELD_SHARE)
        spread2 = (belief * apart2).sum() / max(3 * belief.sum(), 1e-9)
        spread = float(np.sqrt(max(spread2, LEAST_SPREAD**2)))
    far = np.linalg.norm(places - looks, axis=1) > MOST_MOVED
    return np.where(far[:, None], looks, places)


def _labels(light: Floats, places: Floats, off: Floats, soap: Mask) -> NDArray[np.uint8]:
    """Nearest colour; on an edge one of those that lie clear around it, for a blend of two colours
    may look like a third. Colours blend as light: half white and half black looks nearly white.
    """
    nearest = off.argmin(axis=2).astype(np.uint8)
    edge = np.zeros(soap.shape, np.bool_)
    for axis in (0, 1):
        step = np.linalg.norm(np.diff(places, axis=axis), axis=2) > EDGE
        before, after = ([slice(None)] * 2 for _ in range(2))
        before[axis], after[axis] = slice(None, -1), slice(1, None)
        edge[tuple(before)] |= step
        edge[tuple(after)] |= step
    calm = np.where(edge | ~soap, 255, nearest)
    near = np.zeros(off.shape, np.bool_)
    padded = np.pad(calm, 2, constant_values=255)
    high, wide = soap.shape
    for i in range(5):
        for j in range(5):
            around = padded[i : i + high, j : j + wide]
            for pot in range(off.shape[2]):
                near[:, :, pot] |= around == pot
    blend = np.full(off.shape, np.inf)
    for pot in range(off.shape[2]):
        mine = calm == pot
        if mine.any():
            apart = np.linalg.norm(light - np.median(light[mine], axis=0), axis=2)
            blend[:, :, pot] = np.where(near[:, :, pot], apart, np.inf)
    among = np.where(near.any(axis=2), blend.argmin(axis=2), nearest)
    labels = np.where(edge, among, nearest).astype(np.uint8)
    return np.where(soap & (off.min(axis=2) <= STRANGE), labels, 255).astype(np.uint8)


def _alike(places: Floats) -> set[int]:
    """Pots whose colour another pot has, too."""
    apart = differences(places[:, None], places[None])
    return {i for i in range(len(places)) for j in range(len(places))
            if i != j and apart[i, j] < ALIKE}  # fmt: skip


def _melting(labels: NDArray[np.uint8], pixels: Floats, colours: int) -> set[int]:
    """Pots whose border with another runs where nothing changes to the eye."""
    borders = np.zeros((colours, colours))
    flat = np.zeros((colours, colours))
    for axis in (0, 1):
        one, other = (
            np.moveaxis(labels, axis, 0)[part].ravel() for part in (slice(-1), slice(1, None))
        )
        step = np.linalg.norm(np.diff(pixels, axis=axis), axis=2)
        step = np.moveaxis(step, axis, 0).ravel()
        there = (one < colours) & (other < colours) & (one != other)
        np.add.at(borders, (one[there], other[there]), 1)
        np.add.at(flat, (one[there], other[there]), step[there] < FLAT)
    borders, flat = borders + borders.T, flat + flat.T
    melting = (borders > labels.shape[0] / 8) & (flat > MOST_FLAT * borders)
    return {int(pot) for pot in np.nonzero(melting.any(axis=1))[0]}


def _pot_measured(
    pot: int, labels: NDArray[np.uint8], off: Floats, placed: Placed, alike: bool
) -> MeasuredPot:
    soap = labels != 255
    whole = max(int(soap.sum()), 1)
    mine = labels == pot
    others = (
        np.delete(off, pot, axis=2).min(axis=2) if off.shape[2] > 1 else np.full(soap.shape, 1e9)
    )
    own = off[:, :, pot]
    clearly = mine & (own < CLEAR * others)
    perhaps = mine | (soap & (others > CLEAR * own) & (own < STRANGE))
    spread = (float(clearly.sum() / whole), float(perhaps.sum() / whole))
    share = float(mine.sum() / whole)
    depth = depth_of(mine, soap)
    if share < LEAST_SHARE or not np.isfinite(depth):
        return MeasuredPot(pot, share, spread, float("nan"), "", Sure.UNSURE, alike)
    reached = reach(depth)
    same = {reach(depth_of(part, soap)) for part in (clearly, perhaps) if part.any()} == {reached}
    far = min(abs(depth - bound) for bound in (BOTTOM_FROM, HALF_WAY_FROM)) > NEAR_A_BOUND
    sure = Sure.SURE if same and far else Sure.FAIRLY if same or far else Sure.UNSURE
    if alike:
        sure = Sure.UNSURE
    return MeasuredPot(pot, share, spread, depth, reached, sure, alike)
