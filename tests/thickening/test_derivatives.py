"""Slopes, information and what is left out of them, on a small invented bench.

Slopes against central differences of the log-likelihood they belong to; the equations with the
batches taken out against one dense matrix of everything (the Schur complement, any handbook of
linear algebra); integrals by Laplace against sums over a grid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from thickening_kit import (
    FRAGRANCE_OF,
    KEYED,
    LIGHT,
    LOTS,
    MEDIUM,
    PRIORS,
    SD,
    batch,
    bench_rows,
    by_differences,
    of_rows,
    taps,
    unknowns,
)

from soapbench.batter import PotHistory
from soapbench.thickening import equations as eq
from soapbench.thickening import importance, likelihood, no_batches, profile, sightings
from soapbench.thickening.evidence import NO_LOT, Rows, rows_of
from soapbench.thickening.priors import Component
from soapbench.thickening.solve import Setting, Solution, _learn, _step, log_evidence, lot_sd


@pytest.fixture(scope="module")
def rows() -> Rows:
    return bench_rows()


def packed(at: sightings.Unknowns) -> np.ndarray:
    """Theta, lots, rates and spreads in one row."""
    return np.concatenate([at.theta, at.lots, at.rates, at.spreads])


def unpacked(x: np.ndarray, like: sightings.Unknowns) -> sightings.Unknowns:
    ends = np.cumsum([len(like.theta), len(like.lots), len(like.rates)])
    theta, lots, rates, spreads = np.split(x, ends)
    return replace(like, theta=theta, lots=lots, rates=rates, spreads=spreads)


def curvature_of(rows: Rows, e: np.ndarray, v: np.ndarray, tail: float, true: bool) -> np.ndarray:
    tapped, missed = rows.tapped, ~rows.tapped
    curvature = np.empty_like(e)
    curvature[tapped] = likelihood.tapped_slopes(e[tapped], v[tapped], v[tapped], tail, true)[1]
    curvature[missed] = likelihood.not_tapped_slopes(
        e[missed], SD.noise, rows.floor[missed]
    ).curvature
    return curvature


@pytest.fixture(scope="module")
def dense(rows: Rows) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Slope of the log-likelihood, d e / d everything, and the information of each row."""
    at = unknowns()

    def view(x: np.ndarray) -> sightings.View:
        return sightings.look(rows, unpacked(x, at), SD.noise, PRIORS.tail)

    here = view(packed(at))
    slope = by_differences(lambda x: np.array(view(x).loglik), packed(at))
    J = by_differences(lambda x: view(x).e, packed(at))
    return slope, J, curvature_of(rows, here.e, here.v, PRIORS.tail, true=False)


P, L, N = 9, 3, 3
THETA, LOT, RATES, SPREADS = np.split(np.arange(P + L + 2 * N), [P, P + L, P + L + N])
EFFECTS = np.stack([RATES, SPREADS], axis=1)  # (N, 2)


def equations_of(rows: Rows, trust: np.ndarray) -> eq.Equations:
    at = unknowns()
    view = sightings.look(rows, at, SD.noise, PRIORS.tail)
    return eq.equations(rows, at, SD, view, eq.pairs_of(rows, L), PRIORS.tail, trust)


TRUST = np.array([1.0, 0.6, 0.9])


def everything(
    rows: Rows, dense: tuple[np.ndarray, np.ndarray, np.ndarray]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Slope and information of everything, batches held by their priors; the slope with Laplace's
    half log determinant of the batch effects; and their covariance, (N, 2, 2)."""
    at = unknowns()
    slope, J, weight = dense
    H = J.T @ (weight[:, None] * J)
    g = slope.copy()
    g[RATES] -= TRUST * at.rates / SD.batch**2
    g[SPREADS] -= at.spreads / SD.spread**2
    H[RATES, RATES] += TRUST / SD.batch**2
    H[SPREADS, SPREADS] += 1.0 / SD.spread**2
    inverse = np.array([np.linalg.inv(H[np.ix_(pair, pair)]) for pair in EFFECTS])
    # e's slope by s grows as the gaps and exp(s) do: -1/2 d log det by their logs.
    tug = np.zeros(len(weight))
    for i, pair in enumerate(EFFECTS):
        mine = rows.batch == i
        tug[mine] = -weight[mine] * (J[mine][:, pair] @ inverse[i][:, 1])
    tugged = g.copy()
    gaps = THETA[-4:]
    tugged[gaps] += J[:, gaps].T @ tug
    tugged[SPREADS] += [tug[rows.batch == i] @ J[rows.batch == i, SPREADS[i]] for i in range(N)]
    return g, tugged, H, inverse


def test_slopes_of_a_row_against_central_differences(rows: Rows) -> None:
    at = unknowns()

    def of(what: Callable[[sightings.View], np.ndarray]) -> np.ndarray:
        return by_differences(
            lambda x: what(sightings.look(rows, unpacked(x, at), SD.noise, PRIORS.tail)), packed(at)
        )

    j = eq._slopes(rows, at, sightings.look(rows, at, SD.noise, PRIORS.tail))
    each, of_batch, scented = np.arange(len(rows.lot)), rows.batch, rows.lot != NO_LOT
    for got, theta, lot, rate, spread in (
        (of(lambda v: v.e), j.theta, j.lot, j.rate, j.spread),
        (
            of(lambda v: np.log(v.rate / v.total)),
            j.jacobian_theta, j.jacobian_lot, j.jacobian_rate, j.jacobian_spread,
        ),
    ):  # fmt: skip
        assert pytest.approx(got[:, THETA], abs=1e-6) == theta.T
        assert lot[scented] == pytest.approx(got[each, LOT[rows.lot]][scented], abs=1e-6)
        assert not lot[~scented].any()
        assert rate == pytest.approx(got[each, RATES[of_batch]], abs=1e-6)
        assert spread == pytest.approx(got[each, SPREADS[of_batch]], abs=1e-6)


def test_slope_and_curvature_of_silence_against_differences() -> None:
    noise, h = 0.3, 1e-4
    e, floor = np.linspace(-0.8, 1.2, 9), np.full(9, 0.2)
    below, here, above = (likelihood.log_not_tapped(e + d, noise, floor) for d in (-h, 0.0, h))
    got = likelihood.not_tapped_slopes(e, noise, floor)
    assert got.log == pytest.approx(here)
    assert got.by_e == pytest.approx((above - below) / (2 * h), rel=1e-4, abs=1e-4)
    bent = -(above - 2 * here + below) / h**2
    assert got.curvature == pytest.approx(np.maximum(bent, 0.0), rel=1e-2, abs=0.05)


def test_equations_are_the_dense_ones_with_the_batches_taken_out(
    rows: Rows, dense: tuple[np.ndarray, np.ndarray, np.ndarray]
) -> None:
    normal = equations_of(rows, TRUST)
    g, tugged, H, inverse = everything(rows, dense)
    others, batches = np.concatenate([THETA, LOT]), EFFECTS.ravel()
    through = H[np.ix_(others, batches)] @ np.linalg.inv(H[np.ix_(batches, batches)])
    left = H[np.ix_(others, others)] - through @ H[np.ix_(batches, others)]
    slope = tugged[others] - through @ tugged[batches]
    close = {"rel": 1e-5, "abs": 1e-4}
    assert normal.slope == pytest.approx(g[EFFECTS], **close)
    assert normal.inverse == pytest.approx(inverse, **close)
    assert normal.slope_theta == pytest.approx(slope[:P], **close)
    assert normal.slope_lots == pytest.approx(slope[P:], **close)
    assert normal.theta == pytest.approx(left[:P, :P], **close)
    assert normal.tie == pytest.approx(left[:P, P:], **close)
    assert normal.lots == pytest.approx(np.diag(left[P:, P:]), **close)
    assert normal.met == pytest.approx(np.zeros(L), abs=1e-6), "no batch holds two of them"
    moves = np.linspace(-0.1, 0.2, len(others))
    back = np.linalg.solve(
        H[np.ix_(batches, batches)], g[batches] - H[np.ix_(batches, others)] @ moves
    )
    pairs = eq.pairs_of(rows, L)
    assert normal.effects(moves[:P], moves[P:], pairs) == pytest.approx(back.reshape(N, 2), **close)


def test_lots_of_one_batch_hold_each_other_by_no_more_than_is_said() -> None:
    both = batch(
        "both", 27.0, "A17",
        PotHistory("a", 900.0, "Kelp", 300.0, KEYED, taps((410.0, LIGHT), (520.0, MEDIUM))),
        PotHistory("b", 900.0, "Fig", 300.0, KEYED, taps((700.0, LIGHT))),
    )  # fmt: skip
    rows = rows_of([both], LOTS, PRIORS, 0.2)
    at = replace(unknowns(), rates=np.zeros(1), spreads=np.zeros(1))
    view = sightings.look(rows, at, SD.noise, PRIORS.tail)
    pairs = eq.pairs_of(rows, L)
    normal = eq.equations(rows, at, SD, view, pairs, PRIORS.tail, np.ones(1))
    kelp, fig = (normal.to_pairs[list(pairs.lot).index(lot)] for lot in (0, 2))
    shared = float(kelp @ normal.inverse[0] @ fig)
    assert shared > 0.0
    assert normal.met == pytest.approx([shared, 0.0, shared])


def test_the_noise_is_learned_from_what_neither_batch_nor_delay_explains(
    rows: Rows, dense: tuple[np.ndarray, np.ndarray, np.ndarray]
) -> None:
    """Of a sum of two normals, noise and delay, the noise's expected square (any handbook), e as
    unsure as its batch is; a t of 4 counts each tap by its weight."""
    from scipy import stats

    normal, (_, J, _) = equations_of(rows, TRUST), dense
    view = sightings.look(rows, unknowns(), SD.noise, PRIORS.tail)
    square = 0.0
    for row in np.flatnonzero(rows.tapped):
        mine = J[row, EFFECTS[rows.batch[row]]]
        doubt = mine @ normal.inverse[rows.batch[row]] @ mine
        part = SD.noise**2 / view.v[row]
        trusted = (4.0 + 1.0) / (4.0 + view.e[row] ** 2 / view.v[row])
        square += part**2 * trusted * (view.e[row] ** 2 + doubt) + (1 - part) * SD.noise**2
    # Of what was not tapped: the truth lies ahead with some chance, and is a normal cut off then.
    count = rows.tapped.sum()
    for row in np.flatnonzero(~rows.tapped):
        z, floor = view.e[row] / SD.noise, rows.floor[row]
        ahead = (1 - floor) * stats.norm.sf(z) / (floor + (1 - floor) * stats.norm.sf(z))
        count += ahead
        square += SD.noise**2 * ahead * (stats.truncnorm(z, np.inf).moment(2) if z < 30 else 0.0)
    assert normal.count == pytest.approx(count, rel=1e-6)
    assert normal.square == pytest.approx(square, rel=1e-4)


def test_a_newton_step_is_the_dense_one(
    rows: Rows, dense: tuple[np.ndarray, np.ndarray, np.ndarray]
) -> None:
    """Theta, lots and fragrances with their priors, the batches taken out: one linear system."""
    at = unknowns()
    data, pairs = equations_of(rows, TRUST), eq.pairs_of(rows, L)
    mean, precision = np.linspace(0.2, 1.0, P), np.linspace(1.0, 9.0, P)
    pulled = np.array([1.2, 0.7]), np.array([4.0, 11.0])
    fixed = Component(1.0, np.inf)
    setting = Setting(
        at.theta - mean, precision, fixed, fixed, fixed, fixed, FRAGRANCE_OF, lambda a, v: pulled
    )
    covariance, step = _step(setting, data, pairs, at, SD, pulled)
    size = P + L + 2
    H, g = np.zeros((size, size)), np.zeros(size)
    H[:P, :P], g[:P] = data.theta + np.diag(precision), data.slope_theta - precision * mean
    H[:P, P : P + L], H[P : P + L, :P] = data.tie, data.tie.T
    H[P : P + L, P : P + L] = np.diag(data.lots)
    g[P : P + L] = data.slope_lots
    H[P + L :, P + L :] = np.diag(pulled[1])
    g[P + L :] = -pulled[1] * (at.fragrances - pulled[0])
    for lot, fragrance in enumerate(FRAGRANCE_OF):
        tie = np.zeros(size)
        tie[P + lot], tie[P + L + fragrance] = 1.0, -1.0
        hold = 1.0 / (SD.lot**2 * (1.0 + at.fragrances[fragrance] ** 2))
        H += hold * np.outer(tie, tie)
        g -= hold * tie * (at.lots[lot] - at.fragrances[fragrance])
    expected = np.linalg.solve(H, g)
    assert step.theta == pytest.approx(expected[:P])
    assert step.lots == pytest.approx(expected[P : P + L])
    assert step.fragrances == pytest.approx(expected[P + L :])
    both = np.r_[:P, P + L : size]
    assert covariance == pytest.approx(np.linalg.inv(H)[np.ix_(both, both)])
    moved = data.effects(step.theta, step.lots, pairs)
    assert np.stack([step.rates, step.spreads], axis=1) == pytest.approx(moved)


def test_spreads_are_learned_from_what_is_expected_of_the_effects(rows: Rows) -> None:
    """An M step: expected squares, their doubt counted in, beside our first guess; of a lot and
    its fragrance by their joint normal, a strong fragrance's lots in their own wider units."""
    at, data = unknowns(), equations_of(rows, TRUST)
    variance, count = np.array([0.05, 0.2]), 10.0
    guess = Component(0.3, count)
    setting = Setting(
        at.theta, np.ones(P), guess, guess, guess, guess, FRAGRANCE_OF, lambda a, v: (a, v)
    )
    learnt = _learn(setting, data, at, SD, variance, TRUST)

    def mean(squares: np.ndarray) -> float:
        return float(np.sqrt((count * 0.3**2 + squares.sum()) / (count + len(squares))))

    assert learnt.batch == pytest.approx(mean(TRUST * (at.rates**2 + data.inverse[:, 0, 0])))
    assert learnt.spread == pytest.approx(mean(at.spreads**2 + data.inverse[:, 1, 1]))
    squares = []
    for lot, of in enumerate(FRAGRANCE_OF):
        own = float(lot_sd(1.0, at.fragrances[of])) ** 2
        hold = 1.0 / (SD.lot**2 * own)
        tied = np.array([[data.lots[lot] + hold, -hold], [-hold, 0.0]])
        # The fragrance's own doubt, lots and all, is ``variance``: what else holds it is the rest.
        tied[1, 1] = 1.0 / variance[of] + hold**2 / (data.lots[lot] + hold)
        joint = np.linalg.inv(tied)
        assert joint[1, 1] == pytest.approx(variance[of])
        doubt = joint[0, 0] + joint[1, 1] - 2.0 * joint[0, 1]
        squares.append(((at.lots[lot] - at.fragrances[of]) ** 2 + doubt) / own)
    assert learnt.lot == pytest.approx(mean(np.array(squares)))
    noise = (count * 0.3**2 + data.square) / (count + data.count)
    assert learnt.noise == pytest.approx(noise**0.5)
    fixed = replace(setting, batch=Component(0.3, np.inf))
    assert _learn(fixed, data, at, SD, variance, TRUST).batch == SD.batch, "what is fixed stays"


# ---------------------------------------------------------------- the batch in hand


def states(n: int) -> np.ndarray:
    rng = np.random.default_rng(5)
    centre = np.array([0.1, 2.9, 6.9, -0.1, -1.4, -1.5, -1.6, 0.05, 1.5, 1.9, 0.3])
    return centre[:, None] + 0.1 * rng.standard_normal((len(centre), n))


def test_slopes_of_the_batch_in_hand_against_central_differences(rows: Rows) -> None:
    """One column of ``states`` at a time: gradient, and J' C J with J by differences."""
    fitted = no_batches(PRIORS)
    q = states(4)
    value, gradient, information = importance._slopes(fitted, rows, q)
    assert value == pytest.approx(importance.log_likelihood(fitted, rows, q))
    noise = fitted.sd.noise
    for i, x in enumerate(q.T):
        slope = by_differences(lambda y: importance.log_likelihood(fitted, rows, y[:, None])[0], x)
        assert gradient[i] == pytest.approx(slope, rel=1e-5, abs=1e-4)
        J = by_differences(lambda y: importance._view(rows, y[:, None]).e[:, 0], x)
        seen_from = importance._view(rows, x[:, None])
        weight = np.empty(len(rows.tapped))
        tapped, missed = rows.tapped, ~rows.tapped
        rate = importance._rate(rows, seen_from, int(tapped.sum()))
        v = noise**2 + (rows.unsure[tapped, None] * rate / seen_from.total[tapped])[:, 0] ** 2
        e = seen_from.e[:, 0]
        weight[tapped] = likelihood.tapped_slopes(e[tapped], v, v, PRIORS.tail, true=True)[1]
        weight[missed] = likelihood.not_tapped_slopes(
            e[missed], noise, rows.floor[missed]
        ).curvature
        assert information[i] == pytest.approx(J.T @ (weight[:, None] * J), rel=1e-4, abs=1e-3)


def test_densities_of_normal_and_t_pieces_against_scipy() -> None:
    from scipy import stats

    rng = np.random.default_rng(2)
    roots = rng.standard_normal((2, 3, 3))
    covariances = roots @ roots.transpose(0, 2, 1) + np.eye(3)
    pieces = importance.Pieces(np.array([0.3, 0.7]), rng.standard_normal((2, 3)), covariances)
    q = rng.standard_normal((3, 6))
    parts = list(zip(pieces.weights, pieces.means, covariances, strict=True))
    normal = sum(w * stats.multivariate_normal(m, c).pdf(q.T) for w, m, c in parts)
    heavy = sum(w * stats.multivariate_t(m, c, df=8.0).pdf(q.T) for w, m, c in parts)
    assert np.exp(importance.log_density(q, pieces)) == pytest.approx(normal)
    assert np.exp(importance.log_density(q, pieces, 8.0)) == pytest.approx(heavy)


# ---------------------------------------------------------------- integrals


@pytest.fixture(scope="module")
def normal_rows() -> Rows:
    """Taps alone, normal and without delay: there Laplace's method is nearly exact."""
    rows = bench_rows(replace(PRIORS, delay=0.0, latency=0.0))
    return of_rows(rows, rows.tapped & (rows.unsure == 0.0))


def integrated(rows: Rows, at: sightings.Unknowns, batch: int) -> float:
    """Log of one batch's likelihood, its two effects integrated out by Gauss and Hermite."""
    own = of_rows(rows, rows.batch == batch)
    own = replace(own, batch=np.zeros_like(own.batch))
    (z, fine), (y, coarse) = (np.polynomial.hermite_e.hermegauss(n) for n in (30, 14))
    logs = [
        sightings.look(
            own,
            replace(at, rates=np.array([b * SD.batch]), spreads=np.array([s * SD.spread])),
            SD.noise,
            np.inf,
        ).loglik
        for b in z
        for s in y
    ]
    chances = np.outer(fine / fine.sum(), coarse / coarse.sum()).ravel()
    return float(np.log(chances @ np.exp(np.array(logs) - max(logs))) + max(logs))


def test_the_evidence_for_a_delay_is_the_integral_over_the_batches(normal_rows: Rows) -> None:
    at, pairs = unknowns(), eq.pairs_of(normal_rows, L)
    for _ in range(30):
        view = sightings.look(normal_rows, at, SD.noise, np.inf)
        data = eq.equations(normal_rows, at, SD, view, pairs, np.inf, np.ones(N))
        move = data.effects(np.zeros(P), np.zeros(L), pairs)
        at = replace(at, rates=at.rates + 0.5 * move[:, 0], spreads=at.spreads + 0.5 * move[:, 1])
    by_laplace = log_evidence(normal_rows, Solution(at, SD, np.eye(P), data, 0), np.inf)
    expected = sum(integrated(normal_rows, at, batch) for batch in range(N))
    assert by_laplace == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize(("fragrance", "batches"), [(0, (0, 1)), (1, (2,))])
def test_what_a_few_batches_say_of_a_fragrance_is_the_integral_over_them(
    fragrance: int, batches: tuple[int, ...], normal_rows: Rows
) -> None:
    at = unknowns()
    wanted = [1, 0] if fragrance else [0, 1]
    table = profile.profiles(normal_rows, at, SD, FRAGRANCE_OF, wanted, np.inf)[0]
    best = int(table.argmax())
    places = [best - 3, best, best + 4]
    expected = np.array([
        sum(
            integrated(
                normal_rows,
                replace(at, lots=np.where(fragrance == FRAGRANCE_OF, profile.GRID[i], at.lots)),
                batch,
            )
            for batch in batches
        )
        for i in places
    ])  # fmt: skip
    print(table[places], expected - expected[1])
    assert table[best] == 0.0
    assert table[places] == pytest.approx(expected - expected[1], abs=0.05)
