"""Drawing from the posterior of one batch: what is seen, its modes, its pieces and its comb.

Rows and likelihood against ``sightings.look``, which has checks of its own; the search on
quadratics whose modes are known; the comb by hand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from thickening_kit import PRIORS, bench_rows, of_rows, unknowns

from soapbench.thickening import importance, likelihood, no_batches, sightings
from soapbench.thickening.evidence import NO_LOT, Rows, put_together
from soapbench.thickening.importance import AF, GAPS, KAPPA, LIGHT, RATE, SPREAD, Pieces

FIT = no_batches(PRIORS)
D = AF + 3


def state(rate: float = 0.1, spread: float = 0.05) -> np.ndarray:
    """(11,) with the unknowns of the kit for all but rate and spread."""
    at = unknowns()
    q = np.zeros(D)
    q[RATE], q[SPREAD], q[AF:] = rate, spread, at.lots
    q[KAPPA], q[LIGHT], q[GAPS] = at.theta[3], at.theta[4], at.theta[5:]
    return q


def one_batch(rows: Rows, batch: int) -> tuple[Rows, sightings.Unknowns, np.ndarray]:
    """Its rows, all else as it is, and a state that says the same."""
    own, at, q = of_rows(rows, rows.batch == batch), unknowns(), state()
    rates, spreads = np.zeros(3), np.zeros(3)
    rates[batch] = q[RATE] - own.x[0] @ at.theta[:3]
    spreads[batch] = q[SPREAD]
    return own, replace(at, rates=rates, spreads=spreads), q


@pytest.mark.parametrize("batch", [0, 1, 2])
def test_a_state_sees_what_the_fit_sees(batch: int) -> None:
    rows, at, q = one_batch(bench_rows(), batch)
    view = sightings.look(rows, at, FIT.sd.noise, PRIORS.tail)
    from_states = importance._view(rows, q[:, None])
    assert from_states.e[:, 0] == pytest.approx(view.e)
    assert from_states.total[:, 0] == pytest.approx(view.total)
    assert (from_states.given / from_states.total)[:, 0] == pytest.approx(view.given)
    assert importance._rate(rows, from_states)[:, 0] == pytest.approx(view.rate)


@pytest.mark.parametrize("batch", [0, 1, 2])
def test_the_log_likelihood_is_that_of_its_taps_and_its_silence(batch: int) -> None:
    """A tap is true until taken back: where it came early it is normal."""
    rows, at, q = one_batch(bench_rows(), batch)
    view, noise = sightings.look(rows, at, FIT.sd.noise, PRIORS.tail), FIT.sd.noise
    tapped = rows.tapped
    expected = likelihood.log_tapped(view.e[tapped], view.v[tapped], PRIORS.tail, true=True).sum()
    expected += np.log(view.rate / view.total)[tapped].sum()
    silent = likelihood.log_not_tapped(view.e[~tapped], noise, rows.floor[~tapped]).sum()
    both = np.stack([q, q], axis=1)
    assert importance.log_likelihood(FIT, rows, both) == pytest.approx([expected + silent] * 2)
    only = importance.log_likelihood(FIT, of_rows(rows, tapped), q[:, None])
    assert only == pytest.approx([expected])
    quiet = importance.log_likelihood(FIT, of_rows(rows, ~tapped), q[:, None])
    assert quiet == pytest.approx([silent])
    none = importance.log_likelihood(FIT, of_rows(rows, np.zeros(len(tapped), bool)), q[:, None])
    assert none.tolist() == [0.0]


def test_rows_alike_are_seen_once_and_count_as_often_as_they_were() -> None:
    """Of one batch, a pot seen twice and another once more: taps still come first."""
    rows, _, q = one_batch(bench_rows(), 0)
    n = len(rows.lot)
    twice = np.sort(np.concatenate([np.arange(n), np.arange(0, n, 2)]))
    some, often = put_together(of_rows(rows, twice))
    assert often.tolist() == [2.0 - i % 2 for i in range(n)]
    assert (some.milestone, some.tapped) == (
        pytest.approx(rows.milestone),
        pytest.approx(rows.tapped),
    )
    both = np.stack([q, q + 0.01], axis=1)
    whole = importance._slopes(FIT, of_rows(rows, twice), both)
    for one, other in zip(importance._slopes(FIT, some, both, often), whole, strict=True):
        assert one == pytest.approx(other)
    assert importance.log_likelihood(FIT, some, both, often) == pytest.approx(whole[0])


def test_a_lot_that_is_not_there_is_no_fragrance() -> None:
    rows = bench_rows()
    af, w = importance._af(rows, state()[:, None])
    assert af[:, 0] == pytest.approx([*np.exp(unknowns().lots), 1.0])
    assert w[-1, 0] == 1.0
    assert w[rows.lot, 0] == pytest.approx(rows.strength)
    plain = rows.lot == NO_LOT
    from_states = importance._view(rows, state()[:, None])
    assert from_states.factor[plain, 0].tolist() == [1.0] * plain.sum()


# ---------------------------------------------------------------- modes


def quadratics(
    monkeypatch: pytest.MonkeyPatch, modes: np.ndarray, heights: np.ndarray, flat: float = 1.0
) -> list[np.ndarray]:
    """Puts a quadratic in place of the likelihood: bent by 3, at ``modes`` (K, d) and as high as
    ``heights`` (K,); answers what it was asked. ``flat``: how much less bent it says it is."""
    asked: list[np.ndarray] = []

    def slopes(
        _fit: object, _rows: object, q: np.ndarray, _often: object
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        asked.append(q.T.copy())
        d, value = modes.shape[1], heights - 1.5 * ((q.T - modes) ** 2).sum(axis=1)
        H = 3.0 * np.eye(d) - np.eye(d) * 4.0 * (1.0 - 1.0 / flat)
        return value, -3.0 * (q.T - modes), np.tile(H, (len(modes), 1, 1))

    monkeypatch.setattr(importance, "_slopes", slopes)
    return asked


def standard(k: int, d: int, *weights: float) -> Pieces:
    return Pieces(np.array(weights), np.zeros((k, d)), np.tile(np.eye(d), (k, 1, 1)))


def test_a_mode_nearby_is_met_in_one_step_and_pieces_weigh_by_their_evidence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Prior N(0, 1), likelihood bent by 3: the mode is 3/4 of the way, its variance 1/4, and the
    evidence the product of two normals': exp(h - 3/8 m^2) and the same width for each piece."""
    modes, heights = np.array([[0.8, -0.4], [-1.2, 0.0]]), np.array([1.0, 1.7])
    asked = quadratics(monkeypatch, modes, heights)
    pieces = importance.laplace(FIT, standard(2, 2, 0.25, 0.75), None)  # type: ignore[arg-type]
    assert len(asked) == 2, "the start and the mode: from there nothing is to be gained"
    assert asked[1] == pytest.approx(0.75 * modes)
    assert pieces.means == pytest.approx(0.75 * modes)
    assert pieces.covariances == pytest.approx(np.tile(0.25 * np.eye(2), (2, 1, 1)))
    each = np.array([0.25, 0.75]) * np.exp(heights - 0.375 * (modes**2).sum(axis=1))
    assert pieces.weights == pytest.approx(each / each.sum())


def test_a_piece_more_surely_known_weighs_by_how_narrow_it_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Both modes at 0: N(0, s^2) beside a bend of 3 leaves 1 / sqrt(1 + 3 s^2) of it."""
    quadratics(monkeypatch, np.zeros((2, 1)), np.array([40.0, 40.0]))
    wide = Pieces(np.array([0.5, 0.5]), np.zeros((2, 1)), np.array([[[1.0]], [[4.0]]]))
    pieces = importance.laplace(FIT, wide, None)  # type: ignore[arg-type]
    each = np.array([1 / 2.0, 1 / 13**0.5])
    assert pieces.weights == pytest.approx(each / each.sum())


def test_a_piece_that_gets_no_draw_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """And its mode is not looked for once it stays far below: the third still gains."""
    modes, heights = np.array([[0.0], [0.0], [40.0]]), np.array([0.0, -9.0, 0.0])
    asked = quadratics(monkeypatch, modes, heights)
    pieces = importance.laplace(FIT, standard(3, 1, 0.4, 0.3, 0.3), None)  # type: ignore[arg-type]
    assert pieces.weights.tolist() == [1.0]
    assert pieces.means.tolist() == [[0.0]]
    assert pieces.covariances == pytest.approx(np.array([[[0.25]]]))
    assert len(asked) < 13


def test_no_step_towards_a_mode_is_longer_than_1(monkeypatch: pytest.MonkeyPatch) -> None:
    """On the log scale; each piece by itself."""
    modes = np.array([[4.0, 2.0], [0.4, 0.0]])
    asked = quadratics(monkeypatch, modes, np.zeros(2))
    pieces = importance.laplace(FIT, standard(2, 2, 0.5, 0.5), None)  # type: ignore[arg-type]
    assert asked[1] == pytest.approx(np.array([[1.0, 0.5], [0.3, 0.0]]))
    assert asked[2][0] == pytest.approx([2.0, 1.0])
    assert pieces.means == pytest.approx(0.75 * modes)


def test_at_the_mode_already_nothing_moves(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = quadratics(monkeypatch, np.zeros((1, 2)), np.zeros(1))
    with np.errstate(all="raise"):
        importance.laplace(FIT, standard(1, 2, 1.0), None)  # type: ignore[arg-type]
    assert [one.tolist() for one in asked] == [[[0.0, 0.0]]]


def test_a_step_too_long_is_taken_back_and_the_next_is_two_fifths_at_most(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Said to be four times as flat as it is: a full step goes three times too far."""
    modes = np.array([[0.3]])
    asked = quadratics(monkeypatch, modes, np.zeros(1), flat=4.0)
    pieces = importance.laplace(FIT, standard(1, 1, 1.0), None)  # type: ignore[arg-type]
    assert asked[1][0, 0] == pytest.approx(0.9)
    assert asked[2][0, 0] == pytest.approx(0.4 * 0.9), "from the start again"
    assert pieces.means[0, 0] == pytest.approx(0.225, abs=0.1), "a fifth of its width"


def test_a_search_goes_on_until_a_step_is_to_gain_next_to_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A gain of 2 m^2 from the start to 3/4 m, in units of 9/16. Half of the last step is taken
    without a look, and its three quarters of the gain count."""
    for gain, asked_of, part in ((0.095, 1, 0.5), (0.105, 2, 1.0)):
        mode = (gain / 1.125) ** 0.5
        asked = quadratics(monkeypatch, np.array([[mode], [0.0]]), np.zeros(2))
        pieces = importance.laplace(FIT, standard(2, 1, 0.5, 0.5), None)  # type: ignore[arg-type]
        assert len(asked) == asked_of
        assert pieces.means[0, 0] == pytest.approx(part * 0.75 * mode)
        lost = -1.5 * mode**2  # where both start
        reached = lost + gain * (1.0 - (1.0 - part) ** 2)
        assert pieces.weights[0] / pieces.weights[1] == pytest.approx(np.exp(reached))
    slow = quadratics(monkeypatch, np.array([[40.0]]), np.zeros(1))
    importance.laplace(FIT, standard(1, 1, 1.0), None)  # type: ignore[arg-type]
    assert len(slow) == 13, "and for twelve steps at the most"


# ---------------------------------------------------------------- pieces and the comb


def test_a_piece_without_weight_has_no_density() -> None:
    pieces = standard(2, 1, 1.0, 0.0)
    pieces.means[1] = 50.0
    logs = importance.log_density(np.array([[0.0, 50.0]]), pieces)
    assert logs[0] == pytest.approx(-0.5 * np.log(2 * np.pi))
    assert logs[1] < -600.0


def test_each_piece_gets_its_share_of_the_draws_in_turn() -> None:
    z = np.zeros((1, 10))
    pieces = Pieces(np.array([1.0, 3.0, 6.0]), np.array([[1.0], [2.0], [3.0]]), np.ones((3, 1, 1)))
    assert importance.place(z, pieces)[0].tolist() == [1.0, *[2.0] * 3, *[3.0] * 6]


def test_the_underlying_numbers_are_normal_and_t8_and_always_the_same() -> None:
    """A t of 8 has variance 8/6 and its quantile of 1 % at 2.896 (any table); each draw of the
    heavy ones is its normal one, times one number for all dimensions."""
    z, heavy = importance._standard(0, 3, 20_000)
    again, _ = importance._standard(0, 3, 20_000)
    assert np.array_equal(z, again)
    assert z.shape == heavy.shape == (3, 20_000)
    assert z.std() == pytest.approx(1.0, abs=0.01)
    assert heavy.var() == pytest.approx(8 / 6, rel=0.03)
    assert np.quantile(heavy, 0.99) == pytest.approx(2.896, rel=0.03)
    tails = heavy / z
    assert np.allclose(tails[0], tails[2], rtol=1e-4)
    other, _ = importance._standard(1, 3, 20_000)
    assert abs(np.corrcoef(z[0], other[0])[0, 1]) < 0.03
    with pytest.raises(ValueError, match="read-only"):
        z[0, 0] = 0.0


def test_with_nothing_seen_draws_are_the_priors() -> None:
    prior = standard(2, D, 0.5, 0.5)
    prior.means[1] = 9.0
    empty = of_rows(bench_rows(), np.zeros(len(bench_rows().lot), bool))
    q = importance.posterior_draws(FIT, prior, empty, 40, 0)
    z, _ = importance._standard(0, D, 40)
    assert q[:, :20] == pytest.approx(z[:, :20])
    assert q[:, 20:] == pytest.approx(z[:, 20:] + 9.0)
    assert q.dtype == np.float64
    assert importance.posterior_draws(FIT, prior, empty, 40, 0, 3) == pytest.approx(q[:, ::3])


def combed(monkeypatch: pytest.MonkeyPatch, loglik: object, n: int, thinned: int = 1) -> np.ndarray:
    """Draws by a likelihood given, prior and mode both standard normal."""
    prior = standard(1, AF, 1.0)
    monkeypatch.setattr(importance, "laplace", lambda *_: prior)
    monkeypatch.setattr(importance, "log_likelihood", loglik)
    rows = of_rows(bench_rows(), bench_rows().lot == NO_LOT)
    return importance.posterior_draws(FIT, prior, rows, n, 5, thinned)


def test_a_quarter_of_what_is_weighed_comes_from_the_prior(monkeypatch: pytest.MonkeyPatch) -> None:
    """So that a mode guessed wrong misses nothing; the rest from t8 around the modes. What is
    drawn is weighed by the mixture of both: with nothing told it is the prior again."""
    asked: list[np.ndarray] = []

    def flat(_fit: object, _rows: object, q: np.ndarray, _often: object) -> np.ndarray:
        asked.append(q.copy())
        return np.zeros(q.shape[1])

    q = combed(monkeypatch, flat, 20_000)
    z, heavy = importance._standard(5, AF, 20_000)
    weighed = np.concatenate(asked, axis=1)
    assert np.array_equal(weighed[:, :5000], z[:, :5000])
    assert np.array_equal(weighed[:, 5000:], heavy[:, 5000:])
    assert q.std(axis=1) == pytest.approx(np.ones(AF), abs=0.015)
    assert np.quantile(q[0], [0.05, 0.95]) == pytest.approx([-1.645, 1.645], abs=0.04)


@pytest.mark.parametrize("other", [7, -1], ids=["from the prior", "the last of all"])
def test_the_comb_takes_each_as_often_as_it_weighs(
    other: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All the weight on two of them, as 1 to 3: exactly so many of each."""
    n = 400

    def two(_fit: object, _rows: object, q: np.ndarray, _often: object) -> np.ndarray:
        logs = np.full(q.shape[1], -np.inf)
        logs[[3, other]] = 0.0, np.log(3.0)
        logs[[3, other]] -= importance.log_density(q, standard(1, AF, 1.0))[[3, other]]
        both = [importance.log_density(q, standard(1, AF, 1.0), t) for t in (np.inf, 8.0)]
        logs[[3, other]] += np.logaddexp(np.log(0.25) + both[0], np.log(0.75) + both[1])[[3, other]]
        return logs

    for thinned, kept in ((1, 400), (3, 134), (8, 50)):
        q = combed(monkeypatch, two, n, thinned)
        assert q.shape == (AF, kept)
        values, counts = np.unique(q[0], return_counts=True)
        assert len(values) == 2
        assert min(counts) == pytest.approx(kept / 4, abs=0.51)
        first = np.flatnonzero(q[0] != q[0, 0])[0]
        assert first == min(counts), "in the order they were drawn"
