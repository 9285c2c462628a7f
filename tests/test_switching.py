"""Until when a backup can be begun, and what waiting for a look is worth."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from soapbench.advice.advise import advise, judged
from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.advice.switching import Switching, further
from soapbench.advice.ways import SwirlChoice, ahead_by, ways_from
from soapbench.batter import Trace
from soapbench.desk.pourdesk import Desk
from soapbench.outlook.finishing import Each, finish
from soapbench.outlook.worth import Become
from soapbench.pour.state import PotState, PourState
from soapbench.recipe.amounts import pot_ml
from soapbench.settings import Risk
from soapbench.swirls.stage import Need, Stage
from soapbench.thickening.draws import Draws
from tests.desks import desk, moment, work
from tests.fakes import FakeClock
from tests.plans import sold_as


def test_a_backup_shut_by_the_next_pour_is_to_be_begun_before_it(
    known: Known, clock: FakeClock
) -> None:
    """In the pot has to be begun while the base is in its pot."""
    pour = desk(sold_as("unknown"), known, clock)
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


def test_begun_later_means_the_stages_until_then_are_run_first(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(sold_as("accelerates"), known, clock)
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
    pour = desk(sold_as("accelerates"), known, clock)
    work(pour, clock, "stir in fragrance/base")
    draws = Foreseen(pour.plan, known).draws.picked(np.zeros(50, dtype=np.intp))
    switching, other, on = switching_at(pour, known, draws)
    assert switching.waiting(other, on, 1) <= max(on.worth, other.worth) + 0.03


def test_before_the_first_fragrance_it_pays_to_decide_once_that_is_in(
    known: Known, clock: FakeClock
) -> None:
    """The rest can be left unscented then, and how fast it thickens can be seen."""
    pour = desk(sold_as("accelerates"), known, clock)
    work(pour, clock, "pour off/rope")
    switching, other, on = switching_at(pour, known, Foreseen(pour.plan, known, draws=1000).draws)
    assert other.worth > on.worth + 0.05, "else there is nothing to put off"
    assert switching.waiting(other, on, 1) > other.worth + 0.05
    assert not pour.advise().warning


def test_a_warning_is_for_something_better_now(known: Known, clock: FakeClock) -> None:
    pour = desk(sold_as("notorious"), known, clock)
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
        finished = finish((drop, *more), ONE, batter(), SURE)
        return finished.chance, finished.chance_in_part

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
    switching = object.__new__(Switching)
    switching._state = PourState((), (), HANDS, {"p": PotState("p")}, begun=True)
    known = SimpleNamespace(risk=Risk.USUAL)
    switching._at = SimpleNamespace(now=now, known=known)  # type: ignore[assignment]
    switching.ends = [10.0, 20.0, 30.0, 40.0, 50.0]

    def begun_after(way: SwirlChoice, stages: int, move: str = "") -> np.ndarray | None:
        worths = worth_after[stages]
        return None if worths is None else np.full(4, worths)

    switching._begun_after = begun_after  # type: ignore[method-assign]
    return switching


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
    switching = switching_by_hand({5: 0.6})
    planned = np.array([True, True, False, False])
    thick = np.array([0.0, 0.2, 3.0, 3.2])
    switching._going_on = Each(planned, planned, (), lambda t: thick)
    switching._unscented = lambda *_: ()  # type: ignore[method-assign]
    on = SwirlChoice(("drop swirl",), 0.5, 5.0, 0.0, 0.25)
    assert switching._deciding(BACKUP, on, 5) == pytest.approx(0.9 * 0.8 + 0.1 * 0.6)
    assert switching._deciding(BACKUP, on, 6) == pytest.approx(0.25), "nothing is left to decide"


def test_what_a_backup_saves_and_what_it_gives_up_by_hand() -> None:
    """Of four batters two come out going on, 1, and two are spoilt, -.5; the backup is worth .6."""
    switching = switching_by_hand({0: 0.6})
    fine = np.array([True, True, False, False])
    switching._going_on = Each(fine, fine, (), lambda t: t)
    on = SwirlChoice(("drop swirl",), 0.5, 5.0, 0.0, 0.25)
    saves, costs = switching.saves_and_costs(BACKUP, on)
    assert (saves, costs) == pytest.approx((2 * 1.1 / 4, 2 * 0.4 / 4))
    assert saves - costs == pytest.approx(BACKUP.worth - on.worth)
    riced = replace(on, chance=0.0, chance_in_part=0.5)  # counted in by what went wrong
    assert switching.saves_and_costs(BACKUP, riced) == pytest.approx((2 * 1.1 / 4, 2 * 0.1 / 4))
    lost = replace(on, chance=0.0)
    assert switching.saves_and_costs(BACKUP, lost) == pytest.approx((1.1, 0.0))


def test_a_warning_stands_until_something_is_seen_that_makes_it_less_sure(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(sold_as("accelerates"), known, clock)
    work(pour, clock, "stir in fragrance/rope", each_s=40)
    clock.passes(20)
    at = moment(pour, known, Foreseen(pour.plan, known).draws)
    first = advise(at)
    assert first.backup is not None
    assert first.backup.worth > first.going_on.worth + 0.1, "better, but far from sure"
    assert (first.warns, first.asks) == (False, True)
    stands = advise(at, "", replace(first, warns=True))
    assert stands.warns
    assert stands.asks, "a look may still tell that it is not needed"
    pour.look("rope")
    advice = advise(replace(at, state=pour.state), "", stands)
    assert advice.eyes == first.eyes + 1
    assert (advice.warns, advice.asks) == (False, True)


@pytest.mark.parametrize(
    ("stages", "already", "offered"),
    [(1, False, 2), (2, False, 2), (3, False, 0), (0, False, 0), (0, True, 2), (3, True, 0)],
)
def test_the_rest_can_go_unscented_once_some_is_scented_and_some_is_not(
    stages: int, already: bool, offered: int
) -> None:
    """Fragrance goes in at the first and at the third of five stages."""
    switching = switching_by_hand(dict.fromkeys(range(6), 0.5))
    if already:
        pots = {"p": PotState("p", fragrance_in=0.0)}
        switching._state = replace(switching._state, pots=pots)
    assert len(switching._unscented(BACKUP, BACKUP, stages)) == offered
