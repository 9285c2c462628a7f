"""A tap is a floor: what the maker has seen is true of every figure and every way offered."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from soapbench.advice.advise import Live
from soapbench.advice.known import Known
from soapbench.advice.ways import SwirlChoice, ahead_by, still_open
from soapbench.batter import Trace
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind
from soapbench.pour.state import no_batter
from soapbench.recipe.amounts import pot_ml
from tests.desks import ListLog, desk
from tests.fakes import FakeClock
from tests.plans import THREE_POTS, plan
from tests.test_pour_forward import keyed

PLANS = (
    THREE_POTS,
    THREE_POTS.replace('"drop swirl", "hanger swirl"', '"layers"'),
    THREE_POTS.replace("accelerates", "well behaved").replace('"hanger swirl"', '"textured top"'),
)


def under_way(known: Known, clock: FakeClock, seed: int) -> Desk:
    """A pour after some keys, any of them, with its last stage still to come."""
    rng = random.Random(seed)
    pour = desk(plan(PLANS[seed % len(PLANS)]), known, clock)
    pour.lye_meets_oils()
    for _ in range(rng.randint(5, 40)):
        before = pour.log.events
        keyed(pour, clock, rng)
        if pour.state.stage is None:
            pour = desk(pour.plan, known, clock, ListLog(before))
    return pour


def tapped(pour: Desk, known: Known, clock: FakeClock, pot: str, state: Trace) -> Live:
    """What is said once ``seen`` was tapped of ``pot``; ``pour`` itself stays as it is."""
    other = desk(pour.plan, known, clock, ListLog(pour.log.events))
    other.record(Kind.TRACE_SEEN, pot, state=int(state))
    return other.advise()


def offered(live: Live) -> list[SwirlChoice]:
    advice = live.advice
    return [] if advice is None else [w for w in (advice.way, advice.backup) if w is not None]


@pytest.mark.parametrize("seed", range(60))
def test_a_tap_is_a_floor(known: Known, clock: FakeClock, seed: int) -> None:
    pour = under_way(known, clock, seed)
    clock.passes(random.Random(seed).uniform(1, 200))
    there = [name for name in pour.state.pots if not no_batter(pour.state, name)]
    if not there:
        return
    pot = there[seed % len(there)]
    lefts, now = {}, pour.state.pots[pot].trace  # a thinner one would be a correction
    for tap in (state for state in Trace if state >= now):
        live = tapped(pour, known, clock, pot, tap)
        for way in offered(live):
            if way.steps == live.state.steps and not way.moves:
                continue  # to go on as before is no offer
            ahead = ahead_by(way.steps, pour.plan, pot_ml(pour.amounts), live.state, known.swirls)
            assert way.moves or still_open(ahead, live.state), (way, tap)
        lefts[tap] = live.outlook.room_s[pot]
        believed = live.believed[pot]
        assert believed.reached[tap][1] <= live.now + 1e-6  # reached by now, in every draw
        if tap >= Trace.THICK:
            assert lefts[tap].p90 == 0
    for thinner, thicker in pairwise(lefts.values()):
        assert thicker.p50 <= thinner.p50 + 1e-6
        assert thicker.p10 <= thinner.p10 + 1e-6
