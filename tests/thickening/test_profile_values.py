"""The table of a fragrance used a few times: its grid, its slopes and its search.

Slopes against central differences; values against ``sightings.look``, which has checks of its own;
the search on quadratics, whose modes are known by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from scipy import optimize
from thickening_kit import FRAGRANCE_OF, PRIORS, SD, bench_rows, of_rows, unknowns

from soapbench.thickening import profile, sightings
from soapbench.thickening.evidence import Rows
from soapbench.thickening.profile import GRID
from soapbench.thickening.sightings import Spreads

TAIL = PRIORS.tail


def cases_of(batches: tuple[int, ...] = (0, 1), which: int = 0) -> tuple[profile._Cases, Rows]:
    """The cases of fragrance ``which`` in ``batches``, as ``profiles`` makes them."""
    rows, at = bench_rows(), unknowns()
    places = [np.flatnonzero(rows.batch == batch) for batch in batches]
    take = np.concatenate(places)
    starts = np.cumsum([0, *(len(p) for p in places[:-1])])
    case = np.repeat(np.arange(len(places)), [len(p) for p in places])
    mine = (np.append(FRAGRANCE_OF, -1)[rows.lot] == which)[take]
    return profile._cases(rows, at, SD, take, starts, case, mine, TAIL), rows


def somewhere(cases: profile._Cases) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(3)
    shape = (len(cases.starts), len(GRID))
    return 0.2 * rng.standard_normal(shape), 0.1 * rng.standard_normal(shape)


def test_the_grid_runs_from_half_as_fast_to_seventy_times() -> None:
    """Ours, judged: no fragrance known lies outside; steps of a seventh of AF are fine enough."""
    assert np.exp([GRID[0], GRID[-1]]) == pytest.approx([0.55, 67.0], rel=0.01)
    assert np.exp(np.diff(GRID)) == pytest.approx(np.full(32, 1.16), rel=0.01)


@pytest.mark.parametrize(("batches", "which"), [((0, 1), 0), ((2,), 1)])
def test_the_value_is_the_log_posterior_of_the_batch(batches: tuple[int, ...], which: int) -> None:
    """Of its rows alone, the fragrance's bottles all at the grid's log AF, the rest as it is."""
    cases, rows = cases_of(batches, which)
    b, s = somewhere(cases)
    value, at = cases.seen(b, s)[0], unknowns()
    for k, batch in enumerate(batches):
        for i in (0, 7, 20, 32):
            rates, spreads = np.zeros(3), np.zeros(3)
            rates[batch], spreads[batch] = b[k, i], s[k, i]
            lots = np.where(which == FRAGRANCE_OF, GRID[i], at.lots)
            there = replace(at, rates=rates, spreads=spreads, lots=lots)
            own = of_rows(rows, rows.batch == batch)
            loglik = sightings.look(own, there, SD.noise, TAIL).loglik
            prior = (b[k, i] / SD.batch) ** 2 + (s[k, i] / SD.spread) ** 2
            assert value[k, i] == pytest.approx(loglik - 0.5 * prior)


def test_slopes_and_information_against_differences() -> None:
    """The gradient is of the log-likelihood, the prior left out; the rate of a tap is held fixed
    in it, as in ``equations``. Information is J' W J, J of e, and the prior's."""
    cases, _ = cases_of()
    b, s = somewhere(cases)
    h = 1e-6
    gb, gs, hbb, hbs, hss = cases.seen(b, s)[1:]
    e_b = (cases.at(b + h, s).e - cases.at(b - h, s).e) / (2 * h)
    e_s = (cases.at(b, s + h).e - cases.at(b, s - h).e) / (2 * h)
    point, tapped = cases.at(b, s), cases.tapped
    by_e, weight = np.empty_like(point.e), np.empty_like(point.e)
    for row in range(len(tapped)):
        if tapped[row]:
            of = profile.likelihood.tapped_slopes(
                point.e[row], point.v[row], point.widened[row], TAIL
            )
        else:
            of = profile.likelihood.not_tapped_slopes(
                point.e[row], SD.noise, np.full(len(GRID), cases.floor[row, 0])
            )
        by_e[row], weight[row] = of[0], of[1]

    def summed(what: np.ndarray) -> np.ndarray:
        return np.array([what[cases.case == k].sum(axis=0) for k in (0, 1)])

    assert gb == pytest.approx(summed(by_e * e_b), rel=1e-5, abs=1e-4)
    assert gs == pytest.approx(summed(by_e * e_s), rel=1e-5, abs=1e-4)
    assert hbb == pytest.approx(summed(weight * e_b**2) + SD.batch**-2, rel=1e-5)
    assert hbs == pytest.approx(summed(weight * e_b * e_s), rel=1e-5, abs=1e-4)
    assert hss == pytest.approx(summed(weight * e_s**2) + SD.spread**-2, rel=1e-5)


def test_how_far_off_its_milestone_each_tap_may_be() -> None:
    """The delay's part of v is (unsure dlogE/dt)^2."""
    cases, _ = cases_of()
    point = cases.at(*somewhere(cases))
    assert point.widened == pytest.approx((cases.unsure * point.speed) ** 2)
    assert point.v == pytest.approx(SD.noise**2 + point.widened)


# ---------------------------------------------------------------- the search


@dataclass
class Quadratic:
    """A log-likelihood bent by A around a mode of its own at each grid point, and what was asked
    of it. ``flat``: how much less bent it says it is."""

    b_at: np.ndarray
    s_at: np.ndarray
    flat: float = 1.0
    top: float = 3.0
    sd: Spreads = field(default_factory=lambda: SD)
    asked: list[tuple[np.ndarray, np.ndarray]] = field(default_factory=list)
    bent: int = 0
    A = np.array([[30.0, 9.0], [9.0, 20.0]])

    @property
    def starts(self) -> np.ndarray:
        return np.arange(len(self.b_at))

    def value(self, b: np.ndarray, s: np.ndarray) -> np.ndarray:
        self.asked.append((b.copy(), s.copy()))
        x, y = b - self.b_at, s - self.s_at
        (aa, ab), (_, bb) = self.A
        loglik = -0.5 * (aa * x * x + 2 * ab * x * y + bb * y * y)
        prior = (b / self.sd.batch) ** 2 + (s / self.sd.spread) ** 2
        return np.asarray(self.top + loglik - 0.5 * prior)

    def curvature(self, b: np.ndarray, s: np.ndarray) -> tuple[np.ndarray, ...]:
        self.bent += 1
        x, y = b - self.b_at, s - self.s_at
        H = (self.A + np.diag([self.sd.batch**-2, self.sd.spread**-2])) / self.flat
        one = np.ones_like(b)
        return (
            -(self.A[0, 0] * x + self.A[0, 1] * y), -(self.A[0, 1] * x + self.A[1, 1] * y),
            H[0, 0] * one, H[0, 1] * one, H[1, 1] * one,
        )  # fmt: skip

    def seen(self, b: np.ndarray, s: np.ndarray) -> tuple[np.ndarray, ...]:
        return self.value(b, s), *self.curvature(b, s)

    def mode(self, i: int = 0) -> np.ndarray:
        H = self.A + np.diag([self.sd.batch**-2, self.sd.spread**-2])
        return np.linalg.solve(H, self.A @ [self.b_at[0, i], self.s_at[0, i]])


def quadratic(b: float, s: float, **more: float) -> Quadratic:
    shape = (1, len(GRID))
    return Quadratic(np.full(shape, b), np.full(shape, s), **more)


def places(of: Quadratic, i: int = 0) -> list[np.ndarray]:
    return [np.array([b[0, i], s[0, i]]) for b, s in of.asked]


def test_a_mode_nearby_is_met_in_one_step_and_seen_to_be_it_in_the_next() -> None:
    near = quadratic(0.5, -0.3)
    evidence = profile._evidence(near)  # type: ignore[arg-type]
    start, *steps = places(near)
    assert start.tolist() == [0.0, 0.0]
    assert np.abs(near.mode()).min() > 0.05, "both effects move"
    assert len(steps) == 2
    for step in steps:
        assert step == pytest.approx(near.mode())
    # Laplace: the top, less half the log determinant of the information there.
    H = near.A + np.diag([SD.batch**-2, SD.spread**-2])
    top = float(near.value(*(np.full((1, 1), x) for x in near.mode()))[0, 0])
    assert evidence == pytest.approx(np.full((1, 33), top - 0.5 * np.log(np.linalg.det(H))))
    assert near.bent == 3


def test_at_the_mode_already_nothing_moves() -> None:
    there = quadratic(0.0, 0.0)
    with np.errstate(all="raise"):
        profile._evidence(there)  # type: ignore[arg-type]
    assert places(there)[1].tolist() == [0.0, 0.0]


@pytest.mark.parametrize(("b", "s"), [(4.0, 0.0), (0.0, 6.0), (-4.0, -2.0)])
def test_no_step_is_longer_than_three_tenths(b: float, s: float) -> None:
    """Ours, judged: of a log rate or a log spread, each about as far as batches ever stray."""
    far = quadratic(b, s)
    profile._evidence(far)  # type: ignore[arg-type]
    steps, mode = places(far), far.mode()
    longest = np.abs(mode).max()
    assert longest > 0.6
    assert steps[1] == pytest.approx(0.3 * mode / longest)
    assert steps[2] == pytest.approx(0.6 * mode / longest)
    assert steps[-1] == pytest.approx(mode)


def test_a_step_too_long_is_not_taken_and_the_next_is_three_tenths_of_it() -> None:
    """Said to be five times as flat as it is: a full step lands beyond the other side."""
    wrong = quadratic(0.25, 0.0, flat=5.0)
    profile._evidence(wrong)  # type: ignore[arg-type]
    _, first, second, third, *rest = places(wrong)
    full = 5.0 * wrong.mode()
    assert first == pytest.approx(0.3 * full / np.abs(full).max()), "the longest there is"
    assert np.abs(full).max() > 0.6
    assert first[0] > 2.0 * wrong.mode()[0], "too long"
    assert second == pytest.approx(0.3 * full)
    assert third != pytest.approx(second), "that one was taken, and the next goes on from there"
    assert rest


def test_steps_too_long_again_and_again_are_cut_each_time() -> None:
    """Twenty times too long; 0.3 of it and 0.09 of it are tried next, and that is no more than
    twice the way."""
    wrong = quadratic(0.016, 0.0, flat=20.0)
    profile._evidence(wrong)  # type: ignore[arg-type]
    full = 20.0 * wrong.mode()
    assert np.abs(full).max() < 0.3
    for step, part in zip(places(wrong)[1:4], (1.0, 0.3, 0.09), strict=True):
        assert step == pytest.approx(part * full)


def test_what_never_gains_is_given_up_after_seven_steps() -> None:
    """Said to be as good as flat: every step is the longest there is, and far too long."""
    hopeless = quadratic(0.016, 0.0, flat=1e9)
    evidence = profile._evidence(hopeless)  # type: ignore[arg-type]
    assert len(hopeless.asked) - 1 == 7
    assert [np.abs(step).max() for step in places(hopeless)[1:]] == pytest.approx([0.3] * 7)
    assert np.isfinite(evidence).all()


def test_a_point_or_two_still_on_its_way_is_not_waited_for() -> None:
    """Of 33, one in twenty may be: ours, judged; a second one is waited for."""
    for slow, rounds in ((1, 2), (2, 5)):
        shape = np.full((1, 33), 0.2), np.full((1, 33), 0.1)
        some = Quadratic(*shape)
        some.b_at[0, :slow] = 2.0
        some.s_at[0, :slow] = 0.0
        profile._evidence(some)  # type: ignore[arg-type]
        assert len(some.asked) - 1 == rounds


def test_gains_below_a_fiftieth_are_as_good_as_none() -> None:
    """From the start to the mode: 0.015 or 0.03 of a log evidence."""
    for gain, rounds in ((0.015, 1), (0.03, 2)):
        unit = quadratic(1.0, 0.0)
        H = unit.A + np.diag([SD.batch**-2, SD.spread**-2])
        reach = (gain / (0.5 * unit.mode() @ H @ unit.mode())) ** 0.5
        some = quadratic(float(reach), 0.0)
        profile._evidence(some)  # type: ignore[arg-type]
        assert len(some.asked) - 1 == rounds


def test_real_cases_are_brought_to_their_modes() -> None:
    """scipy.optimize.minimize on the same values, from the same start, where it is likely."""
    cases, _ = cases_of()
    evidence = profile._evidence(cases)
    for i in (8, 12, 16):

        def cost(x: np.ndarray, k: int, i: int = i) -> float:
            b, s = np.zeros((2, 2, 33))
            b[k, i], s[k, i] = x
            return -float(cases.seen(b, s)[0][k, i])

        for k in (0, 1):
            best = optimize.minimize(cost, [0.0, 0.0], (k,), method="Nelder-Mead")
            b, s = np.zeros((2, 2, 33))
            b[k, i], s[k, i] = best.x
            _, _, _, hbb, hbs, hss = (part[k, i] for part in cases.seen(b, s))
            assert evidence[k, i] == pytest.approx(
                -best.fun - 0.5 * np.log(hbb * hss - hbs**2), abs=0.04
            )


# ---------------------------------------------------------------- all of it


def test_a_table_sums_over_its_own_batches_and_its_best_is_0() -> None:
    rows, at = bench_rows(), unknowns()
    kelp, fig = profile.profiles(rows, at, SD, FRAGRANCE_OF, [0, 1], TAIL)
    assert kelp.max() == fig.max() == 0.0
    for table, batches, which in ((kelp, (0, 1), 0), (fig, (2,), 1)):
        whole = profile._evidence(cases_of(batches, which)[0]).sum(axis=0)
        assert table == pytest.approx(whole - whole.max(), abs=1e-9)
    turned = profile.profiles(rows, at, SD, FRAGRANCE_OF, [1, 0], TAIL)
    assert turned == pytest.approx(np.array([fig, kelp]), abs=0.05)


def test_what_nobody_wants_or_ever_used_has_a_flat_table() -> None:
    rows, at = bench_rows(), unknowns()
    assert profile.profiles(rows, at, SD, FRAGRANCE_OF, [], TAIL).shape == (0, 33)
    unused = profile.profiles(rows, at, SD, FRAGRANCE_OF, [2], TAIL)
    assert unused.tolist() == [[0.0] * 33]
    beside = profile.profiles(rows, at, SD, FRAGRANCE_OF, [2, 1], TAIL)
    assert beside[0].tolist() == [0.0] * 33
    assert beside[1] == pytest.approx(profile.profiles(rows, at, SD, FRAGRANCE_OF, [1], TAIL)[0])
