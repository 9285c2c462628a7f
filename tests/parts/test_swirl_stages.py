"""Stages before the pour, and steps that cannot be poured: at their bounds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.plan import Fragrance, Plan
from soapbench.swirls.stage import Need, Stage
from soapbench.swirls.stages import (
    in_order_of_fragrance,
    lightest_first,
    luminance,
    scrape_stage,
    stages,
    step_problems,
)
from soapbench.swirls.table import SwirlTable
from soapbench.words.acts import TWICE, no_pour_first, second_pour, too_few_pots
from tests.plans import EVERYTHING, THREE_POTS, plan

ML = {"base": 600.0, "rope": 200.0, "gull": 200.0}
TABLE = tables.swirls()
(FRAGRANCE,) = plan().fragrance

# ---------------------------------------------------------------- a stage


def test_a_tool_or_a_top_can_be_left_out_and_nothing_else_can() -> None:
    before = Stage("c", "colour", "Colour")
    pour = Stage("p", "pour", "Pour", step="layers", puts="mould")
    assert not before.can_be_left_out
    assert not pour.can_be_left_out
    assert not replace(pour, step="").can_be_left_out
    assert replace(pour, puts=None).can_be_left_out


def test_hands_wait_for_what_must_be_past_stable_emulsion() -> None:
    needs = (
        Need(("a", "b"), Trace.LIGHT, Trace.THICK),
        Need(("c",), Trace.EMULSION, Trace.THICK),
        Need(("c",), Trace.MEDIUM, Trace.THICK),
    )
    waits = Stage("p", "pour", "Pour", needs=needs).waits
    assert waits == (("a", Trace.LIGHT), ("b", Trace.LIGHT), ("c", Trace.MEDIUM))


def test_what_is_not_said_in_part_is_as_planned_and_undrawn_is_as_always() -> None:
    need = Need(("a",), Trace.EMULSION, Trace.LIGHT)
    assert need.limits() == need.limits(drawn=True) == (Trace.LIGHT, Trace.LIGHT)
    some = replace(need, in_part=Trace.THICK, drawn=(Trace.MEDIUM, Trace.SET_UP))
    assert some.limits() == (Trace.LIGHT, Trace.THICK)
    assert some.limits(drawn=True) == (Trace.MEDIUM, Trace.SET_UP)


# ---------------------------------------------------------------- before the pour


def stages_of(of: Plan, table: SwirlTable = TABLE, steps: list[str] | None = None) -> list[Stage]:
    ml = {pot.name: ML.get(pot.name, 200.0) for pot in of.pots}
    return [s for s in stages(of, ml, table, steps) if not s.step]


def only(of: Plan, action: str, table: SwirlTable = TABLE) -> Stage:
    return next(stage for stage in stages_of(of, table) if stage.action == action)


def blended(blend: float | Trace) -> Plan:
    return replace(plan(), conditions=replace(plan().conditions, blend=blend))


def test_blending_for_some_seconds_takes_them_on_top_and_up_to_a_state_as_long_as_it_takes() -> (
    None
):
    """Of one litre 20 s of handwork beside it, by the table."""
    seconds, state = only(blended(25.0), "emulsify"), only(blended(Trace.LIGHT), "emulsify")
    assert (seconds.median_s, seconds.blend_s, seconds.blend_to) == (45.0, 25.0, None)
    assert (state.median_s, state.blend_s, state.blend_to) == (20.0, 0.0, Trace.LIGHT)
    assert seconds.words == "Emulsify, 25 s of blending"
    assert state.words == "Emulsify, stop at light trace"


def test_handwork_no_table_knows_takes_half_a_minute() -> None:
    """Median 30 s, spread .3 (ours, judged)."""
    bare = only(plan(), "colour", replace(TABLE, handwork={}))
    assert (bare.median_s, bare.spread) == (30.0, 0.3)


def test_work_on_one_of_several_pots_is_called_by_it() -> None:
    alone = replace(plan(), pots=plan().pots[:1])
    assert only(plan(), "colour").id == "colour/gull"
    assert only(alone, "colour").id == "colour"
    two = replace(plan(), pots=plan().pots[:2])
    assert only(two, "colour").id == "colour/rope"
    assert only(two, "lye into oils").id == "lye into oils"


def additives(goes_in: str, *names: str) -> Plan:
    texts = "".join(
        f'[[additives]]\nname = "{name}"\ndose = "5 g"\ngoes_in = {goes_in}\n' for name in names
    )
    return plan(THREE_POTS + texts)


@pytest.mark.parametrize(
    ("goes_in", "into"), [('"emulsion"', ""), ('["rope"]', " into rope")], ids=["all", "one pot"]
)
def test_additives_are_stirred_in_by_name_and_long_ones_are_cut(goes_in: str, into: str) -> None:
    for name, shown in (("x" * 24, "x" * 24), ("x" * 25, "x" * 23 + "…")):
        stirring = only(additives(goes_in, name, "salt"), "stir in an additive")
        start = "Stir" if into else "Stir in"
        assert stirring.words == f"{start} {shown}, salt{into}"
    assert not [s for s in stages_of(additives('"lye water"', "salt")) if "additive" in s.action]


def test_an_additive_comes_after_all_colours_where_it_has_its_pot_and_before_where_not() -> None:
    own = [s.id for s in stages_of(additives('["rope"]', "salt"))]
    assert own.index("stir in an additive/rope") == own.index("colour/base") + 1
    whole = [s.id for s in stages_of(additives('"emulsion"', "salt"))]
    assert whole.index("stir in an additive") == whole.index("emulsify") + 1


def test_it_is_cooked_where_any_of_its_steps_is() -> None:
    def cooked(*steps: str) -> bool:
        return "cook" in [s.action for s in stages_of(plan(), steps=list(steps))]

    assert cooked("hot process")
    assert cooked("hot process", "textured top")
    assert not cooked("drop swirl", "textured top")


def test_what_is_scraped_back_is_taken_together() -> None:
    """120 s a litre by the table, growing with the litres to the power of .3."""
    scraping = scrape_stage(("base", "rope"), plan(), ML, TABLE)
    assert scraping.median_s == pytest.approx(120.0 * 0.8**0.3)
    assert scraping.litres == pytest.approx(0.8)
    assert (scraping.id, scraping.puts, scraping.fragrance_into) == ("scrape back", "pot", ())
    assert scrape_stage(("rope",), plan(), ML, TABLE).id == "scrape back"


# ---------------------------------------------------------------- fragrance


def scented(*fragrances: Fragrance) -> list[str]:
    return [pot.name for pot in in_order_of_fragrance(replace(plan(), fragrance=fragrances))]


def into(*pots: str) -> Fragrance:
    return replace(FRAGRANCE, name="/".join(pots), goes_into=pots)


def test_fragrance_goes_into_the_base_last_unless_an_order_is_listed() -> None:
    assert scented(FRAGRANCE) == ["rope", "gull", "base"]
    assert scented(replace(FRAGRANCE, goes_into="base")) == ["base"]
    assert scented(into("base", "gull", "rope")) == ["base", "gull", "rope"]
    assert scented(into("gull", "rope")) == ["gull", "rope"]
    assert scented() == []


def test_fragrance_in_the_oils_takes_no_hand_whatever_else_is_there() -> None:
    some = replace(plan(), fragrance=(replace(FRAGRANCE, goes_into="oils"), into("rope")))
    assert not [stage for stage in stages_of(some) if stage.fragrance_into]
    assert not [stage for stage in stages_of(replace(plan(), fragrance=())) if stage.fragrance_into]


def test_two_fragrances_each_keep_their_own_order_and_places() -> None:
    assert scented(into("base", "gull"), into("rope")) == ["rope", "base", "gull"]
    assert scented(into("rope"), into("base", "gull")) == ["rope", "base", "gull"]
    assert scented(into("base", "rope"), replace(FRAGRANCE, goes_into="gull")) == [
        "base", "gull", "rope",
    ]  # fmt: skip


def test_late_fragrance_goes_in_right_before_its_pot_is_poured_and_early_stays() -> None:
    late = replace(into("rope"), when="just before pouring")
    both = replace(plan(), fragrance=(late, into("base", "gull")))
    ids = [s.id for s in stages(both, ML, TABLE)]
    assert ids.index("stir in fragrance/rope") == ids.index("drop swirl/drop an accent/rope") - 1
    assert ids.index("stir in fragrance/base") < ids.index("drop swirl/pour into mould/base")
    assert ids.count("stir in fragrance/rope") == 1


# ---------------------------------------------------------------- steps that cannot be poured


def wrong(*steps: str, of: Plan | None = None) -> tuple[str, ...]:
    of = of or plan()
    return step_problems(replace(of, swirl=replace(of.swirl, steps=list(steps))), TABLE)


def test_each_wrong_step_is_told_once_and_right_ones_are_not() -> None:
    pours = ", ".join(kind.name for kind in TABLE.pours)
    assert wrong("drop swirl") == ()
    assert wrong("drop swirl", "hanger swirl", "textured top") == ()
    assert wrong("hanger swirl") == (no_pour_first("hanger swirl", pours),)
    assert wrong("layers", "drop swirl") == (second_pour("drop swirl"),)
    assert wrong("layers", "hanger swirl", "drop swirl") == (second_pour("drop swirl"),)
    assert wrong("layers", "layers") == (second_pour("layers"), TWICE)
    assert wrong("layers", "hanger swirl", "hanger swirl") == (TWICE,)


def test_a_swirl_wants_its_pots_in_one_mould() -> None:
    alone = replace(plan(), pots=plan().pots[:1])
    assert wrong("layers", of=replace(plan(), pots=plan().pots[:2])) == ()
    assert wrong("layers", of=alone) == (too_few_pots("layers", 2, 1),)
    assert wrong("drop swirl", of=plan(EVERYTHING)) == (), "two go into one of its moulds"


# ---------------------------------------------------------------- light and dark


@pytest.mark.parametrize("value", range(0, 256, 5))
def test_luminance_of_a_grey_by_the_curve_of_the_standard(value: int) -> None:
    """IEC 61966-2-1 as in WCAG 2.2 (from memory): the two pieces meet at .04045, 10.3 of 255."""
    c = value / 255
    by_hand = c / 12.92 if value <= 10 else ((c + 0.055) / 1.055) ** 2.4
    assert luminance(f"#{value:02x}{value:02x}{value:02x}") == pytest.approx(by_hand, rel=1e-9)


def test_eleven_of_255_lies_on_the_curve_and_ten_on_the_line() -> None:
    assert luminance("#0b0b0b") == pytest.approx(((11 / 255 + 0.055) / 1.055) ** 2.4)
    assert luminance("#0a0a0a") == pytest.approx(10 / 255 / 12.92)


def test_pots_of_one_colour_stay_in_the_plans_order() -> None:
    same = [replace(pot, look="#808080") for pot in plan().pots]
    assert [pot.name for pot in lightest_first(same)] == ["base", "rope", "gull"]
