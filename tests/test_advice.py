"""What the bench advises: swirl, levers, rescue and the words around them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soapbench.advice.advise import judged, live_advice
from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known, mix_of
from soapbench.advice.moment import Moment
from soapbench.advice.ways import SwirlChoice, ahead_by, ways_from
from soapbench.batter import Trace
from soapbench.bench.tables import cautions
from soapbench.outlook.worth import Become
from soapbench.pour.history import history
from soapbench.recipe.amounts import pot_ml
from soapbench.sheet.actwords import act_amount
from soapbench.sheet.plansheet import plan_sheet
from soapbench.sheet.text import verdict_words
from soapbench.thickening.in_hand import live
from soapbench.words.chances import clock, counted_chance, percent, rests_on
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import THREE_POTS, plan, sample

BONFIRE = SAMPLES / "midsummer_bonfire.toml"


def test_a_drop_swirl_of_four_colours_with_a_notorious_fragrance_is_not_to_be_counted_on(
    known: Known,
) -> None:
    # Common practice, no source: the quickest swirl is in the pot; a notorious fragrance belongs
    # there or in hot process.
    sheet = plan_sheet(sample(BONFIRE), known, cautions())
    names = [choice.name for choice in sheet.choices]
    own = names.index("drop swirl + hanger swirl")
    assert sheet.in_danger
    assert not sheet.fine
    assert names.index("hot process") < own
    assert names.index("in-the-pot swirl") < own
    words = verdict_words(sheet)
    assert words.startswith("Don't count on drop swirl + hanger swirl")
    assert sheet.choices[0].name in words
    assert 'the supplier\'s word alone ("notorious")' in words


def test_setting_up_shows_within_minutes_of_a_strong_accelerator(known: Known) -> None:
    # Common practice, no source: about two minutes at room temperature. With no batch of this
    # fragrance the spread is wide: two minutes must lie well inside it.
    room = Foreseen(sample(BONFIRE), known).outlook().time_left_from_fragrance_s["base"]
    assert room.p10 < 120 < room.p90
    assert room.p50 < 300


def test_cooler_oils_slow_it_and_do_not_cure_it(known: Known) -> None:
    # Common practice, no source.
    warm, cool = (
        Foreseen(
            replace(sample(BONFIRE), conditions=replace(sample(BONFIRE).conditions, batter=c)),
            known,
        ).outlook()
        for c in (38.0, 22.0)
    )
    assert warm.chance < cool.chance < 0.8


def test_rescue_before_anything_is_poured_and_after(known: Known, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base")
    before = {steps[0] for steps in ways_from(pour.plan, pour.state, known.swirls)}
    assert "in-the-pot swirl" in before
    work(pour, clock, "drop an accent/gull")
    after = {s[0] for s in ways_from(pour.plan, pour.state, known.swirls) if s}
    assert "in-the-pot swirl" not in after  # the base is in the mould
    assert "hot process" in after, "scraped back into the cooker"
    assert {"spoon swirl", "layers"} <= after


def test_thick_trace_two_minutes_after_the_fragrance_brings_a_warning_and_a_rescue(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance", each_s=30)
    for _ in range(3):
        clock.passes(25)
        pour.stage_done()
    clock.passes(20)
    pour.trace_seen("base", Trace.LIGHT)
    clock.passes(15)
    pour.trace_seen("base", Trace.MEDIUM)
    live = pour.advise()
    assert live.outlook.chance < 0.8
    assert "x faster since the fragrance" in live.warning
    assert "the batter gives" in live.warning
    assert live.rescue is not None
    assert live.rescue.chance > live.outlook.chance
    assert pour.heed(live)  # warns once, and logs it
    assert not pour.heed(pour.advise())
    pour.take(live.rescue)
    assert pour.state.rescued
    assert pour.advise().outlook.chance > live.outlook.chance


def test_a_slow_batter_brings_no_warning(known: Known, clock: FakeClock) -> None:
    calm = plan(
        SAMPLES.joinpath("harbour_at_dusk.toml").read_text("utf-8").replace(', "textured top"', "")
    )
    pour = desk(calm, known, clock)
    work(pour, clock, "stir in fragrance")
    live = pour.advise()
    assert (live.warning, live.rescue) == ("", None)


def test_advice_is_a_pure_function_of_the_log(known: Known, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/base")
    pour.trace_seen("rope", Trace.LIGHT)
    again = live_advice("b1", pour.plan, pour.amounts, known, pour.state, pour.now())
    assert again == pour.advise()


def test_ways_are_worked_out_anew_once_something_is_done(known: Known, clock: FakeClock) -> None:
    """And taken over till then: the same advice as asked for the first time."""
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance", each_s=30)
    pour.heed(pour.advise())
    first = pour.live
    clock.passes(5)
    pour.trace_seen("base", Trace.LIGHT)
    later = pour.advise()
    assert first is not None
    assert first.ways
    assert later.ways is first.ways
    pour.stage_done()
    done = pour.advise()
    assert done.ways is not first.ways
    for one in (later, done):
        for (steps, moves), ahead in one.ways.items():
            on = (pour.plan, pot_ml(pour.amounts), one.state, known.swirls, moves)
            assert ahead == ahead_by(steps, *on)


def test_an_own_wish_comes_before_all_that_is_worth_no_more(known: Known, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    course = history("b", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, 1.0)
    draws, ml = live(known.fit, course, 1.0), pot_ml(pour.amounts)

    def ranked(*wishes: str) -> dict[str, float]:
        """Worth by name, in order."""
        wished = replace(pour.plan, swirl=replace(pour.plan.swirl, fall_back=wishes))
        ways = judged(Moment(wished, ml, known, pour.state, draws, 1.0))
        return {way.name: way.worth for way in ways if way.become is not Become.WISH}

    unwished, moved_up = list(ranked()), []
    for wish in ("ombré", "layers", "spoon swirl", "plain pour"):
        best = ranked(wish)
        before = list(best)[: list(best).index(wish)]
        assert all(best[name] > best[wish] for name in before)
        moved_up += [wish] if len(before) < unwished.index(wish) else []
    assert moved_up, "a wish moves something, or this tells nothing"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0:00"),
        (-5, "0:00"),
        (59.6, "1:00"),
        (100, "1:40"),
        (3725, "1:02:05"),
        (float("inf"), "–"),
    ],
)
def test_clock_words(seconds: float, words: str) -> None:
    assert clock(seconds) == words


@pytest.mark.parametrize(("chance", "words"), [(1.0, ">99 %"), (0.0, "<1 %"), (0.834, "83 %")])
def test_no_chance_is_called_certain(chance: float, words: str) -> None:
    assert percent(chance) == words


def test_every_figure_says_what_it_rests_on() -> None:
    assert rests_on(0, "accelerates") == 'the supplier\'s word alone ("accelerates")'
    assert rests_on(1, "x") == "your 1 batch with it"
    assert rests_on(4, "x") == "your 4 batches with it"


def test_after_switching_what_is_to_spare_counts_what_is_poured_now(
    known: Known, clock: FakeClock
) -> None:
    """Spooned in it is saved however thick: nothing is late for a swirl that was given up."""
    pour = desk(plan(THREE_POTS.replace('"accelerates"', '"notorious"')), known, clock)
    work(pour, clock, "stir in fragrance/base")
    for pot in pour.state.pots:
        clock.passes(2)
        while not pour.trace_seen(pot, Trace.THICK).logged:
            clock.passes(1)
    pour.heed(pour.advise())
    assert pour.live is not None
    assert pour.live.outlook.to_spare_s < 0
    spoon = ("spoon swirl",)
    pour.take(SwirlChoice(spoon, 0.3, 4.0))
    pour.heed(pour.advise())
    assert pour.state.steps == spoon
    assert pour.live.outlook.in_part
    assert pour.live.outlook.to_spare_s > 0
    assert counted_chance(pour.live.outlook) == ">99 %"
    assert not pour.live.warning


def test_nothing_is_offered_that_comes_out_no_more_surely(known: Known, clock: FakeClock) -> None:
    """Low and close changes nothing while the base is thin: it is no backup then."""
    calm = THREE_POTS.replace('"accelerates"', '"unknown"').replace("30 degC", "22 degC")
    pour = desk(plan(calm), known, clock)
    work(pour, clock, "drop an accent")
    for _ in range(3):
        live = pour.advise()
        pour.heed(live)
        assert live.advice is not None
        backup, on = live.advice.backup, live.advice.going_on
        if backup is not None:
            surer = backup.chance + backup.chance_in_part - on.chance - on.chance_in_part
            assert backup.worth > on.worth or surer > 0.05
        clock.passes(5)
    draws = Foreseen(pour.plan, known).draws
    now = pour.now()
    ways = judged(Moment(pour.plan, pot_ml(pour.amounts), known, pour.state, draws, now))
    assert "drops low and close" in [way.name for way in ways], "it is weighed, though"


def test_what_was_turned_into_the_base_is_poured_with_it(known: Known, clock: FakeClock) -> None:
    of = plan(THREE_POTS.replace('["drop swirl", "hanger swirl"]', '["in-the-pot swirl"]'))
    pour = desk(of, known, clock)
    last = pour.state.ahead[-1]
    whole = round(sum(pot.ml for pot in pour.amounts.pots))
    assert act_amount(last, of, pour.amounts).startswith(f"{whole} mL ")
