"""What a pot teaches, sighting by sighting: at each bound, just below it and just above.

Delays are 10 s and patience is 100 s, so that every moment can be told in one's head.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import pytest
from thickening_kit import Sighting, sightings_of

from soapbench.batter import (
    BatchHistory,
    Blend,
    Mix,
    PotHistory,
    Tap,
    Trace,
)
from soapbench.thickening.evidence import (
    covariates,
    rows_of,
    skipped,
    without_seizing,
)
from soapbench.thickening.priors import Priors
from soapbench.thickening.signs import blended_up

EMULSION, LIGHT, MEDIUM, THICK, SET_UP = Trace
PRIORS = Priors(delay=10.0, patience=100.0, untended=0.3, mistaken=0.07, latency=20.0)
MIX = Mix(30.0, 0.33, 0.4)


def pot(*taps: tuple[float, Trace], until: float = 1000.0, **more: object) -> PotHistory:
    return PotHistory("p", until, taps=tuple(Tap(*tap) for tap in taps), **more)  # type: ignore[arg-type]


def seen(of: PotHistory) -> list[tuple[int, float]]:
    return [(s.milestone, s.t) for s in sightings_of(of, PRIORS, 0.2) if s.tapped]


def silent(of: PotHistory) -> list[tuple[int, float, float]]:
    not_tapped = [s for s in sightings_of(of, PRIORS, 0.2) if not s.tapped]
    return [(s.milestone, s.t, round(s.floor, 9)) for s in not_tapped]


# ---------------------------------------------------------------- the recipe


@pytest.mark.parametrize(
    ("mix", "x"),
    [
        (Mix(30.0, 0.33, 0.4, 1.5), (0.405465, 0.0, 0.0)),
        (Mix(40.0, 0.33, 0.4), (0.57012, 0.0, 0.0)),
        (Mix(30.0, 0.38, 0.4), (0.0, 1.0, 0.0)),
        (Mix(30.0, 0.28, 0.4), (0.0, -1.0, 0.0)),
        (Mix(30.0, 0.33, 0.5), (0.0, 0.0, 0.9645)),
        (Mix(30.0, 0.33, 0.7), (0.0, 0.0, 2.2848)),
        (Mix(30.0, 0.33, 0.1), (0.0, 0.0, -2.2848)),
    ],
    ids=["additives", "warm", "strong lye", "weak lye", "quick oils", "very quick", "slow oils"],
)
def test_what_a_recipe_says_by_hand(mix: Mix, x: tuple[float, float, float]) -> None:
    """Warmth by Arrhenius' law, lye by steps of 5 %; oils by steps of a tenth from four tenths,
    3 tanh(steps / 3): ours, judged."""
    assert covariates(mix) == pytest.approx(x, abs=1e-4)


# ---------------------------------------------------------------- bursts kept up to a state


@pytest.mark.parametrize(
    ("blends", "up"),
    [
        ((), None),
        ((Blend(20.0, 30.0, 1.0, LIGHT),), 0),
        ((Blend(20.0, 30.0),), None),
        ((Blend(20.0, 0.0, 1.0, LIGHT),), None),
        ((Blend(20.0, 0.5, 1.0, EMULSION), Blend(40.0, 3.0, 1.0, LIGHT), Blend(50.0, 1.0)), 1),
        ((Blend(20.0, 30.0, 1.0, EMULSION), Blend(900.0, 100.0, 1.0, LIGHT)), 1),
        ((Blend(20.0, 30.0, 1.0, EMULSION), Blend(900.0, 100.1, 1.0, LIGHT)), 0),
    ],
    ids=["none", "up", "by seconds", "keyed", "the last", "by the end", "after the end"],
)
def test_exposure_counts_from_the_last_state_blended_up_to(
    blends: tuple[Blend, ...], up: int | None
) -> None:
    assert blended_up(pot(blends=blends)) == (None if up is None else blends[up])


def test_after_blending_up_only_what_came_later_is_news() -> None:
    up = (Blend(100.0, 100.0, 1.0, LIGHT),)
    assert seen(pot((200.0, MEDIUM), blends=up)) == [], "at its very end: still the blender's"
    assert seen(pot((200.5, MEDIUM), blends=up)) == [(MEDIUM, 201.0)], "a second after, at least"
    assert seen(pot((400.0, MEDIUM), blends=up)) == [(MEDIUM, 390.0)]
    assert seen(pot((400.0, LIGHT), blends=up)) == []
    assert silent(pot((200.0, LIGHT), blends=up)) == [
        (MEDIUM, 990.0, 0.2), (THICK, 990.0, 0.2), (SET_UP, 990.0, 0.2),
    ]  # fmt: skip
    assert silent(pot((201.0, LIGHT), blends=up))[:2] == [
        (MEDIUM, 990.0, 0.2),
        (MEDIUM, 201.0, 0.07),
    ]


@pytest.mark.parametrize(("at", "news"), [(199.5, False), (200.0, False), (200.5, True)])
def test_a_state_keyed_after_the_blending_up_is_news(at: float, news: bool) -> None:
    blends = (Blend(100.0, 100.0, 1.0, EMULSION), Blend(at, 0.0, 1.0, LIGHT))
    assert seen(pot(blends=blends)) == ([(LIGHT, at)] if news else [])


def test_silence_must_last_a_delay_past_the_blender_and_past_the_lye() -> None:
    up = (Blend(100.0, 100.0, 1.0, LIGHT),)
    assert silent(pot(until=210.0, blends=up)) == []
    assert [t for _, t, _ in silent(pot(until=210.5, blends=up))] == [200.5] * 3
    assert silent(pot(until=10.0)) == []
    assert [t for _, t, _ in silent(pot(until=10.5))] == [0.5] * 4


# ---------------------------------------------------------------- taps


@pytest.mark.parametrize(
    ("tap", "t_f", "t"),
    [
        (100.0, None, 90.0),
        (11.5, None, 1.5),
        (10.5, None, 1.0),
        (0.5, None, 1.0),
        (0.0, None, 1.0),
        (100.0, 100.0, 90.0),
        (100.0, 99.0, 99.5),
        (100.0, 85.0, 92.5),
        (100.0, 70.0, 90.0),
        (6.0, -50.0, 3.0),
        (16.0, 0.0, 8.0),
    ],
)
def test_when_a_pot_came_to_what_was_tapped(tap: float, t_f: float | None, t: float) -> None:
    """A delay before, not before the middle of tap and fragrance, not within the first second."""
    scented = pot((tap, LIGHT), fragrance="Kelp", fragrance_in=t_f)
    assert seen(scented) == [(LIGHT, t)]


def test_a_tap_at_the_last_moment_of_the_watch_still_counts() -> None:
    assert seen(pot((1000.0, LIGHT))) == [(LIGHT, 990.0)]
    assert seen(pot((1000.1, LIGHT))) == []


def test_a_state_named_says_that_the_next_one_is_not_there() -> None:
    assert silent(pot((300.0, MEDIUM))) == [
        (THICK, 990.0, 0.2), (THICK, 300.0, 0.07), (SET_UP, 990.0, 0.2),
    ]  # fmt: skip
    assert (MEDIUM, 1.0, 0.07) in silent(pot((0.5, LIGHT))), "logs of it are finite"
    assert silent(pot((300.0, SET_UP))) == [], "nothing comes after"
    assert (LIGHT, 700.0, 0.07) in silent(pot((300.0, EMULSION), (700.0, EMULSION)))


def test_silence_of_several_states_by_hand() -> None:
    """Nobody looked, or each state was let go by: .3 + .7 x .2^k, each given those before."""
    all_of = [1.0, *(0.3 + 0.7 * 0.2**k for k in (1, 2, 3, 4))]
    floors = [round(all_of[k] / all_of[k - 1], 9) for k in (1, 2, 3, 4)]
    states = (LIGHT, MEDIUM, THICK, SET_UP)
    assert silent(pot()) == [(s, 990.0, f) for s, f in zip(states, floors, strict=True)]
    # Somebody did look: where it was seen thick, with the base pot or under the blender.
    together = silent(pot(together=LIGHT))
    assert together == [(s, 990.0, 0.2) for s in states[1:]]
    assert silent(pot(together=EMULSION)) == silent(pot())
    keyed = pot(blends=(Blend(50.0, 0.0, 1.0, LIGHT),))
    assert silent(keyed) == together
    late = pot(until=1000.0, blends=(Blend(1000.1, 0.0, 1.0, LIGHT),))
    assert silent(late) == silent(pot())
    assert silent(pot(blends=(Blend(1000.0, 0.0, 1.0, LIGHT),))) == together


def test_nobody_looks_for_ever_after_the_last_key() -> None:
    for keyed, looked in ((None, 1000.0), (500.0, 600.0), (900.0, 1000.0), (950.0, 1000.0)):
        assert {t for _, t, _ in silent(pot(keyed=keyed))} == {looked - 10.0}


# ---------------------------------------------------------------- stable emulsion


@pytest.mark.parametrize(
    ("tap", "blends", "bounds"),
    [
        (90.0, (Blend(50.0, 10.0),), (80.0, hypot(8.0, 15.0))),
        (60.0, (Blend(50.0, 10.0),), (50.0, 8.0)),
        (55.0, (Blend(50.0, 10.0),), (45.0, 8.0)),
        (50.0, (Blend(50.0, 10.0),), (40.0, 8.0)),
        (49.0, (Blend(50.0, 10.0),), None),
        (120.0, (Blend(50.0, 10.0),), (110.0, hypot(8.0, 30.0))),
        (120.5, (Blend(50.0, 10.0),), None),
        (90.0, (Blend(50.0, 10.0), Blend(80.0, 4.0)), (80.0, hypot(8.0, 3.0))),
        (5.0, (Blend(2.0, 3.0),), (1.0, 8.0)),
        (90.0, (), None),
    ],
)
def test_a_tap_of_stable_emulsion_tells_most_right_after_the_blender(
    tap: float, blends: tuple[Blend, ...], bounds: tuple[float, float] | None
) -> None:
    """Known to 8 s, and to half of what lay between blender and tap; a minute after, no more: ours,
    judged."""
    sightings = [s for s in sightings_of(pot((tap, EMULSION), blends=blends), PRIORS, 0.2)
                 if s.tapped]  # fmt: skip
    expected = [] if bounds is None else [Sighting(EMULSION, bounds[0], True, 0.0, bounds[1])]
    assert [(*s,) for s in sightings] == [pytest.approx((*s,)) for s in expected]


@pytest.mark.parametrize(("at", "t"), [(60.0, 60.0), (0.5, 1.0), (1000.0, 1000.0), (1000.1, None)])
def test_a_state_keyed_under_the_blender_is_known_to_8_s(at: float, t: float | None) -> None:
    keyed = pot(blends=(Blend(0.0, 0.4), Blend(at, 0.0, 1.0, LIGHT)))
    tapped = [s for s in sightings_of(keyed, PRIORS, 0.2) if s.tapped]
    assert tapped == ([] if t is None else [Sighting(LIGHT, t, True, 0.0, 8.0)])


# ---------------------------------------------------------------- seizing


@pytest.mark.parametrize(
    ("t_f", "t", "seized"),
    [(300.0, 390.0, True), (300.0, 390.5, False), (-60.0, 90.0, True), (-60.0, 90.5, False)],
)
def test_set_up_within_90_s_of_its_fragrance_is_seized(t_f: float, t: float, seized: bool) -> None:
    """Ours, judged; in the oils it counts from the lye."""
    one = pot((t, SET_UP), fragrance="Kelp", fragrance_in=t_f)
    _, count = without_seizing([BatchHistory("b", MIX, (one,)), BatchHistory("c", MIX, (pot(),))])
    assert count == ({"Kelp": 1} if seized else {})


def test_of_a_batch_that_seized_what_came_before_is_kept() -> None:
    """Two pots of it count once, and the one that did not set up is cut off as well."""
    pots = (
        pot((350.0, SET_UP), (300.0, LIGHT), fragrance="Kelp", fragrance_in=300.0, keyed=350.0),
        pot((100.0, EMULSION), (900.0, LIGHT), fragrance="Kelp", fragrance_in=200.0, until=150.0),
        pot((900.0, LIGHT), fragrance="Fig", fragrance_in=200.0),
    )
    (kept,), count = without_seizing([BatchHistory("b", MIX, pots)])
    assert count == {"Kelp": 1}
    first, second, other = kept.pots
    assert first == pot((300.0, LIGHT), until=300.0)
    assert second == pot((100.0, EMULSION), until=150.0)
    assert other == pots[2]


# ---------------------------------------------------------------- habit


@pytest.mark.parametrize(
    ("taps", "below", "missed"),
    [
        ((), 0, 0),
        ((EMULSION,), 0, 0),
        ((LIGHT,), 0, 0),
        ((MEDIUM,), 1, 1),
        ((LIGHT, MEDIUM), 1, 0),
        ((EMULSION, SET_UP), 3, 3),
        ((LIGHT, THICK, SET_UP), 3, 1),
    ],
)
def test_how_often_a_state_is_let_go_by(taps: tuple[Trace, ...], below: int, missed: int) -> None:
    one = pot(*((100.0 * (i + 1), state) for i, state in enumerate(taps)))
    priors = replace(PRIORS, skipped=0.4, skipped_counts=10.0)
    expected = (4.0 + missed) / (10.0 + below)
    assert skipped([BatchHistory("b", MIX, (one,))], priors) == pytest.approx(expected)


def test_what_all_pots_were_blended_up_to_together_is_seen_once() -> None:
    """Stopped at one moment, it is one sighting however many pots are split off afterwards; pots
    blended up apart are one each."""
    together = Blend(60.0, 0.0, 1.0, Trace.EMULSION)
    burst = Blend(20.0, 40.0, 1.0)
    apart = Blend(90.0, 0.0, 1.0, Trace.EMULSION)

    def stops(*ends: Blend) -> list[float]:
        pots = tuple(PotHistory(f"{i}", 300.0, blends=(burst, end)) for i, end in enumerate(ends))
        rows = rows_of([BatchHistory("b", Mix(30.0, 0.33, 0.4), pots)], {}, PRIORS, 0.25)
        of = rows.tapped & (rows.milestone == Trace.EMULSION)
        return sorted((rows.dose.before + rows.dose.after)[of].tolist())

    assert stops(together) == stops(together, together, together) == [60.0]
    assert stops(together, apart) == [60.0, 90.0]


def test_a_tap_at_the_moment_another_pot_was_stopped_at_counts_all_the_same() -> None:
    stopped = PotHistory("a", 300.0, blends=(Blend(20.0, 40.0, 1.0), Blend(60.0, 0.0, 1.0, LIGHT)))
    tapped = PotHistory("b", 300.0, taps=(Tap(60.0, LIGHT),))
    rows = rows_of([BatchHistory("b", MIX, (stopped, tapped))], {}, PRIORS, 0.25)
    of = rows.tapped & (rows.milestone == LIGHT)
    assert sorted((rows.dose.before + rows.dose.after)[of].tolist()) == [50.0, 60.0]
