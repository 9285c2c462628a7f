"""What each number of the priors says, in words a maker would use: ours, judged, read nowhere.

``test_trade.py`` holds the answers they give together; its ranges are wide. Here each stands by
itself: four of five are the quantiles of a tenth and of nine tenths. A number changed on purpose
is changed here too, and read again beside the words.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest

from soapbench.batter import FragranceWord, Mix, Reputation
from soapbench.thickening import Priors, acceleration, no_batches
from soapbench.thickening.draws import Draws, milestone_times
from soapbench.thickening.evidence import covariates
from soapbench.thickening.exposure import arrhenius
from soapbench.thickening.fitted import mixture
from soapbench.thickening.priors import Normal

EMPTY = no_batches()
PRIORS = Priors()
EIGHTY = 1.28155
CLOSE = 0.03
"""A number may be off by so much and still be in the words beside it."""


def four_of_five(of: Normal, steps: float = 1.0) -> tuple[float, float, float]:
    """exp of a tenth, of the middle and of nine tenths, ``steps`` of it at once."""
    return tuple(exp((of.mean + z * of.sd) * steps) for z in (-EIGHTY, 0.0, EIGHTY))  # type: ignore[return-value]


def test_warmth() -> None:
    """From 20 to 30 degC about twice as fast, four of five 1.9 to 2.3 times."""
    ten_degrees = arrhenius(30.0) - arrhenius(20.0)
    times = four_of_five(PRIORS.coefficients[0], ten_degrees)
    assert times == pytest.approx((1.89, 2.08, 2.28), rel=CLOSE)


def test_lye() -> None:
    """At 27 % against 33 % it takes 1.4 times as long, four of five 1.2 to 1.7 times."""
    steps = covariates(Mix(30.0, 0.33, 0.4))[1] - covariates(Mix(30.0, 0.27, 0.4))[1]
    assert steps == pytest.approx(1.2)
    times = four_of_five(PRIORS.coefficients[1], steps)
    assert times == pytest.approx((1.23, 1.43, 1.67), rel=CLOSE)


def test_oils() -> None:
    """Half saturated is 1.4 times as fast as the usual four tenths, four of five 1.3 to 1.6."""
    steps = covariates(Mix(30.0, 0.33, 0.5))[2]
    times = four_of_five(PRIORS.coefficients[2], steps)
    assert times == pytest.approx((1.30, 1.43, 1.58), rel=CLOSE)


def test_the_blender() -> None:
    """A second of it in a litre is 20 s of standing, four of five 12 to 33 s."""
    assert four_of_five(PRIORS.log_kappa) == pytest.approx((12.0, 20.0, 33.4), rel=CLOSE)


def test_light_trace() -> None:
    """Not blended, at 30 degC: light trace after 22 min, four of five 16 to 30 min."""
    seconds = np.array(four_of_five(PRIORS.log_light))
    assert seconds / 60.0 == pytest.approx([16.5, 22.2, 29.8], rel=CLOSE)


def test_the_way_from_state_to_state() -> None:
    """Left alone: emulsion after 8 1/2 min, medium after 28, thick after 34, set up after 42."""
    below, *above = (exp(gap.mean) for gap in PRIORS.log_gaps)
    gamma = np.array([-below, 0.0, *np.cumsum(above)])
    draws = Draws(np.zeros(1), (PRIORS.log_light.mean + gamma)[None], np.ones(1), {})
    minutes = milestone_times(draws, None, None)[0] / 60.0
    assert minutes == pytest.approx([8.3, 22.2, 27.6, 33.7, 42.0], rel=CLOSE)
    each = [four_of_five(gap)[2] / four_of_five(gap)[1] for gap in PRIORS.log_gaps]
    assert each == pytest.approx([1.29, 1.47, 1.57, 1.67], rel=CLOSE), "less and less sure"


def test_from_batch_to_batch_and_from_pot_to_pot() -> None:
    """One batch is a sixth faster or slower than another of the same recipe, its milestones an
    eighth closer or farther; two pots of a batch differ by a twentieth, a fragrance's part in them
    by an eighth, a bottle of it by a tenth; a tap is off by a twelfth."""
    assert PRIORS.batch.sd == pytest.approx(1 / 6, rel=0.05)
    assert PRIORS.spread.sd == pytest.approx(1 / 8, rel=0.05)
    assert PRIORS.pot == pytest.approx((1 / 25, 1 / 8), rel=0.05)
    assert PRIORS.lot.sd == pytest.approx(1 / 10, rel=0.05)
    assert PRIORS.noise.sd == pytest.approx(1 / 12, rel=0.05)


def test_how_soon_a_hand_is_learned() -> None:
    """How much batches differ: from some thirty; their milestones and bottles: from a hundred; how
    well a hand taps: from ten taps; how often it skips one: from thirty states."""
    components = (PRIORS.batch, PRIORS.spread, PRIORS.lot, PRIORS.noise)
    assert [c.pseudo_counts for c in components] == pytest.approx([30, 100, 100, 10], rel=0.1)
    assert PRIORS.skipped_counts == pytest.approx(30, rel=0.1)


def test_how_rare_the_odd_ones_are() -> None:
    """By a t, how many lie farther off than three times the core: of batches one in 17, of taps
    one in 25 (any table of Student's t)."""
    from scipy import stats

    batches, taps = (2.0 * stats.t.sf(3.0, tail) for tail in (PRIORS.batch_tail, PRIORS.tail))
    assert 1.0 / batches == pytest.approx(17.3, rel=0.1)
    assert 1.0 / taps == pytest.approx(25.0, rel=0.1)


def test_how_a_maker_looks_and_taps() -> None:
    """Every fourth state is let go by, one pot in seven is not looked at at all, one tap in twenty
    is late by a state. A tap comes 8 s after its state, a fragrance acts within 20 s of going in,
    and two minutes after the last key nobody looks any more."""
    assert PRIORS.skipped == pytest.approx(1 / 4, rel=0.1)
    assert PRIORS.untended == pytest.approx(1 / 7, rel=0.1)
    assert PRIORS.mistaken == pytest.approx(1 / 20, rel=0.1)
    assert PRIORS.delay == pytest.approx(8.0, rel=0.1)
    assert PRIORS.latency == pytest.approx(20.0, rel=0.1)
    assert PRIORS.patience == pytest.approx(120.0, rel=0.1)


@pytest.mark.parametrize(
    ("word", "faster", "as_sold", "right", "seizes_one_in"),
    [
        (Reputation.WELL_BEHAVED, 1.105, (0.84, 1.46), 0.88, 250),
        (Reputation.UNKNOWN, 2.23, (0.99, 5.0), 0.80, 67),
        (Reputation.ACCELERATES, 8.6, (4.57, 16.1), 0.88, 33),
        (Reputation.NOTORIOUS, 19.1, (9.9, 37.0), 0.90, 10),
    ],
    ids=[word.value for word in Reputation],
)
def test_what_a_reputation_says(
    word: Reputation,
    faster: float,
    as_sold: tuple[float, float],
    right: float,
    seizes_one_in: float,
) -> None:
    """So many times faster, four of five of those as sold between; so many are; so many seize."""
    (weight, mean, sd), (other, _, _) = mixture(word, EMPTY.words, PRIORS)
    assert exp(mean) == pytest.approx(faster, rel=CLOSE)
    times = (exp(mean - EIGHTY * sd), exp(mean + EIGHTY * sd))
    assert times == pytest.approx(as_sold, rel=CLOSE)
    assert (weight, other) == pytest.approx((right, 1.0 - right), abs=0.015)
    seizes = acceleration(EMPTY, FragranceWord("Kelp", word)).seizes
    assert 1.0 / seizes == pytest.approx(seizes_one_in, rel=0.1)


def test_how_sure_it_is_what_a_word_has_come_to_mean() -> None:
    """Of the middle of all that are sold so, not of one of them."""
    sds = [PRIORS.words[word].mean.sd for word in Reputation]
    assert sds == pytest.approx([0.08, 0.20, 0.20, 0.25], rel=0.1)


def test_a_fragrance_that_is_not_what_it_was_sold_as() -> None:
    """Five times as fast, four of five 2 to 12 times."""
    assert four_of_five(PRIORS.misjudged) == pytest.approx((2.02, 4.95, 12.1), rel=CLOSE)


def test_a_fragrance_that_seizes() -> None:
    """A hundred times as fast, four of five 60 to 170 times: what takes 20 min takes 12 s; a word
    on it is worth four batches."""
    assert four_of_five(PRIORS.seizing) == pytest.approx((59.6, 99.5, 166.0), rel=CLOSE)
    assert PRIORS.seizes_counts == pytest.approx(4.0, rel=0.1)


def test_one_new_bottle_in_five_is_odd() -> None:
    """The usual ones lie within six tenths of what bottles stray, the odd ones within twice that;
    together about as wide as bottles stray (any handbook: variances add by their shares)."""
    assert PRIORS.odd_bottle == pytest.approx(1 / 5, rel=0.1)
    assert PRIORS.bottles == pytest.approx((0.6, 2.0), rel=0.1)
    near, far = PRIORS.bottles
    wide = (1.0 - PRIORS.odd_bottle) * near**2 + PRIORS.odd_bottle * far**2
    assert wide**0.5 == pytest.approx(1.04, rel=0.05)


def test_on_the_log_scale_each_stands_where_it_is_said() -> None:
    assert PRIORS.log_kappa.mean == pytest.approx(log(20.0), abs=0.02)
    assert no_batches().theta[4] == PRIORS.log_light.mean
