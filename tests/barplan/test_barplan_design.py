"""From plans and pours to designs: every swirl, amounts kept, late told from early."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from soapbench.advice.foreseen import Foreseen
from soapbench.advice.known import Known
from soapbench.barface import Manner, SinkDepth, ToolPass, barplan, face
from soapbench.barface.pouring import POUR
from soapbench.barface.words import depth_reached, poured_showings, showings
from soapbench.batter import Trace
from soapbench.bench import tables
from soapbench.figures import FaceFigures
from soapbench.log import Kind
from soapbench.outlook.batters import trace_at
from soapbench.plan import Plan
from soapbench.swirls.table import POURED, WireLed, swirl_table
from tests.desks import desk, work
from tests.fakes import SAMPLES, FakeClock
from tests.plans import plan, sample

PX = (150, 110)
SAMPLE_PLANS = sorted(SAMPLES.glob("*.toml"))
SWIRLS = sorted(tables.swirls().kinds)
assert len(SAMPLE_PLANS) >= 5


def with_steps(*steps: str) -> Plan:
    pour = plan()
    return replace(pour, swirl=replace(pour.swirl, steps=steps))


def steps_with(swirl: str) -> tuple[str, ...]:
    """Steps that pour everything and hold ``swirl``."""
    role = tables.swirls().kinds[swirl].role
    return (swirl,) if role == "pour" else ("drop swirl", swirl)


def loaf(of: Plan, known: Known, late: float = 0.0) -> tuple[barplan.Design, Foreseen]:
    forecast = Foreseen(of, known)
    worked = barplan.later(barplan.foreseen(forecast), late)
    drawn = barplan.design(of, forecast.amounts, known.swirls, worked)
    assert drawn is not None
    return drawn, forecast


def assert_amounts_show(drawn: barplan.Design, forecast: Foreseen) -> None:
    """Each colour covers its volume share of the face, to 1 % of the face."""
    shown = face(drawn, 0.5, *PX, 7, polish=False).shares
    for i, pot in enumerate(forecast.amounts.pots):
        share = pot.ml / forecast.amounts.batter_ml
        assert shown.get(i, 0.0) == pytest.approx(share, abs=0.01), pot.name
        assert drawn.shares[i] == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize("path", SAMPLE_PLANS, ids=lambda path: path.stem)
def test_sample_plans_show_their_amounts(path: Path, known: Known) -> None:
    assert_amounts_show(*loaf(sample(path), known))


@pytest.mark.parametrize("swirl", SWIRLS)
@pytest.mark.parametrize("late", [0, 2])
def test_every_swirl_shows_its_amounts(swirl: str, late: int, known: Known) -> None:
    if swirl == "plain pour":  # for one pot; its sample plan is among the others
        assert tables.swirls().kinds[swirl].most_pots == 1
        return
    assert_amounts_show(*loaf(with_steps(*steps_with(swirl)), known, late))


def test_every_manner_is_drawn_and_only_what_is_poured_stands_in_a_swirl_table() -> None:
    assert set(POUR) == set(Manner)
    assert set(Manner) - set(POURED) == {Manner.EMBED}  # laid in, not poured


@pytest.mark.parametrize(
    ("swirl", "manner"),
    [
        ("drop swirl", Manner.DROP),
        ("column pour", Manner.COLUMN),
        ("layers", Manner.LAYER),
        ("ombré", Manner.BLEND),
        ("tiger stripe", Manner.STRIPE),
        ("wall pour", Manner.WALL),
        ("spoon swirl", Manner.SPOON),
        ("hot process", Manner.SPOON),
        ("in-the-pot swirl", Manner.IN_THE_POT),
    ],
)
def test_how_each_swirl_goes_in(swirl: str, manner: Manner, known: Known) -> None:
    assert loaf(with_steps(swirl), known)[0].pours[-1].manner is manner


def test_a_makers_own_swirl_goes_in_as_its_table_says(known: Known) -> None:
    move = {"do": "ladle", "pots": "each pot", "median_s": 30, "puts": "mould"}
    written = {
        "source": "a test",
        "verified": "no",
        "swirl": {
            "ladles": {"says": "Ladle by ladle.", "moves": [{**move, "manner": "wall"}]},
            "rake": {
                "says": "A rake.",
                "role": "tool",
                "starts_from": ["mould"],
                "moves": [{"do": "rake", "pots": "mould", "median_s": 9, "manner": "loops"}],
            },
        },
    }
    own, faults = swirl_table(written)
    assert not faults
    table = replace(known.swirls, kinds={**known.swirls.kinds, **own.kinds})
    drawn, _ = loaf(with_steps("ladles", "rake"), replace(known, swirls=table))
    assert {pour.manner for pour in drawn.pours} == {Manner.WALL}
    assert [s.path for s in drawn.steps if isinstance(s, ToolPass)] == [WireLed.LOOPS]


@pytest.mark.parametrize(
    ("role", "right"), [("pour", "loops"), ("pour", "sideways"), ("tool", "drop")]
)
def test_a_manner_that_is_none_is_a_fault(role: str, right: str) -> None:
    move = {"do": "x", "pots": "mould" if role == "tool" else "all", "median_s": 9, "manner": right}
    written = {"swirl": {"x": {"says": "X.", "role": role, "moves": [move]}}}
    _, faults = swirl_table({"source": "a test", "verified": "no", **written})
    assert [fault.key for fault in faults] == ["swirl.x.moves[1].manner"]


# ---------------------------------------------------------------- time


def test_trace_between_milestones_goes_with_time() -> None:
    times = np.array([[20.0, 100.0, 200.0, 400.0, 500.0]])
    at = {0: 0.0, 20: 0.0, 60: 0.5, 100: 1.0, 300: 2.5, 450: 3.5, 500: 4.0, 9000: 4.0}
    for t, state in at.items():
        assert trace_at(times, float(t))[0] == pytest.approx(state)


def test_the_batter_is_foreseen_thicker_with_every_pour(known: Known) -> None:
    worked = barplan.foreseen(Foreseen(sample(SAMPLES / "midsummer_bonfire.toml"), known))
    base = [w.traces["base"] for w in worked]
    assert base == sorted(base)
    assert base[0] < base[-1]


def test_layers_are_drawn_on_a_batter_that_carries_them(known: Known) -> None:
    drawn, _ = loaf(with_steps("layers"), known)
    assert all(pour.trace >= Trace.MEDIUM for pour in drawn.pours[1:])


def test_late_streams_stay_higher(known: Known) -> None:
    quay = with_steps("drop swirl")
    depths = []
    for late in (0, 1, 2):
        drawn, _ = loaf(quay, known, late)
        depths.append(np.mean([depth_reached(face(drawn, 0.5, *PX, s), 1) for s in range(4)]))
    assert depths[0] > depths[1] + 0.05 > depths[2] + 0.1
    # said as well, and that the swirl is past its window
    sayings = [shown.words for shown in showings(sample(SAMPLES / "midsummer_bonfire.toml"), known)]
    assert len(sayings) == 3
    assert "too thick for the drop swirl" in sayings[2]


def test_the_same_seed_draws_the_same_face(known: Known) -> None:
    pour = sample(SAMPLES / "harbour_at_dusk.toml")
    once, again = (loaf(pour, known)[0] for _ in range(2))
    assert once == again
    seed = barplan.seed(pour)
    assert np.array_equal(face(once, 0.3, *PX, seed).rgb, face(again, 0.3, *PX, seed).rgb)
    assert not np.array_equal(face(once, 0.3, *PX, seed).rgb, face(once, 0.3, *PX, seed + 1).rgb)


def test_deeper_sinking_goes_into_the_design(known: Known) -> None:
    deeper = barplan.sink_depth(barplan.Sinking(0.5, 4))
    usual = SinkDepth()
    assert barplan.sink_depth(barplan.Sinking()) == usual
    assert all(deeper.at(t) >= usual.at(t) for t in np.linspace(0, 4, 9))
    assert deeper.at(2.0) == pytest.approx(usual.at(1.5))


# ---------------------------------------------------------------- after the pour


def test_a_late_pour_is_drawn_as_it_was_poured(known: Known, clock: FakeClock) -> None:
    at = desk(with_steps("drop swirl"), known, clock)
    work(at, clock, "drop an accent/gull", each_s=10)
    at.trace_seen("base", Trace.LIGHT)
    clock.passes(30)
    at.trace_seen("base", Trace.MEDIUM)
    clock.passes(30)
    at.trace_seen("base", Trace.THICK)
    clock.passes(30)
    at.stage_done()
    poured, foreseen = poured_showings("b1", at.plan, at.amounts, known, at.state)
    dropped = [p for p in poured.design.pours if p.manner is Manner.DROP]
    assert dropped[1].trace > dropped[0].trace + 1
    assert 2 < dropped[1].trace < 4
    gull = [pot.name for pot in at.plan.pots].index("gull")
    depth, hoped = (
        depth_reached(face(shown.design, 0.5, *PX, shown.seed), gull)
        for shown in (poured, foreseen)
    )
    assert depth < hoped - 0.05


def test_what_was_not_poured_is_not_drawn(known: Known, clock: FakeClock) -> None:
    at = desk(with_steps("drop swirl"), known, clock)
    work(at, clock, "drop an accent/gull")
    at.stage_done(skipped=True)
    poured = poured_showings("b1", at.plan, at.amounts, known, at.state)[0]
    assert poured.design.shares == pytest.approx((0.75, 0.25, 0.0), abs=0.01)
    assert poured.design.mould.depth < barplan.Foreseen(at.plan, known).amounts.fill * 7


def test_nothing_poured_is_no_face(known: Known, clock: FakeClock) -> None:
    at = desk(with_steps("drop swirl"), known, clock)
    work(at, clock, "pour into mould")
    assert poured_showings("b1", at.plan, at.amounts, known, at.state) == ()


def test_a_rescue_is_drawn_as_what_it_became(known: Known, clock: FakeClock) -> None:
    at = desk(with_steps("drop swirl"), known, clock)
    work(at, clock, "drop an accent/rope")
    at.record(Kind.RESCUE_TAKEN, steps=["spoon swirl"], chance=0.9)
    while at.state.stage is not None:
        clock.passes(60)
        at.stage_done()
    poured = poured_showings("b1", at.plan, at.amounts, known, at.state)[0]
    assert [p.manner for p in poured.design.pours] == [Manner.FILL, Manner.SPOON, Manner.SPOON]


def test_accents_in_the_bases_pot_stay_in_it_through_a_rescue(
    known: Known, clock: FakeClock
) -> None:
    at = desk(with_steps("in-the-pot swirl"), known, clock)
    work(at, clock, "accent into base pot/gull")  # rope is in the base's pot by then
    at.record(Kind.RESCUE_TAKEN, steps=["drop swirl"], chance=0.9)
    while at.state.stage is not None:
        clock.passes(20)
        at.stage_done()
    poured = poured_showings("b1", at.plan, at.amounts, known, at.state)[0].design
    by_pot = {p.pot: p.manner for p in poured.pours}
    assert by_pot == {0: Manner.IN_THE_POT, 1: Manner.IN_THE_POT, 2: Manner.DROP}


def test_the_header_keeps_the_face_that_was_foreseen(known: Known) -> None:
    pour = sample(SAMPLES / "harbour_at_dusk.toml")
    forecast = Foreseen(pour, known)
    worked = barplan.foreseen(forecast)
    kept = barplan.kept(worked, barplan.Sinking(0.25, 3))
    from_log = barplan.from_kept(pour, forecast.amounts, known.swirls, kept)
    assert from_log is not None
    again, sinking = from_log
    assert sinking.thinner == 0.25
    assert [w.stage for w in again] == [w.stage for w in worked]
    assert all(
        w.traces[pot] == pytest.approx(v.traces[pot], abs=0.001)
        for w, v in zip(again, worked, strict=True)
        for pot in w.traces
    )
    assert barplan.from_kept(pour, forecast.amounts, known.swirls, None) is None
    assert barplan.from_kept(pour, forecast.amounts, known.swirls, FaceFigures({})) is None
