"""What taps mean: first sights, corrections, second looks and silence."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from thickening_kit import sightings_of

from soapbench.batter import BatchHistory, Blend, Mix, PotHistory, Tap, Trace, standing
from soapbench.thickening.bursts import Bursts
from soapbench.thickening.evidence import (
    covariates,
    rows_of,
    skipped,
)
from soapbench.thickening.priors import Priors

EMULSION, LIGHT, MEDIUM, THICK, SET_UP = Trace
PRIORS = Priors(delay=10.0)


@pytest.mark.parametrize(
    ("taps", "holds"),
    [
        ([], {}),
        ([(300, LIGHT), (500, MEDIUM)], {LIGHT: 300, MEDIUM: 500}),
        ([(300, THICK), (400, LIGHT)], {LIGHT: 400}),
        ([(300, LIGHT), (310, SET_UP), (500, THICK)], {LIGHT: 300, THICK: 500}),
        ([(300, LIGHT), (400, EMULSION)], {EMULSION: 400}),
        ([(200, EMULSION), (300, LIGHT), (350, LIGHT)], {EMULSION: 200, LIGHT: 300}),
        ([(500, MEDIUM), (300, LIGHT)], {LIGHT: 300, MEDIUM: 500}),
    ],
    ids=["none", "in order", "correction", "slip", "not yet", "looked again", "unsorted"],
)
def test_which_taps_hold(taps: list[tuple[float, Trace]], holds: dict[Trace, float]) -> None:
    assert standing(Tap(t, state) for t, state in taps)[0] == holds


def pot(*taps: tuple[float, Trace], until: float = 1000.0) -> PotHistory:
    return PotHistory("base", until, taps=tuple(Tap(t, s) for t, s in taps))


def test_a_tap_tells_three_things() -> None:
    sightings = sightings_of(pot((300, LIGHT)), PRIORS, skipped=0.2)
    assert [(s.milestone, s.t, s.tapped) for s in sightings] == [
        (LIGHT, 290.0, True),  # reached shortly before
        (MEDIUM, 990.0, False),  # not by the end of the watch, or it was skipped
        (MEDIUM, 300.0, False),  # not when light was named
        (THICK, 990.0, False),
        (SET_UP, 990.0, False),
    ]
    assert [s.floor for s in sightings[1:]] == pytest.approx([0.2, PRIORS.mistaken, 0.2, 0.2])


def test_a_tap_after_the_fragrance_is_never_put_before_it() -> None:
    scented = replace(pot((305, LIGHT)), fragrance="Kelp", fragrance_in=300.0)
    assert [s.t for s in sightings_of(scented, PRIORS, skipped=0.2) if s.tapped] == [302.5]
    later = replace(scented, fragrance_in=320.0)
    assert [s.t for s in sightings_of(later, PRIORS, skipped=0.2) if s.tapped] == [295.0]


def test_a_tap_of_what_it_was_blended_up_to_tells_no_time() -> None:
    blended = replace(pot((300, LIGHT)), blends=(Blend(20.0, 80.0, to=LIGHT),))
    sightings = sightings_of(blended, PRIORS, skipped=0.2)
    assert not any(s.tapped for s in sightings)
    assert (MEDIUM, 300.0) in [(s.milestone, s.t) for s in sightings], "it was not medium yet"


def test_a_state_tapped_again_was_reached_at_its_first_tap_and_is_not_past_at_its_last() -> None:
    sightings = sightings_of(pot((300, MEDIUM), (700, MEDIUM)), PRIORS, skipped=0.2)
    assert [(s.milestone, s.t) for s in sightings if s.tapped] == [(MEDIUM, 290.0)]
    assert (THICK, 700.0) in [(s.milestone, s.t) for s in sightings]


def blended(*blends: Blend, taps: tuple[tuple[float, Trace], ...] = ()) -> PotHistory:
    return PotHistory("base", 1000.0, None, None, blends, tuple(Tap(*tap) for tap in taps))


def test_stable_emulsion_is_evidence_where_the_blender_was_keyed_or_ran_just_before() -> None:
    def tapped(pot: PotHistory) -> list[tuple[int, float]]:
        return [(s.milestone, s.t) for s in sightings_of(pot, PRIORS, 0.2) if s.tapped]

    keyed = Blend(30.0, 20.0)
    assert tapped(blended(keyed, Blend(60.0, 0.0, 1.0, EMULSION))) == [(EMULSION, 60.0)]
    assert tapped(blended(keyed, taps=((70.0, EMULSION),))) == [(EMULSION, 60.0)]
    both = blended(keyed, Blend(60.0, 0.0, 1.0, EMULSION), taps=((70.0, EMULSION),))
    assert tapped(both) == [(EMULSION, 60.0)], "one thing was learned, not two"
    assert tapped(blended(keyed, taps=((500.0, EMULSION),))) == []
    # Blended up to it and nothing keyed: no evidence of itself, what comes after counts from it.
    up = blended(Blend(30.0, 40.0, 1.0, EMULSION), taps=((70.0, EMULSION), (400.0, LIGHT)))
    assert tapped(up) == [(LIGHT, 390.0)]
    rows = rows_of([BatchHistory("b", Mix(30, 0.33, 0.4), (up,))], {}, PRIORS, 0.2)
    assert list(rows.to) == [EMULSION] * len(rows.to)
    assert rows.dose.before[0] == pytest.approx(390.0 - 70.0)


def test_emulsion_only_says_not_light_yet() -> None:
    sightings = sightings_of(pot((400, EMULSION)), PRIORS, skipped=0.2)
    assert not any(s.tapped for s in sightings)
    assert (LIGHT, 400.0) in [(s.milestone, s.t) for s in sightings]


def test_silence_of_a_pot_never_tapped_is_bounded_by_the_chance_that_nobody_looked() -> None:
    floors = [s.floor for s in sightings_of(pot(), PRIORS, skipped=0.2)]
    everything_reached = floors[0] * floors[1] * floors[2] * floors[3]
    nobody_looked = PRIORS.untended
    assert everything_reached == pytest.approx(nobody_looked + (1 - nobody_looked) * 0.2**4)


def test_a_pot_poured_out_is_watched_no_longer() -> None:
    sightings = sightings_of(pot((300, LIGHT), (700, MEDIUM), until=500.0), PRIORS, 0.2)
    assert max(s.t for s in sightings) <= 500.0
    assert [s.milestone for s in sightings if s.tapped] == [LIGHT]
    assert sightings_of(pot(until=0.0), PRIORS, 0.2) == []


def test_habit_is_counted_below_the_highest_tap() -> None:
    batch = BatchHistory("b", Mix(30, 0.33, 0.4), (pot((300, THICK)), pot((300, LIGHT))) * 50)
    worth = PRIORS.skipped_counts
    expected = (worth * PRIORS.skipped + 100.0) / (worth + 100.0)
    assert skipped([batch], PRIORS) == pytest.approx(expected)


def test_reference_batter_has_no_covariates() -> None:
    assert covariates(Mix(30.0, 0.33, 0.40)) == pytest.approx((0.0, 0.0, 0.0))
    # Arrhenius factor 30 -> 40 degC: 1.771 at 45 kJ/mol, between the 1.660 of 40 and 1.791 of 46
    # that were computed apart.
    assert 0.507 < covariates(Mix(40.0, 0.33, 0.40))[0] < 0.583


@pytest.mark.parametrize(
    ("t", "delay", "share"),
    [
        (103.0, 0.0, 1.0),
        (109.0, 0.0, 0.0),
        (112.0, 8.0, 6.0 / 24.0),
        (100.0, 8.0, 6.0 / 24.0),
        (123.0, 8.0, 0.0),
        (85.0, 8.0, 0.0),
        (4.0, 8.0, 2.0 / 12.0),
    ],
    ids=["in it", "past it", "tapped after", "tapped in", "long past", "before", "at the start"],
)
def test_a_burst_counts_as_far_as_the_milestone_may_have_been_met_in_it(
    t: float, delay: float, share: float
) -> None:
    pot = PotHistory("base", 900.0, blends=(Blend(0.0, 2.0), Blend(100.0, 6.0)))
    about = Bursts([pot]).about(np.zeros(1, dtype=np.intp), np.array([t]), np.array([delay]))
    assert about == pytest.approx([share])
