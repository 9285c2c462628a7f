"""What a maker would say of our advice, on an empty bench: one test a row.

Common practice, no source: a maker's judgement, which outranks every formula here. One litre, 40 %
saturated, lye of 33 %, blended to a stable emulsion and no further, fragrance 3 % of the oils.
"""

from __future__ import annotations

import pytest

from soapbench.advice.advise import Advice
from soapbench.advice.known import Known
from soapbench.advice.ways import ahead_by
from soapbench.batter import Reputation, Trace
from soapbench.bench.tables import cautions
from soapbench.desk.pourdesk import Desk
from soapbench.outlook.worth import Become
from soapbench.recipe.amounts import pot_ml
from soapbench.sheet.plansheet import PlanSheet, plan_sheet, with_together
from tests.desks import desk, work
from tests.fakes import FakeClock
from tests.thickening.test_trade import evening

WELL, UNKNOWN, ACCELERATES, NOTORIOUS = Reputation


def sheet_of(known: Known, reputation: Reputation) -> PlanSheet:
    sheet = plan_sheet(evening(reputation, 20), known, cautions())
    return with_together(sheet, known)


def after_tap(pour: Desk, clock: FakeClock, pot: str, state: Trace) -> Advice:
    """Tapped, a second time where it was asked once more."""
    for _ in range(2):
        pour.trace_seen(pot, state)
        clock.passes(1)
    live = pour.advise()
    pour.heed(live)
    assert live.advice is not None
    return live.advice


# ---------------------------------------------------------------- whole pours


def test_accelerates_in_each_pot_has_a_quicker_way_above_it(known: Known) -> None:
    sheet = sheet_of(known, ACCELERATES)
    names = [choice.name for choice in sheet.choices]
    own = names.index("drop swirl + hanger swirl + textured top")
    assert min(names.index("in-the-pot swirl"), names.index("hot process")) < own
    assert sheet.advice is not None
    assert sheet.advice.way.name in ("in-the-pot swirl", "hot process"), "and says so"


def test_accelerates_in_each_pot_is_offered_a_change_that_keeps_the_drop(known: Known) -> None:
    sheet = sheet_of(known, ACCELERATES)
    assert sheet.outlook is not None
    chances = {lever.change: lever.chance for lever in sheet.levers}
    keeps = [
        chance
        for change, chance in chances.items()
        if change == "fragrance in the base only" or change.startswith("half the fragrance")
    ]
    assert keeps
    assert max(keeps) > sheet.outlook.chance


def test_notorious_in_each_pot_is_not_to_be_counted_on(known: Known) -> None:
    sheet = sheet_of(known, NOTORIOUS)
    assert sheet.in_danger
    assert sheet.advice is not None
    assert sheet.advice.way.become is not Become.WISH


def test_well_behaved_keeps_its_wish(known: Known) -> None:
    sheet = sheet_of(known, WELL)
    assert not sheet.in_danger
    assert sheet.choices[0].become is Become.WISH
    assert sheet.together == ()


def test_the_base_tapped_medium_before_the_first_drop(known: Known, clock: FakeClock) -> None:
    """Told: it will lie on top; pour low and close to it, draw the hanger deep and at once."""
    pour = desk(evening(ACCELERATES, 20), known, clock)
    work(pour, clock, "drop an accent")
    advice = after_tap(pour, clock, "base", Trace.MEDIUM)
    assert "lie on top" in advice.how
    assert "low and close" in advice.how
    assert "hanger deep and at once" in advice.how
    assert advice.going_on.chance_in_part > advice.going_on.chance
    work(pour, clock, "draw the hanger")
    seen_now = pour.advise().advice
    assert seen_now is not None
    assert "deep and at once" in seen_now.how


def test_a_base_still_thin_is_dropped_into_as_usual(known: Known, clock: FakeClock) -> None:
    pour = desk(evening(WELL, 20), known, clock)
    work(pour, clock, "drop an accent")
    advice = pour.advise().advice
    assert advice is not None
    assert advice.how == ""


# ---------------------------------------------------------------- when a batter has set up


def test_a_scented_base_tapped_set_up_leaves_nothing_to_be_stirred_turned_or_poured_thin(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(evening(NOTORIOUS, 24), known, clock)
    work(pour, clock, "pour into mould")
    advice = after_tap(pour, clock, "base", Trace.SET_UP)
    assert advice.backup is not None
    assert advice.warns
    ahead = ahead_by(
        advice.backup.steps, pour.plan, pot_ml(pour.amounts), pour.state, known.swirls,
        advice.backup.moves,
    )  # fmt: skip
    for stage in ahead:
        for need in stage.needs:
            if "base" in need.pots and not stage.can_be_left_out:
                assert need.limits()[1] is Trace.SET_UP, stage.id
    assert advice.backup.become is Become.SAVED


# ---------------------------------------------------------------- hot process


@pytest.mark.parametrize("reputation", [WELL, UNKNOWN])
def test_hot_process_is_never_put_first_for_a_batch_in_no_danger(
    known: Known, clock: FakeClock, reputation: Reputation
) -> None:
    sheet = sheet_of(known, reputation)
    assert sheet.choices[0].name != "hot process"
    pour = desk(evening(reputation, 24), known, clock)
    work(pour, clock, "pour into mould", each_s=12)
    live = pour.advise()
    assert live.rescue is None or live.rescue.name != "hot process"
