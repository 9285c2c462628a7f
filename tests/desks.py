"""A pour at a station without screen or disk, for tests."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from soapbench.advice.known import Known
from soapbench.advice.moment import Moment
from soapbench.desk.pourdesk import Desk
from soapbench.log import Event
from soapbench.plan import Plan
from soapbench.recipe.amounts import amounts, pot_ml
from soapbench.thickening.draws import Draws
from tests.fakes import FakeClock


@dataclass
class ListLog:
    """A log in memory; every event is durable at once."""

    events: tuple[Event, ...] = ()
    unsaved: None = None
    closed: bool = field(default=False)

    def append(self, event: Event) -> Event:
        logged = replace(event, id=event.id or f"e{len(self.events)}")
        self.events = (*self.events, logged)
        return logged

    def retry(self) -> bool:
        return True

    def close(self) -> None:
        self.closed = True


def desk(plan: Plan, known: Any, clock: FakeClock, log: ListLog | None = None) -> Desk:
    assert isinstance(known, Known)
    weighed = amounts(plan, known.oils, known.colourants)
    return Desk("b1", plan, weighed, known.swirls, lambda: known, log or ListLog(), clock)


def work(pour: Desk, clock: FakeClock, until: str, each_s: float = 20.0) -> None:
    """Do stages, ``each_s`` each, until the stage in hand has ``until`` in its id."""
    pour.lye_meets_oils()
    while pour.state.stage is not None and until not in pour.state.stage.id:
        clock.passes(each_s)
        pour.stage_done()
    assert pour.state.stage is not None or until == "end", f"no stage {until}"


def moment(pour: Desk, known: Known, draws: Draws) -> Moment:
    """What advice is asked of, as ``pour`` stands."""
    return Moment(pour.plan, pot_ml(pour.amounts), known, pour.state, draws, pour.now())
