"""Whole pours in an invented world: a plan, a maker's hands and luck, and who decides to switch.

Hands and luck are drawn apart from who decides, so that two deciders meet the same batter, the same
slips and the same pace. What is poured counts by the truth: a stage that ends past the state up to
which it comes out in part has ruined the batch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from soapbench.advice.known import Known
from soapbench.advice.ways import SwirlChoice, becomes
from soapbench.batter import Blend, Mix, PotHistory, Reputation, Trace
from soapbench.desk.pourdesk import Desk
from soapbench.desk.rehearsing import SteppedClock
from soapbench.logfile.clock import Reading
from soapbench.outlook.worth import Become
from soapbench.plan import Plan
from soapbench.plan.reader import read_tables
from soapbench.pour.state import no_batter
from soapbench.recipe.amounts import amounts
from soapbench.rehearsal.rehearsal import Fault, fault_of
from soapbench.swirls.stage import Stage
from tests.desks import ListLog
from tests.worlds.kettle import heat_of
from tests.worlds.luck import Luck, draw_luck, times_of
from tests.worlds.world import Fragrance, Maker, Setup, bottle_of

Array = npt.NDArray[np.float64]

ASKS_EVERY_S = 20.0
"""The tool is asked after every act, and this often between."""
MOST_SWITCHES = 3
KEYED_LATE_S = 8.0
"""Mean time from a warning, or a look asked for, to its key."""
LOOKS_WHEN_ASKED = 0.5
"""Chance that hands full of soap do look, each time the tool asks (ours)."""
STRONG = (Reputation.ACCELERATES, Reputation.NOTORIOUS)
WISHES = (
    ("drop swirl", "hanger swirl"),
    ("drop swirl",),
    ("column pour",),
    ("tiger stripe",),
    ("wall pour",),
)


@dataclass(frozen=True)
class Pour:
    """One pour to be done: what the maker wrote, and what chance and hands will do."""

    plan: Plan
    maker: Maker
    setup: Setup
    luck: Luck
    seed: int
    shift: float
    """Of the maker's hands against our table, log time."""
    fragrance: Fragrance
    kettle: dict[tuple[PotHistory, ...], Array] = field(default_factory=dict)


@dataclass(frozen=True)
class Came:
    """What became of a pour."""

    become: Become
    planned: bool
    in_part: bool
    """At least."""
    switched_s: float | None = None

    @property
    def ruined(self) -> bool:
        return not self.in_part


def draw_pour(rng: np.random.Generator, maker: Maker, seed: int, strong: bool, name: str) -> Pour:
    """A pour of the maker's: the natural mix of fragrances, or only what is sold as strong."""
    fragrances = [s for s in maker.fragrances if not strong or s.word.reputation in STRONG]
    weights = 1.0 / (np.arange(len(fragrances)) + 2.0)
    fragrance = fragrances[rng.choice(len(fragrances), p=weights / weights.sum())]
    true_c = rng.uniform(20.0, 32.0)
    read = true_c + maker.hand.thermometer + maker.hand.reading * rng.standard_normal()
    mix = Mix(float(np.clip(read, 19.0, 36.0)), rng.uniform(0.28, 0.36), rng.uniform(0.25, 0.50))
    accents = int(rng.integers(1, 5))
    steps = WISHES[rng.choice(len(WISHES), p=[0.45, 0.2, 0.1, 0.1, 0.15])]
    plan = read_tables(_tables(mix, accents, maker.litres, fragrance, steps))
    word = replace(fragrance.word, lot=name[:-2])
    setup = Setup(
        name, mix, maker.room_c + rng.normal(0.0, 1.5),
        tuple(PotHistory(pot.name, 7200.0) for pot in plan.pots), (word,),
        {word.name: bottle_of(maker, fragrance, name[:-2])}, true_c,
    )  # fmt: skip
    shift = float(np.random.default_rng([7, seed]).normal(0.0, 0.25))
    return Pour(plan, maker, setup, draw_luck(rng, maker, setup, 1), seed, shift, fragrance)


def _tables(
    mix: Mix, accents: int, litres: float, fragrance: Fragrance, steps: Sequence[str]
) -> dict[str, object]:
    shares = {"base": 100.0 - 12.0 * accents, **{f"accent {i}": 12.0 for i in range(accents)}}
    oil = {"name": "oils", "share": "100 %", "saponification": "190 mg/g"}
    return {
        "title": "a pour",
        "mould": {"volume": f"{litres:.4g} L", "fill": "95 %"},
        "oils": [{**oil, "saturated": f"{mix.saturated * 100:.6g} %"}],
        "lye": {"concentration": f"{mix.concentration * 100:.6g} %"},
        "conditions": {"batter": f"{mix.batter_c:.6g} degC", "room": "20 degC"},
        "fragrance": {
            "name": fragrance.word.name,
            "load": f"{fragrance.word.load * 100:.4g} %",
            "reputation": fragrance.word.reputation.value,
        },
        "pots": [
            {"name": name, "share": f"{part:g} %", "colourants": [{"name": "x"}]}
            for name, part in shares.items()
        ],
        "swirl": {"steps": list(steps)},
    }


# ---------------------------------------------------------------- the truth


def truth(pour: Pour, desk: Desk, up: Blend | None) -> dict[str, tuple[float, ...]]:
    """When each pot really reaches stable emulsion … set up, by all that was done to it."""
    fragrance = pour.setup.fragrances[0].name
    pots = tuple(
        PotHistory(
            name, 7200.0, fragrance if pot.fragrance_in is not None else None, pot.fragrance_in,
            (up,) if up else (),
        )
        for name, pot in desk.state.pots.items()
    )  # fmt: skip
    if pots not in pour.kettle:
        pour.kettle[pots] = times_of(pour.maker, pour.setup, pour.luck, pots)[0]
    times = pour.kettle[pots]
    return {pot.name: tuple(map(float, row)) for pot, row in zip(pots, times, strict=True)}


def blending_s(pour: Pour, litres: float) -> float:
    """How long the blender really runs to a stable emulsion."""
    maker, setup, luck = pour.maker, pour.setup, pour.luck
    rate = maker.physics.base_rate * np.exp(luck.log_rate[0].mean())
    rate *= float(heat_of(maker.physics, setup.batter_c))
    needed = luck.thresholds[0, 0, 0] * np.exp(luck.stop[0]) / rate
    power = maker.physics.blend_power * litres**-maker.physics.litres_power
    return float(np.clip(needed / power, 5.0, 240.0))


# ---------------------------------------------------------------- the pour, second by second

Decide = Callable[[Desk], SwirlChoice | None]
"""The way to switch to now; None: go on."""


def never(desk: Desk) -> SwirlChoice | None:
    return None


def poured(pour: Pour, known: Known, decide: Decide, steps: Sequence[str] = ()) -> Came:
    """The whole pour. ``steps``: another swirl than the plan's, from the start."""
    return _Hands(pour, known, decide, steps).pour()


class _Hands:
    def __init__(self, pour: Pour, known: Known, decide: Decide, steps: Sequence[str]) -> None:
        self.of, self.known, self.decide, self.steps = pour, known, decide, tuple(steps)
        weighed = amounts(pour.plan, known.oils, known.colourants)
        start = Reading(datetime(2026, 3, 1, 18, 0, tzinfo=UTC), 1000.0, "boot")
        self.clock = SteppedClock(start)
        self.desk = Desk(
            "b", pour.plan, weighed, known.swirls, lambda: known, ListLog(), self.clock
        )
        self.litres = sum(pot.ml for pot in weighed.pots) / 1000
        self.up: Blend | None = None
        self.slips: dict[tuple[str, Trace], tuple[float, float, bool]] = {}
        self.untended = {
            name: self._rng("untended", name).random() < pour.maker.hand.untended
            for name in self.desk.state.pots
        }
        self.played: list[tuple[Stage, Fault | None]] = []
        self.switched: float | None = None
        self.switches = 0
        self.key_at: float | None = None
        self.look_at: tuple[float, str] | None = None
        self.asked = 0

    def _rng(self, *of: object) -> np.random.Generator:
        return np.random.default_rng([self.of.seed, *(ord(c) for c in "/".join(map(str, of)))])

    def pour(self) -> Came:
        desk = self.desk
        desk.lye_meets_oils()
        if self.steps:
            desk.take(SwirlChoice(self.steps, 0.0, 0.0))
        while (stage := desk.state.stage) is not None:
            if stage.action == "cook":
                return Came(Become.SAVED, True, True, self.switched)
            if not self._work(stage):
                return self._came(ruined=True)
        return self._came(ruined=False)

    def _takes(self, stage: Stage) -> float:
        z = self._rng("pace", stage.action, *stage.pots).standard_normal()
        spent = stage.median_s * math.exp(self.of.shift + stage.spread * float(z))
        return spent + (blending_s(self.of, self.litres) if stage.action == "emulsify" else 0.0)

    def _work(self, stage: Stage) -> bool:
        """One stage; False: it ruined the batch."""
        desk, left, begun = self.desk, self._takes(stage), None
        entered = desk.now()
        while True:
            now, times = desk.now(), truth(self.of, desk, self.up)
            if begun is None and all(
                desk.state.pots[pot].trace >= trace for pot, trace in stage.waits
            ):
                begun = now
                for pot in stage.fragrance_into:
                    desk.fragrance_in(pot)
                times = truth(self.of, desk, self.up)
            ends = math.inf if begun is None else begun + left
            tap = self._next_tap(
                times, now, {p for p, _ in stage.waits} if begun is None else set()
            )
            self._ask(now)
            moments = [ends, now + ASKS_EVERY_S, *(() if tap is None else (tap[0],))]
            moments += [] if self.key_at is None else [self.key_at]
            moments += [] if self.look_at is None else [self.look_at[0]]
            at = max(now, min(moments))
            self.clock.forward(at - now)
            if tap is not None and tap[0] <= at:
                self._key(tap[1], tap[2])
            elif self.look_at is not None and self.look_at[0] <= at:
                self._look(self.look_at[1], times)
            elif self.key_at is not None and self.key_at <= at:
                self.key_at = None
                if self._switch():
                    return True
            elif ends <= at:
                return self._done(stage, begun or at, at)
            if begun is None and at > entered + 3 * 3600:
                return False

    def _ask(self, now: float) -> None:
        if self.key_at is None and self.switches < MOST_SWITCHES and self.decide(self.desk):
            late = self._rng("late").exponential(KEYED_LATE_S)
            self.key_at = now + max(2.0, float(late))
        pot = self.desk.look_wanted
        if self.look_at is None and pot is not None and not self.untended[pot]:
            self.asked += 1
            rng = self._rng("look", pot, self.asked)
            if rng.random() < LOOKS_WHEN_ASKED:
                self.look_at = now + max(2.0, float(rng.exponential(KEYED_LATE_S))), pot

    def _look(self, pot: str, times: Mapping[str, Sequence[float]]) -> None:
        """The look that was asked for: the state these hands call it now, or as it was."""
        self.look_at, now = None, self.desk.now()
        if no_batter(self.desk.state, pot):
            return
        before = self.desk.state.pots[pot].trace
        states = (t for t in Trace if times[pot][t] * self._slips(pot, t)[0] <= now)
        state = max(states, default=Trace.EMULSION)
        if state <= before:
            self.desk.look(pot)
        else:
            self._key(pot, state)

    def _key(self, pot: str, state: Trace) -> None:
        if not self.desk.trace_seen(pot, state).logged:
            self.clock.forward(1.0)
            self.desk.trace_seen(pot, state)

    def _switch(self) -> bool:
        way = self.decide(self.desk)
        if way is None:
            return False
        self.switched = self.desk.now()
        self.switches += 1
        if way.steps:
            self.desk.take(way)
        else:
            while self.desk.state.stage is not None:
                self.desk.stage_done(skipped=True)
        return True

    def _done(self, stage: Stage, begun: float, at: float) -> bool:
        desk = self.desk
        if stage.action == "emulsify":
            self.up = Blend(begun, at - begun, self.litres, Trace.EMULSION)
        wire = any(ahead.draws_down for ahead in desk.state.ahead)
        times = truth(self.of, desk, self.up)
        fault = fault_of(stage, begun, at, times, drawn=wire)
        desk.stage_done()
        if fault is not None and fault.early and stage.manner == "spoon":
            fault = None  # spooned in too thin it runs together: saved, as it was to be
        self.played.append((stage, fault))
        return fault is None or fault.in_part or stage.can_be_left_out

    def _next_tap(
        self, times: Mapping[str, Sequence[float]], now: float, waited: Collection[str]
    ) -> tuple[float, str, Trace] | None:
        """The next state these hands key: late, now and then not at all, as the maker does."""
        state, taps = self.desk.state, []
        for name, pot in state.pots.items():
            if no_batter(state, name):
                continue
            for trace in Trace:
                if trace <= pot.trace or not math.isfinite(times[name][trace]):
                    continue
                slip, delay, missed = self._slips(name, trace)
                if missed and name not in waited:  # hands that wait for a pot look into it
                    continue
                at = max(now + 0.1, times[name][trace] * slip + delay)
                following = times[name][trace + 1] if trace < Trace.SET_UP else math.inf
                if at < following or trace is Trace.SET_UP:
                    taps.append((at, name, trace))
                    break
        return min(taps, default=None)

    def _slips(self, name: str, trace: Trace) -> tuple[float, float, bool]:
        """How a state is called and keyed: a factor of its time, a delay, whether it is missed."""
        if (name, trace) not in self.slips:
            rng, hand = self._rng("tap", name, int(trace)), self.of.maker.hand
            slip = math.exp(hand.perception * rng.standard_normal())
            mean = hand.late_delay if rng.random() < hand.late else hand.delay
            missed = bool(rng.random() < hand.missed or self.untended[name])
            self.slips[name, trace] = slip, float(rng.exponential(mean)), missed
        return self.slips[name, trace]

    def _came(self, ruined: bool) -> Came:
        desk, plan = self.desk, self.of.plan
        become = becomes(desk.state.steps, plan, desk.state, self.known.swirls)
        if ruined:
            return Came(become, False, False, self.switched)
        if any(d.skipped and d.stage.can_be_left_out for d in desk.state.done):
            become = becomes((), plan, desk.state, self.known.swirls)
        drawn = any(s.draws_down and (f is None or f.in_part) for s, f in self.played)
        lay = [s for s, f in self.played if f is not None and f.in_part and s.manner == "drop"]
        wired = any(s.draws_down for s, _ in self.played)
        if wired and not drawn and lay:  # judged as if the wire would draw them down
            return Came(become, False, False, self.switched)
        planned = all(fault is None for _, fault in self.played)
        return Came(become, planned, True, self.switched)
