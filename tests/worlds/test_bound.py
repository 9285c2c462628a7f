"""Who knows the maker and learns the fragrances: checked against the worlds themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soapbench.batter import BatchHistory, Mix, PotHistory, Reputation, Tap, Trace
from soapbench.thickening import Priors
from tests.worlds.bound import ALL, WHEN, WHO, Tallies, bound_world, situation
from tests.worlds.learner import LOG_AF, Learned, evidence, learn, log_af
from tests.worlds.luck import Unsaid, chance, draw_luck, left_unsaid, times_of
from tests.worlds.making import make
from tests.worlds.oracle import log_seen
from tests.worlds.scores import ratio
from tests.worlds.strong import Belief, second_tap, share
from tests.worlds.world import Made, Maker, Setup, draw_fragrance, draw_maker, draw_setup


def maker_with(seed: int, *kinds: Reputation) -> tuple[np.random.Generator, Maker]:
    rng = np.random.default_rng(seed)
    fragrances = tuple(draw_fragrance(rng, i, kind, 0.0) for i, kind in enumerate(kinds))
    return rng, replace(draw_maker(rng), fragrances=fragrances)


def test_evidence_is_that_of_particles_from_the_world() -> None:
    """Grids and tables against the plain way: chance at each log AF, weighted by the taps."""
    rng, maker = maker_with(8, Reputation.UNKNOWN)
    made = make(rng, maker, draw_setup(rng, maker, "b000000", maker.fragrances))
    assert sum(len(p.taps) for p in made.history.pots) == 3
    own = evidence(maker, made)
    assert own is not None
    ((name, truth),) = own.bottles
    at = np.searchsorted(LOG_AF, truth) + np.array([-2, 0, 2])
    plain = []
    for value in LOG_AF[at]:
        times = chance(rng, maker, made.setup, 6_000, {name: np.full(6_000, value)})
        by_particles = [
            log_seen(maker.hand, p, t, np.inf)
            for p, t in zip(made.history.pots, times.swapaxes(0, 1), strict=True)
        ]
        plain.append(np.log(np.exp(np.sum(by_particles, axis=0)).mean()))
    assert own.log[at] - own.log[at[1]] == pytest.approx(np.array(plain) - plain[1], abs=0.35)


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
    places = [situation(n) for n in (None, 0, 1, 2, 3, 5, 6, 40)]
    assert len(set(places)) == 5
    assert places[2] == places[3] != places[4] == places[5] != places[6] == places[7]


@pytest.fixture(scope="module")
def tallies() -> Tallies:
    return bound_world(2002, 2, 3, Priors(), n=1000)


def test_everybody_foresees_the_same_pots(tallies: Tallies) -> None:
    for when in WHEN:
        pots = {who: len(tallies[who, when, ALL].crps) for who in WHO}
        assert len(set(pots.values())) == 1
        by_place = [len(t.crps) for (w, at, _), t in tallies.items() if (w, at) == ("ours", when)]
        assert pots["ours"] == sum(by_place) / 2 > 0
    assert ratio(tallies["ours", "before", ALL], tallies["oracle", "before", ALL])[0] > 0.5


@pytest.mark.parametrize("who", sorted(set(WHO) - {"ours"}))
def test_a_tap_makes_all_that_know_the_maker_surer(tallies: Tallies, who: str) -> None:
    before, after = (np.mean(tallies[who, when, ALL].crps) for when in WHEN)
    assert after < before


def test_what_a_log_leaves_open_is_drawn_as_it_comes() -> None:
    """The temperature really had lies among the draws as one more of them; so do bursts not
    keyed, in number and length."""
    rng, maker = maker_with(8, Reputation.UNKNOWN)
    maker = replace(maker, hand=replace(maker.hand, keys_blender=False, thermometer=3.0))
    setups = [draw_setup(rng, maker, f"b{i:06d}", maker.fragrances) for i in range(300)]
    ranks, again, really = [], [], []
    for setup in setups:
        unsaid = left_unsaid(rng, maker, setup, 200)
        ranks.append((unsaid.batter_c < setup.batter_c).mean())
        assert unsaid.again is not None
        again += list(unsaid.again.flat)
        really += [sum(b.seconds for b in pot.blends if b.to is None) for pot in setup.pots]
    assert np.histogram(ranks, 5, (0.0, 1.0))[0] == pytest.approx(np.full(5, 60.0), abs=25.0)
    assert np.mean(again) == pytest.approx(np.mean(really), rel=0.2)
    keys = replace(maker, hand=replace(maker.hand, keys_blender=True))
    assert left_unsaid(rng, keys, setups[0], 5).again is None


def test_a_burst_not_keyed_is_foreseen_where_it_was() -> None:
    """Nobody blended again: as if all bursts were left out. Everybody did, for as long: as told."""
    rng, maker = maker_with(8, Reputation.UNKNOWN)
    setup = next(
        s
        for s in (draw_setup(rng, maker, f"b{i:06d}", maker.fragrances) for i in range(200))
        if any(len(p.blends) > 1 and p.fragrance for p in s.pots)
    )
    luck = draw_luck(rng, maker, setup, 1)
    bursts = np.array([[sum(b.seconds for b in p.blends if b.to is None) for p in setup.pots]])
    times = times_of(maker, setup, luck)
    open_ = times_of(maker, setup, luck, unsaid=Unsaid(np.array([setup.batter_c]), bursts))
    scented = [p.fragrance is not None for p in setup.pots]
    assert open_[0, scented, 3] == pytest.approx(times[0, scented, 3], rel=0.01)
    none = Unsaid(np.array([setup.batter_c]), 0.0 * bursts)
    assert (times_of(maker, setup, luck, unsaid=none)[0, :, 3] > times[0, :, 3] - 1e-9).all()
    warmer = Unsaid(np.array([setup.batter_c + 2.0]), None)
    assert (times_of(maker, setup, luck, unsaid=warmer)[0, :, 3] < times[0, :, 3]).all()
