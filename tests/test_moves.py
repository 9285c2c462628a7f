"""Moves while pouring: what lies ahead after each, and that it is logged, undone and foreseen."""

from __future__ import annotations

import pytest

from soapbench.advice.advise import judged
from soapbench.advice.known import Known
from soapbench.advice.moment import Moment
from soapbench.advice.ways import SwirlChoice, becomes, moves_from
from soapbench.batter import Trace
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind
from soapbench.outlook.worth import Become
from soapbench.pour.history import history
from soapbench.recipe.amounts import pot_ml
from soapbench.swirls.moves import (
    LOW,
    TOGETHER,
    UNCOLOURED,
    UNSCENTED,
    UNSCENTED_AT_ONCE,
    WIRE_NOW,
    moved,
    moves_open,
    words,
)
from soapbench.thickening import live
from tests.desks import ListLog, desk, work
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan

FOUR_POTS = THREE_POTS.replace('share = "60 %"', 'share = "45 %"').replace(
    "[swirl]",
    '[[pots]]\nname = "buoy"\nshare = "15 %"\n'
    '[[pots.colourants]]\nname = "red clay"\nlook = "#902020"\n[swirl]',
)


def pouring(known: Known, clock: FakeClock, until: str) -> Desk:
    pour = desk(plan(FOUR_POTS), known, clock)
    work(pour, clock, until)
    return pour


def take(pour: Desk, move: str) -> None:
    pour.take(SwirlChoice(pour.state.steps, 0.5, 5.0, moves=(move,)))


def ids(pour: Desk) -> list[str]:
    return [stage.id for stage in pour.state.ahead]


OFFERED = {
    "colour/gull": {f"{UNCOLOURED}/rope", f"{TOGETHER}/rope/buoy", LOW},
    "stir in fragrance/gull": {UNSCENTED, LOW},
    "drop an accent/gull": {LOW, WIRE_NOW},
    "draw the hanger": set(),
}


@pytest.mark.parametrize("at", OFFERED)
def test_what_can_be_done_at_each_moment(known: Known, clock: FakeClock, at: str) -> None:
    pour = pouring(known, clock, at)
    assert {move for _, (move,) in moves_from(pour.state)} == OFFERED[at]


def test_nobody_is_told_to_leave_all_of_it_unscented(known: Known, clock: FakeClock) -> None:
    pour = pouring(known, clock, "colour")
    assert any(stage.fragrance_into for stage in pour.state.ahead)
    assert UNSCENTED not in moves_open(pour.state.ahead, scented=False, dropped=False)


def test_the_rest_unscented(known: Known, clock: FakeClock) -> None:
    pour = pouring(known, clock, "stir in fragrance/gull")
    take(pour, UNSCENTED)
    left = [stage.fragrance_into for stage in pour.state.ahead if stage.fragrance_into]
    assert left == [("gull",)], "what is in hand may be in its pot already"
    work(pour, clock, "end")
    scented = {name for name, pot in pour.state.pots.items() if pot.fragrance_in is not None}
    assert scented == {"rope", "gull"}
    assert set(pour.state.in_mould) == {"base", "rope", "gull", "buoy"}


def test_an_older_log_left_out_what_was_in_hand_too(known: Known, clock: FakeClock) -> None:
    pour = pouring(known, clock, "stir in fragrance/gull")
    take(pour, UNSCENTED_AT_ONCE)
    assert not any(stage.fragrance_into for stage in pour.state.ahead)
    assert words(UNSCENTED_AT_ONCE) == words(UNSCENTED)


def test_one_colour_left_out(known: Known, clock: FakeClock) -> None:
    pour = pouring(known, clock, "colour/gull")
    take(pour, f"{UNCOLOURED}/rope")
    assert "colour/rope" not in ids(pour)
    assert {"colour/gull", "colour/buoy", "drop swirl/drop an accent/rope"} <= set(ids(pour))


def test_two_accents_in_one_cup(known: Known, clock: FakeClock) -> None:
    pour = pouring(known, clock, "colour/gull")
    before = sum(stage.median_s for stage in pour.state.ahead)
    take(pour, f"{TOGETHER}/rope/buoy")
    assert not any(stage.pots == ("buoy",) for stage in pour.state.ahead)
    both = [stage for stage in pour.state.ahead if stage.pots == ("rope", "buoy")]
    assert [s.action for s in both] == ["colour", "stir in fragrance", "drop an accent"]
    assert "rope and buoy" in both[0].words
    assert sum(stage.median_s for stage in pour.state.ahead) < before - 60, "it saves time"
    work(pour, clock, "end")
    assert set(pour.state.in_mould) == {"base", "rope", "gull", "buoy"}
    scented = {p.fragrance_in for n, p in pour.state.pots.items() if n in ("rope", "buoy")}
    assert len(scented) == 1, "one fragrance for both, at once"


def test_low_and_close_onto_medium_trace_comes_out_in_part(known: Known, clock: FakeClock) -> None:
    pour = pouring(known, clock, "drop an accent/rope")
    (low,) = {n.limits()[1] for s in pour.state.ahead for n in s.needs if n.drawn}
    assert low is Trace.LIGHT
    take(pour, LOW)
    (low,) = {n.limits()[1] for s in pour.state.ahead for n in s.needs if n.drawn}
    assert low is Trace.MEDIUM
    assert pour.state.ahead[0].words.endswith("low and close")


def test_the_hanger_now_and_the_other_drops_after_it(known: Known, clock: FakeClock) -> None:
    pour = pouring(known, clock, "drop an accent/gull")
    take(pour, WIRE_NOW)
    assert [s.action for s in pour.state.ahead] == [
        "drop an accent", "draw the hanger", "drop an accent",
    ]  # fmt: skip


@pytest.mark.parametrize("at", [at for at, moves in OFFERED.items() if moves])
def test_every_move_is_logged_undone_and_found_again_by_a_restart(
    known: Known, clock: FakeClock, at: str
) -> None:
    for move in sorted(OFFERED[at]):
        pour = pouring(known, clock, at)
        before = pour.state
        take(pour, move)
        after = pour.state
        assert after.moves == (move,)
        assert after.ahead != before.ahead
        assert after.steps == before.steps, "the swirl stays"
        assert pour.log.events[-1].kind is Kind.RESCUE_TAKEN
        assert pour.log.events[-1].values["moves"] == [move]
        assert desk(pour.plan, known, clock, ListLog(pour.log.events)).state == after
        pour.undo()
        assert pour.state == before
        assert words(move) != move


def test_moves_are_foreseen_as_ways_and_take_something_from_the_wish(
    known: Known, clock: FakeClock
) -> None:
    pour = pouring(known, clock, "stir in fragrance/gull")
    ml, now = pot_ml(pour.amounts), pour.now()
    from soapbench.advice.known import mix_of

    course = history("b", pour.plan, mix_of(pour.plan, pour.amounts), pour.state, now)
    draws = live(known.fit, course, now)
    ways = {way.key: way for way in judged(Moment(pour.plan, ml, known, pour.state, draws, now))}
    on = ways[pour.state.steps, ()]
    less = ways[pour.state.steps, (UNSCENTED,)]
    assert less.chance > on.chance + 0.05, "an accelerator left out gives time"
    assert less.become is Become.LESS
    assert less.name == "no fragrance in the rest"
    table = known.swirls
    take(pour, UNSCENTED)
    assert becomes(pour.state.steps, pour.plan, pour.state, table) is Become.LESS


def test_a_move_no_version_knows_changes_nothing(known: Known, clock: FakeClock) -> None:
    pour = pouring(known, clock, "stir in fragrance/gull")
    assert moved(pour.state.ahead, "stand on your head") is None
    ahead = pour.state.ahead
    take(pour, "stand on your head")
    assert pour.state.ahead == ahead
