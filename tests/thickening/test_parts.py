"""Parts of the thickening model by hand: normal theory from any handbook, and scipy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize, stats
from thickening_kit import sightings_of

from soapbench.batter import (
    BatchHistory,
    Blend,
    ByOthers,
    FragranceWord,
    Mix,
    PotHistory,
    Reputation,
    Tap,
    Trace,
)
from soapbench.thickening import chance_above, importance, no_batches
from soapbench.thickening.draws import Draws
from soapbench.thickening.evidence import covariates, rows_of, without_seizing
from soapbench.thickening.fitted import OTHER_HANDS, Fit, Fragrance, Lot, mixture, others_mixture
from soapbench.thickening.fitting import _amounts_to
from soapbench.thickening.fragrance import Acceleration, acceleration, beliefs, seizes
from soapbench.thickening.in_hand import batch_sd, prior_pieces
from soapbench.thickening.priors import Component
from soapbench.thickening.profile import GRID
from soapbench.thickening.sightings import Spreads, Unknowns
from soapbench.thickening.solve import Setting, _log_prior, lot_sd

EMPTY = no_batches()
KELP = FragranceWord("Kelp", Reputation.ACCELERATES, "A17")

# ---------------------------------------------------------------- beliefs about a fragrance


def believed() -> Acceleration:
    return Acceleration(0, 0.0, False, (0.3, 0.7), (0.2, 1.5), (0.4, 0.6))


def test_mean_spread_and_quantiles_of_a_mixture() -> None:
    mixed, parts = believed(), ((0.3, 0.2, 0.4), (0.7, 1.5, 0.6))
    a = np.linspace(-4.0, 6.0, 20_001)
    mass = sum(w * stats.norm(m, s).pdf(a) for w, m, s in parts) * (a[1] - a[0])
    mean = float(mass @ a)
    assert mixed.mean == pytest.approx(mean, abs=1e-6)
    assert mixed.sd == pytest.approx(math.sqrt(float(mass @ (a - mean) ** 2)), abs=1e-6)
    for p in (0.1, 0.5, 0.9):
        below = sum(w * stats.norm(m, s).cdf(np.log(mixed.quantile(p))) for w, m, s in parts)
        assert below == pytest.approx(p, abs=1e-6)
        assert mixed.above(mixed.quantile(p)) == pytest.approx(1 - p, abs=1e-6)


def test_what_another_maker_tells_is_as_wide_as_told_and_a_little_more() -> None:
    """Four of five lie between 2 and 8: a tenth of a normal lies above its upper end."""
    (usual, middle, sd), (other, _, _) = others_mixture(ByOthers(4.0, 2.0, 8.0, 3), EMPTY.priors)
    assert middle == pytest.approx(math.log(4.0))
    own_sd = math.sqrt(sd**2 - OTHER_HANDS**2)
    assert stats.norm(middle, own_sd).sf(math.log(8.0)) == pytest.approx(0.1)
    assert usual + other == pytest.approx(1.0)
    assert usual > other > 0.0


def test_a_mixture_amounts_to_the_piece_it_is_in_and_between_them_to_both() -> None:
    pieces = np.array([(0.6, 0.0, 0.1), (0.4, 2.0, 0.2)])
    chance, mean, precision = _amounts_to(np.array([0.0, 2.0]), np.full(2, 1e-4), pieces)
    assert chance == pytest.approx([1.0, 0.0], abs=1e-6)
    assert mean == pytest.approx([0.0, 2.0], abs=1e-6)
    assert precision == pytest.approx([100.0, 25.0], rel=1e-4)
    # Very unsure of it: the pieces by their weights and widths, each as wide as that doubt.
    wide = np.array([9.0])
    heights = [w * stats.norm(m, math.hypot(s, 3.0)).pdf(1.0) for w, m, s in pieces]
    chance, _, precision = _amounts_to(np.array([1.0]), wide, pieces)
    first = heights[0] / sum(heights)
    assert chance == pytest.approx([first])
    assert precision == pytest.approx([first * 100.0 + (1 - first) * 25.0])


def test_a_word_is_right_or_misjudged() -> None:
    for word in Reputation:
        (right, _, _), (wrong, mean, sd) = mixture(word, EMPTY.words, EMPTY.priors)
        assert right + wrong == pytest.approx(1.0)
        assert right > wrong
        assert (mean, sd) == (EMPTY.priors.misjudged.mean, EMPTY.priors.misjudged.sd)


NONE = (0.0,) * 9


def with_kelp(lots: tuple[Lot, ...], log_af: float, table: tuple[float, ...] = ()) -> Fit:
    kelp = Fragrance("Kelp", Reputation.ACCELERATES, 6, log_af, lots, table, seized=2)
    return replace(EMPTY, fragrances={"Kelp": kelp})


def weighed(at: float, variance: float) -> list[float]:
    """Weights of the prior's pieces once ``at`` was seen, as unsure as ``variance``."""
    pieces = mixture(KELP.reputation, EMPTY.words, EMPTY.priors)
    densities = [w * stats.norm(m, math.sqrt(s**2 + variance)).pdf(at) for w, m, s in pieces]
    return [one / sum(densities) for one in densities]


def test_what_one_bottle_said_tells_whether_its_fragrance_is_as_sold() -> None:
    """The lot's log AF lies off its fragrance's by a bottle, what is said of it by its own doubt
    and by that about theta, tied to it."""
    tie = (0.0, 0.0, 0.0, 0.0, 3.0, 0.0, 0.0, 0.0, -2.0)
    fitted = with_kelp((Lot("A17", 12.0, 12.0 * 1.2, tie),), 1.2)
    bottle = float(lot_sd(EMPTY.sd.lot, np.array(1.2))) ** 2
    slopes = np.array(tie) / 12.0
    theta = float(slopes @ fitted.covariance @ slopes)
    expected = weighed(1.2, 1 / 12.0 + bottle + theta)
    factors = acceleration(fitted, KELP)
    assert factors.weights == pytest.approx(expected)
    assert (factors.batches, factors.new_bottle) == (6, False)


def test_a_table_that_is_a_normal_gives_what_the_normal_gives() -> None:
    """Conjugate normals: precision and mean of each piece, and its weight."""
    table = tuple(-0.5 * 9.0 * (GRID - 1.3) ** 2)
    factors = acceleration(with_kelp((Lot("A17", 9.0, 9.0 * 1.3, NONE),), 1.3, table), KELP)
    pieces = mixture(KELP.reputation, EMPTY.words, EMPTY.priors)
    for mean, sd, (_, centre, spread) in zip(factors.means, factors.sds, pieces, strict=True):
        precision = 9.0 + spread**-2
        assert mean == pytest.approx((9.0 * 1.3 + centre / spread**2) / precision, abs=0.01)
        assert sd == pytest.approx(precision**-0.5, rel=0.01)
    assert factors.weights == pytest.approx(weighed(1.3, 1 / 9.0), abs=0.01)


def test_a_new_bottle_is_a_usual_one_or_now_and_then_an_odd_one() -> None:
    fitted, odd = with_kelp((Lot("A17", 12.0, 12.0 * 1.2, NONE),), 1.2), EMPTY.priors.odd_bottle
    known, new = (acceleration(fitted, replace(KELP, lot=lot)) for lot in ("A17", "B2"))
    assert (len(known.weights), len(new.weights)) == (2, 4)
    usual, strays, wrong, wrong_strays = new.weights
    assert strays / usual == pytest.approx(odd / (1 - odd))
    assert wrong_strays / wrong == pytest.approx(odd / (1 - odd))
    assert usual + strays == pytest.approx(known.weights[0])
    # Each strays by so many standard deviations of a bottle: on top of the rest, as squares.
    near, far = EMPTY.priors.bottles
    bottle = float(lot_sd(EMPTY.sd.lot, np.array(1.2)))
    assert near < far
    apart = new.sds[1] ** 2 - new.sds[0] ** 2
    assert apart == pytest.approx((far**2 - near**2) * bottle**2)


def test_the_chance_to_seize_counts_what_is_said_as_some_batches() -> None:
    fitted, priors = with_kelp((), 1.0, (0.0,) * len(GRID)), EMPTY.priors
    as_sold = priors.words[KELP.reputation].seizes
    by_hand = (priors.seizes_counts * as_sold + 2) / (priors.seizes_counts + 6)
    assert seizes(EMPTY, KELP) == as_sold
    assert as_sold < 0.1 < by_hand < 2 / 6, "between what is said and what was seen"
    assert seizes(fitted, KELP) == pytest.approx(by_hand)
    *usual, seizing = beliefs(EMPTY, KELP)
    assert seizing.weight == as_sold
    assert sum(b.weight for b in usual) == pytest.approx(1.0 - as_sold)


def test_chance_above_counts_draws() -> None:
    draws = Draws(np.zeros(4), np.zeros((4, 5)), np.ones(4), {"F": np.log([1.0, 2.0, 4.0, 5.0])})
    assert chance_above(draws, "F") == 0.5, "three times, where nothing else is asked"
    assert chance_above(draws, "F", 1.5) == 0.75


# ---------------------------------------------------------------- the batch in hand


def test_before_anything_is_seen_a_batch_is_what_the_recipe_and_the_past_say() -> None:
    mix, p = Mix(27.0, 0.30, 0.5), 3
    root = np.random.default_rng(3).standard_normal((9, 9))
    fitted = replace(EMPTY, covariance=root @ root.T)
    pieces = prior_pieces(fitted, mix, ())
    x = np.array(covariates(mix))
    view = np.zeros((8, 9))
    view[0, :p] = x
    view[1:7, p:] = np.eye(6)
    assert pieces.weights == pytest.approx([1.0])
    assert pieces.means[0] == pytest.approx([x @ EMPTY.theta[:p], *EMPTY.theta[p:], 0.0])
    own = np.diag([batch_sd(fitted) ** 2, *([0.0] * 6), EMPTY.sd.spread**2])
    assert pieces.covariances[0] == pytest.approx(view @ fitted.covariance @ view.T + own)


def test_the_mode_of_a_batch_is_the_one_scipy_finds() -> None:
    """scipy.optimize.minimize on the same log posterior; pieces alike keep their weights."""
    taps = (Tap(520.0, Trace.LIGHT), Tap(600.0, Trace.MEDIUM))
    blends = (Blend(20.0, 8.0), Blend(60.0, 5.0))
    pot = PotHistory("p", 700.0, "Kelp", 300.0, blends, taps)
    batch = BatchHistory("b", Mix(27.0, 0.30, 0.5), (pot,), (KELP,))
    rows = rows_of([batch], {("Kelp", "A17"): 0}, EMPTY.priors, 0.2)
    one = prior_pieces(EMPTY, batch.mix, (KELP,))
    twice = importance.Pieces(np.array([0.3, 0.7]), one.means[[0, 0]], one.covariances[[0, 0]])
    pieces = importance.laplace(EMPTY, twice, rows)
    assert pieces.weights == pytest.approx([0.3, 0.7])
    precision = np.linalg.inv(one.covariances[0])

    def cost(q: np.ndarray) -> float:
        away = q - one.means[0]
        likely = importance.log_likelihood(EMPTY, rows, q[:, None])[0]
        return float(0.5 * away @ precision @ away - likely)

    best = optimize.minimize(cost, one.means[0], method="BFGS")
    assert cost(one.means[0]) > best.fun + 1.0, "else there is nothing to find"
    for mode in pieces.means:
        assert cost(mode) == pytest.approx(best.fun, abs=0.03)
    sds = np.sqrt(np.diagonal(pieces.covariances, axis1=1, axis2=2))
    assert np.all(sds < np.sqrt(np.diag(one.covariances[0])) + 1e-9), "taps only narrow it"


def test_draws_are_shared_out_among_the_pieces_by_their_weights() -> None:
    z = np.random.default_rng(4).standard_normal((2, 1000))
    covariances = np.array([np.diag([4.0, 1.0]), [[1.0, 0.8], [0.8, 1.0]]])
    pieces = importance.Pieces(np.array([0.25, 0.75]), np.array([[0.0, 50.0], [0, 0]]), covariances)
    q = importance.place(z, pieces)
    first = q[1] > 25.0
    assert first.sum() == 250
    assert q[:, first] == pytest.approx(np.diag([2.0, 1.0]) @ z[:, first] + [[0.0], [50.0]])
    assert np.cov(q[:, ~first]) == pytest.approx(covariances[1], abs=0.15)


# ---------------------------------------------------------------- solving


def test_the_log_prior_is_a_sum_of_normal_log_densities() -> None:
    """scipy.stats.norm, what does not move left out: between two points it is the same."""
    sd, of = Spreads(0.2, 0.15, 0.1, 0.09), np.array([0, 0, 1])
    fixed = Component(1.0, np.inf)
    precision = np.linspace(1.0, 9.0, 9)
    setting = Setting(np.ones(9), precision, fixed, fixed, fixed, fixed, of, lambda a, v: (a, v))
    pulled, trust = (np.array([0.5, 1.5]), np.array([4.0, 6.0])), np.array([1.0, 0.5])

    def density(at: Unknowns) -> float:
        norm = stats.norm.logpdf
        deviations = lot_sd(sd.lot, pulled[0])[of]
        return float(
            norm(at.theta, 1.0, precision**-0.5).sum()
            + norm(at.rates, 0.0, sd.batch / np.sqrt(trust)).sum()
            + norm(at.spreads, 0.0, sd.spread).sum()
            + norm(at.lots, at.fragrances[of], deviations).sum()
            + norm(at.fragrances, pulled[0], pulled[1] ** -0.5).sum()
        )

    rng = np.random.default_rng(6)
    one, other = (
        Unknowns(rng.normal(1, 1, 9), rng.normal(1, 0.2, 3), pulled[0].copy(),
                 rng.normal(0, 0.2, 2), rng.normal(0, 0.1, 2))
        for _ in range(2)
    )  # fmt: skip
    ours = [_log_prior(at, setting, sd, pulled, trust) for at in (one, other)]
    assert ours[0] - ours[1] == pytest.approx(density(one) - density(other))


# ---------------------------------------------------------------- evidence


def pot(*taps: tuple[float, Trace], **more: object) -> PotHistory:
    given = {"until": 2000.0, "fragrance": "Kelp", "fragrance_in": 300.0, **more}
    return PotHistory("p", taps=tuple(Tap(*tap) for tap in taps), **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("seized", "one"),
    [
        (True, pot((350.0, Trace.SET_UP))),
        (False, pot((900.0, Trace.SET_UP))),
        (False, pot((350.0, Trace.THICK))),
        (True, pot((40.0, Trace.SET_UP), fragrance_in=-300.0)),
        (False, pot((350.0, Trace.SET_UP), fragrance_in=None)),
    ],
    ids=["at once", "after a while", "thick only", "in the oils", "without its fragrance"],
)
def test_a_pot_set_up_at_once_has_seized_and_teaches_nothing_after(
    seized: bool, one: PotHistory
) -> None:
    plain = PotHistory("q", 2000.0)
    batch = BatchHistory("b", Mix(30.0, 0.33, 0.4), (one, plain), (KELP,))
    ((kept,), count) = without_seizing([batch])
    assert count == ({"Kelp": 1} if seized else {})
    assert kept.pots[1] == plain
    if not seized:
        assert kept == batch
        return
    cut = kept.pots[0]
    assert (cut.fragrance, cut.taps) == (None, ())
    assert cut.until == one.fragrance_in


def test_a_tap_sooner_than_hands_are_quick_still_has_a_time() -> None:
    """Its milestone was reached a moment after the lye at the least: logs of it are finite."""
    sightings = sightings_of(pot((4.0, Trace.LIGHT)), replace(EMPTY.priors, delay=10.0), 0.2)
    (light,) = [s for s in sightings if s.tapped]
    assert 0.0 < light.t < 4.0


def test_silence_counts_up_to_a_delay_before_the_end_of_the_watch() -> None:
    """What was reached only just now is not tapped yet."""
    sightings = sightings_of(pot(until=500.0), replace(EMPTY.priors, delay=20.0), 0.2)
    assert {s.t for s in sightings} == {480.0}


def test_oils_far_from_the_usual_count_less_and_less() -> None:
    usual, near, far = (covariates(Mix(30.0, 0.33, s))[2] for s in (0.4, 0.6, 0.8))
    assert usual == 0.0
    assert 1.5 < near < 2.0, "steps of a tenth"
    assert near < far < 1.7 * near
    slow = covariates(Mix(30.0, 0.33, 0.2))[2]
    assert slow == pytest.approx(-near)
