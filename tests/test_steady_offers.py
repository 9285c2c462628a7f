"""Steady offers, one voice of sheet and pour, and what is worth more than what."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from soapbench.advice.advise import Advice, Live, advice_of, judged, steady
from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.advice.ways import SwirlChoice, ahead_by, becomes, best_first, still_open, ways_from
from soapbench.batter import Trace
from soapbench.bench.tables import cautions
from soapbench.outlook.worth import Become, worth, worths
from soapbench.pour.state import opening
from soapbench.recipe.amounts import pot_ml
from soapbench.settings import Risk
from soapbench.sheet.plansheet import plan_sheet
from tests.desks import desk, moment, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import THREE_POTS, plan, sample, sold_as

PLANS = {path.stem: sample(path) for path in sorted(SAMPLES.glob("*.toml"))} | {
    word: sold_as(word) for word in ("well behaved", "unknown", "accelerates", "notorious")
}


@pytest.mark.parametrize("name", PLANS)
def test_what_the_sheet_advises_is_not_warned_against_when_the_pour_begins(
    known: Known, clock: FakeClock, name: str
) -> None:
    sheet = plan_sheet(PLANS[name], known, cautions(), levers=False)
    assert sheet.advice is not None
    steps = sheet.advice.way.steps
    advised = replace(PLANS[name], swirl=replace(PLANS[name].swirl, steps=steps))
    pour = desk(advised, known, clock)
    pour.lye_meets_oils()
    clock.passes(1)
    live = pour.advise()
    assert live.warning == ""
    assert live.advice is not None
    assert live.advice.way.steps == steps
    assert live.outlook.chance == pytest.approx(sheet.advice.way.chance, abs=0.03)


@pytest.mark.parametrize("name", PLANS)
def test_a_plan_poured_against_the_sheet_hears_the_same_from_the_pour(
    known: Known, clock: FakeClock, name: str
) -> None:
    sheet = plan_sheet(PLANS[name], known, cautions(), levers=False)
    pour = desk(PLANS[name], known, clock)
    pour.lye_meets_oils()
    clock.passes(1)
    live = pour.advise()
    assert sheet.advice is not None
    assert live.advice is not None
    assert live.advice.way.become is sheet.advice.way.become
    assert live.advice.way.worth == pytest.approx(sheet.advice.way.worth, abs=0.03)


def offers(known: Known, clock: FakeClock, reputation: str, every: float = 5.0) -> list[Live]:
    """What is shown, look by look, of a pour that keeps its pace, until the base is poured."""
    pour = desk(plan(THREE_POTS.replace('"accelerates"', f'"{reputation}"')), known, clock)
    pour.lye_meets_oils()
    shown = []
    while (stage := pour.state.stage) and not stage.step:
        for _ in range(max(1, round(stage.median_s / every))):
            clock.passes(every)
            pour.heed(pour.advise())
            assert pour.live is not None
            shown.append(pour.live)
        pour.stage_done()
    return shown


@pytest.mark.parametrize("reputation", ["accelerates", "notorious"])
def test_what_is_offered_stays(known: Known, clock: FakeClock, reputation: str) -> None:
    names = [live.rescue.name if live.rescue else "" for live in offers(known, clock, reputation)]
    changes = sum(a != b for a, b in pairwise(names))
    assert changes <= 2, names


def test_a_plan_poured_against_the_sheet_is_warned_of_when_waiting_costs_something(
    known: Known, clock: FakeClock
) -> None:
    """Not as lye meets oils: a backup that can be begun as well in ten minutes waits until the
    fragrance has shown what it does."""
    pour = desk(PLANS["notorious"], known, clock)
    pour.lye_meets_oils()
    while (stage := pour.state.stage) and stage.id != "stir in fragrance/gull":
        clock.passes(stage.median_s)
        live = pour.advise()
        pour.heed(live)
        assert live.warning == ""
        assert live.advice is not None
        assert live.advice.way == live.advice.backup, "said from the start, as on the sheet"
        assert live.advice.asks
        pour.stage_done()
    for pot in ("rope", "rope", "gull", "gull"):  # twice where it is asked once more
        clock.passes(5)
        pour.trace_seen(pot, Trace.MEDIUM)
    asked = 0
    while not (live := pour.advise()).warning:
        pour.heed(live)
        assert pour.state.stage is not None, "never warned"
        clock.passes(5)
        asked += 1
        if asked % 4 == 0:
            pour.stage_done()
    assert live.advice is not None
    assert live.advice.switch_by_s is not None
    assert 10 < live.advice.switch_by_s - live.now < 60, "in time, and not long before"


def test_until_when_runs_down_by_the_clock(known: Known, clock: FakeClock) -> None:
    shown = offers(known, clock, "notorious")
    until = [live.advice.switch_by_s for live in shown if live.advice and live.rescue]
    assert len(until) > 10
    assert all(by is not None for by in until)
    left = [by - live.now for by, live in zip(until, shown, strict=False) if by is not None]
    assert left[-1] < left[0]
    assert max(b - a for a, b in pairwise(left)) < 45, "no jumps up"


@pytest.mark.parametrize("until", ["emulsify", "stir in fragrance/gull", "stir in fragrance/base"])
def test_ways_that_are_not_run_would_not_have_come_first(
    known: Known, clock: FakeClock, until: str
) -> None:
    pour = desk(PLANS["accelerates"], known, clock)
    work(pour, clock, until, each_s=40)
    at = moment(pour, known, Foreseen(pour.plan, known, draws=400).draws)
    every = judged(at)
    on = next(way for way in every if way.key == (pour.state.steps, ()))
    likely = judged(at, going_on=on)
    assert len(likely) < len(every)
    assert advice_of(likely, pour.state.steps, "") == advice_of(every, pour.state.steps, "")
    worst = every[-1]
    assert worst in judged(at, going_on=on, offered=worst), "what was offered is judged still"


@pytest.mark.parametrize(
    ("better_by", "seconds", "stays"),
    [(0.04, 60.0, True), (0.08, 2.0, True), (0.08, 20.0, False), (0.12, 0.0, False)],
    ids=["nearly equal", "better, not yet long", "better for long", "far better, at once"],
)
def test_an_offer_stays_but_never_one_that_is_far_worse(
    better_by: float, seconds: float, stays: bool
) -> None:
    """A rule of ours: steadiness is for near equals; a key never does far worse than it could."""

    def way(name: str, mean: float, become: Become) -> SwirlChoice:
        return SwirlChoice((name,), mean, 5.0, 0.0, mean, become)

    on = way("drop swirl", 0.1, Become.WISH)
    offered = way("in-the-pot swirl", 0.4, Become.ANOTHER)
    other = way("wall pour", 0.4 + better_by, Become.ANOTHER)
    shown, new = Advice(on, on, offered, "", False), Advice(on, on, other, "", False)
    for now in (10.0, 10.0 + seconds):
        shown = steady(new, [other, offered, on], shown, now)
    assert shown.backup == (offered if stays else other)


def test_no_danger_that_nothing_has_shown_is_warned_of(known: Known, clock: FakeClock) -> None:
    """Hands so slow that the wish is lost by the clock alone: the sheet did not say so, and no
    look and no fragrance has shown it."""
    pour = desk(plan(THREE_POTS.replace('"accelerates"', '"unknown"')), known, clock)
    pour.lye_meets_oils()
    clock.passes(1)
    pour.heed(pour.advise())
    assert pour.live is not None
    assert pour.live.advice is not None
    assert pour.live.advice.way == pour.live.advice.going_on
    clock.passes(600)
    pour.heed(pour.advise())
    assert pour.live.advice.way == pour.live.advice.going_on
    assert pour.live.warning == ""
    pour.trace_seen("base", Trace.MEDIUM)
    clock.passes(1)
    pour.trace_seen("base", Trace.MEDIUM)
    pour.heed(pour.advise())
    assert pour.live.rescue is not None, "a look has shown it"


def test_nothing_is_offered_whose_window_a_tap_has_shut(known: Known, clock: FakeClock) -> None:
    rng = np.random.default_rng(4)
    for _ in range(6):
        pour = desk(PLANS["accelerates"], known, clock)
        work(pour, clock, "stir in fragrance/gull", each_s=float(rng.uniform(15, 40)))
        for _ in range(5):
            pot = str(rng.choice(list(pour.state.pots)))
            state = max(pour.state.pots[pot].trace, Trace(int(rng.integers(0, 5))))
            clock.passes(float(rng.uniform(1, 15)))
            pour.trace_seen(pot, state)
            clock.passes(1)
            pour.trace_seen(pot, state)  # where it was asked once more
            live = pour.advise()
            pour.heed(live)
            if live.rescue is None:
                continue
            ahead = ahead_by(
                live.rescue.steps, pour.plan, pot_ml(pour.amounts), pour.state, known.swirls
            )
            assert still_open(ahead, pour.state), live.rescue.name


def test_the_hanger_that_saves_an_unsunk_drop_is_not_dropped_first(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(PLANS["well behaved"], known, clock)
    work(pour, clock, "drop an accent/rope")
    for _ in range(2):
        clock.passes(1)
        pour.trace_seen("base", Trace.MEDIUM)
    table = known.swirls
    without = becomes(("drop swirl",), pour.plan, pour.state, table)
    assert without is Become.LESS, "nothing lies on top yet"
    work(pour, clock, "hanger")
    assert becomes((), pour.plan, pour.state, table) is Become.SAVED
    live = pour.advise()
    assert live.advice is not None
    assert live.advice.way.steps == ("drop swirl", "hanger swirl")
    assert live.warning == ""


def test_hot_process_is_never_first_for_a_batch_in_no_danger(known: Known) -> None:
    for name, of in PLANS.items():
        sheet = plan_sheet(of, known, cautions(), levers=False)
        assert sheet.outlook is not None
        if sheet.outlook.chance > 0.5:
            assert sheet.choices[0].name != "hot process", name
        saved = [c.name for c in sheet.choices if c.become is Become.SAVED]
        assert saved.index("hot process") == len(saved) - 1, "last among equals"


def test_of_near_equals_the_wish_comes_first_and_what_is_cooked_last(known: Known) -> None:
    of = plan(THREE_POTS + 'fall_back = ["wall pour"]\n')
    state = opening(of, {pot.name: 300.0 for pot in of.pots}, known.swirls)
    assert state.steps == tuple(of.swirl.steps)

    def way(name: str, mean: float, become: Become) -> SwirlChoice:
        return SwirlChoice((name,), mean, 5.0, 0.0, mean, become)

    ranked = best_first(
        [
            way("hot process", 0.52, Become.SAVED),
            way("spoon swirl", 0.51, Become.SAVED),
            way("layers", 0.53, Become.ANOTHER),
            way("wall pour", 0.51, Become.ANOTHER),
            way("drop swirl", 0.40, Become.LESS),
        ],
        of,
        known.swirls,
    )
    names = [w.name for w in ranked]
    assert names == ["wall pour", "layers", "spoon swirl", "hot process", "drop swirl"]


def liked(steps: str, become: Become, minutes: float = 5.0, *moves: str) -> SwirlChoice:
    names = tuple(steps.split(" + "))
    return SwirlChoice(names, 0.5, minutes, 0.0, 0.5, become, moves)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (liked("drop swirl + hanger swirl", Become.WISH, 9.0), liked("wall pour", Become.ANOTHER)),
        (liked("wall pour", Become.ANOTHER, 9.0), liked("drop swirl", Become.LESS)),
        (liked("drop swirl", Become.LESS, 9.0), liked("layers", Become.ANOTHER)),
        (liked("layers", Become.ANOTHER, 9.0), liked("spoon swirl", Become.SAVED)),
        (liked("spoon swirl", Become.SAVED, 9.0), liked("plain pour", Become.SAVED)),
        (liked("plain pour", Become.SAVED, 9.0), liked("hot process", Become.SAVED)),
        (liked("drop swirl + textured top", Become.LESS, 9.0), liked("drop swirl", Become.LESS)),
        (liked("drop swirl", Become.LESS, 9.0), liked("drop swirl", Become.LESS, 5.0, "no top")),
        (liked("layers", Become.ANOTHER, 5.0), liked("column pour", Become.ANOTHER, 9.0)),
    ],
    ids=[
        "its own before a wish for danger", "that before its own with less",
        "its own with less before another", "another before only saved",
        "saved with its colours apart before one colour", "anything before a cook",
        "most kept", "least moved", "quickest",
    ],
)  # fmt: skip
def test_of_equal_worth_the_most_liked_comes_first(
    first: SwirlChoice, second: SwirlChoice, known: Known
) -> None:
    # A ranking of ours: each of its steps by a pair that differs in it and is quicker last.
    of = plan(THREE_POTS + 'fall_back = ["wall pour"]\n')
    for ways in ([first, second], [second, first]):
        assert best_first(ways, of, known.swirls) == [first, second]
    better = replace(second, worth=first.worth + 0.04)
    assert best_first([first, better], of, known.swirls) == [better, first], "worth comes first"


def test_pours_that_suit_so_many_pots_are_looked_at_first(known: Known) -> None:
    of = plan()
    state = opening(of, {pot.name: 300.0 for pot in of.pots}, known.swirls)
    pours = [known.swirls.kinds[way[0]] for way in ways_from(of, state, known.swirls)]
    too_few = [len(of.pots) > kind.most_pots for kind in pours]
    assert any(too_few)
    assert too_few == sorted(too_few)


# ---------------------------------------------------------------- worth


@pytest.mark.parametrize(
    ("risk", "become", "expected"),
    [
        (Risk.USUAL, Become.WISH, 0.5 + 0.7 * 0.3 - 0.5 * 0.2),
        (Risk.BOLD, Become.WISH, 0.5 + 0.7 * 0.3),
        (Risk.CAREFUL, Become.WISH, 0.5 + 0.7 * 0.3 - 0.2),
        (Risk.USUAL, Become.ANOTHER, 0.6 * 0.5 + 0.6 * 0.7 * 0.3 - 0.5 * 0.2),
        (Risk.USUAL, Become.SAVED, 0.3 * 0.8 - 0.5 * 0.2),
    ],
)
def test_worth_by_hand(risk: Risk, become: Become, expected: float) -> None:
    assert worth(become, 0.5, 0.3, risk) == pytest.approx(expected)
    planned = np.arange(10) < 5
    in_part = np.arange(10) < 8
    assert worths(become, planned, in_part, risk).mean() == pytest.approx(expected)
