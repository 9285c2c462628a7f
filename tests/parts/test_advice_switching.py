"""Waiting for a look and switching to a backup, by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from ways_kit import TABLE, TOP, WISH, stage, state

from soapbench.advice import switching as module
from soapbench.advice.switching import (
    ABOUT,
    LOOK_S,
    LOOKED,
    LOOKS_APART,
    MOST_LOOKS,
    Switching,
    further,
)
from soapbench.advice.ways import SwirlChoice
from soapbench.outlook.finishing import Each
from soapbench.outlook.worth import Become
from soapbench.pour.state import PotState, PourState
from soapbench.settings import Risk
from soapbench.swirls.stage import Stage

N = 4
BACKUP = SwirlChoice(("layers",), 0.6, 5.0, 0.0, 0.60, Become.ANOTHER)
ON = SwirlChoice(WISH, 0.5, 5.0, 0.25, 0.25)


def switching_of(
    *scents: int, ends: tuple[float, ...] = (10.0, 20.0, 30.0, 40.0, 50.0), now: float = 0.0,
    pots: dict[str, PotState] | None = None,
) -> Switching:  # fmt: skip
    """Five stages that end when is said; fragrance goes in at those that are named, from 1."""
    ahead = tuple(
        Stage(f"s{i}", "work", "Work", ("p",), fragrance_into=("p",) if i in scents else ())
        for i in range(1, len(ends) + 1)
    )
    by_hand: Any = object.__new__(Switching)
    by_hand._state = PourState((), (), ahead, pots or {"p": PotState("p")}, begun=True)
    by_hand._at = SimpleNamespace(now=now, known=SimpleNamespace(risk=Risk.USUAL, swirls=TABLE),
                                  plan=None, ml={})  # fmt: skip
    by_hand.ends = list(ends)
    return by_hand  # type: ignore[no-any-return]


def test_the_numbers_waiting_goes_by_are_these() -> None:
    """All of them ours, judged: nine of ten look, and key within 20 s of it."""
    assert (ABOUT, LOOK_S, LOOKED, MOST_LOOKS, LOOKS_APART) == (0.05, 20.0, 0.9, 2, 0.5)


# ---------------------------------------------------------------- until when


def switch_by(now: float = 0.0, **worths: float | None) -> tuple[float, int]:
    """Worths once one … four stages are done, ``a`` … ``d``."""
    by_hand: Any = switching_of(now=now)
    given = dict(zip(range(1, 5), worths.values(), strict=True))

    def later(way: SwirlChoice, stages: int, move: str = "") -> np.ndarray | None:
        until = given[stages]
        return None if until is None else np.full(N, until)

    by_hand._begun_after = later
    until: tuple[float, int] = by_hand.switch_by(BACKUP)
    return until


def test_a_backup_waits_while_it_has_lost_less_than_five_hundredths(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert switch_by(a=0.6, b=0.6, c=0.6, d=0.6) == (40.0, 4)
    by, stages = switch_by(a=0.59, b=0.57, c=0.53, d=0.50)
    assert (by, stages) == (pytest.approx(20.0 + 10.0 * 0.02 / 0.04), 2)
    assert switch_by(a=0.59, b=0.57, c=None, d=None) == (20.0, 2), "the stage shuts it"
    assert switch_by(a=None, b=None, c=None, d=None) == (0.0, 0)
    assert switch_by(3.0, a=None, b=None, c=None, d=None) == (3.0, 0)
    by, stages = switch_by(4.0, a=0.40, b=0.3, c=0.2, d=0.1)
    assert (by, stages) == (pytest.approx(4.0 + 6.0 * 0.05 / 0.20), 0)
    assert switch_by(45.0, a=0.6, b=0.6, c=0.6, d=0.6) == (45.0, 4), "never in the past"
    monkeypatch.setattr(module, "ABOUT", 0.1)  # exactly met at .5
    assert switch_by(a=0.6 - 0.1, b=0.6 - 0.1, c=0.6 - 0.1, d=0.6 - 0.1)[1] == 4


def test_one_stage_ahead_leaves_nothing_to_wait_for() -> None:
    alone: Any = switching_of(ends=(10.0,), now=2.0)
    assert alone.switch_by(BACKUP) == (2.0, 0)


# ---------------------------------------------------------------- waiting


def moments(
    by_hand: Any, most: int, worth: float = 0.0, enough: float = np.inf
) -> tuple[list[int], float]:
    """After how many stages one may decide, as they are looked at."""
    asked: list[int] = []

    def deciding(way: SwirlChoice, going_on: SwirlChoice, stages: int) -> float:
        asked.append(stages)
        return worth + 0.25 * (len(asked) == 2)

    by_hand._deciding = deciding
    return asked, by_hand.waiting(BACKUP, ON, most, enough)


def test_one_may_decide_at_the_next_look_at_the_last_moment_or_between() -> None:
    """A look and a key take 20 s: of what ends by then the stage after it."""
    asked, best = moments(switching_of(), 5)
    assert (asked, best) == ([2, 5, 3], 0.25)
    assert moments(switching_of(ends=(10.0, 20.1, 30.0, 40.0, 50.0)), 5)[0] == [2, 5, 3]
    assert moments(switching_of(ends=(10.0, 19.9, 30.0, 40.0, 50.0)), 5)[0] == [3, 5, 4]
    assert moments(switching_of(ends=(25.0, 30.0, 35.0, 40.0, 50.0)), 5)[0] == [1, 5, 3]
    assert moments(switching_of(now=30.0), 1)[0] == [5], "no moment before the next look"
    assert moments(switching_of(), 2)[0] == [2]


def test_one_may_decide_after_the_next_two_fragrances() -> None:
    assert moments(switching_of(1, 2, 3, 4), 2)[0] == [2, 3], "the first has gone in by then"
    assert moments(switching_of(3, 4, 5), 2)[0] == [2, 3, 4]
    assert moments(switching_of(5), 2)[0] == [2, 5]
    assert moments(switching_of(1), 2)[0] == [2]


def test_it_is_looked_no_further_once_it_is_enough() -> None:
    assert moments(switching_of(4), 5, enough=0.25) == ([2, 5], 0.25)
    assert moments(switching_of(4), 5, enough=0.0) == ([2], 0.0)
    assert moments(switching_of(4), 5, enough=0.26) == ([2, 5, 3, 4], 0.25)


# ---------------------------------------------------------------- deciding

PLANNED = np.array([True, True, False, False])
IN_PART = np.array([True, True, True, False])


def run(by_hand: Any, thickness: dict[float, list[float]]) -> None:
    by_hand._going_on = Each(PLANNED, IN_PART, (), lambda t: np.array(thickness[t]))


def test_a_look_tells_half_states_apart_and_one_in_ten_does_not_look() -> None:
    """Going on is worth 1, 1, .7 and ruin, -.5; the backup .6 always. Two batters that look alike
    are decided alike."""
    by_hand: Any = switching_of()
    by_hand._begun_after = lambda way, stages, move="": np.full(N, 0.6)
    by_hand._unscented = lambda *_: ()
    on = np.array([1.0, 1.0, 0.7, Risk.USUAL.ruin])
    blind = max(on.mean(), 0.6)
    for tapped, looked in (
        ([0.0, 0.49, 1.0, 3.0], (1.0 + 1.0 + 0.7 + 0.6) / 4),
        ([0.0, 0.5, 2.5, 2.9], (1.0 + 1.0 + 2 * 0.6) / 4),
        ([0.0, 0.0, 0.0, 0.0], max(on.mean(), 0.6)),
        ([0.0, 0.4, 0.5, 0.9], (1.0 + 1.0 + 2 * 0.6) / 4),
    ):
        run(by_hand, {30.0: tapped})
        assert by_hand._deciding(BACKUP, ON, 3) == pytest.approx(0.9 * looked + 0.1 * blind)
    assert by_hand._deciding(BACKUP, ON, 6) == pytest.approx(on.mean())
    by_hand._begun_after = lambda way, stages, move="": None
    run(by_hand, {50.0: [0.0, 1.0, 2.0, 3.0]})
    assert by_hand._deciding(BACKUP, ON, 5) == pytest.approx(on.mean()), "it is shut by then"


def test_what_went_wrong_counts_in_every_draw() -> None:
    by_hand: Any = switching_of()
    run(by_hand, {})
    ruin = Risk.USUAL.ruin
    for chance, in_part, worths in (
        (0.5, 0.25, [1.0, 1.0, 0.7, ruin]),
        (0.0, 0.75, [0.7, 0.7, 0.7, ruin]),
        (0.0, 0.0, [ruin] * 4),
    ):
        on = replace(ON, chance=chance, chance_in_part=in_part)
        assert by_hand._worths(on) == pytest.approx(worths)
    by_hand._begun_after = lambda way, stages, move="": np.array([0.6, 0.8, 0.9, 0.6])
    saves, costs = by_hand.saves_and_costs(BACKUP, ON)
    assert saves == pytest.approx((0.2 + 0.6 - ruin) / 4)
    assert costs == pytest.approx((0.4 + 0.2) / 4)
    by_hand._begun_after = lambda way, stages, move="": None
    saves, costs = by_hand.saves_and_costs(BACKUP, ON)
    assert (saves, costs) == (pytest.approx((0.6 - ruin) / 4), pytest.approx((0.4 + 0.4 + 0.1) / 4))


def test_leaving_the_rest_unscented_is_weighed_for_both_ways() -> None:
    def offered(by_hand: Any, stages: int) -> list[tuple[object, ...]]:
        asked: list[tuple[object, ...]] = []
        by_hand._begun_after = lambda way, after, move="": asked.append((way, after, move))
        by_hand._unscented(BACKUP, ON, stages)
        return asked

    both = [(ON, 2, "rest unscented"), (BACKUP, 2, "rest unscented")]
    assert offered(switching_of(1, 3), 2) == both
    assert offered(switching_of(2, 3), 2) == both
    assert offered(switching_of(3, 4), 2) == [], "none has it by then"
    assert offered(switching_of(1, 2), 2) == [], "all have it"
    scented = {"p": PotState("p"), "q": PotState("q", fragrance_in=0.0)}
    assert offered(switching_of(3, pots=scented), 2) == both


# ---------------------------------------------------------------- begun later


def test_what_is_done_by_then_is_where_it_was_put() -> None:
    into_base = stage("turn in", "rope", puts="base")
    pour = stage("pour", "base", puts="mould")
    colour = stage("colour", "gull")
    start = state(into_base, colour, pour, TOP)
    assert further(start, ()) == start

    def where(*done: Stage) -> dict[str, str]:
        return {name: pot.where for name, pot in further(start, done).pots.items()}

    assert where(into_base) == {"base": "pot", "rope": "base", "gull": "pot"}
    assert where(into_base, colour) == where(into_base)
    assert where(into_base, colour, pour) == {"base": "mould", "rope": "mould", "gull": "pot"}
    later = further(start, (into_base, colour))
    assert later.ahead == (pour, TOP)
    assert [d.stage for d in later.done] == [into_base, colour]


def test_a_way_begun_later_is_run_after_what_is_done_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    by_hand: Any = switching_of(2)
    ran: list[tuple[Stage, ...]] = []
    rest = (stage("scent", "p", fragrance_into=("p",)), TOP)

    def each(ahead: tuple[Stage, ...]) -> Each:
        ran.append(ahead)
        return Each(PLANNED, IN_PART, (), lambda t: np.zeros(N))

    by_hand._at.each = each
    monkeypatch.setattr(module, "ahead_by", lambda *_: rest)
    monkeypatch.setattr(module, "can_begin", lambda *_: True)
    ahead, ruin = by_hand._state.ahead, Risk.USUAL.ruin
    assert by_hand._begun_after(ON, 2) == pytest.approx([1.0, 1.0, 0.7, ruin])
    assert ran == [(*ahead[:2], *rest)]
    assert by_hand._begun_after(BACKUP, 0) == pytest.approx([0.6, 0.6, 0.42, ruin])
    assert ran[1] == rest
    # In hand it stays: of what is to come there is no fragrance left to leave out.
    assert by_hand._begun_after(ON, 2, "rest unscented") is None
    first = (TOP, *rest)
    monkeypatch.setattr(module, "ahead_by", lambda *_: first)
    less = by_hand._begun_after(ON, 2, "rest unscented")
    assert less == pytest.approx([0.7, 0.7, 0.49, ruin]), "the wish with something left out"
    assert ran[-1] == (*ahead[:2], TOP, TOP)
    other = by_hand._begun_after(BACKUP, 2, "rest unscented")
    assert other == pytest.approx([0.6, 0.6, 0.42, ruin]), "another swirl is that anyhow"
    monkeypatch.setattr(module, "can_begin", lambda *_: False)
    assert by_hand._begun_after(ON, 2) is None
