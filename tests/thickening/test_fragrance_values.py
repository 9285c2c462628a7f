"""What is believed of a fragrance and of its bottles, against normal theory of any handbook.

Fragrance, bottles and theta are jointly normal, so that every belief is a conditional of one
matrix; few batches are a table, and then a sum over a fine grid tells the same.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from soapbench.batter import ByOthers, FragranceWord, Reputation
from soapbench.thickening import Acceleration, acceleration, no_batches
from soapbench.thickening.fitted import (
    EIGHTY,
    OTHER_HANDS,
    Fit,
    Fragrance,
    Lot,
    as_data,
    from_data,
    mixture,
    others_mixture,
)
from soapbench.thickening.fragrance import beliefs, new_bottle, seizes, usual_beliefs
from soapbench.thickening.profile import GRID
from soapbench.thickening.solve import lot_sd

EMPTY = no_batches()
PRIORS = EMPTY.priors
NONE = (0.0,) * 9
TIE_A = (0.0, 0.5, 0.0, 1.0, 3.0, 0.0, -0.7, 0.0, -2.0)
TIE_B = (0.4, 0.0, 0.0, -1.0, 1.5, 0.0, 0.0, 0.3, 0.0)
LOTS = (Lot("A17", 12.0, 12.0 * 1.2, TIE_A), Lot("B2", 5.0, 5.0 * 1.9, TIE_B))


def word(lot: str | None = None, sold: Reputation = Reputation.ACCELERATES) -> FragranceWord:
    return FragranceWord("Kelp", sold, lot)


def knows(*lots: Lot, table: tuple[float, ...] = (), log_af: float = 1.4) -> Fit:
    kelp = Fragrance("Kelp", Reputation.ACCELERATES, 6, log_af, lots, table, seized=1)
    return replace(EMPTY, fragrances={"Kelp": kelp})


BOTTLE2 = float(lot_sd(EMPTY.sd.lot, np.array(1.4))) ** 2
PIECES = mixture(Reputation.ACCELERATES, EMPTY.words, PRIORS)


# ---------------------------------------------------------------- a mixture


def test_a_bottle_strays_the_more_the_stronger_its_fragrance() -> None:
    assert lot_sd(0.1, np.array([0.0, 1.0, -2.0])) == pytest.approx(
        [0.1, 0.1 * 2**0.5, 0.1 * 5**0.5]
    )


@pytest.mark.parametrize("mean", [-2.0, -0.4, 0.0, 0.7, 3.9])
def test_quantiles_of_one_normal_however_slow_or_fast(mean: float) -> None:
    """scipy.stats.norm; four of five by its quantile of nine tenths."""
    one = Acceleration(0, 0.0, False, (1.0,), (mean,), (0.3,))
    for p in (0.1, 0.25, 0.5, 0.9):
        assert math.log(one.quantile(p)) == pytest.approx(stats.norm.ppf(p, mean, 0.3), abs=1e-6)
    assert one.above(math.exp(mean + 0.3)) == pytest.approx(stats.norm.sf(1.0))
    assert (one.mean, one.sd) == pytest.approx((mean, 0.3))
    assert stats.norm.ppf(0.9) == pytest.approx(EIGHTY)


# ---------------------------------------------------------------- never used


def test_a_fragrance_never_used_is_its_word_and_a_bottle_of_it() -> None:
    believed = usual_beliefs(EMPTY, word("A17"))
    assert [b.weight for b in believed] == pytest.approx([0.88, 0.12])
    for belief, (_, mean, sd) in zip(believed, PIECES, strict=True):
        bottle2 = 0.1**2 * (1.0 + mean**2)
        assert (belief.mean, belief.variance) == pytest.approx((mean, sd**2 + bottle2))
        assert belief.tie.tolist() == list(NONE)


def test_or_it_seizes() -> None:
    *usual, seizing = beliefs(EMPTY, word())
    chance = PRIORS.words[Reputation.ACCELERATES].seizes
    assert (seizing.weight, seizing.mean, seizing.variance) == (chance, 4.6, pytest.approx(0.16))
    plain = usual_beliefs(EMPTY, word())
    assert [b.weight for b in usual] == pytest.approx([b.weight * (1 - chance) for b in plain])
    assert seizes(knows(), word()) == pytest.approx((4.0 * chance + 1) / (4.0 + 6))


def test_what_another_maker_told_stands_in_place_of_the_word() -> None:
    """Ours, judged: other hands see half as much or half as much again; one name in seven is
    another bottle altogether, and that one is as one misjudged."""
    others = ByOthers(4.0, 2.0, 8.0, 3)
    (right, middle, sd), (other, mean, wide) = others_mixture(others, PRIORS)
    assert (right, other) == pytest.approx((6 / 7, 1 / 7), abs=0.01)
    assert middle == pytest.approx(math.log(4.0))
    assert sd**2 == pytest.approx((math.log(4.0) / (2 * stats.norm.ppf(0.9))) ** 2 + OTHER_HANDS**2)
    assert math.exp(EIGHTY * OTHER_HANDS) == pytest.approx(1.57, rel=0.05)
    assert (mean, wide) == (PRIORS.misjudged.mean, PRIORS.misjudged.sd)
    believed = usual_beliefs(replace(EMPTY, by_others={"Kelp": others}), word())
    assert [b.mean for b in believed] == pytest.approx([middle, mean])
    assert [b.mean for b in usual_beliefs(replace(EMPTY, by_others={"Fig": others}), word())] == (
        pytest.approx([PIECES[0][1], PIECES[1][1]])
    )


# ---------------------------------------------------------------- many batches: bottles as normals


def conditional(mean: float, sd: float, which: int) -> tuple[float, np.ndarray, float]:
    """Mean, its slope by theta and variance of the fragrance (0) or one of its bottles (1, 2)."""
    precision = np.diag([1 / sd**2 + 2 / BOTTLE2, *(1 / BOTTLE2 + lot.precision for lot in LOTS)])
    precision[0, 1:] = precision[1:, 0] = -1 / BOTTLE2
    covariance = np.linalg.inv(precision)
    means = covariance @ [mean / sd**2, *(lot.pull for lot in LOTS)]
    tie = covariance @ np.array([NONE, *(-np.array(lot.tie) for lot in LOTS)])
    return float(means[which]), tie[which], float(covariance[which, which])


@pytest.mark.parametrize(("lot", "which"), [("A17", 1), ("B2", 2)])
def test_a_bottle_known_is_the_conditional_of_fragrance_bottles_and_theta(
    lot: str, which: int
) -> None:
    believed = usual_beliefs(knows(*LOTS), word(lot))
    assert len(believed) == 2
    for belief, (_, mean, sd) in zip(believed, PIECES, strict=True):
        expected_mean, tie, variance = conditional(mean, sd, which)
        assert belief.mean == pytest.approx(expected_mean)
        assert belief.tie == pytest.approx(tie)
        assert belief.variance == pytest.approx(variance)


@pytest.mark.parametrize("lot", [None, "C3"])
def test_a_new_bottle_is_the_fragrance_and_how_far_bottles_stray(lot: str | None) -> None:
    believed = usual_beliefs(knows(*LOTS), word(lot))
    assert len(believed) == 4
    for k, belief in enumerate(believed):
        _, mean, sd = PIECES[k // 2]
        expected_mean, tie, variance = conditional(mean, sd, 0)
        strays = PRIORS.bottles[k % 2]
        assert belief.mean == pytest.approx(expected_mean)
        assert belief.tie == pytest.approx(tie)
        assert belief.variance == pytest.approx(variance + strays**2 * BOTTLE2)


def test_whether_it_is_as_sold_is_weighed_by_all_its_bottles() -> None:
    """Each bottle says of its fragrance what it says of itself, as much wider as a bottle strays;
    together one message, whose doubt about theta is that of both ties."""
    through = [1.0 / (1.0 + lot.precision * BOTTLE2) for lot in LOTS]
    precision = sum(lot.precision * t for lot, t in zip(LOTS, through, strict=True))
    pulled = sum(lot.pull * t for lot, t in zip(LOTS, through, strict=True)) / precision
    tie = sum(np.array(lot.tie) * t for lot, t in zip(LOTS, through, strict=True)) / precision
    doubt = 1 / precision + float(tie @ EMPTY.covariance @ tie)
    heights = [w * stats.norm(m, math.hypot(s, doubt**0.5)).pdf(pulled) for w, m, s in PIECES]
    for lot in ("A17", "B2"):
        weights = acceleration(knows(*LOTS), word(lot)).weights
        assert weights == pytest.approx([h / sum(heights) for h in heights])


def test_a_bottle_that_said_nothing_moves_nothing() -> None:
    believed = usual_beliefs(knows(Lot("A17", 0.0, 0.0, NONE)), word("A17"))
    assert [b.weight for b in believed] == pytest.approx([0.88, 0.12])
    assert [b.mean for b in believed] == pytest.approx([mean for _, mean, _ in PIECES])
    assert [b.variance for b in believed] == pytest.approx([sd**2 + BOTTLE2 for *_, sd in PIECES])


@pytest.mark.parametrize(
    ("lots", "named", "new"),
    [
        ((), "A17", True),
        (("A17",), "A17", False),
        (("A17", "B2"), "B2", False),
        (("A17", "B2"), "C3", True),
        (("A17",), None, True),
        (("",), None, True),
        (("",), "", True),
        (("", "A17"), "A17", False),
    ],
)
def test_which_bottle_is_new(lots: tuple[str, ...], named: str | None, new: bool) -> None:
    fitted = knows(*(Lot(name, 4.0, 4.0, NONE) for name in lots))
    assert new_bottle(fitted, word(named)) is new
    assert acceleration(fitted, word(named)).new_bottle is new
    assert not new_bottle(EMPTY, word(named)), "a fragrance never used has no other bottle"


def test_a_bottle_without_a_name_is_never_known_again() -> None:
    nameless = knows(Lot("", 12.0, 12.0 * 1.2, NONE))
    for lot in (None, "", "C3"):
        assert len(usual_beliefs(nameless, word(lot))) == 4
        assert usual_beliefs(nameless, word(lot))[0].mean == pytest.approx(
            usual_beliefs(nameless, word(None))[0].mean
        )


# ---------------------------------------------------------------- few batches: a table


@pytest.mark.parametrize(
    "logs",
    [np.where(GRID < 1.5, 0.0, -8.0 * (GRID - 1.5) ** 2), 4.0 * GRID, -4.0 * GRID],
    ids=["falling steeply from 1.5 on", "rising to its end", "falling from its start"],
)
def test_a_table_is_weighed_and_moved_by_the_word_as_a_sum_over_a_fine_grid(
    logs: np.ndarray,
) -> None:
    table = tuple(logs)
    believed = usual_beliefs(knows(*LOTS, table=table), word("A17"))
    a = np.linspace(GRID[0], GRID[-1], 20_001)
    heights = []
    for belief, (weight, mean, sd) in zip(believed, PIECES, strict=True):
        mass = np.exp(np.interp(a, GRID, table)) * stats.norm(mean, sd).pdf(a)
        centre = mass @ a / mass.sum()
        variance = mass @ (a - centre) ** 2 / mass.sum()
        heights.append(weight * mass.sum())
        assert belief.mean == pytest.approx(centre, abs=8e-3)
        assert belief.variance == pytest.approx(variance, rel=0.02)
        assert belief.tie == pytest.approx(-variance * (np.array(TIE_A) + TIE_B), rel=0.02)
    expected = [h / sum(heights) for h in heights]
    assert [b.weight for b in believed] == pytest.approx(expected, abs=2e-3)


def test_what_is_told_of_it_counts_theta_in() -> None:
    fitted = knows(*LOTS)
    factors = acceleration(fitted, word("A17"))
    for sd, mean, belief in zip(factors.sds, factors.means, usual_beliefs(fitted, word("A17")),
                                strict=True):  # fmt: skip
        assert mean == belief.mean
        tied = float(belief.tie @ EMPTY.covariance @ belief.tie)
        assert tied > 0.0
        assert sd**2 == pytest.approx(belief.variance + tied)
    assert (factors.batches, acceleration(EMPTY, word()).batches) == (6, 0)


# ---------------------------------------------------------------- an empty bench, and what is kept


def test_an_empty_bench_knows_its_priors_and_nothing_else() -> None:
    assert (EMPTY.batches, EMPTY.fragrances, EMPTY.by_others) == (0, {}, {})
    sds = [*(n.sd for n in PRIORS.coefficients), PRIORS.log_kappa.sd, PRIORS.log_light.sd,
           *(n.sd for n in PRIORS.log_gaps)]  # fmt: skip
    assert pytest.approx(np.diag(np.array(sds) ** 2)) == EMPTY.covariance
    assert (EMPTY.skipped, EMPTY.delay) == (PRIORS.skipped, PRIORS.delay)
    assert (EMPTY.sd.batch, EMPTY.sd.spread, EMPTY.sd.lot, EMPTY.sd.noise) == (
        PRIORS.batch.sd, PRIORS.spread.sd, PRIORS.lot.sd, PRIORS.noise.sd,
    )  # fmt: skip


def test_what_is_kept_of_a_fit_is_read_back_to_the_last_digit() -> None:
    table = tuple(-0.1 * GRID**2)
    fitted = replace(knows(*LOTS, table=table), batches=7, skipped=0.31, delay=15.0)
    again = from_data(as_data(fitted))
    assert again.fragrances == fitted.fragrances
    assert (again.batches, again.skipped, again.delay, again.sd, again.words) == (
        7, 0.31, 15.0, fitted.sd, fitted.words,
    )  # fmt: skip
    assert np.array_equal(again.covariance, fitted.covariance)
    assert again.theta.dtype == np.float64
    other = replace(PRIORS, delay=3.0)
    assert (from_data(as_data(fitted), other).priors, again.priors) == (other, PRIORS)
