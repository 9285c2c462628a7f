"""P(finish) and room left, against cases that can be worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import Trace
from soapbench.outlook import Finish, finish, outlook
from soapbench.pace import KindPace, Pace
from soapbench.pour import PotState
from soapbench.running import Kept
from soapbench.stages import Need, Stage
from soapbench.thickening.draws import Draws

N = 20_000
SURE = Pace({a: KindPace(0.0, 0.0, 1.0, 99) for a in ("pour", "scent", "wait", "tool")}, 0.0, 0.0)


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
    made = Stage(action, action, action, ("p",), median, spread)
    return replace(made, **more)  # type: ignore[arg-type]


BEFORE_THICK = (Need(("p",), Trace.EMULSION, Trace.MEDIUM),)
ONE = {"p": PotState("p", fragrance="F")}


def test_chance_is_the_log_normal_probability() -> None:
    # One stage of median 150 s and sd of log 0.5 against thick trace at 200 s, no fragrance in:
    # P = Phi(ln(200/150)/0.5), the log-normal distribution function (any handbook).
    seen = outlook([stage("pour", 150, 0.5, needs=BEFORE_THICK)], ONE, batter(), SURE)
    expected = 0.5 * (1 + math.erf(math.log(200 / 150) / 0.5 / math.sqrt(2)))
    assert seen.chance == pytest.approx(expected, abs=0.015)


def test_both_spreads_count() -> None:
    # Time and threshold both log-normal: sd of the log ratio is hypot(0.5, 0.3).
    seen = outlook([stage("pour", 150, 0.5, needs=BEFORE_THICK)], ONE, batter(spread=0.3), SURE)
    z = math.log(200 / 150) / math.hypot(0.5, 0.3)
    assert seen.chance == pytest.approx(0.5 * (1 + math.erf(z / math.sqrt(2))), abs=0.015)


def test_fragrance_uses_up_the_rest_four_times_faster() -> None:
    scent = stage("scent", 80, 1e-6, fragrance_into=("p",))
    pour = stage("pour", 30, 1e-6, needs=BEFORE_THICK)
    wait = stage("wait", 100, 1e-6)
    # 100 s plain, then AF 4: thick (200 s of exposure) is reached 25 s after the fragrance.
    seen = outlook([wait, scent, pour], ONE, batter(), SURE)
    assert seen.fragrance_in_s["p"].p50 == pytest.approx(100, rel=1e-3)
    assert seen.time_left_from_fragrance_s["p"].p50 == pytest.approx(25, rel=1e-3)
    assert seen.chance == 0.0
    assert seen.tightest is not None
    assert seen.tightest.stage.action == "pour"


def test_hands_wait_for_the_earliest_state() -> None:
    top = stage("tool", 10, 1e-6, needs=(Need(("p",), Trace.MEDIUM, Trace.THICK),))
    seen = outlook([top], ONE, batter(), SURE)
    assert seen.stages[0].begins_s.p50 == pytest.approx(150, rel=1e-3)
    assert seen.minutes == pytest.approx(160 / 60, rel=1e-3)
    assert seen.chance == 1.0


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
        seen = outlook([wait, blend], ONE, batter(), SURE)
        assert seen.stages[1].lasts_s.p50 == pytest.approx(5 + seconds, rel=1e-3)
        assert seen.room_s["p"].p50 == pytest.approx(25 + seconds + 140, rel=1e-3)
    in_hand = outlook([blend], ONE, batter(), SURE, now=23.0, begun=20.0)
    assert in_hand.stages[0].lasts_s.p50 < seen.stages[1].lasts_s.p50


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
    scent = stage("scent", 80, 1e-6, fragrance_into=("p",))
    seen = outlook([stage("wait", 50, 1e-6), scent], ONE, batter(), SURE, now=50.0)
    # In at 100 s: thick 25 s later, 75 s from now.
    assert seen.room_s["p"].p50 == pytest.approx(75, rel=1e-3)


def test_finish_is_the_outlook_in_short() -> None:
    work = [stage("wait", 60, 0.3), stage("pour", 90, 0.4, needs=BEFORE_THICK)]
    seen = outlook(work, ONE, batter(spread=0.2), SURE)
    short = finish(work, ONE, batter(spread=0.2), SURE)
    assert short == Finish(seen.chance, seen.chance_in_part, seen.minutes)
    assert 0.1 < seen.chance < 0.9


def test_the_first_pot_to_go_decides() -> None:
    pots = {"p": PotState("p"), "q": PotState("q", fragrance="F", fragrance_in=0.0)}
    both = stage("pour", 60, 1e-6, needs=(Need(("p", "q"), Trace.EMULSION, Trace.MEDIUM),))
    assert outlook([both], pots, batter(), SURE).chance == 0.0
    only = stage("pour", 60, 1e-6, needs=(Need(("p",), Trace.EMULSION, Trace.MEDIUM),))
    assert outlook([only], pots, batter(), SURE).chance == 1.0


def test_runs_that_share_their_milestones_come_to_the_same() -> None:
    late = [stage("wait", 40, 0.2), stage("scent", 20, 0.3, fragrance_into=("p",))]
    ways = [[*late, stage("pour", m, 0.4, needs=BEFORE_THICK)] for m in (30, 60, 90)]
    shared = Kept()
    together = [finish(way, ONE, batter(spread=0.2), SURE, kept=shared) for way in ways]
    assert together == [finish(way, ONE, batter(spread=0.2), SURE) for way in ways]
    assert len(shared.times) == 1  # in all of them its fragrance goes in at the same times
    assert len(set(together)) == 3
