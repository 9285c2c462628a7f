"""The solver step by step: what it starts from, how far it goes at once, and when it stops.

Its parts are put aside for one unknown pulled to where it should be, so that every move is known
by hand.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from thickening_kit import SD

from soapbench.thickening import solve
from soapbench.thickening.priors import Component
from soapbench.thickening.sightings import Spreads, Unknowns
from soapbench.thickening.solve import Setting, Solution, _leaps

FIXED = Component(0.2, math.inf)


def test_a_slow_and_steady_spread_leaps_to_where_its_steps_add_up() -> None:
    """By hand, a geometric series: steps of g, g r, g r^2 ... add up to g r / (1 - r) after g.
    Ours, judged: between a half and 95 % of the step before is slow and steady."""
    growth = np.array([0.02, 0.02, -0.02, 0.02, 0.02, 0.01, 0.096, 0.02])
    before = np.array([0.025, 0.035, -0.025, -0.025, 0.0, 0.0201, 0.1, 0.0212])
    leaps = [0.08, 0.02 * 4 / 3, -0.08, 0.0, 0.0, 0.0, 0.0, 0.02 * 0.02 / 0.0012]
    expected = np.clip(leaps, -0.3, 0.3)
    assert _leaps(growth, before) == pytest.approx(expected)
    assert _leaps(np.array([0.09, -0.09]), np.array([0.1, -0.1])) == pytest.approx([0.3, -0.3])
    assert _leaps(np.array([0.011]), np.array([0.0201])) == pytest.approx(0.011 * 11 / 9.1)
    assert _leaps(np.array([0.094]), np.array([0.1])) == pytest.approx(0.3)


class Way:
    """One unknown pulled to ``mode`` by ``pace`` of what is left; a fragrance by ``creep``. Keeps
    where it was seen, and with what spreads and trust."""

    def __init__(
        self, monkeypatch: pytest.MonkeyPatch, mode: float = 0.0, pace: float = 1.0,
        creep: Callable[[int], float] = lambda _: 0.0,
        learned: Callable[[int], Spreads] | None = None,
    ) -> None:  # fmt: skip
        self.mode, self.pace, self.creep = mode, pace, creep
        self.learned, self.doubt = learned or (lambda _: SD), 0.3
        self.looked: list[float] = []
        self.stepped: list[float] = []
        self.trusted: list[list[float]] = []
        self.spreads: list[Spreads] = []
        self.pulled: list[tuple[list[float], list[float]]] = []
        for name in ("look", "equations", "_step", "_learn"):
            monkeypatch.setattr(solve, name, getattr(self, name))
        monkeypatch.setattr(solve, "_log_prior", lambda *_: 0.0)

    def look(self, _rows: Any, at: Unknowns, noise: float, tail: float) -> Any:
        self.looked.append(float(at.theta[0]))
        return SimpleNamespace(loglik=-((at.theta[0] - self.mode) ** 2))

    def equations(self, _rows: Any, at: Unknowns, sd: Spreads, *rest: Any) -> Any:
        self.trusted.append(rest[-1].tolist())
        self.spreads.append(sd)
        return SimpleNamespace(inverse=np.full((2, 2, 2), 0.01))

    def _step(self, _s: Any, _d: Any, _p: Any, at: Unknowns, *_: Any) -> tuple[Any, Unknowns]:
        self.stepped.append(float(at.theta[0]))
        left = self.pace * (self.mode - at.theta)
        moves = np.array([self.creep(len(self.stepped))])
        step = Unknowns(left, np.zeros(1), moves, np.array([0.1, 0.0]), np.zeros(2))
        return np.diag([1.0, self.doubt]), step

    def _learn(self, *_: Any) -> Spreads:
        return self.learned(len(self.stepped))

    def pull(self, at: np.ndarray, variance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        self.pulled.append((at.tolist(), variance.tolist()))
        return at + 0.2, variance

    def go(self, rounds: int | None = 60, tolerance: float | None = 1e-3, **more: Any) -> Solution:
        """What is None is left to ``solve``."""
        given = {"rounds": rounds, "tolerance": tolerance, "start": more.pop("start", None)}
        asked = {name: value for name, value in given.items() if value is not None}
        rows = SimpleNamespace(batch=np.array([0, 1]), lot=np.array([0, 0]))
        parts = (Component(SD.batch, 1.0), Component(SD.spread, 1.0), Component(SD.lot, 1.0),
                 Component(SD.noise, 1.0))  # fmt: skip
        of = np.zeros(1, dtype=np.intp)
        setting = Setting(np.zeros(1), np.ones(1), *parts, of, self.pull, **more)
        return solve.solve(rows, 2, setting, **asked)  # type: ignore[arg-type]


def test_a_short_step_is_taken_unseen_and_the_last_one_ends_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    way = Way(monkeypatch, mode=0.29)
    solution = way.go()
    assert way.looked == pytest.approx([0.0, 0.29, 0.29]), "once a round, and at the end"
    assert solution.rounds == 2
    assert solution.at.theta == pytest.approx([0.29])
    assert solution.at.rates == pytest.approx([0.2, 0.0]), "twice a step of all else"
    assert (solution.sd, solution.covariance.tolist()) == (SD, [[1.0, 0.0], [0.0, 0.3]])


def test_a_longer_step_is_looked_at_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ours, judged: from three tenths on."""
    way = Way(monkeypatch, mode=0.31)
    way.go()
    assert way.looked == pytest.approx([0.0, 0.31, 0.31, 0.31])


def test_no_step_is_longer_than_one_and_a_half(monkeypatch: pytest.MonkeyPatch) -> None:
    way = Way(monkeypatch, mode=-4.0)
    solution = way.go()
    assert way.stepped[:4] == pytest.approx([0.0, -1.5, -3.0, -4.0])
    assert solution.rounds == 4


def test_a_step_past_the_mode_is_halved_until_it_gains(monkeypatch: pytest.MonkeyPatch) -> None:
    """Five times too far; a half is still too far, a quarter is not."""
    way = Way(monkeypatch, mode=0.2, pace=5.0)
    way.go(rounds=1)
    assert way.looked[:4] == pytest.approx([0.0, 1.0, 0.5, 0.25])
    assert way.stepped == pytest.approx([0.0, 0.25])


def test_a_step_that_never_gains_is_halved_eight_times_at_most(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    away = Way(monkeypatch, mode=1.0, pace=-1.0)
    away.go(rounds=1)
    assert away.looked == pytest.approx([0.0, *(-(0.5**k) for k in range(8)), -(0.5**8)])


def test_it_ends_when_nothing_moves_by_more_than_was_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Steps halve: 0.1, 0.05, 0.025 ... the one just below the tolerance is the last."""
    for tolerance, rounds in ((0.04, 3), (0.026, 3), (0.02, 4), (1e-3, 8)):
        assert Way(monkeypatch, mode=0.2, pace=0.5).go(60, tolerance).rounds == rounds
    exact = Way(monkeypatch, mode=0.25, pace=0.5).go(60, 0.125)
    assert exact.rounds == 2, "a step as long as was asked goes on"
    assert Way(monkeypatch, mode=0.2, pace=0.5).go(rounds=2).rounds == 2
    assert Way(monkeypatch, mode=0.2, pace=0.5).go(rounds=0).rounds == 0


def test_a_spread_that_still_grows_keeps_it_going(monkeypatch: pytest.MonkeyPatch) -> None:
    def learned(k: int) -> Spreads:
        return replace(SD, lot=SD.lot * (1.0 - 0.3 ** min(k, 4)))

    way = Way(monkeypatch, learned=learned)
    solution = way.go(tolerance=0.02)
    assert solution.rounds == 4
    assert [sd.lot for sd in way.spreads] == pytest.approx(
        [0.1, *(0.1 * (1 - 0.3**k) for k in (1, 2, 3, 4))]
    )


def test_a_fragrance_that_creeps_counts_two_fifths(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ours, judged: a last move of 0.09 is as good as one of 0.036 of all else, one of 0.11 not.
    Where it is the longest it is cut as others are, and looked at first as they are."""
    for move, rounds in ((0.09, 1), (0.11, 60)):
        way = Way(monkeypatch, creep=lambda _, m=move: m)
        assert way.go(tolerance=0.04).rounds == rounds
    far = Way(monkeypatch, creep=lambda k: 3.0 if k == 1 else 0.0)
    solution = far.go(rounds=1)
    assert solution.at.fragrances == pytest.approx([0.7 + 1.5])
    assert len(far.looked) == 3


def test_spreads_leap_only_once_all_else_is_near(monkeypatch: pytest.MonkeyPatch) -> None:
    """Growths of log 1.1, then 0.8 of it: the second leaps by what is still to come."""
    steps = [0.1, 0.08, 0.0]

    def learned(k: int) -> Spreads:
        before = way.spreads[-1]
        return replace(before, batch=before.batch * math.exp(steps[min(k, 3) - 1]))

    for creep, leap in ((0.29, 0.3), (0.31, 0.0)):
        way = Way(monkeypatch, creep=lambda _, c=creep: c, learned=learned)
        way.go(rounds=2)
        assert way.spreads[-1].batch == pytest.approx(0.2 * math.exp(0.18 + leap))


def test_no_spread_leaps_twice_in_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a leap the next growth is a first one again."""

    def learned(k: int) -> Spreads:
        before = way.spreads[-1]
        return replace(before, noise=before.noise * math.exp(0.01 * 0.6**k))

    way = Way(monkeypatch, learned=learned, creep=lambda _: 0.2)
    way.go(rounds=4)
    grown = np.diff(np.log([sd.noise for sd in way.spreads]))
    plain = 0.01 * 0.6 ** np.arange(1, 5)
    assert grown == pytest.approx([plain[0], plain[1] * 2.5, plain[2], plain[3] * 2.5])


def test_batches_that_stray_as_a_t_are_trusted_by_how_far_they_do(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """(tail + 1) / (tail + (b^2 + its variance) / sd^2), any handbook; at first, fully."""
    way = Way(monkeypatch, mode=0.1)
    way.go(rounds=1, batch_tail=3.0)
    squares = [(0.1**2 + 0.01) / 0.04, 0.01 / 0.04]
    assert way.trusted == [[1.0, 1.0], pytest.approx([4.0 / (3.0 + s) for s in squares])]
    normal = Way(monkeypatch, mode=0.1)
    normal.go(rounds=1)
    assert normal.trusted == [[1.0, 1.0], [1.0, 1.0]]


def test_it_starts_from_the_prior_or_from_what_is_very_like_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A fragrance from where its mixture pulls what is as fast again and a half, not well known."""
    way = Way(monkeypatch)
    fresh = way.go(rounds=0)
    assert way.pulled[0] == ([0.5], [1.0])
    assert way.pulled[1] == ([0.7], [1.0])
    assert (fresh.at.fragrances.tolist(), fresh.at.lots.tolist()) == ([0.7], [0.7])
    assert fresh.sd == SD
    like = Unknowns(np.full(1, 0.3), np.ones(1), np.full(1, 2.0), np.full(2, 0.1), np.zeros(2))
    start = Solution(like, replace(SD, noise=0.5), np.diag([9.0, 0.04]), None, 5)  # type: ignore[arg-type]
    again = Way(monkeypatch)
    solution = again.go(rounds=0, start=start)
    assert again.pulled[1] == ([2.0], [0.04])
    assert (solution.at, solution.sd.noise) == (like, 0.5)
    sure = replace(start, covariance=np.diag([9.0, 0.0]))
    last = Way(monkeypatch)
    last.go(rounds=1, start=sure)
    assert 0.0 < last.pulled[1][1][0] < 1e-5, "never as good as exactly"
    assert last.pulled[2][1] == [0.3], "as was found meanwhile"
    last = Way(monkeypatch)
    last.doubt = 0.0
    last.go(rounds=1)
    assert 0.0 < last.pulled[2][1][0] < 1e-5


def test_without_being_told_it_takes_60_rounds_or_comes_to_a_thousandth(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ours, judged."""
    assert Way(monkeypatch, creep=lambda _: 1.0).go(None, None).rounds == 60
    for last, rounds in ((0.0011, 2), (0.0009, 1)):
        assert Way(monkeypatch, mode=last).go(None, None).rounds == rounds
