"""The order of the work. Common practice, no source, unless a test says otherwise."""

from __future__ import annotations

import pytest

from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.plan import Plan
from soapbench.swirls.pouring import left_unpoured
from soapbench.swirls.stage import Stage
from soapbench.swirls.stages import lightest_first, luminance, stages, step_problems
from tests.plans import THREE_POTS, plan

ML = {"base": 600.0, "rope": 200.0, "gull": 200.0}


def stages_of(of: Plan, steps: list[str] | None = None) -> tuple[Stage, ...]:
    return stages(of, ML, tables.swirls(), steps)


def order(of: Plan, steps: list[str] | None = None) -> list[str]:
    return [stage.id for stage in stages_of(of, steps)]


def test_a_drop_swirl_is_worked_in_this_order() -> None:
    # Accents poured off and coloured before any fragrance; colours lightest to darkest;
    # fragrance by hand and last.
    assert order(plan()) == [
        "lye into oils",
        "emulsify",
        "pour off/rope",
        "pour off/gull",
        "colour/gull",
        "colour/rope",
        "colour/base",
        "stir in fragrance/rope",
        "stir in fragrance/gull",
        "stir in fragrance/base",
        "drop swirl/pour into mould/base",
        "drop swirl/drop an accent/rope",
        "drop swirl/drop an accent/gull",
        "hanger swirl/draw the hanger",
    ]


def test_fragrance_is_never_stick_blended() -> None:
    blended = [stage for stage in stages_of(plan()) if stage.blend_s or stage.blend_to is not None]
    assert [stage.action for stage in blended] == ["emulsify"]
    assert not any(stage.fragrance_into for stage in blended)


def test_in_the_pot_is_the_quickest_swirl() -> None:
    table = tables.swirls()
    total = {
        kind.name: sum(stage.median_s for stage in stages_of(plan(), [kind.name]))
        for kind in table.pours
        if kind.least_pots > 1
    }
    assert min(total, key=lambda name: total[name]) == "in-the-pot swirl"


def test_a_drop_needs_a_base_that_has_not_begun_to_set() -> None:
    drop = next(s for s in stages_of(plan()) if s.action == "drop an accent")
    in_mould = [need for need in drop.needs if need.pots == ("base",)]
    assert in_mould
    # It pierces a base short of light trace, lies half way short of medium, on top after that.
    need = in_mould[-1]
    assert need.limits() == (Trace.EMULSION, Trace.LIGHT)
    assert need.limits(drawn=True) == (Trace.LIGHT, Trace.THICK), "the hanger draws it down"


def test_layers_wait_for_the_one_below() -> None:
    second = [s for s in stages_of(plan(), ["layers"]) if s.step == "layers"][1]
    assert any(n.pots == ("base",) and n.earliest == Trace.MEDIUM for n in second.needs)


def test_fragrance_just_before_pouring() -> None:
    late = plan(THREE_POTS.replace('load = "3 %"', 'load = "3 %"\nwhen = "just before pouring"'))
    ids = order(late)
    for pot, pour in (("base", "pour into mould"), ("rope", "drop an accent")):
        assert ids.index(f"stir in fragrance/{pot}") + 1 == ids.index(f"drop swirl/{pour}/{pot}")


def test_fragrance_in_the_oils_needs_no_stage() -> None:
    oils = plan(THREE_POTS.replace('load = "3 %"', 'load = "3 %"\ngoes_into = "oils"'))
    assert not any(stage.fragrance_into for stage in stages_of(oils))


@pytest.mark.parametrize("name", [kind.name for kind in tables.swirls().pours])
def test_every_swirl_pours_every_pot(name: str) -> None:
    assert left_unpoured(stages_of(plan(), [name]), plan()) == ()


def test_hot_process_cooks_before_colour_and_fragrance() -> None:
    ids = order(plan(), ["hot process"])
    assert ids.index("cook") < ids.index("colour/gull") < ids.index("stir in fragrance/base")


@pytest.mark.parametrize(
    ("steps", "why"),
    [
        ('["hanger swirl"]', "Hanger swirl comes after a pour"),
        ('["drop swirl", "layers"]', "would be a second"),
        ('["drop swirl", "hanger swirl", "hanger swirl"]', "named twice"),
    ],
)
def test_steps_that_cannot_be_poured_are_named(steps: str, why: str) -> None:
    bad = plan(THREE_POTS.replace('["drop swirl", "hanger swirl"]', steps))
    assert any(why in words for words in step_problems(bad, tables.swirls()))


def test_luminance_against_wcag() -> None:
    # WCAG 2.2 relative luminance: black 0, white 1; mid grey #808080 0.2158605 linear
    # (sRGB decode of 128/255, as coloraide gives it).
    assert luminance("#000000") == 0
    assert luminance("#ffffff") == pytest.approx(1)
    assert luminance("#808080") == pytest.approx(0.2158605, abs=1e-6)


def test_lightest_first() -> None:
    assert [pot.name for pot in lightest_first(plan().pots)] == ["gull", "rope", "base"]


def test_more_batter_takes_longer() -> None:
    twice = {name: 2 * ml for name, ml in ML.items()}
    small, large = stages_of(plan()), stages(plan(), twice, tables.swirls())
    assert all(a.median_s <= b.median_s for a, b in zip(small, large, strict=True))
    assert sum(s.median_s for s in large) < 2 * sum(s.median_s for s in small)
