"""What is offered, warned of and held on to, at its bounds: by ways of given worths, no draw run.

Bounds are met exactly: worths are sixteenths, and margins are set to sixteenths where one is met.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from ways_kit import DROP, WISH, state

from soapbench.advice import advise as module
from soapbench.advice.advise import (
    CLEARLY,
    FAR,
    NO_DANGER,
    STEADY_S,
    SURE,
    THINNED,
    Advice,
    _helps,
    _in_danger,
    advice_of,
    advise,
    shown,
    steady,
)
from soapbench.advice.ways import NEAR, SwirlChoice, Way
from soapbench.batter import Tap, Trace
from soapbench.outlook.worth import Become
from soapbench.pour.state import PotState, PourState, TroubleSeen
from soapbench.troubles import Trouble

SIXTEENTH = 1 / 16


def way(
    name: str, worth: float, chance: float = 0.5, in_part: float = 0.0, become: Become = Become.WISH
) -> SwirlChoice:
    steps = WISH if name == "on" else (name,)
    return SwirlChoice(steps, chance, 5.0, in_part, worth, become)


ON = way("on", 0.25)


def advised(on: SwirlChoice, *others: SwirlChoice) -> Advice:
    return advice_of(sorted([on, *others], key=lambda one: -one.worth), WISH, "it thickens")


# ---------------------------------------------------------------- danger and backups


def test_the_numbers_advice_goes_by_are_these() -> None:
    """All of them ours, judged."""
    assert (THINNED, CLEARLY, STEADY_S, FAR, SURE, NO_DANGER, NEAR) == (
        4, 0.05, 8.0, 0.10, 12.0, 0.9, 0.03,
    )  # fmt: skip


@pytest.mark.parametrize("become", list(Become))
def test_going_on_is_in_danger_below_nine_tenths_of_what_it_could_be_worth(
    become: Become, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "NO_DANGER", 0.5)  # a half is exact
    bound = 0.5 * become.worth
    assert not _in_danger(way("on", bound, become=become))
    assert _in_danger(way("on", bound - 0.001, become=become))


def test_a_backup_is_worth_more_or_clearly_surer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CLEARLY", SIXTEENTH)
    on = way("on", 0.5, 0.25, 0.25)
    assert _helps(way("x", 0.51, 0.0, 0.0), on)
    assert not _helps(way("x", 0.5, 0.25, 0.25), on), "no more, and no surer"
    assert not _helps(way("x", 0.4, 0.25, 0.25 + SIXTEENTH), on)
    assert _helps(way("x", 0.4, 0.25, 0.26 + SIXTEENTH), on)
    assert _helps(way("x", 0.4, 0.26 + SIXTEENTH, 0.25), on)
    assert not _helps(way("x", 0.4, 0.9, 0.0), replace(on, chance=0.1, chance_in_part=0.85))


def test_a_backup_is_the_way_to_take_where_it_is_worth_three_hundredths_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(module, "NEAR", SIXTEENTH)
    for worth, better in ((0.25 + SIXTEENTH, False), (0.26 + SIXTEENTH, True)):
        advice = advised(ON, way("x", worth), way("y", 0.1))
        assert advice.backup == way("x", worth)
        assert advice.way == (advice.backup if better else ON)
        assert (advice.warns, advice.why) == (better, "it thickens")
    alone = advised(ON)
    assert (alone.way, alone.backup, alone.warns, alone.why) == (ON, None, False, "it thickens")
    safe = advised(replace(ON, worth=0.95), way("x", 0.99))
    assert (safe.way, safe.backup, safe.warns, safe.why) == (safe.going_on, None, False, "")
    assert (advice.chance, advice.worth) == (advice.way.chance, advice.way.worth)
    assert (advice.asks, advice.how, advice.rival, advice.switch_by_s) == (False, "", None, None)


# ---------------------------------------------------------------- what was offered stays

HELD = way("held", 0.5)


@pytest.fixture
def margins(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sixteenth is clearly better, two are far."""
    monkeypatch.setattr(module, "CLEARLY", SIXTEENTH)
    monkeypatch.setattr(module, "FAR", 2 * SIXTEENTH)


def before(backup: SwirlChoice | None = HELD, rival: tuple[Way, float] | None = None) -> Advice:
    return Advice(HELD, ON, backup, "", warns=False, rival=rival)


def offer(best: SwirlChoice, was: Advice | None, now: float = 100.0) -> Advice:
    ranked = sorted([ON, HELD, best], key=lambda one: -one.worth)
    return steady(advice_of(ranked, WISH, ""), ranked, was, now)


@pytest.mark.usefixtures("margins")
def test_another_has_to_be_clearly_better_for_eight_seconds_or_far_better() -> None:
    near, clear = way("x", 0.5 + SIXTEENTH), way("x", 0.51 + SIXTEENTH)
    far, farther = way("x", 0.5 + 2 * SIXTEENTH), way("x", 0.51 + 2 * SIXTEENTH)
    assert (offer(near, before()).backup, offer(near, before()).rival) == (HELD, None)
    for one in (clear, far):
        kept = offer(one, before())
        assert (kept.backup, kept.rival) == (HELD, (one.key, 100.0))
    assert offer(farther, before()).backup == farther
    since = before(rival=(clear.key, 92.0))
    assert offer(clear, since, 99.9).backup == HELD
    assert offer(clear, since, 99.9).rival == (clear.key, 92.0), "since then"
    assert offer(clear, since, 100.0).backup == clear
    other = before(rival=(way("y", 0.9).key, 0.0))
    assert offer(clear, other).rival == (clear.key, 100.0), "another rival: since now"


@pytest.mark.usefixtures("margins")
def test_nothing_is_held_on_to_that_was_not_offered_or_helps_no_more() -> None:
    clear = way("x", 0.51 + SIXTEENTH)
    assert offer(clear, None).backup == clear
    assert offer(clear, before(None)).backup == clear
    assert offer(clear, before(way("gone", 0.5))).backup == clear, "it cannot be begun any more"
    same = offer(HELD, before())
    assert (same.backup, same.rival) == (HELD, None)
    ranked = [clear, ON, replace(HELD, worth=0.1, chance=0.1)]
    assert steady(advice_of(ranked, WISH, ""), ranked, before(), 100.0).backup == clear
    safe = [replace(ON, worth=0.95), HELD]
    assert steady(advice_of(safe, WISH, ""), safe, before(), 100.0).backup is None


# ---------------------------------------------------------------- warned or asked


class Deciding:
    """In place of what is worked out draw by draw."""

    saves, costs, waits = 1.0, 0.0, 0.0
    asked: tuple[Any, ...] = ()

    def __init__(self, at: object) -> None:
        self.at = at

    def switch_by(self, way: SwirlChoice) -> tuple[float, int]:
        return 123.0, 4

    def saves_and_costs(self, way: SwirlChoice, going_on: SwirlChoice) -> tuple[float, float]:
        return self.saves, self.costs

    def waiting(self, way: SwirlChoice, going_on: SwirlChoice, most: int, enough: float) -> float:
        Deciding.asked = (way, going_on, most, enough)
        return self.waits


SEEN = state(DROP, base=PotState("base", taps=(Tap(9.0, Trace.LIGHT),), looks=(5.0, 7.0)))


@pytest.fixture
def given(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Advice where going on and the other ways are worth what is given."""

    def advice_of(
        *others: SwirlChoice, on: SwirlChoice = ON, was: Advice | None = None,
        of: PourState = SEEN, saves: float = 1.0, costs: float = 0.0, waits: float = 0.0,
    ) -> Advice:  # fmt: skip
        def every(at: object, going_on: SwirlChoice, offered: SwirlChoice | None) -> Any:
            assert going_on == on
            assert _in_danger(on), "else no other way is run: it is asked every second"
            assert offered == (was.backup if was and was.going_on.steps == WISH else None)
            return sorted([on, *others], key=lambda one: -one.worth)

        fake = type("Fake", (Deciding,), {"saves": saves, "costs": costs, "waits": waits})
        monkeypatch.setattr(module, "_judged", lambda at, way: on)
        monkeypatch.setattr(module, "judged", every)
        monkeypatch.setattr(module, "Switching", fake)
        at: Any = SimpleNamespace(state=of, now=100.0)
        return advise(at, "it thickens", was)

    return advice_of


BETTER = way("better", 0.75)


def test_in_no_danger_and_without_a_backup_nothing_is_worked_out(given: Any) -> None:
    safe = replace(ON, worth=0.95)
    assert given(BETTER, on=safe) == Advice(safe, safe, None, "", warns=False)
    assert given() == Advice(ON, ON, None, "it thickens", warns=False)


def test_it_is_warned_where_waiting_costs_something(given: Any) -> None:
    """A backup has about its worth while it has lost less than .05 (ours)."""
    advice = given(BETTER, waits=0.69)
    assert (advice.way, advice.backup, advice.going_on) == (BETTER, BETTER, ON)
    assert (advice.warns, advice.asks, advice.switch_by_s) == (True, True, 123.0)
    assert (advice.why, advice.eyes) == ("it thickens", 3)
    assert Deciding.asked == (BETTER, ON, 4, pytest.approx(0.70))
    least = 0.75 - 0.05
    waited = given(BETTER, waits=least)
    assert (waited.way, waited.warns, waited.asks) == (BETTER, False, True)


def test_what_saves_twelve_times_what_it_costs_is_worth_a_warning(given: Any) -> None:
    for saves, costs, warns in ((0.75, 0.0625, False), (0.76, 0.0625, True), (0.0, 0.0, False)):
        assert given(BETTER, saves=saves, costs=costs).warns is warns


def test_what_is_hardly_better_is_offered_and_not_taken(given: Any) -> None:
    near = way("near", 0.25 + 0.5 * NEAR)
    advice = given(near)
    assert (advice.way, advice.backup, advice.warns, advice.asks) == (ON, near, False, False)


def test_what_a_trouble_has_spoilt_is_not_waited_for(given: Any) -> None:
    lost = replace(ON, chance=0.0, chance_in_part=0.0)
    trouble = replace(SEEN, troubles=(TroubleSeen(60.0, None, Trouble.RICING),))
    assert given(BETTER, on=lost, of=trouble, waits=9.0).warns
    assert not given(BETTER, on=lost, waits=9.0).warns, "only foreseen"
    for chance, in_part in ((0.1, 0.0), (0.0, 0.1), (0.1, 0.1)):
        some = replace(ON, chance=chance, chance_in_part=in_part)
        assert not given(BETTER, on=some, of=trouble, waits=9.0).warns


def warned(eyes: int = 3, **more: object) -> Advice:
    return replace(Advice(BETTER, ON, BETTER, "", warns=True, eyes=eyes), **more)  # type: ignore[arg-type]


def test_a_warning_stands_until_something_new_is_seen(given: Any) -> None:
    stands = given(BETTER, was=warned(), saves=0.0, costs=1.0, waits=9.0)
    assert (stands.warns, stands.asks) == (True, True)
    hardly = way("better", 0.25 + 0.5 * NEAR)
    assert given(hardly, was=warned(), waits=9.0).warns, "as long as it is better at all"
    assert not given(way("better", 0.25, 0.9), was=warned()).warns
    # Something was seen since: it is weighed anew, and not waited for once more.
    assert not given(BETTER, was=warned(2), saves=0.0, costs=1.0).warns
    assert given(BETTER, was=warned(2), waits=9.0).warns
    # A warning of another way, the pour having been changed since, is none.
    other = warned(going_on=replace(ON, steps=("layers",)))
    assert not given(BETTER, was=other, waits=9.0).warns


def test_before_anything_is_seen_what_was_said_first_stands(given: Any) -> None:
    fresh = state(DROP)
    going = Advice(ON, ON, None, "", warns=False)
    first = given(BETTER, was=going, of=fresh)
    assert (first.way, first.backup, first.warns) == (ON, None, False)
    offered = replace(going, backup=BETTER)
    second = given(BETTER, was=offered, of=fresh)
    assert (second.way, second.backup, second.warns, second.asks) == (ON, BETTER, False, False)
    assert given(BETTER, was=going).way == BETTER, "a look has shown something"
    taken = replace(going, way=BETTER, backup=BETTER)
    assert given(BETTER, was=taken, of=fresh).way == BETTER
    assert given(BETTER, of=fresh).way == BETTER, "nothing was said before"


def test_a_look_a_tap_fragrance_or_a_trouble_shows_something() -> None:
    assert not shown(state(DROP))
    for pot in (PotState("rope", taps=(Tap(1.0, Trace.LIGHT),)), PotState("rope", looks=(1.0,)),
                PotState("rope", fragrance_in=0.0)):  # fmt: skip
        assert shown(state(DROP, rope=pot))
    assert shown(replace(state(DROP), troubles=(TroubleSeen(1.0, None, Trouble.RICING),)))
