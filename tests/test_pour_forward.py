"""Going forward event by event comes to what the whole log comes to, whatever is keyed."""

from __future__ import annotations

import random

import pytest

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind, Outcome, standing
from soapbench.pour.events import state_of
from soapbench.recipe.amounts import pot_ml
from soapbench.troubles import Trouble
from tests.desks import desk
from tests.fakes import FakeClock
from tests.plans import plan


def keyed(pour: Desk, clock: FakeClock, rng: random.Random) -> None:
    """One key of the pour, any of them."""
    pot = rng.choice([*pour.state.pots])
    clock.passes(rng.expovariate(1 / 20))
    match rng.randrange(14):
        case 0 | 1 | 2 | 3:
            pour.lye_meets_oils() if not pour.state.begun else pour.stage_done()
        case 4:
            pour.trace_seen(pot, rng.choice(list(Trace)))
        case 5:
            pour.look(pot)
        case 6:
            pour.trouble(pot, rng.choice(list(Trouble)))
        case 7:
            pour.fragrance_in(pot, second=rng.random() < 0.2)
        case 8:
            pour.blender(pot)
        case 9:
            pour.note(pot, "invented")
        case 10 | 11:
            for _ in range(rng.randint(1, 4)):
                pour.undo()
        case 12:
            steps = rng.choice([["in-the-pot swirl"], ["spoon swirl"], ["hot process"], []])
            pour.record(Kind.RESCUE_TAKEN, steps=steps)
        case _ if rng.random() < 0.2:
            pour.end(finished=False)
            pour.tell_outcome(rng.choice(list(Outcome)))
        case _ if rng.random() < 0.1:
            pour.drop()
        case _:
            pour.set_aside(rng.random() < 0.5)


@pytest.mark.parametrize("seed", range(25))
def test_forward_is_the_same_as_from_the_first_event(
    known: Known, clock: FakeClock, seed: int
) -> None:
    rng = random.Random(seed)
    pour = desk(plan(), known, clock)
    for _ in range(60):
        keyed(pour, clock, rng)
        facts = standing(pour.log.events)
        assert pour.facts == facts
        assert pour.state == state_of(pour.plan, pot_ml(pour.amounts), pour.swirls, facts)
    clock.passes(5)
    again = desk(plan(), known, clock, pour.log)  # type: ignore[arg-type]
    assert (again.facts, again.state) == (pour.facts, pour.state)
    assert again.now() == pytest.approx(pour.now())


def test_a_key_costs_the_same_however_long_the_log(
    known: Known, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted, not timed: how many events are folded for one key."""
    folded: list[object] = []
    monkeypatch.setattr(
        "soapbench.desk.pourlog.standing", lambda events: folded.extend(events) or standing(events)
    )
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    for _ in range(300):
        clock.passes(1)
        pour.note("base", "invented")
    pour.trace_seen("base", Trace.EMULSION)
    pour.undo()
    pour.undo()
    assert folded == []
