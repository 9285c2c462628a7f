"""Rehearsals without a screen: their clocks, their beginning, and playing one hands off."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from soapbench.disk.clock import Clock, Reading
from soapbench.hands import HEEDS_S, Hands
from soapbench.rehearsal import Batter, Report, draw_batter, fault_of, milestones, report

if TYPE_CHECKING:
    from soapbench.advice import Known
    from soapbench.disk.bench import Bench
    from soapbench.plansheet import PlanSheet
    from soapbench.stages import Stage
    from soapbench.ui.desk import Desk

SLOWEST, FASTEST = 1.0, 20.0
USUAL_SPEED = 4.0
ADVISE_EVERY_S = 60.0
"""Without a screen the model is asked after every act, and this often while nothing happens."""
MOST_RESCUES = 3


@dataclass(frozen=True)
class Wanted:
    """A rehearsal to be played: of which plan, how many times faster than life, which batter."""

    sheet: PlanSheet
    speed: float
    seed: int

    def another(self) -> Wanted:
        """The same with a batter nobody has met."""
        return replace(self, seed=a_seed())


def speed_of(written: str) -> float:
    """A speed as typed. Raises ValueError with what is wrong and what would be right."""
    try:
        speed = float(written.strip().removeprefix("×").replace(",", "."))
    except ValueError:
        speed = 0.0
    if not SLOWEST <= speed <= FASTEST:
        raise ValueError(f"a speed from {SLOWEST:g} to {FASTEST:g} is wanted")
    return speed


@dataclass
class ScaledClock:
    """A clock on which time runs ``speed`` times as fast from its making on."""

    inner: Clock
    speed: float
    _start: Reading = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._start = self.inner.read()

    def read(self) -> Reading:
        passed = (self.inner.read().boot_s - self._start.boot_s) * self.speed
        return _later(self._start, passed)


@dataclass
class SteppedClock:
    """A clock that stands still until it is put forward: for pours nobody waits for."""

    start: Reading
    passed: float = 0.0

    def read(self) -> Reading:
        return _later(self.start, self.passed)

    def forward(self, seconds: float) -> None:
        self.passed += max(0.0, seconds)


def _later(start: Reading, seconds: float) -> Reading:
    return Reading(start.at + timedelta(seconds=seconds), start.boot_s + seconds, start.boot_id)


def a_seed() -> int:
    """A seed nobody has chosen; short enough to be typed again."""
    return secrets.randbelow(100_000)


def begin_rehearsal(
    bench: Bench, clock: Clock, known: Known, wanted: Wanted
) -> tuple[Desk, Batter]:
    """A rehearsal: its desk, logged among the rehearsals, and its hidden batter."""
    from soapbench.ui.start import begin

    sheet = wanted.sheet
    batter = draw_batter(sheet.plan, sheet.amounts, known, wanted.seed)
    desk = begin(bench, clock, known, sheet, rehearsal=True)
    desk.note(None, f"rehearsal, seed {wanted.seed}, speed {wanted.speed:g}")
    return desk, batter


# ---------------------------------------------------------------- hands off


def hands_off(bench: Bench, start: Reading, known: Known, wanted: Wanted) -> Report:
    """Play a rehearsal without keys and without waiting; its log is among the rehearsals."""
    clock = SteppedClock(start)
    desk, batter = begin_rehearsal(bench, clock, known, wanted)
    try:
        # The hands' own numbers: a batter's seed must not make its hands quick or slow.
        play(desk, batter, clock, Hands(known.pace, np.random.default_rng([wanted.seed, 1])))
        return report(batter, desk.made, known, desk.log.events, desk.now())
    finally:
        desk.close()


def play(desk: Desk, batter: Batter, clock: SteppedClock, hands: Hands) -> None:
    """Play the pour at ``desk`` to its end, with simulated hands on a simulated batter."""
    desk.lye_meets_oils()
    rescues = 0
    while (stage := desk.state.stage) is not None:
        if not _worked(desk, batter, clock, hands, stage, rescues < MOST_RESCUES):
            rescues += 1


def _worked(
    desk: Desk, batter: Batter, clock: SteppedClock, hands: Hands, stage: Stage, may_switch: bool
) -> bool:
    """Work on one stage until it is over one way or another; False: a rescue was taken."""
    takes = hands.takes(stage)
    begun: float | None = None
    blend_until = heeds_at = None
    asked = _ask(desk)
    while True:
        now = desk.now()
        if begun is None and hands.ready(stage, desk.state):
            begun = now
            for pot in stage.scents:
                desk.fragrance_in(pot)
            if stage.blend_s > 0:
                desk.blender()
                blend_until = now + min(stage.blend_s, takes)
        if may_switch and heeds_at is None and desk.live and desk.live.rescue:
            heeds_at = now + HEEDS_S
        times = milestones(batter, desk.state, now)
        tap = hands.next_tap(desk.state, times, now)
        moments = [asked + ADVISE_EVERY_S]
        moments += [] if tap is None else [tap[0]]
        moments += [t for t in (blend_until, heeds_at) if t is not None]
        moments += [] if begun is None else [begun + takes]
        at = min(moments)
        clock.forward(at - now)
        if blend_until == at:
            desk.blender()
            blend_until = None
        elif tap is not None and tap[0] == at:
            desk.trace_seen(tap[1], tap[2])
        elif heeds_at == at:
            heeds_at = None
            if _take_rescue(desk):
                return False
        elif begun is not None and begun + takes == at:
            return _done(desk, stage, begun, at, times)
        asked = _ask(desk)


def _ask(desk: Desk) -> float:
    desk.heed(desk.advise())
    return desk.now()


def _done(
    desk: Desk, stage: Stage, begun: float, now: float, times: dict[str, tuple[float, ...]]
) -> bool:
    """The hands are through with a stage: it came right, or they do what still can be done."""
    if fault_of(stage, begun, now, times) is None:
        desk.stage_done()
    elif _take_rescue(desk):
        return False
    elif stage.puts is None:
        desk.stage_done(skipped=True)  # a tool or a top that can be left out
    else:
        desk.end(finished=False)
    return True


def _take_rescue(desk: Desk) -> bool:
    """Take the rescue on offer, if it is one that pours otherwise; True when the way changed."""
    choice = desk.live.rescue if desk.live else None
    if choice is None:
        return False
    if choice.steps:
        desk.take(choice)
    else:
        while desk.state.stage is not None:  # leave it as it is
            desk.stage_done(skipped=True)
    return True
