"""Rehearsals without a screen: their clocks, their beginning, and playing one hands off."""

from __future__ import annotations

import math
import secrets
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from soapbench.logfile.clock import Clock, Reading

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from soapbench.advice.known import Known
    from soapbench.advice.ways import SwirlChoice
    from soapbench.bench.folder import Bench
    from soapbench.desk.pourdesk import Desk
    from soapbench.rehearsal.hands import Hands
    from soapbench.rehearsal.rehearsal import Batter
    from soapbench.rehearsal.report import Report
    from soapbench.sheet.weighing import Weighed
    from soapbench.swirls.stage import Stage
    from soapbench.swirls.table import SwirlTable

SLOWEST, FASTEST = 1.0, 20.0
USUAL_SPEED = 4.0
ADVISE_EVERY_S = 60.0
"""Without a screen the model is asked after every act, and this often while nothing happens."""
MOST_RESCUES = 3
AGAIN_S = 1.0
"""From a tap that was asked once more to its second press (ours)."""


@dataclass(frozen=True)
class Wanted:
    """A rehearsal to be played: of which plan, how many times faster than life, which batter."""

    sheet: Weighed
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
        raise ValueError(f"speed must be {SLOWEST:g}–{FASTEST:g}")
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


def rehearsal_desk(
    bench: Bench, clock: Clock, swirls: SwirlTable, learn: Callable[[], Known], wanted: Wanted
) -> Desk:
    """A rehearsal's desk, logged among the rehearsals; its batter is drawn apart from it."""
    from soapbench.desk.starting import begin_rehearsal

    desk = begin_rehearsal(bench, clock, swirls, learn, wanted.sheet)
    desk.note(None, f"rehearsal, seed {wanted.seed}, speed {wanted.speed:g}")
    return desk


def begin_rehearsal(
    bench: Bench, clock: Clock, known: Known, wanted: Wanted
) -> tuple[Desk, Batter]:
    """A rehearsal: its desk and its hidden batter."""
    desk = rehearsal_desk(bench, clock, known.swirls, lambda: known, wanted)
    return desk, mixed(desk, wanted)


def judge_taps(desk: Desk, batter: Batter, speed: float) -> None:
    """Log how late each tap came, where the rehearsal ran no faster than life.

    The one thing a rehearsal teaches: how late this maker taps. Hands are no quicker than in a
    pour, and the truth is known here and never again, for the next fit draws another batter.
    """
    from soapbench.log import Kind
    from soapbench.rehearsal.rehearsal import milestones
    from soapbench.rehearsal.report import judged_taps

    ended = desk.state.ended
    if speed > SLOWEST or ended is None:
        return
    taps, _ = judged_taps(desk.state, milestones(batter, desk.state, ended), ended)
    if taps:
        desk.record(Kind.TAPS_JUDGED, late_s=[round(tap.late_s, 1) for tap in taps])


def mixed(desk: Desk, wanted: Wanted) -> Batter:
    """The hidden batter of a rehearsal; the same for the same seed and bench."""
    from soapbench.rehearsal.rehearsal import draw_batter

    return draw_batter(desk.plan, desk.amounts, desk.known, wanted.seed)


# ---------------------------------------------------------------- hands off


def hands_off(bench: Bench, start: Reading, known: Known, wanted: Wanted) -> Report:
    """Play a rehearsal without keys and without waiting; its log is among the rehearsals."""
    import numpy as np

    from soapbench.rehearsal.hands import Hands
    from soapbench.rehearsal.report import report

    clock = SteppedClock(start)
    desk, batter = begin_rehearsal(bench, clock, known, wanted)
    # The hands' own numbers: a batter's seed must not make its hands quick or slow.
    hands = Hands(known.pace, np.random.default_rng([wanted.seed, 1]))
    try:
        Player(desk, batter, clock, hands).play()
        return report(batter, desk.amounts, known, desk.log.events, desk.now())
    finally:
        desk.close()


@dataclass
class Player:
    """Simulated hands at a desk, with a simulated batter and a clock that waits for them.

    ``heedful`` False: they never ask the model, and so take no rescue.
    """

    desk: Desk
    batter: Batter
    clock: SteppedClock
    hands: Hands
    heedful: bool = True
    _rescues: int = 0

    def play(self) -> None:
        """The whole pour, from lye to its end."""
        self.desk.lye_meets_oils()
        while (stage := self.desk.state.stage) is not None:
            self._work(stage)

    def _work(self, stage: Stage) -> None:
        """One stage, until it is over one way or another."""
        from soapbench.rehearsal.hands import HEEDS_S
        from soapbench.rehearsal.rehearsal import blending_s, milestones

        desk, takes = self.desk, self.hands.takes(stage)
        begun: float | None = None
        blend_until = heeds_at = None
        asked = self._ask()
        while True:
            now = desk.now()
            if begun is None and self.hands.ready(stage, desk.state):
                begun = now
                for pot in stage.fragrance_into:
                    desk.fragrance_in(pot)
                blends = blending_s(stage, self.batter, desk.state, now)
                if stage.blend_to is not None:
                    takes += blends
                if blends > 0:
                    desk.blender()
                    blend_until = now + min(blends, takes)
            if heeds_at is None and self._warned:
                heeds_at = now + HEEDS_S
            times = milestones(self.batter, desk.state, now)
            tap = self.hands.next_tap(desk.state, times, now)
            done = math.inf if begun is None else begun + takes
            tapped = math.inf if tap is None else tap[0]
            moments = [t for t in (blend_until, heeds_at) if t is not None]
            at = min(done, tapped, asked + ADVISE_EVERY_S, *moments)
            self.clock.forward(at - now)
            if blend_until == at:
                desk.blender()
                blend_until = None
            elif tap is not None and tapped == at:
                if not desk.trace_seen(tap[1], tap[2]).logged:  # unforeseen: asked once more
                    self.clock.forward(AGAIN_S)
                    desk.trace_seen(tap[1], tap[2])
            elif heeds_at == at:
                heeds_at = None
                if self._take_rescue():
                    return
            elif begun is not None and done == at:
                self._finish(stage, begun, at, times)
                return
            asked = self._ask()

    def _ask(self) -> float:
        """Ask the model, if they do; when they did."""
        if not self.heedful or self._rescues >= MOST_RESCUES:
            return math.inf
        self.desk.heed(self.desk.advise())
        return self.desk.now()

    @property
    def _offer(self) -> SwirlChoice | None:
        """The other way they could take now."""
        live = self.desk.live
        return live.rescue if live and self._rescues < MOST_RESCUES else None

    @property
    def _warned(self) -> bool:
        live = self.desk.live
        return bool(live and live.warning and self._offer)

    def _finish(
        self, stage: Stage, begun: float, now: float, times: Mapping[str, Sequence[float]]
    ) -> None:
        """The hands are through with a stage: it came right, or they do what can still be done."""
        from soapbench.rehearsal.rehearsal import fault_of

        wire = any(ahead.draws_down for ahead in self.desk.state.ahead)
        fault = fault_of(stage, begun, now, times, drawn=wire)
        if fault is None or fault.in_part:
            self._done()
        elif self._take_rescue():
            return
        elif stage.puts is None:
            self.desk.stage_done(skipped=True)  # a tool or a top that can be left out
        else:
            self.desk.end(finished=False)

    def _done(self) -> None:
        """Keyed as done; once more where it was asked about."""
        if not self.desk.stage_done().logged:
            self.clock.forward(AGAIN_S)
            self.desk.stage_done()

    def _take_rescue(self) -> bool:
        """Take the rescue on offer; True when the way changed."""
        choice = self._offer
        if choice is None:
            return False
        self._rescues += 1
        if choice.steps:
            self.desk.take(choice)
        else:
            while self.desk.state.stage is not None:  # leave it as it is
                self.desk.stage_done(skipped=True)
        return True
