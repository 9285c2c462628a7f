"""Who knows the maker and learns the fragrances: checked against the worlds themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import BatchHistory, Mix, PotHistory, Reputation, Tap, Trace
from soapbench.thickening import Priors
from tests.worlds.bound import ALL, WHO, bound_world, situation
from tests.worlds.learner import LOG_AF, Learned, evidence, learn, log_af
from tests.worlds.oracle import log_seen
from tests.worlds.scores import ratio
from tests.worlds.strong import Belief, second_tap, share
from tests.worlds.world import (
    Made,
    Maker,
    Setup,
    chance,
    draw_fragrance,
    draw_maker,
    draw_setup,
    make,
)


def maker_with(seed: int, *kinds: Reputation) -> tuple[np.random.Generator, Maker]:
    rng = np.random.default_rng(seed)
    fragrances = tuple(draw_fragrance(rng, i, kind, 0.0) for i, kind in enumerate(kinds))
    return rng, replace(draw_maker(rng), fragrances=fragrances)


def test_evidence_is_that_of_particles_from_the_world() -> None:
    """Grids and tables against the plain way: chance at each log AF, weighted by the taps."""
    rng, maker = maker_with(8, Reputation.UNKNOWN)
    made = make(rng, maker, draw_setup(rng, maker, "b000000", maker.fragrances))
    assert sum(len(p.taps) for p in made.history.pots) == 3
    found = evidence(maker, made)
    assert found is not None
    ((name, truth),) = found.bottles
    at = np.searchsorted(LOG_AF, truth) + np.array([-2, 0, 2])
    plain = []
    for value in LOG_AF[at]:
        times = chance(rng, maker, made.setup, 6_000, {name: np.full(6_000, value)})
        seen = [
            log_seen(maker.hand, p, t, np.inf)
            for p, t in zip(made.history.pots, times.swapaxes(0, 1), strict=True)
        ]
        plain.append(np.log(np.exp(np.sum(seen, axis=0)).mean()))
    assert found.log[at] - found.log[at[1]] == pytest.approx(np.array(plain) - plain[1], abs=0.35)


def test_learning_finds_the_fragrances_and_says_how_surely() -> None:
    rng, maker = maker_with(8, *[Reputation.UNKNOWN] * 3)
    names = [s.word.name for s in maker.fragrances]
    pairs = [(0,), (0, 1), (1,), (1, 2), (2,), (0, 2)]
    past = [
        make(
            rng,
            maker,
            draw_setup(rng, maker, f"b0000{i:02d}", tuple(maker.fragrances[k] for k in p)),
        )
        for i, p in enumerate(pairs)
    ]
    learned = learn(rng, maker, past, 300)
    assert set(learned.fragrances) == set(names)
    assert len(learned.bottles) == 3
    for (name, truth), draws in learned.bottles.items():
        assert draws.std() < 0.3  # of a shelf of 0.6
        assert abs(draws.mean() - truth) < 4.0 * draws.std()
        assert learned.fragrances[name].std() > draws.std()


@pytest.mark.parametrize("learned", [None, Learned()], ids=["fragrances known", "nothing met"])
def test_a_bottle_never_opened_may_deviate(learned: Learned | None) -> None:
    rng, maker = maker_with(5, Reputation.WELL_BEHAVED)
    fragrance = maker.fragrances[0]
    setup: Setup = draw_setup(rng, maker, "b000000", (fragrance,))
    draws = log_af(rng, maker, setup, learned, 4000)[fragrance.word.name]
    lot_sd = maker.lot_sd * np.hypot(1.0, fragrance.log_af)
    if learned is None:
        assert draws.mean() == pytest.approx(fragrance.log_af, abs=0.01)
        assert draws.std() == pytest.approx(lot_sd, rel=0.05)
    else:
        assert draws.std() > 2.0 * lot_sd


def test_what_after_two_taps_may_mean() -> None:
    mix = Mix(30.0, 0.33, 0.40)
    light, medium = Trace.LIGHT, Trace.MEDIUM
    taps = {
        "a": (Tap(250.0, light), Tap(400.0, light), Tap(700.0, medium)),  # the first before it
        "b": (Tap(350.0, Trace.EMULSION), Tap(420.0, light), Tap(650.0, medium)),
        "other": (Tap(310.0, light), Tap(320.0, medium)),
    }
    pots = tuple(
        PotHistory(n, 900.0, "Kelp" if n != "other" else "Fern", 300.0, (), t)
        for n, t in taps.items()
    )
    made = Made(Setup("b", mix, 20.0, pots, (), {}), BatchHistory("b", mix, pots), np.zeros((3, 4)))
    assert second_tap(made, "Kelp", "any two taps") == 420.0
    assert second_tap(made, "Kelp", "two milestones") == 650.0
    assert second_tap(made, "Kelp", "two taps of one pot") == 650.0
    assert second_tap(made, "Moss", "any two taps") is None
    beliefs = [Belief("model", "any two taps", 0, 4.0, (0.9, 0.7, p)) for p in (0.4, 0.6, 0.7)]
    p, error, n = share(beliefs, 3.0)
    assert n == 3
    assert (p, error) == pytest.approx((2 / 3, 0.272), abs=1e-3)


def test_situations_leave_no_pot_out() -> None:
    found = [situation(n) for n in (None, 0, 1, 2, 3, 5, 6, 40)]
    assert len(set(found)) == 5
    assert found[2] == found[3] != found[4] == found[5] != found[6] == found[7]


def test_everybody_foresees_the_same_pots() -> None:
    tallies = bound_world(2002, 2, 2, Priors())
    pots = {who: len(tallies[who, ALL].crps) for who in WHO}
    assert len(set(pots.values())) == 1
    assert pots["ours"] == sum(len(t.crps) for (w, s), t in tallies.items() if w == "ours") / 2
    assert ratio(tallies["ours", ALL], tallies["oracle", ALL])[0] > 0.5
