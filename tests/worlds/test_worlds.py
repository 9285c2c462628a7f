"""The worlds, the oracle and the scores by which the model is judged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import Blend, Mix, PotHistory, Reputation, Trace
from soapbench.thickening import Priors
from tests.worlds import oracle
from tests.worlds.cases import THICK, first_tap, world_batches
from tests.worlds.evaluate import evaluate_world
from tests.worlds.kettle import Physics, Pots, effective_log_af, milestone_times
from tests.worlds.latency import latency_sd
from tests.worlds.luck import chance
from tests.worlds.scores import Tally, calibration_error, score
from tests.worlds.world import Setup, draw_fragrance, draw_maker


@pytest.mark.parametrize(
    ("truth", "median", "sigma"), [(100.0, 100.0, 1.0), (1500.0, 1200.0, 0.3), (500.0, 1200.0, 0.5)]
)
def test_score_is_the_crps_of_log_time(truth: float, median: float, sigma: float) -> None:
    """scoringrules, closed form for a normal; N(0, 1) at 0 is (sqrt 2 - 1) / sqrt pi."""
    import scoringrules  # type: ignore[import-untyped]

    rng = np.random.default_rng(0)
    tally = Tally()
    score(tally, median * np.exp(sigma * rng.standard_normal(40_000)), truth)
    expected = float(scoringrules.crps_normal(np.log(truth), np.log(median), sigma))
    assert tally.crps[0] == pytest.approx(expected, rel=0.02)
    assert float(scoringrules.crps_normal(0.0, 0.0, 1.0)) == pytest.approx(0.233694977, abs=1e-9)


@pytest.mark.parametrize(
    ("y", "mu", "sigma", "crps"),
    [
        (1.0, 0.0, 1.0, 0.267405467),
        (2.0, 0.0, 0.5, 0.647869352),
        (15.0, np.log(12.0), 0.3, 1.733195180),
        (40.0, np.log(12.0), 0.3, 25.339096937),
    ],
)
def test_the_scoring_library_is_right(y: float, mu: float, sigma: float, crps: float) -> None:
    """Log-normal CRPS: closed form (Baran and Lerch 2015, as cited by scoringrules) and
    quadrature, computed apart."""
    import scoringrules  # type: ignore[import-untyped]

    assert float(scoringrules.crps_lognormal(y, mu, sigma)) == pytest.approx(crps, abs=1e-8)
    rng = np.random.default_rng(1)
    ensemble = np.exp(mu + sigma * rng.standard_normal(40_000))
    assert float(scoringrules.crps_ensemble(y, ensemble, estimator="qd")) == pytest.approx(
        crps, rel=0.02
    )


def test_calibration_error() -> None:
    assert calibration_error([(0.25, True)] + 3 * [(0.25, False)]) == pytest.approx(0.0)
    assert calibration_error(4 * [(0.25, True)]) == pytest.approx(0.75)


PHYSICS = Physics(45e3, 2e-5, 20.0, 0.9, 20.0, 100.0, 0.0, 1e12)


def batter(**changes: float) -> Pots:
    values = {"log_rate": 0.0, "batter_c": 30.0, "room_c": 30.0, "af": 1.0, "fragrance_in": np.inf}
    return Pots(
        **{name: np.array([changes.get(name, value)]) for name, value in values.items()},
        blend_from=np.array([[np.inf]]),
        blend_for=np.array([[0.0]]),
        thresholds=np.array([[0.02, 0.03, 0.05, 0.08]]),
    )


def test_a_kettle_left_alone_follows_the_closed_form() -> None:
    """dX/dt = k (1 + c X)(1 - X): t = ln((1 + c X) / (1 - X)) / (k (1 + c))."""
    x, c = np.array([0.02, 0.03, 0.05, 0.08]), PHYSICS.autocatalysis
    exact = np.log((1 + c * x) / (1 - x)) / (PHYSICS.base_rate * (1 + c))
    assert milestone_times(PHYSICS, batter())[0] == pytest.approx(exact, rel=5e-3)


def test_heat_and_fragrance_hurry_it() -> None:
    plain = milestone_times(PHYSICS, batter())[0]
    warm = milestone_times(PHYSICS, batter(batter_c=40.0, room_c=40.0))[0]
    # Arrhenius factor 30 -> 40 degC: 1.660 at 40 kJ/mol and 1.791 at 46, computed apart.
    assert np.all((plain / warm > 1.66) & (plain / warm < 1.791))
    scented = milestone_times(PHYSICS, batter(af=4.0, fragrance_in=0.0))[0]
    measured = np.log((plain[2] - plain[0]) / (scented[2] - scented[0]))
    assert measured == pytest.approx(effective_log_af(PHYSICS, np.log(4.0), 0.02, 0.05), abs=0.03)


def test_taps_tell_the_oracle_something() -> None:
    maker, _, future = world_batches(7, 0, 12)
    rng = np.random.default_rng(0)
    before: list[float] = []
    after: list[float] = []
    for made in future:
        tap = first_tap(made)
        if tap is None:
            continue
        prior = oracle.particles(rng, maker, made, 400)
        later = oracle.posterior(rng, maker, made, prior, tap, 400)
        for i in range(len(made.setup.pots)):
            for tally, times in ((before, prior), (after, later)):
                one = Tally()
                score(one, times[:, i, THICK], float(made.truth[i, THICK]))
                tally.append(one.crps[0])
    assert len(before) > 15
    assert np.mean(after) < 0.8 * np.mean(before)


def test_the_model_beats_the_fragrance_mean_and_not_the_oracle() -> None:
    """One world nobody tuned to, few batches: a smoke test of the whole evaluation."""
    tallies, finish = evaluate_world(2003, (0, 30), 8, Priors(), rivals=False)
    for size in (0, 30):
        ours, best, mean = (
            np.mean(tallies[who, size, "before"].crps) for who in ("ours", "oracle", "mean")
        )
        assert best < ours < mean
    assert np.mean(tallies["ours", 30, "before"].crps) < np.mean(tallies["ours", 0, "before"].crps)
    brier = [np.mean([(row[k] - row[2]) ** 2 for row in finish[30]]) for k in (0, 1)]
    assert brier[0] < 0.2
    assert brier[1] < 0.2


USUAL = (Blend(20.0, 70.0, 1.0, Trace.EMULSION),)
SCENTED_AT = 240.0


def usual_minutes(word: Reputation | None, c: float) -> float:
    """Median over makers to thick trace, from lye meeting oils or from the fragrance going in."""
    rng, minutes = np.random.default_rng(1), []
    for _ in range(40):
        maker = draw_maker(rng)
        fragrance = draw_fragrance(rng, 0, word or Reputation.UNKNOWN, 0.0)
        fragrance = replace(fragrance, seizes=0.0, word=replace(fragrance.word, load=0.03))
        pot = PotHistory("p", 9e9, "Fragrance 0", SCENTED_AT, USUAL)
        if word is None:
            pot = replace(pot, fragrance=None, fragrance_in=None)
        setup = Setup(
            "b",
            Mix(c, 0.33, 0.40),
            20.0,
            (pot,),
            (fragrance.word,),
            {"Fragrance 0": fragrance.log_af},
        )
        times = chance(rng, replace(maker, fragrances=(fragrance,)), setup, 1)[0, 0]
        minutes.append(times[Trace.THICK] - (SCENTED_AT if word else 0.0))
    return float(np.median(minutes)) / 60.0


@pytest.mark.parametrize(
    ("word", "c", "low", "high"),
    [
        (None, 22.0, 30, 60),
        (None, 32.0, 12, 30),
        (None, 38.0, 7, 20),
        (Reputation.ACCELERATES, 22.0, 3, 8),
        (Reputation.NOTORIOUS, 24.0, 1, 4),
        (Reputation.UNKNOWN, 24.0, 8, 30),
    ],
)
def test_usual_batters_keep_to_what_makers_say(
    word: Reputation | None, c: float, low: float, high: float
) -> None:
    """Common practice, no source."""
    assert low < usual_minutes(word, c) < high


def test_seizing_and_new_bottles_and_late_taps_happen() -> None:
    maker, _, future = world_batches(3, 0, 40, "seizing")
    quick = [
        t[Trace.SET_UP] - p.fragrance_in
        for m in future
        for p, t in zip(m.setup.pots, m.truth, strict=True)
        if p.fragrance_in and maker.fragrance(p.fragrance or "").seizes >= 0.25
    ]
    assert 0.1 < np.mean(np.array(quick) < 80.0) < 0.6
    lots = {w.lot for m in world_batches(3, 0, 5, "new bottle")[2] for w in m.history.fragrances}
    assert all(lot and lot.startswith("new") for lot in lots)

    def lateness(twist: str) -> float:
        late = []
        for m in world_batches(3, 0, 40, twist)[2]:
            for p, truth in zip(m.history.pots, m.truth, strict=True):
                late += [t.t - truth[t.state] for t in p.taps if t.state > Trace.EMULSION]
        return float(np.mean(late))

    assert lateness("late taps") > lateness("base") + 10.0
    histories = [m.history for m in world_batches(3, 0, 5, "no blender")[2]]
    assert not any(b.to is None for h in histories for p in h.pots for b in p.blends)


def test_worlds_are_reproducible_and_different() -> None:
    histories = [[m.history for m in world_batches(s, 3, 1)[1]] for s in (5, 5, 6)]
    assert histories[0] == histories[1]
    assert histories[0] != histories[2]
    pot = histories[0][0].pots[0]
    assert replace(pot, name="x") != pot


def test_few_batches_cannot_tell_latency_from_acceleration() -> None:
    """So the model learns none: a fragrance waits 15 s or two minutes (common practice)."""
    assert latency_sd(4.0, pots=4, batches=5) > 45.0
    assert latency_sd(2.2, pots=4, batches=20) > 45.0
    assert latency_sd(19.0, pots=4, batches=20) < 15.0, "of a notorious one, many could"
