"""Rehearsals played hands off, on every sample plan, and the clocks they run on."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from soapbench.advice.known import Known
from soapbench.batter import Trace
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.tables import cautions
from soapbench.cli import main
from soapbench.desk.rehearsing import (
    Player,
    ScaledClock,
    SteppedClock,
    Wanted,
    begin_rehearsal,
    hands_off,
    speed_of,
)
from soapbench.log import Kind, standing
from soapbench.logfile.batchlog import read_log
from soapbench.pace import Pace, Timed, learn
from soapbench.rehearsal.hands import Hands
from soapbench.rehearsal.report import report
from soapbench.sheet.plansheet import PlanSheet, plan_sheet
from soapbench.swirls.stage import Need, Stage
from tests.desks import desk
from tests.fakes import SAMPLES, FakeClock
from tests.plans import plan, sample

PLANS = sorted(SAMPLES.glob("*.toml"))


def sheet(known: Known) -> PlanSheet:
    return plan_sheet(plan(), known, cautions(), levers=False)


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_every_sample_plan_can_be_rehearsed(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    args = ["rehearse", str(path), "--hands-off", "--seed", "11", "--bench", str(tmp_path)]
    assert main(args) == 0
    output = capsys.readouterr().out
    assert output.startswith(f"Practice: {sample(path).title}, batter 11\n")
    assert "THE MOMENT TO SWITCH" in output
    assert max(map(len, output.splitlines())) <= 80
    (log,) = (tmp_path / "rehearsals").glob("*.toml")
    kinds = {event.kind for event in read_log(log).events}
    assert {Kind.LYE_MEETS_OILS, Kind.STAGE_DONE, Kind.BLEND_BURST, Kind.POUR_ENDED} <= kinds
    assert not (tmp_path / "batches").exists()


def test_the_same_seed_plays_the_same_pour(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = str(SAMPLES / "lighthouse_column.toml")
    args = ["rehearse", plan, "--hands-off", "--bench", str(tmp_path)]
    outputs = []
    for seed in ("5", "5", "6"):
        main([*args, "--seed", seed])
        outputs.append(capsys.readouterr().out)
    assert outputs[0] == outputs[1]
    assert outputs[0].splitlines()[1:] != outputs[2].splitlines()[1:]


def test_no_terminal_and_no_screen_is_needed(tmp_path: Path) -> None:
    code = (
        "import sys; from soapbench.cli import main;"
        f"said = ['rehearse', {str(PLANS[-1])!r}, '--hands-off', '--bench', {str(tmp_path)!r}];"
        "assert main(said) == 0; assert not {'textual', 'rich'} & set(sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], stdin=subprocess.DEVNULL, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def test_rehearsals_are_never_learned_from(known: Known, tmp_path: Path) -> None:
    bench = open_bench(tmp_path)
    wanted = Wanted(sheet(known), 4.0, 2)
    hands_off(bench, FakeClock().read(), known, wanted)
    assert len(bench.rehearsals().rows) == 1
    assert remember(bench).lessons == ()
    assert bench.unfinished() == ()


def test_heedful_hands_take_the_rescue_when_warned(known: Known, tmp_path: Path) -> None:
    """Over some seeds, so that it does not hang on one batter; up to the first that has it."""
    taken = False
    for seed in range(8):
        clock = SteppedClock(FakeClock().read())
        wanted = Wanted(sheet(known), 1.0, seed)
        pour, hidden = begin_rehearsal(open_bench(tmp_path), clock, known, wanted)
        Player(pour, hidden, clock, Hands(known.pace, np.random.default_rng(seed))).play()
        facts = standing(pour.log.events)
        rescued = [e.t for e in facts if e.kind is Kind.RESCUE_TAKEN]
        taken |= bool(rescued)
        played = report(hidden, pour.amounts, known, pour.log.events, pour.now())
        assert played.finished == pour.state.finished, "hands that look do not deceive themselves"
        pour.close()
        if taken and seed:
            break
    assert taken


def test_heedless_hands_never_do(known: Known, tmp_path: Path) -> None:
    clock = SteppedClock(FakeClock().read())
    wanted = Wanted(sheet(known), 1.0, 3)
    pour, hidden = begin_rehearsal(open_bench(tmp_path), clock, known, wanted)
    hands = Hands(known.pace, np.random.default_rng(3))
    Player(pour, hidden, clock, hands, heedful=False).play()
    kinds = {e.kind for e in pour.log.events}
    assert Kind.POUR_ENDED in kinds
    assert not {Kind.WARNING_SHOWN, Kind.RESCUE_TAKEN} & kinds
    pour.close()


@pytest.mark.parametrize(
    ("args", "wrong"),
    [
        (["--speed", "30"], "must be 1–20"),
        (["--speed", "0.5"], "must be 1–20"),
        (["--speed", "nan"], "must be 1–20"),
        (["--speed", "fast"], "must be 1–20"),
        (["--seed", "-1"], "seed"),
    ],
)
def test_what_cannot_be_is_refused(
    args: list[str], wrong: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["rehearse", str(PLANS[0]), "--hands-off", *args]) == 2
    assert wrong in capsys.readouterr().err


def test_steps_that_cannot_be_poured_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from tests.plans import THREE_POTS

    path = tmp_path / "plan.toml"
    path.write_text(THREE_POTS.replace('["drop swirl", "hanger swirl"]', '["hanger swirl"]'))
    assert main(["rehearse", str(path), "--hands-off"]) == 2
    assert "can't be poured" in capsys.readouterr().err


@pytest.mark.parametrize(("written", "speed"), [("1", 1), ("20", 20), ("×4", 4), ("2,5", 2.5)])
def test_speeds_as_typed(written: str, speed: float) -> None:
    assert speed_of(written) == speed


def test_a_scaled_clock_runs_faster_from_its_making_on() -> None:
    inner = FakeClock()
    inner.passes(500)
    clock = ScaledClock(inner, 5.0)
    first = clock.read()
    assert first == inner.read()
    inner.passes(10)
    inner.wall_steps(3600)
    later = clock.read()
    assert later.boot_s - first.boot_s == pytest.approx(50)
    assert (later.at - first.at).total_seconds() == pytest.approx(50), "a step does not count"
    assert later.boot_id == first.boot_id


# ---------------------------------------------------------------- the hands

STAGE = Stage("s", "drop an accent", "Drop", ("base",), median_s=40.0, spread=0.3)


def test_hands_take_as_long_as_the_maker_does() -> None:
    slow = learn([Timed("drop an accent", 40, 80, 0.3)] * 30)
    medians = []
    for pace in (Pace(), slow):
        hands = Hands(pace, np.random.default_rng(1))
        medians.append(float(np.median([hands.takes(STAGE) for _ in range(400)])))
    assert medians[0] == pytest.approx(40, rel=0.1)
    assert medians[1] == pytest.approx(80, rel=0.15)


def test_hands_tap_late_and_never_before_the_batter_is_there(
    known: Known, clock: FakeClock
) -> None:
    pour = desk(plan(), known, clock)
    pour.lye_meets_oils()
    state = pour.state
    times = dict.fromkeys(state.pots, (0.0, 600.0, 900.0, 1200.0, 1800.0))
    delays = []
    for seed in range(200):
        hands = Hands(Pace(), np.random.default_rng(seed), noticed=1.0)
        tap = hands.next_tap(state, times, 0.0)
        assert tap is not None
        assert tap[2] is Trace.LIGHT
        delays.append(tap[0] - 600.0)
    assert min(delays) > 0
    # The first of three pots' gamma delays, so below their mean of 8 s.
    assert 2 < float(np.mean(delays)) < 8


def test_what_hands_wait_for_is_always_seen(known: Known, clock: FakeClock) -> None:
    state = desk(plan(), known, clock).state
    waiting = Stage("t", "t", "t", needs=(Need(("base",), Trace.MEDIUM, Trace.THICK),))
    from dataclasses import replace

    state = replace(state, ahead=(waiting,), begun=True)
    times = dict.fromkeys(state.pots, (0.0, 600.0, 900.0, 1200.0, 1800.0))
    blind = Hands(Pace(), np.random.default_rng(0), noticed=0.0)
    tap = blind.next_tap(state, times, 0.0)
    assert tap is not None
    assert (tap[1], tap[2]) == ("base", Trace.MEDIUM)
    assert not blind.ready(waiting, state)
