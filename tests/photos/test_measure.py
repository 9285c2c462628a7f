"""Photographs of drawn faces measured back: noise, lamp, slant, a table to lie on; truth known."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from soapbench.barface import Manner, face
from soapbench.photos.finding import place
from soapbench.photos.measure import ON_ITS_HEAD, Sure, measure
from tests.photos.photo_kit import (
    LOOKS,
    Taken,
    compressed,
    design,
    lit,
    on_a_table,
    photograph,
    taken,
)

SHARES_WITHIN = 0.04
DEPTH_RIGHT = 0.85
MANNERS = (
    (Manner.DROP, 0.6), (Manner.DROP, 1.6), (Manner.DROP, 2.6), (Manner.LAYER, 2.5),
    (Manner.COLUMN, 0.7), (Manner.STRIPE, 1.0), (Manner.WALL, 1.0), (Manner.SPOON, 3.0),
    (Manner.IN_THE_POT, 1.0),
)  # fmt: skip


def snapshots(each: int, seed: int, over: bool = False, worn: bool = False) -> list[Taken]:
    """``each`` snapshots of every set of colours, swirls in turn."""
    shots = []
    for i, looks in enumerate(LOOKS.values()):
        for j in range(each):
            number = i * each + j
            manner, trace = MANNERS[(number * 4 + j) % len(MANNERS)]
            face = design(looks, manner, trace, top=number % 4 == 1, tool=number % 3 == 0)
            shots.append(taken(face, seed + 7 * number, over, worn))
    return shots


@cache
def few() -> tuple[Taken, ...]:
    return tuple(snapshots(2, 40))


def hit_rates(listed: tuple[Taken, ...] | list[Taken]) -> tuple[float, float, float]:
    """Of snapshots that were measured: part of them with every share within bounds, part of the
    depths right, and part of those right that were called sure."""
    within, right, sure = [], [], []
    for one in listed:
        if one.measured.trouble:
            continue
        pairs = list(zip(one.measured.pots, one.shares, one.reached, strict=True))
        apart = [abs(pot.share - share) for pot, share, _ in pairs if not pot.alike]
        within.append(max(apart, default=0.0) <= SHARES_WITHIN)
        for pot, share, reached in pairs[1:]:
            if share > 0.01:
                right.append(pot.reached == reached)
                if pot.sure is Sure.SURE:
                    sure.append(pot.reached == reached)
    return float(np.mean(within)), float(np.mean(right)), float(np.mean(sure))


def test_shares_and_depths_come_back() -> None:
    within, right, sure = hit_rates(few())
    assert within >= 0.9
    assert right >= DEPTH_RIGHT
    assert sure >= 0.97, "sure means sure"
    assert sum(not one.measured.trouble for one in few()) >= 8, "most can be measured"


@pytest.mark.long
@pytest.mark.parametrize("worn", [False, True], ids=["clean", "ash and rivers"])
def test_shares_and_depths_come_back_from_many_snapshots(worn: bool) -> None:
    within, right, sure = hit_rates(snapshots(18, 9000, worn=worn))
    assert within >= 0.95
    assert right >= 0.95
    assert sure >= 0.97


@pytest.mark.long
def test_upside_down_is_asked_about_and_never_sure_and_wrong() -> None:
    turned = [
        one for one in snapshots(18, 9000, over=True) if ON_ITS_HEAD not in one.measured.trouble
    ]
    assert len(turned) <= 30, "of 90"
    assert hit_rates(turned)[2] >= 0.9
    upright = snapshots(18, 9000)
    assert sum(one.measured.trouble == ON_ITS_HEAD for one in upright) <= 2, "of 90"


def test_ash_and_glycerin_rivers_are_not_taken_for_a_colour() -> None:
    """Shares and depths as close as without them."""
    faces = [design(LOOKS[name], Manner.DROP, 1.6, False, False) for name in ("harbour", "night")]
    assert hit_rates([taken(one, 40, worn=True) for one in faces]) == (1.0, 1.0, 1.0)


def test_a_bar_upside_down_is_asked_about() -> None:
    """What was poured last would lie where it was poured first: told by the drawn face."""
    face = design(LOOKS["dunes"], Manner.DROP, 1.6, top=False, tool=False)
    photo = taken(face, 61, over=True).measured
    assert photo.trouble == ON_ITS_HEAD
    assert {pot.sure for pot in photo.pots} == {Sure.UNSURE}
    assert not taken(face, 61).measured.trouble


def test_one_pale_colour_under_an_uneven_light_is_not_called_two() -> None:
    """Lilac towards a lamp looks as white as the white beside it: their border runs where nothing
    changes to the eye."""
    face = design(LOOKS["heather"], Manner.COLUMN, 0.7, top=False, tool=False)
    photo = taken(face, 9000 + 7 * 71).measured
    pale = (photo.pots[0], photo.pots[3])
    assert all(pot.alike and pot.sure is Sure.UNSURE for pot in pale)
    assert not any(pot.alike for pot in photo.pots[1:3])


def test_the_sides_of_a_bar_are_found_however_it_lies() -> None:
    drawn = face(design(LOOKS["harbour"], Manner.DROP, 1.0, top=False, tool=True), 0.5, 320, 250, 1)
    corners = np.array([[120, 60], [520, 90], [560, 430], [90, 380]], float)
    picture = on_a_table(drawn, "#8a8d90", corners, (640, 480))
    placed = place(picture, 120, 90)
    assert placed.has_bar
    pixels = np.array(placed.corners) * [640, 480]
    assert np.abs(pixels - corners).max() < 6, "pixels of 640"
    assert placed.soap.all()


def test_a_face_that_fills_the_picture_is_measured_and_says_so() -> None:
    whole = design(LOOKS["dunes"], Manner.LAYER, 2.5, top=False, tool=False)
    drawn = face(whole, 0.5, 320, 250, 3)
    photo = measure(drawn.rgb, LOOKS["dunes"], whole.shares)
    assert not photo.placed.has_bar
    assert "no edge" in photo.trouble
    assert [pot.sure for pot in photo.pots] == [Sure.UNSURE] * 4
    for pot, share in zip(photo.pots, whole.shares, strict=True):
        assert pot.share == pytest.approx(share, abs=SHARES_WITHIN)


@pytest.mark.parametrize("quarters", [0, 1, 2, 3])
def test_a_bar_on_its_side_is_told_and_never_called_sure(quarters: int) -> None:
    """Depths would be read across the bar."""
    face = design(LOOKS["harbour"], Manner.DROP, 1.6, top=False, tool=False)
    picture, _ = photograph(face, 61)
    photo = measure(np.rot90(picture, quarters), LOOKS["harbour"], face.shares, 400 / 310)
    lies = quarters in (1, 3)
    assert ("on its side" in photo.trouble) == lies
    if lies:
        assert {pot.sure for pot in photo.pots} == {Sure.UNSURE}
    nearly_square = measure(np.rot90(picture, quarters), LOOKS["harbour"], face.shares, 1.05)
    assert "on its side" not in nearly_square.trouble, "its sides tell nothing"


def test_other_colours_than_the_plans_are_told() -> None:
    face = design(("#e04040", "#40e040", "#4040e0", "#e0e040"), Manner.LAYER, 2.5, False, False)
    picture, _ = photograph(face, 5)
    photo = measure(picture, ("#e8dfc8", "#5c3a26", "#2e2019", "#c9b79c"), face.shares)
    assert "not the plan's" in photo.trouble
    assert {pot.sure for pot in photo.pots} == {Sure.UNSURE}


def test_two_pots_of_one_colour_are_never_called_sure() -> None:
    looks = ("#4a5a6a", "#e9e4d6", "#e9e4d6", "#b5483a")
    face = design(looks, Manner.DROP, 1.0, False, False)
    photo = taken(face, 12).measured
    assert [pot.alike for pot in photo.pots[1:3]] == [True, True]
    assert {pot.sure for pot in photo.pots[1:3]} == {Sure.UNSURE}


def test_burnt_out_is_told() -> None:
    from tests.photos.photo_kit import Lamp

    face = design(LOOKS["heather"], Manner.LAYER, 2.5, False, False)
    picture, _ = photograph(face, 4)
    bright = lit(picture, Lamp(gain=(3.0, 3.0, 3.0)), np.random.default_rng(0))
    assert measure(bright, LOOKS["heather"], face.shares).trouble


def test_a_real_photograph_of_something_else_is_not_taken_for_a_bar() -> None:
    """A photograph that an open package ships (matplotlib's sample of Rear Admiral Hopper's
    portrait, in the public domain)."""
    import matplotlib
    from PIL import Image

    shipped = Path(matplotlib.get_data_path()) / "sample_data" / "grace_hopper.jpg"
    if not shipped.is_file():
        pytest.skip("this matplotlib ships no photograph")
    picture = np.asarray(Image.open(shipped).convert("RGB"))
    for looks in (LOOKS["night"], LOOKS["dunes"], LOOKS["two"]):
        photo = measure(picture, looks, [1.0] * len(looks))
        assert photo.trouble
        assert {pot.sure for pot in photo.pots} == {Sure.UNSURE}


@pytest.mark.parametrize("shape", [(16, 16), (16, 400), (400, 16)])
def test_any_picture_is_measured_without_a_fault(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(8)
    for picture in (
        np.zeros((*shape, 3), np.uint8),
        np.full((*shape, 3), 255, np.uint8),
        rng.integers(0, 256, (*shape, 3)).astype(np.uint8),
        compressed(rng.integers(0, 256, (*shape, 3)).astype(np.uint8), 30),
    ):
        photo = measure(picture, LOOKS["two"], (0.7, 0.3))
        assert photo.trouble
        assert all(0 <= pot.share <= 1 for pot in photo.pots)
        one = measure(picture, ("#e8dfc8",), (1.0,))
        assert len(one.pots) == 1
