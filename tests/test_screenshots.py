"""The README's pictures show what the screens show now."""

from __future__ import annotations

import re

import pytest

from tests.screenshots import FOLDER, SCENES, picture, words


@pytest.mark.parametrize("name", list(SCENES))
def test_a_picture_is_fresh(name: str) -> None:
    kept = (FOLDER / f"{name}.svg").read_text("utf-8")
    assert words(kept), "a picture without words"
    # Chances and times are worked out by numpy, whose last digits differ between machines.
    digits = re.compile(r"\d+")
    assert [digits.sub("0", w) for w in words(kept)] == [
        digits.sub("0", w) for w in words(picture(name))
    ], "make them anew with: python -m tests.screenshots"
