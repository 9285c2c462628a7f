"""P(finish) and room left, against cases that can be worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import Blend, Trace
from soapbench.outlook import hands
from soapbench.outlook.finishing import Each, Finish, each, finish, outlook
from soapbench.outlook.running import Kept
from soapbench.outlook.worth import Become
from soapbench.pace import KindPace, Pace
from soapbench.pour.state import PotState
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws

N = 20_000
SURE = Pace(
    {a: KindPace(0.0, 0.0, 1.0, 99) for a in ("pour", "fragrance", "wait", "tool")}, 0.0, 0.0
)


def batter(light: float = 100.0, spread: float = 0.0, af: float = 4.0) -> Draws:
    """Thresholds at 0.6 of light, light, 1.5, 2 and 3 times light; AF for the fragrance "F"."""
    noise = np.random.default_rng(1).standard_normal(N) * spread
    log_m = np.log(light) + np.log([0.6, 1.0, 1.5, 2.0, 3.0])[None, :] + np.zeros((N, 1))
    return Draws(
        log_rate=-noise,
        log_thresholds=log_m,
        kappa=np.full(N, 20.0),
        log_af={"F": np.full(N, math.log(af))},
    )


def stage(action: str, median: float, spread: float, **more: object) -> Stage:
    one = Stage(action, action, action, ("p",), median, spread)
    return replace(one, **more)  # type: ignore[arg-type]


BEFORE_THICK = (Need(("p",), Trace.EMULSION, Trace.MEDIUM),)
ONE = {"p": PotState("p", fragrance="F")}


def test_chance_is_the_log_normal_probability() -> None:
    # One stage of median 150 s and sd of log 0.5 against thick trace at 200 s, no fragrance in:
    # P = Phi(ln(200/150)/0.5), the log-normal distribution function (any handbook).
    forecast = outlook([stage("pour", 150, 0.5, needs=BEFORE_THICK)], ONE, batter(), SURE)
    expected = 0.5 * (1 + math.erf(math.log(200 / 150) / 0.5 / math.sqrt(2)))
    assert forecast.chance == pytest.approx(expected, abs=0.015)


def test_both_spreads_count() -> None:
    # Time and threshold both log-normal: sd of the log ratio is hypot(0.5, 0.3).
    forecast = outlook([stage("pour", 150, 0.5, needs=BEFORE_THICK)], ONE, batter(spread=0.3), SURE)
    z = math.log(200 / 150) / math.hypot(0.5, 0.3)
    assert forecast.chance == pytest.approx(0.5 * (1 + math.erf(z / math.sqrt(2))), abs=0.015)


def test_fragrance_uses_up_the_rest_four_times_faster() -> None:
    adding = stage("fragrance", 80, 1e-6, fragrance_into=("p",))
    pour = stage("pour", 30, 1e-6, needs=BEFORE_THICK)
    wait = stage("wait", 100, 1e-6)
    # 100 s plain, then AF 4: thick (200 s of exposure) is reached 25 s after the fragrance.
    forecast = outlook([wait, adding, pour], ONE, batter(), SURE)
    assert forecast.fragrance_in_s["p"].p50 == pytest.approx(100, rel=1e-3)
    assert forecast.time_left_from_fragrance_s["p"].p50 == pytest.approx(25, rel=1e-3)
    assert forecast.chance == 0.0
    assert forecast.tightest is not None
    assert forecast.tightest.stage.action == "pour"


def test_hands_wait_for_the_earliest_state() -> None:
    top = stage("tool", 10, 1e-6, needs=(Need(("p",), Trace.MEDIUM, Trace.THICK),))
    forecast = outlook([top], ONE, batter(), SURE)
    assert forecast.stages[0].begins_s.p50 == pytest.approx(150, rel=1e-3)
    assert forecast.minutes == pytest.approx(160 / 60, rel=1e-3)
    assert forecast.chance == 1.0


def test_blending_ahead_counts() -> None:
    blend = stage("wait", 10, 1e-6, blend_s=5.0)
    # 5 s of blending are worth 100 s: thick at 200 s of exposure comes at 100 s.
    late = outlook([blend, stage("pour", 95, 1e-6, needs=BEFORE_THICK)], ONE, batter(), SURE)
    soon = outlook([blend, stage("pour", 85, 1e-6, needs=BEFORE_THICK)], ONE, batter(), SURE)
    assert (late.chance, soon.chance) == (0.0, 1.0)


def test_blending_up_to_a_state_takes_as_long_as_its_batter() -> None:
    # Stable emulsion at 60 s of exposure, 20 s of standing left before it: of one litre a second
    # of blending counts 1 + 20, of ten 1 + 20 / 10^0.7; thick trace 140 s of exposure after that.
    wait = stage("wait", 20, 1e-6)
    for litres, seconds in ((1.0, 40 / 21), (10.0, 40 / (1 + 20 / 10**0.7))):
        blend = stage("tool", 5, 1e-6, blend_to=Trace.EMULSION, litres=litres)
        forecast = outlook([wait, blend], ONE, batter(), SURE)
        assert forecast.stages[1].lasts_s.p50 == pytest.approx(5 + seconds, rel=1e-3)
        assert forecast.room_s["p"].p50 == pytest.approx(25 + seconds + 140, rel=1e-3)
    in_hand = outlook([blend], ONE, batter(), SURE, now=23.0, begun=20.0)
    assert in_hand.stages[0].lasts_s.p50 < forecast.stages[1].lasts_s.p50


def test_a_stage_in_hand_is_foreseen_from_how_long_it_has_taken() -> None:
    pour = stage("pour", 100, 0.3)
    fresh = outlook([pour], ONE, batter(), SURE, now=0.0, begun=0.0)
    held_up = outlook([pour], ONE, batter(), SURE, now=150.0, begun=0.0)
    # Of a log-normal (median 100, sd 0.3) beyond 150, by its own conditional quantile.
    from scipy.stats import lognorm

    law = lognorm(s=0.3, scale=100)
    expected = law.ppf(law.cdf(150) + 0.5 * (1 - law.cdf(150))) - 150
    assert held_up.stages[0].lasts_s.p50 == pytest.approx(expected, rel=0.08)
    assert held_up.stages[0].lasts_s.p50 < fresh.stages[0].lasts_s.p50


def test_room_left_runs_down_and_stops_at_nothing() -> None:
    pots = {"p": PotState("p", fragrance="F", fragrance_in=100.0)}
    rooms = [outlook([], pots, batter(), SURE, now=now).room_s["p"].p50 for now in (110.0, 500.0)]
    assert rooms == [pytest.approx(15, rel=1e-3), 0.0]


def test_room_left_foresees_fragrance_still_to_go_in() -> None:
    adding = stage("fragrance", 80, 1e-6, fragrance_into=("p",))
    forecast = outlook([stage("wait", 50, 1e-6), adding], ONE, batter(), SURE, now=50.0)
    # In at 100 s: thick 25 s later, 75 s from now.
    assert forecast.room_s["p"].p50 == pytest.approx(75, rel=1e-3)


def test_finish_is_the_outlook_in_short() -> None:
    work = [stage("wait", 60, 0.3), stage("pour", 90, 0.4, needs=BEFORE_THICK)]
    forecast = outlook(work, ONE, batter(spread=0.2), SURE)
    short = finish(work, ONE, batter(spread=0.2), SURE)
    assert short == Finish(forecast.chance, forecast.chance_in_part, forecast.minutes)
    assert 0.1 < forecast.chance < 0.9


def test_the_first_pot_to_go_decides() -> None:
    pots = {"p": PotState("p"), "q": PotState("q", fragrance="F", fragrance_in=0.0)}
    both = stage("pour", 60, 1e-6, needs=(Need(("p", "q"), Trace.EMULSION, Trace.MEDIUM),))
    assert outlook([both], pots, batter(), SURE).chance == 0.0
    only = stage("pour", 60, 1e-6, needs=(Need(("p",), Trace.EMULSION, Trace.MEDIUM),))
    assert outlook([only], pots, batter(), SURE).chance == 1.0


def test_runs_that_share_their_milestones_come_to_the_same() -> None:
    late = [stage("wait", 40, 0.2), stage("fragrance", 20, 0.3, fragrance_into=("p",))]
    ways = [[*late, stage("pour", m, 0.4, needs=BEFORE_THICK)] for m in (30, 60, 90)]
    shared = Kept()
    together = [finish(way, ONE, batter(spread=0.2), SURE, kept=shared) for way in ways]
    assert together == [finish(way, ONE, batter(spread=0.2), SURE) for way in ways]
    assert len(shared.times) == 1  # in all of them its fragrance goes in at the same times
    assert len(set(together)) == 3


def test_blending_keyed_within_the_stage_in_hand_counts_once() -> None:
    # Thick at 200 s of exposure; 5 s of blending are worth 100 of them: at 100 s, keyed or meant.
    blend = stage("wait", 20, 1e-6, blend_s=5.0)
    for blends in ((Blend(2.0, 5.0),), ()):
        pots = {"p": PotState("p", blends=blends)}
        forecast = outlook([blend], pots, batter(), SURE, now=10.0, begun=0.0)
        assert forecast.room_s["p"].p50 == pytest.approx(90, rel=1e-3)


def test_a_burst_keyed_is_not_taken_off_what_blending_up_is_still_to_be_done() -> None:
    # 20 s stood and 1 s blended (20 more): 20 of the 60 s to stable emulsion are left, at 21 a
    # second; of 30 s of handwork 10. Not keyed, the 20 s since it began are taken for blending.
    blend = stage("tool", 30, 1e-6, blend_to=Trace.EMULSION)
    keyed = {"p": PotState("p", blends=(Blend(5.0, 1.0),))}
    forecast = outlook([blend], keyed, batter(), SURE, now=20.0, begun=0.0)
    assert forecast.stages[0].lasts_s.p50 == pytest.approx(10 + 20 / 21, rel=1e-3)
    forecast = outlook([blend], ONE, batter(), SURE, now=20.0, begun=0.0)
    assert forecast.stages[0].lasts_s.p50 == pytest.approx(10, rel=1e-3)


def test_fragrance_of_the_stage_in_hand_went_in_when_the_stage_began() -> None:
    # 60 s plain, then four times as fast: 140 s of exposure more, thick at 95 s. Keyed at 70 s it
    # went in then, whatever the stage says: 130 s more, thick at 102.5 s.
    adding = stage("fragrance", 40, 1e-6, fragrance_into=("p",))
    for keyed, went_in, thick in ((None, 60.0, 95.0), (70.0, 70.0, 102.5)):
        pots = {"p": PotState("p", fragrance="F", fragrance_in=keyed)}
        forecast = outlook([adding], pots, batter(), SURE, now=80.0, begun=60.0)
        assert forecast.fragrance_in_s["p"].p50 == pytest.approx(went_in, rel=1e-3)
        assert forecast.room_s["p"].p50 == pytest.approx(thick - 80, rel=1e-3)


@pytest.mark.parametrize("spent", [500.0, 1000.0, 4000.0])
def test_a_stage_held_up_past_all_that_was_ever_seen_takes_a_quarter_as_long_again(
    spent: float,
) -> None:
    # A rule of ours: a log-normal of median 100 s and sd .3 has none of 20,000 beyond 500 s.
    forecast = outlook([stage("pour", 100, 0.3)], ONE, batter(), SURE, now=spent, begun=0.0)
    lasts = forecast.stages[0].lasts_s
    assert lasts.p50 == pytest.approx(0.25 * spent, rel=0.08)
    for quantile, z in ((lasts.p10, -1.2816), (lasts.p90, 1.2816)):
        assert quantile / lasts.p50 == pytest.approx(math.exp(0.5 * z), rel=0.12)


def lasting(each: Each, i: int) -> np.ndarray:
    return each.ends[i] - (each.ends[i - 1] if i else 0.0)


def test_the_same_work_takes_as_long_in_every_way_so_that_no_way_wins_by_luck() -> None:
    pour = stage("pour", 60, 0.4)
    other = replace(pour, id="elsewhere", step="wall pour", needs=BEFORE_THICK)
    slower = replace(other, median_s=120.0)
    alone = lasting(each([pour], ONE, batter(), SURE), 0)
    after = lasting(each([stage("wait", 30, 0.5), other], ONE, batter(), SURE), 1)
    twice = lasting(each([slower], ONE, batter(), SURE), 0)
    assert after == pytest.approx(alone)
    assert twice == pytest.approx(2 * alone)
    # Other work, or the same on another pot, has luck of its own.
    for apart in (stage("tool", 60, 0.4), replace(pour, pots=("q",))):
        pots = {**ONE, "q": PotState("q")}
        theirs = lasting(each([apart], pots, batter(), SURE), 0)
        assert abs(np.corrcoef(np.log(theirs), np.log(alone))[0, 1]) < 0.05
    # And the same luck in another program: two looks at one plan tell the same.
    hands._normals.cache_clear()
    again = lasting(each([pour], ONE, batter(), SURE), 0)
    assert np.array_equal(again, alone)


# ---------------------------------------------------------------- to spare

PRESSED = (Need(("p",), Trace.EMULSION, Trace.THICK, Trace.SET_UP),)
HALF_WAY = (Need(("p",), Trace.EMULSION, Trace.EMULSION, Trace.MEDIUM),)


def test_what_is_saved_anyhow_is_never_too_late() -> None:
    """Batter pressed in when it has set up is saved as well: past thick trace nothing is lost."""
    late = [stage("pour", 400, 0.01, needs=PRESSED)]
    wished = outlook(late, ONE, batter(), SURE)
    assert wished.chance == 0.0
    saved = outlook(late, ONE, batter(), SURE, become=Become.SAVED)
    assert saved.in_part
    assert (saved.to_spare_s, saved.tightest, dict(saved.window_s)) == (math.inf, None, {})
    assert saved.worth == Become.SAVED.worth


def test_once_as_planned_is_lost_what_is_to_spare_counts_up_to_in_part() -> None:
    """Light trace at 100 s, thick at 200 s; done after 150 s: 50 s late, then 50 s to spare."""
    in_time = stage("pour", 50, 0.01, needs=HALF_WAY)
    forecast = outlook([in_time], ONE, batter(), SURE)
    assert not forecast.in_part
    assert forecast.to_spare_s == pytest.approx(50.0, abs=1.0)
    forecast = outlook([replace(in_time, median_s=150.0)], ONE, batter(), SURE)
    assert (forecast.chance, forecast.in_part) == (0.0, True)
    assert forecast.to_spare_s == pytest.approx(50.0, abs=2.0)
    assert forecast.tightest is None
    tool = stage("tool", 90, 0.01, step="hanger swirl", needs=BEFORE_THICK)
    with_tool = outlook([replace(in_time, median_s=150.0), tool], ONE, batter(), SURE)
    assert with_tool.to_spare_s == pytest.approx(50.0, abs=2.0), "a tool is left out"
    assert with_tool.tightest is None
