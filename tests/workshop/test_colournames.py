"""Colours by name: makers' words, shades of them, CSS names; and the word nearest to a colour."""

from __future__ import annotations

import pytest

from soapbench.desk.colournames import colour_named, name_of
from soapbench.words.colours import NAMES, SHADES


@pytest.mark.parametrize(
    ("css", "value"),
    # CSS Color Module Level 4, 6.1 Named Colors; from memory, and coloraide says the same.
    [("lightsalmon", "#ffa07a"), ("Rebecca Purple", "#663399"), ("slategrey", "#708090")],
)
def test_css_names_are_those_of_the_standard(css: str, value: str) -> None:
    assert colour_named(css) == value


@pytest.mark.parametrize("name", NAMES)
def test_a_makers_own_name_is_found_again(name: str) -> None:
    look = colour_named(name.upper())
    assert look == NAMES[name]
    assert name_of(look) == name


def test_a_dark_shade_is_darker_and_a_pale_one_paler() -> None:
    from coloraide import Color

    def light(name: str) -> float:
        look = colour_named(name)
        assert look is not None
        return float(Color(look).convert("lab-d65")["lightness"])

    for name in ("red", "sage", "blue", "clay"):
        assert light(f"dark {name}") < light(name) < light(f"light {name}") < light(f"pale {name}")


def test_every_shade_of_every_name_is_a_colour() -> None:
    for shade in SHADES:
        assert all(colour_named(f"{shade} {name}") for name in NAMES)


@pytest.mark.parametrize("words", ["", "nonsense", "dark", "[/]", "#12345", "dark #", "rgb(1,2,3)"])
def test_what_is_no_colour_is_none(words: str) -> None:
    assert colour_named(words) is None
