"""The batch in hand before and between taps: what is drawn, from what, and what counts as seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import (
    BatchHistory,
    Blend,
    FragranceWord,
    Mix,
    PotHistory,
    Reputation,
    Tap,
    Trace,
)
from soapbench.thickening import Priors, in_hand, live, no_batches
from soapbench.thickening.evidence import covariates, strength_of
from soapbench.thickening.fitted import Fit
from soapbench.thickening.fragrance import beliefs
from soapbench.thickening.in_hand import batch_sd, fragrances_of, prior_pieces, seen_by
from soapbench.thickening.practice import practised
from soapbench.thickening.sightings import Spreads

EMPTY = no_batches()
MIX = Mix(27.0, 0.30, 0.5, 1.2)
WORDS = tuple(FragranceWord(f"{r.value}", r) for r in list(Reputation)[1:])


def sure(pot: tuple[float, float] = (0.0, 0.0), spread: float = 1e-6, batch: float = 1e-6) -> Fit:
    """All but a few things known as good as exactly."""
    fitted = no_batches(Priors(pot=pot))
    sd = Spreads(batch, spread, fitted.sd.lot, fitted.sd.noise)
    return replace(fitted, covariance=1e-12 * np.eye(9), sd=sd)


def unseen(*words: FragranceWord) -> BatchHistory:
    return BatchHistory("b", MIX, (), words)


# ---------------------------------------------------------------- what is drawn


def test_a_batch_known_exactly_is_the_recipe_and_theta() -> None:
    draws = live(sure(), unseen(), 0.0, n=8)
    assert draws.log_rate == pytest.approx(np.full(8, covariates(MIX) @ EMPTY.theta[:3]), abs=1e-4)
    assert draws.kappa == pytest.approx(np.full(8, np.exp(EMPTY.theta[3])), rel=1e-4)
    below, *above = np.exp(EMPTY.theta[5:])
    gamma = [-below, 0.0, *np.cumsum(above)]
    expected = np.tile(EMPTY.theta[4] + np.array(gamma), (8, 1))
    assert draws.log_thresholds == pytest.approx(expected, abs=1e-4)


def test_a_spread_pulls_all_milestones_apart_from_light_trace_alike() -> None:
    draws = live(sure(spread=0.3), unseen(), 0.0, n=2000)
    apart = draws.log_thresholds - draws.log_thresholds[:, [Trace.LIGHT]]
    mean = np.array([-1.0, 0.0, 1.0, 1.0, 1.0])
    for milestone in (Trace.EMULSION, Trace.MEDIUM, Trace.SET_UP):
        stretched = np.log(np.abs(apart[:, milestone]))
        assert stretched.std() == pytest.approx(0.3, rel=0.1)
        assert np.sign(apart[0, milestone]) == mean[milestone]
    ratio = apart[:, Trace.SET_UP] / apart[:, Trace.MEDIUM]
    assert ratio == pytest.approx(np.full(2000, ratio[0]), rel=1e-4)


def test_a_pot_strays_from_its_batch_in_rate_and_in_its_fragrance_each_by_itself() -> None:
    """Against the same draws without it: normal, as wide as said, and tied to nothing."""
    words = WORDS[:2]
    plain, apart = (
        live(sure(pot, batch=0.2), unseen(*words), 0.0) for pot in ((0.0, 0.0), (0.1, 0.3))
    )
    assert plain.n == 4000, "unless asked otherwise"
    names = [word.name for word in words]
    moves = [apart.log_rate - plain.log_rate, *(apart.log_af[f] - plain.log_af[f] for f in names)]
    assert [move.std() for move in moves] == pytest.approx([0.1, 0.3, 0.3], rel=0.05)
    tied = np.corrcoef([*moves, plain.log_rate, *(plain.log_af[f] for f in names)])
    assert np.abs(tied - np.eye(6)).max() < 0.06
    assert np.array_equal(apart.kappa, plain.kappa)


def test_other_seeds_are_other_draws_and_thinned_ones_are_every_so_manieth() -> None:
    fitted = sure(batch=0.2)
    one, same, other = (live(fitted, unseen(), 0.0, n=60, seed=s).log_rate for s in (0, 0, 1))
    assert np.array_equal(one, same)
    assert not np.isclose(one, other).any()
    thin = live(fitted, unseen(), 0.0, n=60, thinned=4)
    assert thin.log_rate == pytest.approx(one[::4])
    assert np.array_equal(live(fitted, unseen(), 0.0, n=60, thinned=1).log_rate, one)


def test_fragrances_are_those_named_and_those_in_pots() -> None:
    loaded = FragranceWord("Fig", Reputation.NOTORIOUS, "A1", 0.05)
    pots = (PotHistory("a", 0.0, "Fig"), PotHistory("b", 0.0, "Kelp"), PotHistory("c", 0.0))
    batch = BatchHistory("b", MIX, pots, (loaded,))
    assert fragrances_of(batch) == {"Fig": loaded, "Kelp": FragranceWord("Kelp")}
    draws = live(EMPTY, batch, 0.0, n=8)
    assert draws.strength == {
        name: strength_of(word, MIX, EMPTY.priors) for name, word in fragrances_of(batch).items()
    }
    assert draws.log_af["Fig"].mean() > draws.log_af["Kelp"].mean()


def test_a_tap_of_the_batch_in_hand_is_true_and_as_late_as_this_hand_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    given: list[tuple[Priors, float]] = []
    rows_of = in_hand.rows_of

    def noted(batches, lots, priors, skipped):  # type: ignore[no-untyped-def]
        given.append((priors, skipped))
        return rows_of(batches, lots, priors, skipped)

    monkeypatch.setattr(in_hand, "rows_of", noted)
    live(replace(EMPTY, delay=28.0, skipped=0.4), unseen(), 0.0, n=8)
    assert given == [(replace(EMPTY.priors, mistaken=0.0, delay=28.0), 0.4)]


# ---------------------------------------------------------------- what is seen by now


def test_what_happens_just_now_is_seen_and_what_comes_later_is_not() -> None:
    blends, taps = (Blend(20.0, 5.0), Blend(50.0, 5.0)), (Tap(30.0, Trace(0)), Tap(60.0, Trace(1)))
    pot = PotHistory("p", 80.0, "Kelp", 40.0, blends, taps)
    batch = BatchHistory("b", MIX, (pot,), ())
    assert seen_by(batch, 80.0) == batch
    for now, until, t_f, burst, tap in (
        (90.0, 80.0, 40.0, 2, 2), (60.0, 60.0, 40.0, 2, 2), (59.0, 59.0, 40.0, 2, 1),
        (50.0, 50.0, 40.0, 2, 1), (49.0, 49.0, 40.0, 1, 1), (40.0, 40.0, 40.0, 1, 1),
        (39.0, 39.0, None, 1, 1), (19.0, 19.0, None, 0, 0),
    ):  # fmt: skip
        expected = replace(
            pot, until=until, fragrance_in=t_f, blends=blends[:burst], taps=taps[:tap]
        )
        assert seen_by(batch, now).pots == (expected,)
    never = replace(pot, fragrance_in=None)
    assert seen_by(replace(batch, pots=(never,)), 80.0).pots == (never,)


# ---------------------------------------------------------------- the prior of a batch


def test_a_batch_strays_farther_than_the_core_says() -> None:
    """Ours, judged: by three fifths, for the odd batch now and then; a normal as it is."""
    assert batch_sd(EMPTY) / EMPTY.sd.batch == pytest.approx(1.64, rel=0.05)
    wider = replace(EMPTY, priors=Priors(batch_tail=4.0))
    assert batch_sd(wider) / EMPTY.sd.batch == pytest.approx((4 / 2) ** 0.45)


def test_the_eight_likeliest_ways_to_misjudge_three_fragrances() -> None:
    """Each piece's weight is the product of its beliefs', its means and variances theirs."""
    pieces = prior_pieces(EMPTY, MIX, WORDS)
    each = [beliefs(EMPTY, word) for word in WORDS]
    ways = sorted(
        ((a.weight * b.weight * c.weight, a, b, c) for a in each[0] for b in each[1]
         for c in each[2]), key=lambda way: -way[0],
    )  # fmt: skip
    assert len(ways) == 27
    best, whole = ways[:8], sum(way[0] for way in ways[:8])
    assert pieces.weights == pytest.approx([way[0] / whole for way in best])
    for k, (_, *of) in enumerate(best):
        assert pieces.means[k, 8:] == pytest.approx([b.mean for b in of])
        own = np.diagonal(pieces.covariances[k])[8:]
        assert own == pytest.approx([b.variance for b in of])
    assert len(prior_pieces(EMPTY, MIX, WORDS[:1]).weights) == 3


# ---------------------------------------------------------------- rehearsed taps


def test_how_well_a_delay_fits_what_was_rehearsed_by_hand() -> None:
    """The log density of an exponential, - log d - late / d, of four taps at the most."""

    def each(delay: float, late: float) -> float:
        return -(np.log(delay) + late / delay)

    assert practised(10.0, [5.0] * 6) == pytest.approx(4 * each(10.0, 5.0))
    assert practised(20.0, [5.0, 25.0] * 3) == pytest.approx(4 * each(20.0, 15.0))
    assert practised(10.0, [5.0] * 5) == 0.0
    assert practised(10.0, [-8.0] * 6) == pytest.approx(4 * each(10.0, 0.0)), "early is not late"
    assert practised(10.0, [90.0] * 6) == pytest.approx(4 * each(10.0, 90.0))
    assert practised(10.0, [90.1] * 6) == practised(10.0, [-90.1] * 6) == 0.0
    assert practised(10.0, [80.0] + [5.0] * 40) == pytest.approx(4 * each(10.0, 5.0))
    assert practised(10.0, [45.0] + [5.0] * 39) == pytest.approx(4 * each(10.0, 6.0))
