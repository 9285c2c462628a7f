"""Discolouration by vanillin: which pots brown, how much, and how the face looks after its cure."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soapbench.advice.known import Known
from soapbench.barface.words import showings
from soapbench.bench import tables
from soapbench.plan import Plan
from soapbench.recipe.amounts import amounts
from soapbench.recipe.browning import after_cure, looks_after_cure, luminance, shows
from soapbench.ui.barface import BarFace
from soapbench.ui.face import FaceScreen
from tests.bench_screen.bench_kit import bench_app, rest
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan

looks = st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}")


def with_vanillin(share: str, into: str = '"each pot"') -> Plan:
    more = f'vanillin = "{share}"\ngoes_into = {into}\n'
    return plan(THREE_POTS.replace('limit = "9 %"\n', f'limit = "9 %"\n{more}'))


@given(looks)
def test_luminance_as_coloraide_has_it(look: str) -> None:
    from coloraide import Color

    assert luminance(look) == pytest.approx(Color(look).luminance(), abs=1e-4)


@given(looks, st.floats(0, 0.02), st.floats(0, 0.02))
def test_more_vanillin_is_never_lighter(look: str, some: float, more: float) -> None:
    some, more = sorted((some, more))
    assert luminance(after_cure(look, more)) <= luminance(after_cure(look, some)) + 1e-9
    assert after_cure(look, 0.0) == look


# What makers say (common practice, no source): a fragrance of hardly any vanillin leaves white
# soap off-white, some percent make it tan, ten and more chocolate; black hides it.
WHITE_AFTER = {
    "0.1 %": (0.85, 1.0),
    "2 %": (0.45, 0.85),
    "6 %": (0.15, 0.60),
    "15 %": (0.03, 0.20),
}


@pytest.mark.parametrize("vanillin", WHITE_AFTER)
def test_white_soap_by_how_much_vanillin_the_fragrance_has(vanillin: str) -> None:
    """Common practice, no source; a load of 3 % of the oils, some 2 % of the batter."""
    share = float(vanillin.split()[0]) / 100 * 0.02
    low, high = WHITE_AFTER[vanillin]
    after = after_cure("#ffffff", share)
    assert low <= luminance(after) <= high
    red, green, blue = bytes.fromhex(after[1:])
    assert red >= green >= blue, "towards brown"
    assert not shows("#202020", after_cure("#202020", share))


def test_only_pots_with_the_fragrance_brown() -> None:
    pour = with_vanillin("8 %", '["rope", "base"]')
    weighed = amounts(pour, tables.oils(), tables.colourants())
    assert set(looks_after_cure(pour, weighed)) == {"rope", "base"}
    plain = plan()
    assert looks_after_cure(plain, amounts(plain, tables.oils(), tables.colourants())) == {}


def test_the_face_after_the_cure_is_the_same_loaf_in_other_colours(known: Known) -> None:
    (shown,) = showings(with_vanillin("8 %"), known, late=0)
    assert shown.cured is not None
    assert shown.cured.steps == shown.design.steps
    before, after = ([c.look for c in d.colours] for d in (shown.design, shown.cured))
    assert all(luminance(a) < luminance(b) for b, a in zip(before, after, strict=True))
    (plain,) = showings(plan(), known, late=0)
    assert plain.cured is None


async def test_one_key_shows_it_now_and_after_the_cure(
    tmp_path: Path, clock: FakeClock, known: Known
) -> None:
    pour = with_vanillin("8 %")
    async with bench_app(tmp_path, clock) as (app, pilot):
        screen = FaceScreen("Quay Wall", lambda: showings(pour, known, late=0))
        await app.push_screen(screen)
        await rest(app, pilot)
        assert "after the cure" in str(screen.query_one("#keys").render())
        before = screen.query_one("#face0", BarFace).lines
        await pilot.press("c")
        await rest(app, pilot)
        assert "as planned, after the cure" in str(screen.query_one("#label0").render())
        asked = screen.query_one("#face0", BarFace)._wanted
        assert asked is not None
        assert asked.design.colours[2].look != "#f4f4f0"
        assert before
        await pilot.press("c")
        await rest(app, pilot)
        assert str(screen.query_one("#label0").render()) == "as planned"
