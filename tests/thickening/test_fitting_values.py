"""How a fit is put together: what a word comes to mean, whose batch is whose, how late a hand is.

Conjugate normals of any handbook where log AF is known as good as exactly; the rest by hand.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from thickening_kit import BENCH, FRAGRANCE_OF, LIGHT, LOTS, MEDIUM, PRIORS, THICK, batch, taps

from soapbench.batter import BatchHistory, FragranceWord, Mix, PotHistory, Reputation, Trace
from soapbench.thickening import Priors, fit, fitting, no_batches, profile
from soapbench.thickening.evidence import rows_of, skipped
from soapbench.thickening.fitting import _amounts_to, _class_means, _pull, _setting, _shelf
from soapbench.thickening.solve import solve

WELL, UNKNOWN, ACCELERATES, NOTORIOUS = Reputation
WORDS = {word: of.mean for word, of in PRIORS.words.items()}
SURE = 1e-6


# ---------------------------------------------------------------- what a word comes to mean


def test_a_word_means_what_its_fragrances_turned_out_to_be() -> None:
    """Each known exactly: precisions add, the word's own and one of its spread a fragrance; a
    far one is as good as surely misjudged and says nothing of the word."""
    log_af = np.array([2.0, 0.35, 2.6, 2.4, 9.0])
    sold = [ACCELERATES, WELL, ACCELERATES, ACCELERATES, ACCELERATES]
    priors = replace(
        PRIORS, words={w: replace(of, misjudged=1e-9) for w, of in PRIORS.words.items()}
    )
    means = _class_means(log_af, np.full(5, SURE), sold, priors)
    for word, values in ((ACCELERATES, [2.0, 2.6, 2.4]), (WELL, [0.35])):
        prior, spread = WORDS[word], PRIORS.words[word].spread
        precision = prior.sd**-2 + len(values) * spread**-2
        mean = (prior.mean / prior.sd**2 + sum(values) / spread**2) / precision
        assert means[word].mean == pytest.approx(mean, abs=2e-4)
        assert means[word].sd == pytest.approx(precision**-0.5, rel=1e-3)
    assert (means[UNKNOWN], means[NOTORIOUS]) == (WORDS[UNKNOWN], WORDS[NOTORIOUS])


def test_a_fragrance_counts_as_far_as_it_is_as_sold_and_as_well_as_it_is_known() -> None:
    """One fragrance, its message a normal of 0.3 round 3.0: half and half as sold or not; what it
    says of the word is as wide as message and spread together."""
    priors = replace(PRIORS, words={**PRIORS.words, ACCELERATES: replace(
        PRIORS.words[ACCELERATES], misjudged=0.5)})  # fmt: skip
    prior, spread, by_data = WORDS[ACCELERATES], 0.45, 0.3**-2
    pieces = np.array([[(0.5, prior.mean, float(np.hypot(spread, prior.sd))), (0.5, 1.6, 0.7)]])
    log_af, variance = np.array([2.8]), np.array([0.06])
    # The posterior that such a message would give, met by going round.
    for _ in range(60):
        _, amounts, precision = _amounts_to(log_af, variance, pieces)
        variance = 1.0 / (by_data + precision)
        log_af = variance * (by_data * 3.0 + precision * amounts)
    share = float(_amounts_to(log_af, variance, pieces)[0][0]) / (1.0 + by_data * spread**2)
    total = prior.sd**-2 + share * by_data
    mean = (prior.mean / prior.sd**2 + share * by_data * 3.0) / total
    means = _class_means(log_af, variance, [ACCELERATES], priors)[ACCELERATES]
    # Its rounds move the word's own width a little: what is told is nearly that.
    assert 0.5 < share * (1.0 + by_data * spread**2) < 1.0
    assert means.mean - prior.mean == pytest.approx(mean - prior.mean, rel=0.1)
    assert prior.sd - means.sd == pytest.approx(prior.sd - total**-0.5, rel=0.1)


def test_a_fragrance_of_which_nothing_was_seen_moves_no_word() -> None:
    means = _class_means(np.array([7.0]), np.array([50.0]), [ACCELERATES], PRIORS)
    assert means[ACCELERATES].mean == pytest.approx(WORDS[ACCELERATES].mean)
    assert means[ACCELERATES].sd == pytest.approx(WORDS[ACCELERATES].sd)
    assert _class_means(np.zeros(0), np.zeros(0), [], PRIORS) == WORDS


def test_the_pull_of_a_mixture_is_that_of_what_its_word_has_come_to_mean() -> None:
    log_af, variance = np.array([2.5, 0.2]), np.full(2, 0.01)
    sold = [ACCELERATES, WELL]
    mean, precision = _pull(sold, PRIORS)(log_af, variance)
    means = _class_means(log_af, variance, sold, PRIORS)
    for i, word in enumerate(sold):
        of = PRIORS.words[word]
        piece = np.array([[
            (1 - of.misjudged, means[word].mean, float(np.hypot(of.spread, means[word].sd))),
            (of.misjudged, 1.6, 0.7),
        ]])  # fmt: skip
        _, one, weight = _amounts_to(log_af[[i]], variance[[i]], piece)
        assert (mean[i], precision[i]) == pytest.approx((float(one[0]), float(weight[0])))
    assert [len(part) for part in _pull([], PRIORS)(np.zeros(0), np.zeros(0))] == [0, 0]


# ---------------------------------------------------------------- whose batch is whose


def scented(
    *lots: str | None, word: Reputation = ACCELERATES, name: str = "Kelp"
) -> list[BatchHistory]:
    """A batch for each bottle, thick four minutes after its fragrance."""
    pot = PotHistory(
        "p", 900.0, name, 300.0, (), taps((450.0, LIGHT), (500.0, MEDIUM), (540.0, THICK))
    )
    return [
        BatchHistory("b", Mix(27.0, 0.30, 0.5), (pot,), (FragranceWord(name, word, lot),))
        for lot in lots
    ]


def test_bottles_are_numbered_as_they_are_opened_and_the_last_word_stands() -> None:
    shelf = _shelf([
        *scented("A17", "B2", None, "A17"), *scented("B2", word=WELL, name="Fig"),
        *scented("A17", word=NOTORIOUS),
    ])  # fmt: skip
    assert shelf.lots == {("Kelp", "A17"): 0, ("Kelp", "B2"): 1, ("Kelp", ""): 2, ("Fig", "B2"): 3}
    assert shelf.sold == {"Kelp": NOTORIOUS, "Fig": WELL}
    assert shelf.batches == {"Kelp": 5, "Fig": 1}
    setting = _setting(shelf, PRIORS)
    assert setting.fragrance_of.tolist() == [0, 0, 0, 1]
    empty = no_batches(PRIORS)
    assert setting.mean == pytest.approx(empty.theta)
    assert setting.precision == pytest.approx(1.0 / np.diag(empty.covariance))
    assert (setting.tail, setting.batch_tail) == (PRIORS.tail, PRIORS.batch_tail)


def test_a_fragrance_that_went_into_no_pot_is_not_on_the_shelf() -> None:
    pots = (PotHistory("a", 900.0, "Kelp", None), PotHistory("b", 900.0, None, 300.0),
            PotHistory("c", 900.0, "Nameless", 0.0))  # fmt: skip
    shelf = _shelf([batch("b", 27.0, "A17", *pots)])
    assert shelf.lots == {("Nameless", ""): 0}
    assert shelf.sold == {"Nameless": UNKNOWN}


@pytest.fixture(scope="module")
def learned() -> Any:
    return fit(BENCH, replace(PRIORS, delay=60.0), rounds=3)


def test_a_fit_holds_what_the_solver_found(learned: Any) -> None:
    """Delays are looked for above the prior's alone: none lies above 60 s."""
    priors = replace(PRIORS, delay=60.0)
    habit = skipped(BENCH, priors)
    rows, setting = rows_of(BENCH, LOTS, priors, habit), _setting(_shelf(BENCH), priors)
    solution = solve(rows, 3, setting, 3, 2e-3)
    assert learned.theta == pytest.approx(solution.at.theta)
    assert learned.covariance == pytest.approx(solution.covariance[:9, :9])
    assert (learned.batches, learned.sd, learned.delay) == (3, solution.sd, 60.0)
    assert learned.skipped == habit
    kelp, fig = learned.fragrances["Kelp"], learned.fragrances["Fig"]
    assert [kelp.log_af, fig.log_af] == pytest.approx(solution.at.fragrances)
    assert [lot.name for lot in kelp.lots] == ["A17", "B2"]
    for i, lot in enumerate([*kelp.lots, *fig.lots]):
        assert lot.precision == pytest.approx(max(solution.data.lots[i], 0.0))
        pull = lot.precision * solution.at.lots[i] + solution.data.slope_lots[i]
        assert lot.pull == pytest.approx(pull)
        assert lot.tie == pytest.approx(solution.data.tie[:, i])
    tables = profile.profiles(rows, solution.at, solution.sd, FRAGRANCE_OF, [0, 1], priors.tail)
    assert [kelp.table, fig.table] == [pytest.approx(table) for table in tables]
    assert (kelp.batches, kelp.seized, kelp.reputation) == (2, 0, UNKNOWN)
    variance = np.diag(solution.covariance)[9:]
    assert learned.words == _class_means(solution.at.fragrances, variance, [UNKNOWN] * 2, priors)


def test_four_batches_are_few_and_five_are_not() -> None:
    """Ours, judged: a table of what few batches said, a normal of many."""
    several = [*scented(*["A17"] * 5), *scented(*[None] * 4, word=WELL, name="Fig")]
    known = fit(several, rounds=2).fragrances
    assert known["Kelp"].table == ()
    assert len(known["Fig"].table) == 33
    assert (known["Kelp"].batches, known["Fig"].batches) == (5, 4)


def test_a_fragrance_that_seized_is_counted_and_fits_by_the_others() -> None:
    pot = PotHistory("p", 900.0, "Kelp", 300.0, (), taps((320.0, Trace.SET_UP)))
    seized = BatchHistory("s", Mix(27.0, 0.30, 0.5), (pot,), (FragranceWord("Kelp", ACCELERATES),))
    kelp = fit([*scented(None), seized], rounds=2).fragrances["Kelp"]
    assert (kelp.seized, kelp.batches) == (1, 2)


# ---------------------------------------------------------------- how late a hand is


@pytest.mark.parametrize(
    ("late", "delay"),
    [(19.0, 8.0), (20.0, 15.0), (36.0, 15.0), (37.0, 28.0), (68.0, 28.0), (69.5, 50.0)],
)
def test_without_a_batch_rehearsals_alone_tell_how_late_a_hand_is(
    late: float, delay: float
) -> None:
    """By hand: four taps' log density of an exponential must gain 2 from one delay to the next, as
    4 (log d/d' + late (1/d - 1/d')) does from a lateness of 19.4, 36.3 and 68.7 s on."""
    assert fit([], late_s=[late] * 12).delay == delay
    assert fit([], Priors(delay=15.0), late_s=[late] * 12).delay == max(delay, 15.0)
    assert fit([], Priors(delay=0.0), late_s=[late] * 12).delay == 0.0


def test_without_being_told_a_fit_takes_60_rounds_or_comes_to_two_thousandths(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ours, judged."""
    real, tried = fitting.solve, []

    def noted(*given: Any) -> Any:
        tried.append(given[3:5])
        return real(*given[:3], 1)

    monkeypatch.setattr(fitting, "solve", noted)
    fit(scented("A17"), Priors(delay=60.0))
    assert tried == [(60, 2e-3)]


@pytest.mark.parametrize(
    ("gains", "delay", "solved"),
    [((1.9, 9.0, 9.0), 8.0, 1), ((2.1, 1.9, 9.0), 15.0, 2), ((2.1, 2.1, 1.9), 28.0, 3),
     ((2.1, 2.1, 2.1), 50.0, 3)],
)  # fmt: skip
def test_a_later_hand_must_clearly_fit_better(
    gains: tuple[float, ...], delay: float, solved: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """2 in log evidence: ours, judged. A later hand starts from the solution of a sooner one, and
    one that is not believed is the last to be tried."""
    real, tried = fitting.solve, []

    def noted(*given: Any, **more: Any) -> Any:
        tried.append(given)
        return real(*given[:3], 1)

    # Asked of the later first, then of the best so far.
    sums = iter([sum(gains[:end]) for i in range(3) for end in (i + 1, i)])
    monkeypatch.setattr(fitting, "solve", noted)
    monkeypatch.setattr(fitting, "log_evidence", lambda *_: next(sums))
    fitted = fit(scented("A17"), rounds=7, tolerance=0.5)
    assert fitted.delay == delay
    assert len(tried) - 1 == solved
    first, *later = tried
    assert first[3:] == (7, 0.5)
    assert all(given[3:5] == (8, 0.5) for given in later)
    assert all(given[5] is not None for given in later)


def test_rehearsed_taps_count_beside_those_of_the_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Batches that gain 1 a step; rehearsed taps must gain the other 1: from 15.1, 28.2 and 52.8 s
    of lateness on, by the sum above."""
    real = fitting.solve
    monkeypatch.setattr(fitting, "solve", lambda *given: real(*given[:3], 1))
    for late, delay in ((14.5, 8.0), (16.0, 15.0), (27.5, 15.0), (29.0, 28.0), (54.0, 50.0)):
        steps = iter([1.0, 0.0] * 3)
        monkeypatch.setattr(fitting, "log_evidence", lambda *_, s=steps: next(s))
        assert fit(scented("A17"), late_s=[late] * 12).delay == delay
