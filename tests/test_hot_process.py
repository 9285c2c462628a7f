"""Hot process as a way of its own, and what a trouble does to what is offered.

Common practice, no source, unless a test says otherwise.
"""

from __future__ import annotations

import pytest

from soapbench.advice.advise import judged
from soapbench.advice.known import Known, mix_of
from soapbench.advice.moment import Moment
from soapbench.advice.ways import SwirlChoice, Way, ways_from
from soapbench.barface.barplan import likely, poured
from soapbench.bench.tables import cautions
from soapbench.desk.pourdesk import Desk
from soapbench.outlook.worth import Become
from soapbench.pour.history import history
from soapbench.recipe.amounts import amounts, pot_ml
from soapbench.sheet.weighing import weighed
from soapbench.swirls.cooking import LEAST_COOK_S, water_wanted_g
from soapbench.swirls.stages import stages
from soapbench.thickening import live
from soapbench.troubles import Trouble
from tests.desks import desk, work
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan

COOKED = THREE_POTS.replace('"drop swirl", "hanger swirl"', '"hot process"')
CALM = THREE_POTS.replace('"accelerates"', '"well behaved"')
HOT = ("hot process",)


def actions(pour: Desk) -> list[str]:
    return [stage.action for stage in pour.state.ahead]


def judged_now(pour: Desk, known: Known) -> dict[Way, SwirlChoice]:
    now = pour.now()
    watched = history("b", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, now)
    draws = live(known.fit, watched, now)
    ways = judged(Moment(pour.plan, pot_ml(pour.amounts), known, pour.state, draws, now))
    return {way.key: way for way in ways}


def test_kept_back_oil_goes_in_after_the_cook_and_fragrance_last(known: Known) -> None:
    kept = plan(COOKED + '[hot_process]\nkept_back = "4 %"\n')
    ml = {pot.name: 300.0 for pot in kept.pots}
    done = list(dict.fromkeys(s.action for s in stages(kept, ml, known.swirls)))
    assert done == [
        "lye into oils", "emulsify", "cook", "kept-back oil", "pour off", "colour",
        "stir in fragrance", "spoon in cooked soap",
    ]  # fmt: skip
    assert "kept-back oil" not in [s.action for s in stages(plan(COOKED), ml, known.swirls)]


def test_a_cook_ends_by_look_and_not_by_a_key_pressed_too_soon(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(plan(COOKED), known, clock)
    work(pour, clock, "cook")
    clock.passes(2)
    answer = pour.stage_done()
    assert not answer.logged
    assert "waxy" in answer.words
    assert pour.state.stage is not None
    assert pour.state.stage.action == "cook"
    assert pour.stage_done().logged, "pressed again: it is"
    again = desk(plan(COOKED), known, clock)
    work(again, clock, "cook")
    clock.passes(LEAST_COOK_S + 1)
    assert again.stage_done().logged


def test_no_trace_is_asked_for_after_a_cook(known: Known, clock: FakeClock) -> None:
    pour = desk(plan(COOKED), known, clock)
    work(pour, clock, "pour off")
    assert pour.state.cooked
    assert not any(stage.waits for stage in pour.state.ahead)


@pytest.mark.parametrize("until", ["drop an accent/rope", "draw the hanger"])
def test_what_is_in_the_mould_can_be_scraped_back_into_the_cooker(
    known: Known, clock: FakeClock, until: str
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, until)
    assert HOT in ways_from(pour.plan, pour.state, known.swirls)
    in_mould = pour.state.in_mould
    pour.take(SwirlChoice(HOT, 1.0, 60.0))
    assert actions(pour)[:2] == ["scrape back", "cook"]
    assert pour.state.ahead[0].pots == in_mould
    clock.passes(120)
    pour.stage_done()
    assert pour.state.in_mould == ()
    work(pour, clock, "end", each_s=1000)
    assert set(pour.state.in_mould) == {"base", "rope", "gull"}


def test_the_cut_face_shows_nothing_of_what_was_scraped_back(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "draw the hanger")
    pour.take(SwirlChoice(HOT, 1.0, 60.0))
    work(pour, clock, "end", each_s=1000)
    draws = likely("b", pour.plan, pour.amounts, known, pour.state)
    assert {w.stage.action for w in poured(pour.state, draws)} == {"spoon in cooked soap"}


@pytest.mark.parametrize("until", ["pour off", "draw the hanger"])
def test_a_cook_saves_a_batch_and_is_no_swirl_it_becomes(
    known: Known, clock: FakeClock, until: str
) -> None:
    """Ours: soap that is only saved is worth .3 of the wish, however surely the cook succeeds."""
    pour = desk(plan(), known, clock)
    work(pour, clock, until)
    cooked = judged_now(pour, known)[HOT, ()]
    assert cooked.become is Become.SAVED
    assert cooked.chance + cooked.chance_in_part > 0.9
    assert cooked.worth <= 0.3
    wished = desk(plan(COOKED), known, clock)
    wished.lye_meets_oils()
    assert judged_now(wished, known)[HOT, ()].become is Become.WISH


def test_a_scrape_is_undone(known: Known, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "draw the hanger")
    before = pour.state
    pour.take(SwirlChoice(HOT, 1.0, 60.0))
    pour.undo()
    assert pour.state == before


def test_water_for_a_cook_by_hand() -> None:
    # 100 g of alkali at 33 % has 203 g of water; 28 % wants 257 g.
    assert water_wanted_g(100.0, 100 * (1 / 0.33 - 1)) == pytest.approx(54.1, abs=0.1)
    assert water_wanted_g(100.0, 100 * (1 / 0.27 - 1)) == 0.0


def ids(text: str, known: Known) -> list[str]:
    sheet = weighed(plan(text), known.oils, known.colourants, known.swirls, cautions())
    return [c.text for c in sheet.cautions if c.id in ("swirl-hot-process", "cook-water")]


def test_its_own_cautions(known: Known) -> None:
    cooked = ids(COOKED, known)
    assert any("half full" in text and "unattended" in text for text in cooked)
    recipe = amounts(plan(COOKED), known.oils, known.colourants)
    pure = recipe.water_g * recipe.concentration / (1 - recipe.concentration)
    grams = f"{water_wanted_g(pure, recipe.water_g):.0f} g of water"
    assert any(grams in text for text in cooked)
    assert ids(THREE_POTS, known) == []


# ---------------------------------------------------------------- when it goes wrong


def test_separated_in_the_mould_only_scraping_and_cooking_is_left(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(plan(CALM), known, clock)
    work(pour, clock, "drop an accent/rope")
    calm = judged_now(pour, known)
    pour.trouble("base", Trouble.SEPARATING)
    ways = judged_now(pour, known)
    assert max(ways.values(), key=lambda way: way.worth).steps == HOT
    assert ways[pour.state.steps, ()].chance == 0.0
    assert calm[pour.state.steps, ()].chance > 0.5
    live_now = pour.advise()
    assert live_now.rescue is not None
    assert live_now.rescue.steps == HOT
    assert live_now.warning


def test_rice_leaves_only_simple_pours_as_planned(known: Known, clock: FakeClock) -> None:
    pour = desk(plan(CALM), known, clock)
    work(pour, clock, "stir in fragrance/gull")
    pour.trouble("rope", Trouble.RICING)
    ways = judged_now(pour, known)
    assert ways[pour.state.steps, ()].chance == 0.0
    assert ways[pour.state.steps, ()].chance_in_part > 0.5
    assert ways[("in-the-pot swirl",), ()].chance > 0.5
    assert ways[("in-the-pot swirl",), ()].become is Become.ANOTHER


def test_seizing_leaves_what_is_pressed_in_or_cooked(known: Known, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould")
    pour.trouble("base", Trouble.SEIZING)
    live_now = pour.advise()
    assert live_now.rescue is not None
    assert live_now.rescue.become is Become.SAVED
    assert live_now.warning
