"""What a late tap would have cost, by the model."""

from __future__ import annotations

import pytest

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.rehearsal.lateness import Cost
from soapbench.rehearsal.report import Report, report
from soapbench.rehearsal.text import cost_lines
from tests.desks import desk, work
from tests.fakes import FakeClock
from tests.rehearsal.test_rehearsal import PLAN, batter


def tapped(known: Known, light: float, late_s: float) -> Report:
    """A pour that is at its drops when the base comes to light trace, tapped ``late_s`` after."""
    hidden, clock = batter(known, light=light), FakeClock()
    pour = desk(PLAN, known, clock)
    work(pour, clock, "drop an accent/rope", 27)
    clock.passes(light + late_s - pour.now())
    pour.trace_seen("base", Trace.LIGHT)
    return report(hidden, pour.amounts, known, pour.log.events, pour.now())


def cost(played: Report) -> Cost | None:
    return played.taps[0].cost


def test_a_late_tap_costs_the_switch_that_waited_for_it(known: Known) -> None:
    played = tapped(known, 300, 90)
    price = cost(played)
    assert price is not None
    assert (price.at_once_s, price.late_s) == pytest.approx((300, 390), abs=0.01)
    assert 0.01 <= price.lost <= 1
    assert price.worth > 0
    (line,) = cost_lines(played)
    assert "would have come at 6:30 instead of 5:00" in line
    assert f"In {round(100 * price.lost)} of 100 such pours" in line


def test_the_later_the_more_it_costs(known: Known) -> None:
    costs = [cost(tapped(known, 300, late)) for late in (20, 60, 120)]
    lost = [each.lost if each else 0.0 for each in costs]
    assert lost == sorted(lost)
    assert lost[0] < lost[-1]


@pytest.mark.parametrize("late_s", [-20, 0, 4])
def test_a_tap_in_time_costs_nothing_and_nothing_is_said(known: Known, late_s: float) -> None:
    played = tapped(known, 300, late_s)
    assert cost(played) is None
    assert cost_lines(played) == []


def test_a_late_tap_that_no_switch_waited_for_costs_nothing(known: Known) -> None:
    played = tapped(known, 1500, 30)
    assert cost(played) is None
    assert cost_lines(played) == ["Looking late cost nothing this time."]
