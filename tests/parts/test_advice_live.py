"""Which ways are run at all, and what a live answer is made of."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from parts_kit import NONE
from ways_kit import DROP, TABLE, WIRE, WISH, state, wishing

from soapbench.advice import advise as advising
from soapbench.advice.advise import Advice, Live, judged, live_advice
from soapbench.advice.known import Known
from soapbench.advice.ways import SwirlChoice
from soapbench.outlook.worth import Become
from tests.desks import desk, work
from tests.fakes import FakeClock
from tests.plans import plan

BACKUP = SwirlChoice(("layers",), 0.6, 5.0, 0.0, 0.60, Become.ANOTHER)
ON = SwirlChoice(WISH, 0.5, 5.0, 0.25, 0.25)


def test_what_could_not_come_near_the_best_is_not_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """The wish with something left out can be worth .7, another swirl .6, one that saves .3."""
    run_: list[tuple[tuple[str, ...], tuple[str, ...]]] = []
    worth: dict[tuple[str, ...], float] = {}

    def one(at: object, way: Any) -> SwirlChoice | None:
        run_.append(way)
        if way[0] == ("ombré",):
            return None
        return SwirlChoice(way[0], 0.5, 5.0, 0.0, worth.get(way[0], 0.1), moves=way[1])

    ways = [("spoon swirl",), ("layers",), ("ombré",), ("drop swirl",)]
    monkeypatch.setattr(advising, "_judged", one)
    monkeypatch.setattr(advising, "moves_from", lambda state: [(WISH, ("low and close",))])
    monkeypatch.setattr(advising, "ways_from", lambda *_: ways)
    monkeypatch.setattr(advising, "NEAR", 0.0625)
    at: Any = SimpleNamespace(plan=wishing(), state=state(DROP, WIRE),
                              known=SimpleNamespace(swirls=TABLE))  # fmt: skip

    def tried(*given: SwirlChoice | None) -> list[tuple[str, ...]]:
        run_.clear()
        ranked = judged(at, *given)
        assert len(ranked) == len(run_) + bool(given and given[0]) - (
            (("ombré",), ()) in run_
        )  # fmt: skip
        return [way[0] if not way[1] else way[1] for way in run_]

    every = [("low and close",), ("drop swirl",), ("layers",), ("ombré",), ("spoon swirl",)]
    assert tried() == [WISH, *every]
    on = SwirlChoice(WISH, 0.5, 5.0, 0.0, 0.2)
    assert tried(on) == every, "going on is judged already; nothing else is worth much"
    worth[("drop swirl",)] = 0.5
    assert tried(on) == every[:4], "no soap that is only saved comes near .4375"
    worth[("drop swirl",)] = 0.6625
    assert tried(on) == every[:4], "another swirl could just come near"
    worth[("drop swirl",)] = 0.67
    assert tried(on) == every[:2]
    saved = SwirlChoice(("spoon swirl",), 0.5, 5.0, 0.0, 0.1)
    assert tried(on, saved) == [*every[:2], ("spoon swirl",)], "it was offered before"
    worth[("drop swirl",)] = 0.2
    assert tried(replace(on, chance=0.9)) == every, "it helps nobody"


# ---------------------------------------------------------------- a live answer


def live(advice: Advice | None) -> Live:
    return Live(0.0, NONE, {}, advice, state(DROP))


def test_a_live_answer_warns_in_words_and_names_the_rescue() -> None:
    warns = Advice(BACKUP, ON, BACKUP, "it thickens", warns=True)
    assert (live(warns).warning, live(warns).rescue) == ("it thickens", BACKUP)
    calm = replace(warns, warns=False)
    assert (live(calm).warning, live(calm).rescue) == ("", BACKUP)
    assert (live(None).warning, live(None).rescue) == ("", None)
    assert live(replace(warns, backup=None)).rescue is None


def test_what_was_shown_before_counts_unless_it_is_of_later(
    known: Known, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    pour = desk(plan(), known, clock)
    work(pour, clock, "stir in fragrance/gull")
    now, given = pour.now(), []
    drawn: list[int] = []
    real = advising.live

    def live_(*args: Any, thinned: int) -> Any:
        drawn.append(thinned)
        return real(*args, thinned=thinned)

    calm = Advice(ON, ON, None, "", warns=False)
    monkeypatch.setattr(advising, "live", live_)
    monkeypatch.setattr(
        advising, "advise", lambda at, reason, before: (given.append(before), calm)[1]
    )

    def shown(before: Live | None) -> Live:
        return live_advice("b", pour.plan, pour.amounts, known, pour.state, now, before)

    for t, counts in ((now - 1.0, True), (now, True), (now + 0.1, False)):
        shown(replace(live(calm), now=t))
        assert given.pop() == (calm if counts else None)
    first = shown(None)
    assert given == [None]
    assert set(first.acceleration) == {"rope"}, "what has its fragrance in"
    assert set(drawn) == {4}, "every fourth draw"
    assert set(first.believed) == set(pour.state.pots)
    work(pour, clock, "end")
    over = live_advice("b", pour.plan, pour.amounts, known, pour.state, pour.now())
    assert over.advice is None
