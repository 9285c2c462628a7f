"""Steady offers, one voice of sheet and pour, and until when a backup can be begun."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from soapbench.advice.advise import Advice, Live, advice_of, advise, judged, steady
from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.advice.moment import Moment
from soapbench.advice.switching import Switching, further
from soapbench.advice.ways import SwirlChoice, ahead_by, becomes, best_first, still_open, ways_from
from soapbench.batter import Trace
from soapbench.bench.tables import cautions
from soapbench.desk.pourdesk import Desk
from soapbench.outlook.finishing import Each, finish
from soapbench.outlook.worth import Become, worth, worths
from soapbench.pour.state import PotState, PourState, opening
from soapbench.recipe.amounts import pot_ml
from soapbench.settings import Risk
from soapbench.sheet.plansheet import plan_sheet
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import THREE_POTS, plan, sample

PLANS = {path.stem: sample(path) for path in sorted(SAMPLES.glob("*.toml"))} | {
    said: plan(THREE_POTS.replace('"accelerates"', f'"{said}"'))
    for said in ("well behaved", "unknown", "accelerates", "notorious")
}


def moment(pour: Desk, known: Known, draws: Draws) -> Moment:
    return Moment(pour.plan, pot_ml(pour.amounts), known, pour.state, draws, pour.now())


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
    shown, found = Advice(on, on, offered, "", False), Advice(on, on, other, "", False)
    for now in (10.0, 10.0 + seconds):
        shown = steady(found, [other, offered, on], shown, now)
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


# ---------------------------------------------------------------- until when


def test_a_backup_shut_by_the_next_pour_is_to_be_begun_before_it(
    known: Known, clock: FakeClock
) -> None:
    """In the pot has to be begun while the base is in its pot."""
    pour = desk(PLANS["unknown"], known, clock)
    work(pour, clock, "stir in fragrance/base")
    clock.passes(1)
    live = pour.advise()
    at = moment(pour, known, Foreseen(pour.plan, known).draws)
    in_the_pot = next(way for way in judged(at) if way.name == "in-the-pot swirl")
    switching = Switching(at)
    by, done_before = switching.switch_by(in_the_pot)
    poured = next(i for i, stage in enumerate(pour.state.ahead) if stage.puts == "mould")
    assert done_before <= poured
    assert live.now <= by <= switching.ends[poured - 1] + 1e-6


def test_until_when_runs_down_by_the_clock(known: Known, clock: FakeClock) -> None:
    shown = offers(known, clock, "notorious")
    told = [live.advice.switch_by_s for live in shown if live.advice and live.rescue]
    assert len(told) > 10
    assert all(by is not None for by in told)
    left = [by - live.now for by, live in zip(told, shown, strict=False) if by is not None]
    assert left[-1] < left[0]
    assert max(b - a for a, b in pairwise(left)) < 45, "no jumps up"


def test_begun_later_means_the_stages_until_then_are_run_first(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(PLANS["accelerates"], known, clock)
    pour.lye_meets_oils()
    ml, table = pot_ml(pour.amounts), known.swirls
    first = pour.state.ahead[:5]
    later = further(pour.state, first)
    assert later.ahead == pour.state.ahead[5:]
    stages = (*first, *ahead_by(("in-the-pot swirl",), pour.plan, ml, later, table))
    at_once = ahead_by(("in-the-pot swirl",), pour.plan, ml, pour.state, table)
    assert [s.id for s in stages] == [s.id for s in at_once], "only the pouring differs"
    everything = further(pour.state, pour.state.ahead)
    assert set(everything.in_mould) == {"base", "rope", "gull"}
    cooked = [("hot process",)]
    assert ways_from(pour.plan, everything, table) == cooked, "nothing else is left to do"


def switching_at(
    pour: Desk, known: Known, draws: Draws
) -> tuple[Switching, SwirlChoice, SwirlChoice]:
    """What deciding later is worth to ``pour`` now, the in-the-pot swirl, and going on."""
    at = moment(pour, known, draws)
    ways = judged(at)
    on = next(way for way in ways if way.key == (pour.state.steps, ()))
    other = next(way for way in ways if way.name == "in-the-pot swirl")
    return Switching(at), other, on


def test_waiting_for_a_look_that_tells_nothing_is_worth_no_more_than_deciding_now(
    known: Known, clock: FakeClock
) -> None:
    """With one draw there is nothing to learn: waiting gives the better of both, as begun then."""
    pour = desk(PLANS["accelerates"], known, clock)
    work(pour, clock, "stir in fragrance/base")
    draws = Foreseen(pour.plan, known).draws.picked(np.zeros(50, dtype=np.intp))
    switching, other, on = switching_at(pour, known, draws)
    assert switching.waiting(other, on, 1) <= max(on.worth, other.worth) + 0.03


def test_before_the_first_fragrance_it_pays_to_decide_once_that_is_in(
    known: Known, clock: FakeClock
) -> None:
    """The rest can be left unscented then, and how fast it thickens can be seen."""
    pour = desk(PLANS["accelerates"], known, clock)
    work(pour, clock, "pour off/rope")
    switching, other, on = switching_at(pour, known, Foreseen(pour.plan, known, draws=1000).draws)
    assert other.worth > on.worth + 0.05, "else there is nothing to put off"
    assert switching.waiting(other, on, 1) > other.worth + 0.05
    assert not pour.advise().warning


def test_a_warning_is_for_something_better_now(known: Known, clock: FakeClock) -> None:
    pour = desk(PLANS["notorious"], known, clock)
    work(pour, clock, "stir in fragrance/base", each_s=40)
    for pot, state in (("rope", Trace.MEDIUM), ("gull", Trace.LIGHT), ("base", Trace.LIGHT)):
        for _ in range(2):
            clock.passes(1)
            pour.trace_seen(pot, state)
    live = pour.advise()
    assert live.advice is not None
    if live.warning:
        assert live.rescue is not None
        assert live.rescue.worth > live.advice.going_on.worth
        assert live.advice.way == live.rescue
    again = advise(moment(pour, known, Foreseen(pour.plan, known).draws))
    assert again.way in (again.going_on, again.backup)


# ---------------------------------------------------------------- three outcomes


def test_three_outcomes_of_a_drop_with_and_without_a_hanger(known: Known) -> None:
    """A batter light at 100 s, medium at 150, thick at 200; a drop that ends at a known moment."""
    from tests.test_outlook import ONE, SURE, N, batter

    def ends(at: float, *more: Stage) -> tuple[float, float]:
        limits = Need(
            ("p",), Trace.EMULSION, Trace.EMULSION, Trace.LIGHT, (Trace.LIGHT, Trace.THICK)
        )
        drop = Stage("d", "pour", "d", ("p",), at, 1e-6, (limits,), puts="mould", step="drop swirl")
        found = finish((drop, *more), ONE, batter(), SURE)
        return found.chance, found.chance_in_part

    assert N > 0
    assert ends(90) == (1.0, 0.0)
    assert ends(120) == (0.0, 1.0), "half way"
    assert ends(160) == (0.0, 0.0), "on top"
    wire_needs = (Need(("p",), Trace.EMULSION, Trace.MEDIUM, Trace.THICK),)
    wire = Stage(
        "w", "tool", "w", ("p",), 5.0, 1e-6, wire_needs, step="hanger swirl", draws_down=True
    )
    assert ends(120, wire) == (1.0, 0.0)
    assert ends(160, wire) == (0.0, 1.0), "the hanger draws down what lies on top"
    late = replace(wire, median_s=400.0)
    assert ends(120, late) == (0.0, 1.0), "a hanger that cannot be drawn is left out"
    assert ends(160, late) == (0.0, 0.0)


# ---------------------------------------------------------------- by hand, no draw run

HANDS = tuple(
    Stage(f"s{i}", "work", "Work", ("p",), fragrance_into=("p",) if i in (0, 2) else ())
    for i in range(5)
)


def switching_by_hand(worth_after: dict[int, float | None], now: float = 0.0) -> Switching:
    """Five stages that end at 10, 20 … 50 s; what a backup is worth once so many are done."""
    made = object.__new__(Switching)
    made._state = PourState((), (), HANDS, {"p": PotState("p")}, begun=True)
    known = SimpleNamespace(risk=Risk.USUAL)
    made._at = SimpleNamespace(now=now, known=known)  # type: ignore[assignment]
    made.ends = [10.0, 20.0, 30.0, 40.0, 50.0]

    def begun_after(way: SwirlChoice, stages: int, move: str = "") -> np.ndarray | None:
        found = worth_after[stages]
        return None if found is None else np.full(4, found)

    made._begun_after = begun_after  # type: ignore[method-assign]
    return made


BACKUP = SwirlChoice(("layers",), 0.6, 5.0, 0.0, 0.60, Become.ANOTHER)


def test_a_backup_that_loses_its_worth_within_a_stage_can_wait_for_part_of_it() -> None:
    """.60 now, less than .05 of it may be lost: of the .06 that the fourth stage costs, .01."""
    falling: dict[int, float | None] = {1: 0.60, 2: 0.58, 3: 0.56, 4: 0.50}
    by, stages = switching_by_hand(falling).switch_by(BACKUP)
    assert (by, stages) == (pytest.approx(30.0 + 10.0 / 6), 3)
    at_once = switching_by_hand({1: 0.50, 2: 0.40, 3: 0.3, 4: 0.2}).switch_by(BACKUP)
    assert at_once == (pytest.approx(0.0 + 10.0 * 0.5), 0)
    late = switching_by_hand({1: 0.50, 2: 0.40, 3: 0.3, 4: 0.2}, now=7.0).switch_by(BACKUP)
    assert late == (pytest.approx(7.0 + 3.0 * 0.5), 0)


def test_a_backup_that_a_stage_shuts_is_begun_before_it() -> None:
    shut: dict[int, float | None] = {1: 0.60, 2: 0.58, 3: None, 4: None}
    assert switching_by_hand(shut).switch_by(BACKUP) == (20.0, 2)
    never = switching_by_hand({1: 0.6, 2: 0.6, 3: 0.6, 4: 0.6}).switch_by(BACKUP)
    assert never == (40.0, 4), "before the last, after which nothing is left"


def test_deciding_after_a_look_takes_the_better_way_for_what_is_seen() -> None:
    """Of four batters two are thin and come out going on, two are thick and are spoilt, -.5; the
    backup is worth .6 in each: (2 + 1.2) / 4 with a look, .6 without; nine of ten look."""
    made = switching_by_hand({5: 0.6})
    planned = np.array([True, True, False, False])
    thick = np.array([0.0, 0.2, 3.0, 3.2])
    made._going_on = Each(planned, planned, (), lambda t: thick)
    made._unscented = lambda *_: ()  # type: ignore[method-assign]
    on = SwirlChoice(("drop swirl",), 0.5, 5.0, 0.0, 0.25)
    assert made._deciding(BACKUP, on, 5) == pytest.approx(0.9 * 0.8 + 0.1 * 0.6)
    assert made._deciding(BACKUP, on, 6) == pytest.approx(0.25), "nothing is left to decide"


@pytest.mark.parametrize(
    ("stages", "already", "offered"),
    [(1, False, 2), (2, False, 2), (3, False, 0), (0, False, 0), (0, True, 2), (3, True, 0)],
)
def test_the_rest_can_go_unscented_once_some_is_scented_and_some_is_not(
    stages: int, already: bool, offered: int
) -> None:
    """Fragrance goes in at the first and at the third of five stages."""
    made = switching_by_hand(dict.fromkeys(range(6), 0.5))
    if already:
        pots = {"p": PotState("p", fragrance_in=0.0)}
        made._state = replace(made._state, pots=pots)
    assert len(made._unscented(BACKUP, BACKUP, stages)) == offered
