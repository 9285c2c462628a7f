"""Stages run through draws that are all alike: every figure of the outlook by hand.

Light trace at 100 s, medium at 150, thick at 200, set up at 300 s; hands take as long as is said.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import Blend, Trace
from soapbench.outlook.finishing import (
    ENOUGH,
    LOST,
    Finish,
    Outlook,
    Quantiles,
    each,
    finish,
    outlook,
    traces,
)
from soapbench.outlook.running import last_wire, run
from soapbench.outlook.worth import Become, worth
from soapbench.pace import KindPace, Pace
from soapbench.pour.state import PotState
from soapbench.settings import Risk
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws

N = 100
EXACT = Pace({a: KindPace(0.0, 0.0, 1.0, 99) for a in ("work", "drop", "wire", "top")}, 0.0, 0.0)
EXPOSURES = np.array([60.0, 100.0, 150.0, 200.0, 300.0])
DRAWS = Draws(np.zeros(N), np.log(EXPOSURES) + np.zeros((N, 1)), np.full(N, 20.0),
              {"F": np.full(N, math.log(4.0))})  # fmt: skip
POTS = {"p": PotState("p", fragrance="F"), "q": PotState("q")}


def work(seconds: float, *needs: Need, action: str = "work", **more: object) -> Stage:
    one = Stage(action, action, action, ("p",), seconds, 1e-9, needs=needs)
    return replace(one, **more)  # type: ignore[arg-type]


def need(
    latest: Trace,
    in_part: Trace | None = None,
    drawn: tuple[Trace, Trace] | None = None,
    earliest: Trace = Trace.EMULSION,
    pots: tuple[str, ...] = ("p",),
) -> Need:
    return Need(pots, earliest, latest, in_part, drawn)


def outlook_of(
    *stages: Stage, now: float = 0.0, begun: float | None = None, **more: object
) -> Outlook:
    return outlook(stages, POTS, DRAWS, EXACT, now, begun, **more)  # type: ignore[arg-type]


# ---------------------------------------------------------------- one stage after the other


def test_only_the_stage_in_hand_has_begun_before() -> None:
    forecast = outlook_of(work(50), work(30), now=20.0, begun=0.0)
    begins, ends = (
        [s.begins_s.p50 for s in forecast.stages],
        [s.ends_s.p50 for s in forecast.stages],
    )
    assert begins == pytest.approx([20.0, 50.0])
    assert ends == pytest.approx([50.0, 80.0]), "the second takes all its time"
    fresh = outlook_of(work(50), work(30), now=20.0)
    assert [s.ends_s.p50 for s in fresh.stages] == pytest.approx([70.0, 100.0])
    assert fresh.minutes == pytest.approx(80.0 / 60)
    assert outlook_of(now=20.0).minutes == 0.0, "nothing is left to do"
    assert outlook_of(work(50), now=20.0, begun=30.0).minutes == pytest.approx(50.0 / 60)


def test_hands_wait_for_the_latest_of_what_a_stage_needs_and_for_nothing_in_no_pot() -> None:
    waits = work(
        10.0,
        need(Trace.SET_UP, earliest=Trace.LIGHT),
        need(Trace.SET_UP, earliest=Trace.MEDIUM, pots=("q",)),
        need(Trace.SET_UP, earliest=Trace.THICK, pots=()),
    )
    first = outlook_of(waits).stages[0]
    assert (first.begins_s.p50, first.lasts_s.p50) == pytest.approx((150.0, 10.0))
    assert outlook_of(work(10.0, need(Trace.SET_UP))).stages[0].begins_s.p50 == 0.0
    late = outlook_of(work(170.0), waits).stages[1]
    assert late.begins_s.p50 == pytest.approx(170.0)


def test_what_a_stage_still_has_until_its_batter_is_too_thick_counts_from_now() -> None:
    forecast = outlook_of(
        work(30, need(Trace.LIGHT)), work(50), work(40, need(Trace.MEDIUM)), now=20.0
    )
    assert [s.room_s for s in forecast.stages] == pytest.approx([130.0, math.inf, 180.0])
    # Done at 50 s, 100 s and 140 s: 100 s and 60 s before medium and thick trace.
    assert forecast.to_spare_s == pytest.approx(60.0)
    assert forecast.window_s["p"].p50 == pytest.approx(150.0), "by its next need"
    assert set(forecast.window_s) == {"p"}, "the other is needed for nothing"


def test_medians_of_what_is_left_until_thick_trace() -> None:
    scent = work(20.0, fragrance_into=("p",))
    forecast = outlook_of(work(80.0), scent, now=20.0)
    assert forecast.fragrance_in_s["p"].p50 == pytest.approx(100.0)
    assert forecast.time_left_from_fragrance_s["p"].p50 == pytest.approx(25.0)
    assert forecast.time_left_from_fragrance_s["q"].p50 == pytest.approx(200.0)
    assert (forecast.room_s["p"].p50, forecast.room_s["q"].p50) == pytest.approx((105.0, 180.0))


def test_a_burst_is_worth_its_seconds_from_when_it_begins() -> None:
    """2 s of blending from 30 s on: light trace needs 100, 30 + 42 by 32 s; at 60 s it is there."""
    blend = work(10.0, need(Trace.EMULSION), blend_s=2.0)
    forecast = outlook_of(work(30.0), blend)
    assert forecast.stages[1].room_s == pytest.approx(60.0)
    keyed = {"p": PotState("p", blends=(Blend(5.0, 2.0),))}
    again = outlook([blend], keyed, DRAWS, EXACT, now=10.0, begun=0.0)
    assert again.stages[0].room_s == pytest.approx(50.0), "keyed already: it counts once"
    before = outlook([blend], keyed, DRAWS, EXACT, now=10.0, begun=8.0)
    assert before.stages[0].room_s == pytest.approx(10.0), "keyed before it began: once more"


# ---------------------------------------------------------------- planned, in part, drawn

LIES = need(Trace.EMULSION, Trace.LIGHT, (Trace.LIGHT, Trace.MEDIUM))
"""A drop: as planned until 100 s, in part until 150 s; with a wire after it 150 s and 200 s."""
WIRE = work(10.0, need(Trace.SET_UP), action="wire", draws_down=True, step="hanger")


def drop(seconds: float, *needs: Need) -> Stage:
    return work(seconds, *(needs or (LIES,)), action="drop", puts="mould", step="drop")


@pytest.mark.parametrize(
    ("seconds", "alone", "with_wire"),
    [
        (90.0, (1.0, 0.0), (1.0, 0.0)),
        (110.0, (0.0, 1.0), (1.0, 0.0)),
        (149.0, (0.0, 1.0), (1.0, 0.0)),
        (160.0, (0.0, 0.0), (0.0, 1.0)),
        (199.0, (0.0, 0.0), (0.0, 1.0)),
        (210.0, (0.0, 0.0), (0.0, 0.0)),
    ],
)
def test_a_wire_drawn_through_afterwards_makes_a_drop_come_out_later(
    seconds: float, alone: tuple[float, float], with_wire: tuple[float, float]
) -> None:
    def of(*stages: Stage) -> tuple[float, float]:
        finished = finish(stages, POTS, DRAWS, EXACT)
        return finished.chance, finished.chance_in_part

    assert of(drop(seconds)) == alone
    assert of(drop(seconds), WIRE) == with_wire
    before = replace(WIRE, median_s=1.0)
    assert of(before, drop(seconds - 1.0)) == alone, "a wire before it draws nothing down"
    no_step = replace(drop(seconds), step="")
    assert of(no_step, WIRE) == alone, "only what the swirl pours is drawn down"


def test_a_wire_that_comes_too_late_is_left_out_and_so_is_a_tool() -> None:
    late = replace(WIRE, needs=(need(Trace.EMULSION, Trace.LIGHT),), median_s=100.0)
    assert finish([drop(90.0), late], POTS, DRAWS, EXACT) == Finish(
        0.0, 1.0, pytest.approx(190 / 60)
    )
    assert finish([drop(120.0), late], POTS, DRAWS, EXACT).chance_in_part == 1.0, "not drawn: half"
    assert finish([drop(160.0), late], POTS, DRAWS, EXACT).chance_in_part == 0.0
    two_needs = drop(160.0, need(Trace.SET_UP), LIES)
    assert finish([two_needs, late], POTS, DRAWS, EXACT).chance_in_part == 0.0
    comb = work(100.0, need(Trace.EMULSION), action="top", step="top")
    assert finish([drop(90.0), comb], POTS, DRAWS, EXACT).chance_in_part == 1.0
    poured = replace(comb, puts="mould")
    assert finish([drop(90.0), poured], POTS, DRAWS, EXACT).chance_in_part == 0.0


def test_a_wires_own_needs_are_its_own() -> None:
    """It is not drawn down by itself."""
    own = need(Trace.EMULSION, Trace.LIGHT, (Trace.MEDIUM, Trace.THICK))
    wire = replace(WIRE, needs=(own,), median_s=120.0)
    forecast = outlook_of(wire)
    assert (forecast.chance, forecast.chance_in_part) == (0.0, 1.0)
    assert forecast.stages[0].chance == 0.0
    assert forecast.window_s == {}, "in part it is left out"
    soon = replace(wire, median_s=50.0)
    assert outlook_of(soon).window_s["p"].p50 == pytest.approx(100.0)
    assert outlook_of(drop(10.0), soon).window_s["p"].p50 == pytest.approx(150.0), (
        "the drop's, drawn"
    )
    quick = replace(wire, median_s=10.0)
    two = outlook_of(drop(10.0, need(Trace.SET_UP)), quick, replace(quick, id="2"))
    assert two.window_s["p"].p50 == pytest.approx(200.0), "the first of two is drawn once more"


def test_the_last_wire_is_the_last_that_draws_down() -> None:
    still = work(1.0)
    assert last_wire([]) == -1
    assert last_wire([still, still]) == -1
    assert last_wire([WIRE]) == 0
    assert last_wire([still, WIRE, WIRE, still]) == 2


def test_at_least_in_part_counts_draws_that_come_out_with_a_wire_or_without() -> None:
    ran = run([drop(160.0), WIRE], POTS, DRAWS, EXACT, 0.0, None)
    assert not ran.planned.any()
    assert not ran.alone.any()
    assert ran.drawn.all()
    assert ran.in_part.all()
    no_wire = replace(ran, stages=ran.stages[:1])
    assert not no_wire.in_part.any(), "without a wire nothing is drawn down"
    some = [*ran.stages, replace(ran.stages[0])]
    assert replace(ran, stages=some).in_part.all()


def test_whats_planned_and_in_part_add_up_over_uneven_draws() -> None:
    """Light trace at 50, 100, 150 and 200 s; medium twice as late: a work of 120 s."""
    light = np.array([50.0, 100.0, 150.0, 200.0])
    draws = Draws(np.zeros(4), np.log(light)[:, None] + np.log([0.5, 1.0, 2.0, 3.0, 4.0]),
                  np.ones(4), {})  # fmt: skip
    pots = {"p": PotState("p")}
    stage = work(120.0, need(Trace.EMULSION, Trace.LIGHT))
    forecast = outlook([stage], pots, draws, EXACT, risk=Risk.USUAL)
    assert (forecast.chance, forecast.chance_in_part) == (0.5, 0.25)
    assert forecast.worth == worth(Become.WISH, 0.5, 0.25, Risk.USUAL)
    assert (forecast.stages[0].chance, forecast.stages[0].chance_in_part) == (0.5, 0.25)
    assert forecast.tightest == forecast.stages[0]
    one = each([stage], pots, draws, EXACT)
    assert one.planned.tolist() == [False, False, True, True]
    assert one.in_part.tolist() == [False, True, True, True]
    assert one.ends[0] == pytest.approx(np.full(4, 120.0))
    assert one.thickest(150.0) == pytest.approx([3.0, 1.5, 1.0, 0.5])


def test_the_thickest_pot_tells() -> None:
    pots = {"p": PotState("p", fragrance="F", fragrance_in=100.0), "q": PotState("q")}
    assert each([], pots, DRAWS, EXACT).thickest(125.0)[0] == pytest.approx(3.0)


# ---------------------------------------------------------------- what counts up to in part


def test_what_is_lost_as_planned_counts_up_to_in_part_and_so_does_what_is_to_be_saved() -> None:
    """Done at 120 s: 20 s after light trace, 30 s before medium."""
    assert LOST == 0.01
    stage = work(120.0, need(Trace.EMULSION, Trace.LIGHT))
    lost, saved = outlook_of(stage), outlook_of(replace(stage, median_s=90.0), become=Become.SAVED)
    assert (lost.in_part, lost.saves) == (True, False)
    assert (saved.in_part, saved.saves) == (True, True)
    assert (lost.to_spare_s, saved.to_spare_s) == pytest.approx((30.0, 60.0))
    assert (lost.window_s["p"].p50, lost.stages[0].room_s) == pytest.approx((150.0, 150.0))
    planned = outlook_of(replace(stage, median_s=90.0))
    assert (planned.in_part, planned.to_spare_s) == (False, pytest.approx(10.0))
    gone = outlook_of(replace(stage, median_s=160.0))
    assert (gone.in_part, gone.chance_in_part) == (False, 0.0), "then neither is to be had"
    assert gone.to_spare_s == pytest.approx(-60.0)


def test_in_part_a_tool_is_left_out_and_the_stage_that_may_fail_is_the_tightest() -> None:
    """One draw in ten is a third as slow; that one is too late even for in part."""
    rate = np.where(np.arange(N) % 10 == 0, math.log(3.0), 0.0)
    draws = replace(DRAWS, log_rate=rate)
    pour = work(120.0, need(Trace.EMULSION, Trace.LIGHT), puts="mould", step="pour")
    tool = work(60.0, need(Trace.EMULSION, pots=("q",)), action="top", step="top")
    forecast = outlook([pour, tool], POTS, draws, EXACT)
    assert (forecast.chance, forecast.chance_in_part, forecast.in_part) == (0.0, 0.9, True)
    assert forecast.tightest is not None
    assert forecast.tightest.stage == pour
    assert set(forecast.window_s) == {"p"}, "the tool's window does not count"
    assert forecast.stages[1].room_s == math.inf
    as_planned = outlook([replace(pour, median_s=10.0), tool], POTS, draws, EXACT)
    assert set(as_planned.window_s) == {"p", "q"}
    assert as_planned.tightest is not None
    sure = outlook([replace(pour, median_s=10.0)], POTS, draws, EXACT)
    assert sure.tightest is None


# ---------------------------------------------------------------- quantiles, halfway traces


@pytest.mark.parametrize("n", [1, 2, 3, 10])
def test_quantiles_of_the_fewest_draws(n: int) -> None:
    """Linear between the two around it, as numpy.quantile has it by default."""
    ends = 10.0 * np.arange(1.0, n + 1.0)[::-1] ** 1.5
    draws = Draws(np.zeros(n), np.log(ends)[:, None] + np.zeros(5), np.ones(n), {})
    room = outlook([], {"p": PotState("p")}, draws, EXACT).room_s["p"]
    expected = np.quantile(ends, [0.1, 0.5, 0.9])
    assert (room.p10, room.p50, room.p90) == pytest.approx(tuple(expected))


def test_of_many_draws_a_thousand_or_so_are_gone_by() -> None:
    """Of 2000 every second; of fewer than that all of them (ours)."""
    assert ENOUGH == 1000
    for n, step in ((1999, 1), (2000, 2), (2999, 2), (3000, 3)):
        ends = np.random.default_rng(1).uniform(50.0, 900.0, n)
        draws = Draws(np.zeros(n), np.log(ends)[:, None] + np.zeros(5), np.ones(n), {})
        room = outlook([], {"p": PotState("p")}, draws, EXACT).room_s["p"]
        expected = np.quantile(ends[::step], [0.1, 0.5, 0.9])
        assert (room.p10, room.p50, room.p90) == pytest.approx(tuple(expected))


def test_traces_are_those_of_each_pot_half_way_through_a_stage() -> None:
    """Stages from 0 to 160 s and to 240 s: at 80 s half way to light, at 200 s thick trace."""
    states = traces([work(160.0), work(80.0)], POTS, DRAWS, EXACT)
    assert [one["p"] for one in states] == pytest.approx([0.5, 3.0])
    assert [one["q"] for one in states] == pytest.approx([0.5, 3.0])


def test_quantiles_are_three_of_them() -> None:
    assert Quantiles(1.0, 2.0, 3.0) == Quantiles(p10=1.0, p50=2.0, p90=3.0)
