"""The columns that sightings become, each by hand: delays are 10 s, a fragrance acts in 20 s."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

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
from soapbench.thickening.evidence import NO_LOT, Rows, rows_of
from soapbench.thickening.exposure import strength
from soapbench.thickening.priors import Priors

EMULSION, LIGHT, MEDIUM, THICK, SET_UP = Trace
PRIORS = Priors(delay=10.0, latency=20.0)
MIX = Mix(30.0, 0.33, 0.4)


def pot(*taps: tuple[float, Trace], until: float = 1000.0, **more: object) -> PotHistory:
    return PotHistory("p", until, taps=tuple(Tap(*tap) for tap in taps), **more)  # type: ignore[arg-type]


def rows(*pots: PotHistory, words: tuple[FragranceWord, ...] = (), mix: Mix = MIX) -> Rows:
    lots = {("Kelp", "A17"): 4, ("Kelp", ""): 5, ("Fig", ""): 6}
    return rows_of([BatchHistory("b", mix, pots, words)], lots, PRIORS, 0.2)


def test_no_batches_have_no_rows() -> None:
    none = rows_of([], {}, PRIORS, 0.2)
    assert none.x.shape == (0, 3)
    assert len(none.lot) == len(none.dose.blending) == 0


def test_columns_of_a_pot_scented_under_the_blender_by_hand() -> None:
    """Bursts of 4 s at 50 s and 6 s of two litres at 290 s, Kelp in at 295 s, light at 340 s."""
    word = FragranceWord("Kelp", Reputation.NOTORIOUS, "A17", 0.05)
    blends = (Blend(50.0, 4.0), Blend(290.0, 6.0, 2.0))
    one = pot((340.0, LIGHT), fragrance="Kelp", fragrance_in=295.0, blends=blends)
    other = pot((340.0, LIGHT))
    table = rows(other, one, words=(word,), mix=Mix(22.0, 0.33, 0.4))
    assert table.tapped.tolist() == [True, True, *[False] * 8]
    assert table.lot.tolist()[:2] == [NO_LOT, 4]
    assert table.strength[:2] == pytest.approx([1.0, strength(0.05, 22.0, 1.2)])
    thin = 2**-0.7
    assert table.dose.blended[:2] == pytest.approx([0.0, 4.0 + 6.0 * thin])
    assert table.dose.before[:2] == pytest.approx([330.0, 295.0])
    assert table.dose.after[:2] == pytest.approx([0.0, 35.0])
    assert table.dose.blending[:2] == pytest.approx([0.0, 0.0])
    assert table.unsure[:2] == pytest.approx([10.0, hypot(10.0, 20.0)])
    assert table.to[0] == -1
    assert not table.unsure[2:].any()
    sooner = rows(replace(one, taps=(Tap(315.0, LIGHT),)), words=(word,))
    assert sooner.dose.blending[0] == pytest.approx(6.0 / 30.0 * thin), "about 285 to 315 s"
    assert sooner.dose.blending[1:] == pytest.approx([0.0] * 4)


def test_a_bottle_not_named_and_a_fragrance_without_a_word_are_lots_too() -> None:
    scented = pot((340.0, LIGHT), fragrance="Kelp", fragrance_in=-20.0)
    (plain, other) = (
        rows(scented), rows(replace(scented, fragrance="Fig"), words=(FragranceWord("Kelp"),))
    )  # fmt: skip
    assert (plain.lot[0], other.lot[0]) == (5, 6)
    assert (plain.dose.before[0], plain.dose.after[0]) == (0.0, 330.0), "in the oils"
    kept_out = rows(replace(scented, fragrance_in=None))
    assert kept_out.lot[0] == NO_LOT
    assert kept_out.dose.after[0] == 0.0


@pytest.mark.parametrize("to", [EMULSION, LIGHT])
def test_columns_of_a_pot_blended_up_count_from_there(to: Trace) -> None:
    blends = (Blend(20.0, 5.0), Blend(100.0, 100.0, 1.0, to), Blend(300.0, 6.0))
    one = pot((400.0, MEDIUM), fragrance="Kelp", fragrance_in=150.0, blends=blends)
    table = rows(one)
    assert table.to.tolist() == [int(to)] * len(table.to)
    dose = table.dose
    assert (dose.blended[0], dose.before[0], dose.after[0]) == pytest.approx((6.0, 0.0, 190.0))
    later = rows(replace(one, fragrance_in=250.0)).dose
    assert (later.before[0], later.after[0]) == pytest.approx((50.0, 140.0))


def test_emulsion_is_met_within_8_s_and_the_rest_within_the_hands_delay() -> None:
    """What the blender did about then, two of them before and one after: 60 is 44 to 68 s for
    emulsion, 120 is 100 to 130 s for light."""
    blends = (Blend(45.0, 6.0), Blend(101.0, 3.0))
    table = rows(pot((70.0, EMULSION), (130.0, LIGHT), blends=blends))
    assert table.milestone[:2].tolist() == [EMULSION, LIGHT]
    assert table.dose.blending[:2] == pytest.approx([6.0 / 24.0, 3.0 / 30.0])


def test_a_fragrance_going_in_at_the_very_moment_makes_it_no_less_sure() -> None:
    scented = pot((340.0, LIGHT), fragrance="Kelp", fragrance_in=329.0)
    at, before = rows(replace(scented, fragrance_in=340.0)), rows(scented)
    assert at.unsure[0] == 10.0
    assert before.unsure[0] == pytest.approx(hypot(10.0, 20.0))
    just = rows(replace(scented, blends=(Blend(330.0, 0.0, 1.0, MEDIUM),), fragrance_in=330.0))
    assert (just.milestone[0], just.unsure[0]) == (MEDIUM, 8.0)
