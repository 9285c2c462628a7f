"""The state of a pour is its events, folded: nothing else is kept."""

from __future__ import annotations

import pytest

from soapbench.advice.known import mix_of
from soapbench.advice.ways import SwirlChoice
from soapbench.batter import Blend, Trace
from soapbench.log import Kind
from soapbench.pour.events import ahead_with, state_of
from soapbench.pour.history import history, timed
from soapbench.recipe.amounts import pot_ml
from tests.desks import desk, work
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan


def test_the_clock_starts_when_lye_meets_oils(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    assert (pour.now(), pour.state.stage) == (0.0, None)
    clock.passes(500)
    pour.lye_meets_oils()
    clock.passes(7)
    assert pour.now() == 7
    assert pour.state.stage is not None
    assert pour.state.stage.id == "lye into oils"


def test_a_whole_pour_ends_finished_with_everything_in_the_mould(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "end")
    assert pour.state.finished is True
    assert set(pour.state.in_mould) == {"base", "rope", "gull"}
    assert [round(d.done - d.begun) for d in pour.state.done] == [20] * 14


def test_fragrance_not_keyed_in_went_in_when_its_stage_began(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/rope")
    begun = pour.now()
    clock.passes(30)
    pour.stage_done()
    assert pour.state.pots["rope"].fragrance_in == begun
    clock.passes(5)
    assert pour.fragrance_in("gull").logged
    keyed = pour.now()
    clock.passes(25)
    pour.stage_done()
    assert pour.state.pots["gull"].fragrance_in == keyed
    assert not pour.fragrance_in("gull").logged


def test_undo_takes_back_acts_one_by_one(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    before = pour.state
    pour.trace_seen("base", Trace.LIGHT)
    pour.note("base", "ricing")
    assert pour.state != before
    assert [e.kind for e in (pour.undo(), pour.undo()) if e] == [Kind.NOTE, Kind.TRACE_SEEN]
    assert pour.state == before
    assert len(pour.log.events) == 5  # nothing is ever removed


BY_SECONDS = THREE_POTS.replace("[conditions]", '[conditions]\nblend = "25 s"')


def test_blender_bursts_reach_every_pot_until_the_batter_is_split(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    clock.passes(5)
    pour.blender("base")
    clock.passes(12)
    pour.blender("base")
    assert {b.seconds for p in pour.state.pots.values() for b in p.blends} == {12}
    work(pour, clock, "colour/gull")
    before = {name: len(pot.blends) for name, pot in pour.state.pots.items()}
    pour.blender("rope")
    clock.passes(3)
    pour.stage_done()  # the blender is off once the stage is done
    assert pour.state.blender_on is None
    after = {name: len(pot.blends) - before[name] for name, pot in pour.state.pots.items()}
    assert after == {"base": 0, "rope": 1, "gull": 0}


def test_a_blender_switched_on_before_its_stage_was_keyed_in_counts_once(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(BY_SECONDS), known, clock)
    pour.lye_meets_oils()
    clock.passes(20)
    pour.record(Kind.BLENDER_ON)
    clock.passes(1)
    pour.record(Kind.STAGE_DONE, stage=pour.state.ahead[0].id)
    assert pour.state.stage is not None
    assert pour.state.stage.blend_s > 0
    clock.passes(19)
    pour.blender()
    pour.stage_done()
    assert {tuple(b.seconds for b in p.blends) for p in pour.state.pots.values()} == {(20.0,)}


@pytest.mark.parametrize(("ended", "counts"), [(21.0, True), (20.0 + 1e-9, False), (15.0, False)])
def test_a_burst_that_ended_as_the_stage_began_is_not_of_it(ended: float, counts: bool) -> None:
    assert Blend(10.0, ended - 10.0).within(20.0) is counts


def test_blending_not_keyed_in_was_as_long_as_meant(known: object, clock: FakeClock) -> None:
    pour = desk(plan(BY_SECONDS), known, clock)
    work(pour, clock, "pour off", each_s=60)
    assert [b.seconds for b in pour.state.pots["gull"].blends] == [pour.plan.conditions.blend]


def test_emulsify_ends_at_a_state_keyed_or_not(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "emulsify", each_s=40)
    begun = pour.now()
    clock.passes(50)
    pour.stage_done()
    up = Blend(begun, 50.0, pytest.approx(0.9, abs=0.01), Trace.EMULSION)
    assert pour.state.pots["gull"].blends == (up,)
    keyed = desk(plan(), known, clock)
    work(keyed, clock, "emulsify", each_s=40)
    keyed.blender()
    clock.passes(15)
    keyed.blender()
    keyed.trace_seen("base", Trace.LIGHT)
    keyed.stage_done()
    burst, reached = keyed.state.pots["gull"].blends
    assert (burst.seconds, burst.to) == (15.0, None)
    assert (reached.seconds, reached.to) == (0.0, Trace.LIGHT)  # blended further than meant


def test_a_blender_left_running_counts_up_to_now(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    pour.blender()
    clock.passes(9)
    course = history("b", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, pour.now())
    assert course.pots[0].blends[-1].seconds == pytest.approx(9)


def test_a_pot_poured_out_is_watched_no_longer_than_it_was_tapped(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "drop an accent/rope")
    left = pour.now()
    clock.passes(30)

    def watched() -> dict[str, float]:
        course = history("b", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, pour.now())
        return {pot.name: pot.until for pot in course.pots}

    assert watched() == {"base": left, "rope": left + 30, "gull": left + 30}
    pour.trace_seen("base", Trace.MEDIUM)
    clock.passes(10)
    assert watched() == {"base": left + 30, "rope": left + 40, "gull": left + 40}


def test_no_pot_is_watched_after_the_pour_was_ended_early(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "drop an accent/rope")
    clock.passes(30)
    pour.end(finished=False)
    ended = pour.now()
    clock.passes(3 * 7 * 86_400)
    pour.note(None, "cracked on the top")
    course = history("b", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, pour.now())
    watched = {pot.name: pot.until for pot in course.pots}
    assert watched == {"base": ended - 30, "rope": ended, "gull": ended}


def test_rescue_keeps_colour_and_fragrance_still_to_do(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/gull")
    pour.record(Kind.RESCUE_TAKEN, steps=["in-the-pot swirl"])
    assert [s.id for s in pour.state.ahead] == [
        "stir in fragrance/gull",
        "stir in fragrance/base",
        "in-the-pot swirl/accent into base pot/rope",
        "in-the-pot swirl/accent into base pot/gull",
        "in-the-pot swirl/turn the pot/base",
        "in-the-pot swirl/pour into mould/base",
    ]
    work(pour, clock, "end")
    assert set(pour.state.in_mould) == {"base", "rope", "gull"}
    assert pour.state.rescued


def test_what_is_in_the_mould_stays_there(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "drop an accent/gull")
    left = ahead_with(
        pour.state, ["spoon swirl"], pour.plan, pot_ml(pour.amounts), pour.known.swirls
    )
    assert [s.pots for s in left] == [("gull",)]


def test_a_rescue_begins_its_first_stage_when_it_is_taken(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base")
    clock.passes(50)
    pour.record(Kind.RESCUE_TAKEN, steps=["in-the-pot swirl"])
    clock.passes(9)
    pour.stage_done()
    assert timed(pour.state)[-1].took_s == 9


def test_a_rescue_to_hot_process_is_cooked(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/gull")
    pour.record(Kind.RESCUE_TAKEN, steps=["hot process"])
    assert [s.action for s in pour.state.ahead] == [
        "cook",
        "stir in fragrance",
        "stir in fragrance",
        "spoon in cooked soap",
    ]


def test_leaving_it_as_it_is_ends_the_pour_once_all_is_in_the_mould(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour into mould/base")
    pour.take(SwirlChoice((), 1.0, 0.0))
    assert not pour.state.rescued  # pots are still full
    work(pour, clock, "draw the hanger")
    pour.take(SwirlChoice((), 1.0, 0.0))
    assert pour.state.rescued
    assert pour.state.finished is True


def test_waiting_for_trace_is_not_handwork(known: object, clock: FakeClock) -> None:
    layers = plan(THREE_POTS.replace('"drop swirl", "hanger swirl"', '"layers"'))
    pour = desk(layers, known, clock)
    work(pour, clock, "pour a layer/rope")
    clock.passes(200)
    pour.trace_seen("base", Trace.MEDIUM)
    clock.passes(35)
    pour.stage_done()
    assert timed(pour.state)[-1].took_s == 35


def test_the_same_events_give_the_same_state(known: object, clock: FakeClock) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "drop an accent")
    pour.trace_seen("base", Trace.MEDIUM)
    again = state_of(pour.plan, pot_ml(pour.amounts), pour.known.swirls, pour.facts)
    assert again == pour.state


@pytest.mark.parametrize(
    "event",
    [
        {"kind": Kind.TRACE_SEEN, "pot": "nobody", "state": 1},
        {"kind": Kind.TRACE_SEEN, "pot": "base", "state": 9},
        {"kind": Kind.TRACE_SEEN, "pot": "base", "state": "thick"},
        {"kind": Kind.STAGE_DONE, "stage": "no such stage"},
        {"kind": Kind.BLEND_BURST, "seconds": -4},
        {"kind": Kind.RESCUE_TAKEN, "steps": ["fountain"]},
        {"kind": Kind.FRAGRANCE_IN, "pot": "nobody"},
    ],
)
def test_events_that_make_no_sense_change_nothing(
    known: object, clock: FakeClock, event: dict[str, object]
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    before = pour.state
    pour.record(**event)  # type: ignore[arg-type]
    assert pour.state == before


def test_before_the_split_one_look_is_at_all_that_stands_in_one_vessel(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour off/rope")
    pour.trace_seen("base", Trace.LIGHT)
    assert {pot.trace for pot in pour.state.pots.values()} == {Trace.LIGHT}
    assert [len(pot.taps) for pot in pour.state.pots.values()] == [1, 0, 0]
    pots = history("b", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, pour.now()).pots
    assert [pot.together for pot in pots] == [Trace.EMULSION, Trace.LIGHT, Trace.LIGHT]
    clock.passes(20)
    pour.stage_done()
    assert pour.state.together == ("base", "gull")
    pour.trace_seen("rope", Trace.MEDIUM)
    assert [pot.trace for pot in pour.state.pots.values()] == [
        Trace.LIGHT,
        Trace.MEDIUM,
        Trace.LIGHT,
    ]


def test_a_burst_between_two_pour_offs_reaches_what_is_not_poured_off_yet(
    known: object, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "pour off/gull")
    before = {name: len(pot.blends) for name, pot in pour.state.pots.items()}
    pour.blender("base")
    clock.passes(6)
    pour.blender("base")
    more = {name: len(pot.blends) - before[name] for name, pot in pour.state.pots.items()}
    assert more == {"base": 1, "rope": 0, "gull": 1}


def test_hands_begin_when_the_awaited_state_or_a_later_one_is_seen(
    known: object, clock: FakeClock
) -> None:
    layered = THREE_POTS.replace('"drop swirl", "hanger swirl"', '"layers"')
    pour = desk(plan(layered), known, clock)
    pour.lye_meets_oils()
    while pour.state.stage and not any(n.earliest > Trace.EMULSION for n in pour.state.stage.needs):
        clock.passes(20)
        pour.stage_done()
    assert pour.state.stage is not None
    waits = [pot for need in pour.state.stage.needs for pot in need.pots if need.earliest]
    clock.passes(600)
    assert pour.state.hands_began is None
    for pot in waits:
        pour.trace_seen(pot, Trace.THICK)
    tapped_s = pour.now()
    assert pour.state.hands_began == tapped_s
    clock.passes(30)
    pour.stage_done()
    assert pour.state.done[-1].begun == tapped_s


@pytest.mark.parametrize("steps", [[["a"]], [{"a": 1}], [3], "layers", None])
def test_a_rescue_that_makes_no_sense_changes_nothing(
    known: object, clock: FakeClock, steps: object
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "colour/gull")
    before = pour.state
    pour.record(Kind.RESCUE_TAKEN, steps=steps)
    assert pour.state == before
