"""The README's pictures show what the screens show now; the other scenes can all be drawn."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from tests.moving import FILE, STORY
from tests.said import FAULTS, JARGON, RETIRED, phrases, stumbles
from tests.screenshots import (
    FOLDER,
    LOOKS,
    MORE_SCENES,
    SCENES,
    SIZES,
    exported,
    picture,
    staged,
    words,
    written,
)
from tests.waiting import worked_out

SAYS = {
    "bench": "Your bench",
    "workshop": "Edit plan",
    "workshop-faults": "things to fix",
    "settings": "Settings",
    "materials": "fragrances",
    "help": "A POUR FROM START TO FINISH",
    "glossary": "stable emulsion",
    "review": "you pour this again",
    "cut-face": "slice",
    "plan-amounts": "SWIRLS as planned in part",
    "plan-stop": "STOP do not pour",
    "pour-ready": "as the lye goes into the oils",
    "pour-well": "in the mould",
    "pour-waiting": "must reach medium trace",
    "pour-question": "End the pour here",
    "pour-keys": "separating",
    "pour-far": "",
    "pour-over": "in part",
    "summary": "yours",
}
"""Something that only this scene says; letters of a distance are drawn and not written."""


@pytest.mark.parametrize("name", list(SCENES))
def test_a_picture_is_fresh(name: str) -> None:
    kept = (FOLDER / f"{name}.svg").read_text("utf-8")
    assert words(kept), "a picture without words"
    svg = picture(name)
    assert words(kept) == words(svg), "make them anew: python -m tests.screenshots"
    assert not stumbles(written(svg), RETIRED, JARGON, FAULTS)
    assert not phrases(written(svg))


@pytest.mark.parametrize("name", list(MORE_SCENES))
async def test_a_scene_is_drawn_small_and_dark_and_large_and_light(name: str) -> None:
    drawings = []
    async with staged(name, LOOKS[0], SIZES[0]) as pilot:
        for look, size in zip(LOOKS, SIZES, strict=True):
            pilot.app.theme = look
            await pilot.resize_terminal(*size)
            await worked_out(pilot.app)
            await pilot.pause()
            drawings.append((look, size, exported(pilot.app)))
    for look, size, svg in drawings:
        text = " ".join(words(svg))
        assert not stumbles(written(svg), RETIRED, JARGON, FAULTS), (look, size)
        assert not phrases(written(svg))
        wanted = " ".join(words(f"<text>{SAYS[name]}</text>"))
        assert wanted in text or (name == "pour-well" and size[0] < 112), (look, size)


def test_the_moving_picture_shows_one_frame_at_a_time() -> None:
    kept = FILE.read_text("utf-8")
    frames = kept.count("<animate ")
    assert frames == len(STORY) + 1
    shown = [
        dict(zip(times.split(";"), values.split(";"), strict=True))
        for values, times in re.findall(r'values="([\d;]+)" keyTimes="([\d.;]+)"', kept)
    ]
    starts = [next(at for at, on in frame.items() if on == "1") for frame in shown]
    assert starts == sorted(set(starts), key=float)
    assert ElementTree.fromstring(kept).tag.endswith("svg")
    assert "as the lye goes into the oils" in " ".join(words(kept))
