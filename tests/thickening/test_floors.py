"""A tap is a floor, a thicker tap never gives more time, and silence is not good news for ever."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

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
from soapbench.pour.state import PotState
from soapbench.thickening import Draws, Fit, fit, live, milestone_times, no_batches
from tests.worlds.making import make_many
from tests.worlds.world import draw_maker

UP = Blend(20.0, 60.0, 1.0, Trace.EMULSION)


def pot_state(pot: PotHistory) -> PotState:
    return PotState(
        pot.name,
        taps=pot.taps,
        fragrance=pot.fragrance,
        fragrance_in=pot.fragrance_in,
        blends=pot.blends,
    )


def times(draws: Draws, pot: PotHistory) -> np.ndarray:
    state = pot_state(pot)
    return milestone_times(draws, state.fragrance, state.fragrance_in, state.course)


@pytest.fixture(scope="module")
def fits() -> list[Fit]:
    rng = np.random.default_rng(12)
    past = [m.history for m in make_many(rng, draw_maker(rng), 40)]
    return [no_batches(), fit(past)]


def random_batch(rng: np.random.Generator) -> tuple[BatchHistory, PotHistory, float]:
    """A pot scented at some time, perhaps tapped before, and a moment to tap it."""
    load = float(rng.choice([0.015, 0.06]))
    word = FragranceWord("F", list(Reputation)[rng.integers(4)], None, load)
    t_f = rng.uniform(100.0, 700.0)
    now = float(t_f + np.exp(rng.uniform(np.log(20.0), np.log(3000.0))))
    taps = (Tap(rng.uniform(t_f, now), Trace.LIGHT),) if rng.random() < 0.4 else ()
    keyed = (Blend(30.0, rng.uniform(5.0, 40.0), rng.uniform(0.5, 5.0)), Blend(90.0, 4.0))
    blends = (UP,) if rng.random() < 0.5 else keyed
    pot = PotHistory("p", 1e9, "F", t_f, blends, taps, keyed=now)
    mix = Mix(rng.uniform(20.0, 40.0), rng.uniform(0.27, 0.38), rng.uniform(0.15, 0.6))
    return BatchHistory("b", mix, (pot,), (word,)), pot, now


def tapped(batch: BatchHistory, pot: PotHistory, now: float, state: Trace) -> PotHistory:
    return replace(pot, taps=(*pot.taps, Tap(now, state)))


@pytest.mark.parametrize("seed", range(40))
def test_a_tap_is_a_floor_and_a_thicker_one_never_gives_more_time(
    seed: int, fits: list[Fit]
) -> None:
    batch, pot, now = random_batch(np.random.default_rng(seed))
    for fitted in fits:
        left = []
        for state in Trace:
            batch_tapped = tapped(batch, pot, now, state)
            draws = live(fitted, replace(batch, pots=(batch_tapped,)), now, n=2000)
            later = times(draws, batch_tapped)
            assert np.all(later[:, : state + 1] <= now + 1e-6)
            if pot.taps and state >= Trace.LIGHT:
                assert np.all(later[:, Trace.LIGHT] <= pot.taps[0].t + 1e-6)
            left.append(np.maximum(np.median(later, axis=0)[Trace.THICK :] - now, 0.0))
        # Room for chance: 2,000 draws say a median to some 3 %.
        for thinner, thicker in pairwise(left):
            assert np.all(thicker <= 1.05 * thinner + 2.0)
        assert left[Trace.THICK][0] == left[Trace.SET_UP][1] == 0.0


def test_taken_back_by_an_earlier_state_tapped_later() -> None:
    state = PotState("p", taps=(Tap(300.0, Trace.THICK), Tap(400.0, Trace.LIGHT)), blends=(UP,))
    assert [(b.t, b.to) for b in state.course if not b.seconds] == [(400.0, Trace.LIGHT)]
    together = PotState(
        "q", together=Trace.LIGHT, together_t=250.0, taps=(Tap(300.0, Trace.MEDIUM),)
    )
    assert [(b.t, b.to) for b in together.course] == [(250.0, Trace.LIGHT), (300.0, Trace.MEDIUM)]


def test_other_pots_are_not_touched_by_a_floor(fits: list[Fit]) -> None:
    one = PotHistory("a", 1e9, None, None, (UP,), (Tap(900.0, Trace.MEDIUM),), keyed=900.0)
    other = PotHistory("b", 1e9, None, None, (UP,), keyed=900.0)
    batch = BatchHistory("b", Mix(24.0, 0.33, 0.4), (one, other))
    draws = live(fits[0], batch, 900.0)
    assert np.mean(times(draws, other)[:, Trace.MEDIUM] > 900.0) > 0.2


def test_scented_base_tapped_set_up_has_no_room_left(fits: list[Fit]) -> None:
    """Common practice, no source: nothing can be stirred, turned or poured thin any more."""
    for word in Reputation:
        pot = PotHistory("p", 1e9, "F", 300.0, (UP,), (Tap(330.0, Trace.SET_UP),), keyed=330.0)
        batch = BatchHistory("b", Mix(22.0, 0.33, 0.4), (pot,), (FragranceWord("F", word),))
        draws = live(fits[0], batch, 330.0)
        assert np.all(times(draws, pot)[:, Trace.SET_UP] <= 330.0 + 1e-6)


def test_without_a_key_time_left_counts_down(fits: list[Fit]) -> None:
    """Silence tells something while somebody is sure to look, then nothing more."""
    for fitted in fits:
        pot = PotHistory("p", 1e9, "F", 300.0, (UP,), keyed=330.0)
        word = FragranceWord("F", Reputation.UNKNOWN)
        batch = BatchHistory("b", Mix(24.0, 0.33, 0.4), (pot,), (word,))
        moments = np.arange(330.0, 1500.0, 90.0)
        ends = [np.median(times(live(fitted, batch, now), pot)[:, Trace.THICK]) for now in moments]
        left = np.maximum(np.array(ends) - moments, 0.0)
        going = left[1:] > 0.0
        assert np.all(np.diff(left)[going] < 0.0)
        late = moments[:-1] >= 330.0 + fitted.priors.patience
        assert np.diff(left)[late & (left[1:] > 0)] == pytest.approx(-90.0, abs=1.0)
