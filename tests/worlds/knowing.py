"""Who knows the maker, the hands and the bottle, but not what chance will do: an oracle that
goes by the tool's own rules.

Particles of the world itself, weighted by the taps, stand in place of the model's draws. So that
they can be run as often as those, the kettle is solved here in closed form along the warmth that an
unscented batter has (its own heat of some tenths of a degree is left out), and all pots of a batch
are taken to be alike (they differ by some 5 %): ``test_policy`` holds both against the kettle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from soapbench.batter import BatchHistory, Blend, Trace
from soapbench.bench import tables
from soapbench.pace import Pace
from soapbench.recipe.amounts import amounts
from tests.worlds.kettle import AF_AT_C, HORIZON, heat_of
from tests.worlds.learner import log_af
from tests.worlds.luck import draw_luck
from tests.worlds.oracle import log_seen
from tests.worlds.pours import Pour
from tests.worlds.world import SEIZING

Array = npt.NDArray[np.float64]

BOTTLE = "bottle"
KNOWS = (BOTTLE, "fragrance")
"""What an oracle knows besides maker and hands; who knows a fragrance has not opened the bottle."""
STEP_S, STEPS = 8.0, 700
MEAN_LEFT = 0.985
"""1 - x of a batter on its way, on average."""


@dataclass(frozen=True)
class TrueHands(Pace):
    """The pace of one who knows the hands: their shift, and no doubt about it."""

    def duration(self, action: str, table_s: float, spread: float) -> tuple[float, float]:
        return table_s * float(np.exp(self.shift)), spread


@dataclass(frozen=True)
class Path:
    """Conversion along one course: x(t) = e^G(t) (C + H(t)), (n, STEPS) each."""

    g: Array
    h: Array
    grown: Array
    """e^G."""

    def at(self, which: npt.NDArray[np.intp], c: Array, t: Array) -> Array:
        """(n,) conversion at ``t`` (n,), ``c`` as it began."""
        return np.asarray(np.exp(self._of(self.g, which, t)) * (c + self._of(self.h, which, t)))

    def begun(self, which: npt.NDArray[np.intp], x: Array, t: Array) -> Array:
        """C of what is at ``x`` at ``t``."""
        return np.asarray(x * np.exp(-self._of(self.g, which, t)) - self._of(self.h, which, t))

    @staticmethod
    def _of(values: Array, which: npt.NDArray[np.intp], t: Array) -> Array:
        place = np.clip(t / STEP_S, 0.0, STEPS - 1.001)
        i = place.astype(np.intp)
        low, high = values[which, i], values[which, i + 1]
        return np.asarray(low + (high - low) * (place - i))

    def reaches(self, which: npt.NDArray[np.intp], c: Array, targets: Array) -> Array:
        """(n, 5) when it comes to ``targets``; the horizon where it does not."""
        low, high = np.zeros(targets.shape, dtype=np.intp), np.full(targets.shape, STEPS - 1)
        row, c5 = which[:, None] * STEPS, c[:, None]

        def x(step: npt.NDArray[np.intp]) -> Array:
            place = row + step
            return np.asarray(self.grown.take(place) * (c5 + self.h.take(place)))

        for _ in range(STEPS.bit_length()):
            middle = (low + high) // 2
            over = x(middle) >= targets
            high, low = np.where(over, middle, high), np.where(over, low, middle)
        x0, x1 = x(low), x(high)
        part = np.clip((targets - x0) / np.maximum(x1 - x0, 1e-12), 0.0, 1.0)
        return np.where(x1 < targets, HORIZON, (low + part) * STEP_S)


@dataclass(frozen=True, eq=False)
class Particles:
    """In place of ``Draws``: so many goes at one pour."""

    of: Pour
    which: npt.NDArray[np.intp]
    plain: Path
    scented: Path
    thresholds: Array
    up_to: Array
    blending_s: Array
    af: Array
    latency: Array
    seizes: Array
    unscented: dict[float, tuple[Array, Array]] = field(default_factory=dict, init=False)
    """What they come to without fragrance, by when they were blended up."""

    @property
    def n(self) -> int:
        return len(self.which)

    def picked(self, which: npt.NDArray[np.intp] | slice) -> Particles:
        return replace(self, which=self.which[which])

    def factor(self, fragrance: str) -> Array:
        return self.af[self.which]

    def milestone_times(
        self,
        fragrance: str | None,
        fragrance_in: float | Array | None,
        blends: Sequence[Blend] = (),
    ) -> Array:
        """As ``thickening.draws.milestone_times``."""
        rows, targets = self.which, self.thresholds[self.which]
        up = max((b.end for b in blends if b.to is not None and b.seconds > 0), default=0.0)
        if up not in self.unscented:
            self.unscented[up] = self._unscented(up)
        c, times = self.unscented[up]
        if fragrance is None or fragrance_in is None:
            return times
        t_f = np.broadcast_to(np.asarray(fragrance_in, dtype=np.float64), self.n)
        begins = np.maximum(t_f + self.latency[rows], up)
        c = self.scented.begun(rows, self.plain.at(rows, c, begins), begins)
        later = self.scented.reaches(rows, c, targets)
        times = np.where(times <= begins[:, None], times, np.maximum(later, begins[:, None]))
        seized = t_f[:, None] + np.minimum(self.seizes[rows], HORIZON)[:, None] * SEIZING
        return np.minimum(times, seized)

    def _unscented(self, up: float) -> tuple[Array, Array]:
        """C and milestone times."""
        rows, targets, up_at = self.which, self.thresholds[self.which], np.full(self.n, up)
        x = self.plain.at(rows, np.zeros(self.n), up_at)
        if up > 0.0:
            x = np.maximum(x, self.up_to[rows])
        c = self.plain.begun(rows, x, up_at)
        times = np.maximum(self.plain.reaches(rows, c, targets), up)
        return c, np.where(targets <= x[:, None], up, times)

    def seconds_to(self, state: Trace, *rest: object) -> Array:
        """Of blending up to a stable emulsion, as the hands of ``pours`` do it."""
        return self.blending_s[self.which]

    def after(self, history: BatchHistory, now: float, n: int) -> Particles:
        """Equally likely ones by the taps up to ``now``."""
        hand, log_weight = self.of.maker.hand, np.zeros(self.n)
        hand = replace(hand, perception=float(np.hypot(hand.perception, self.of.maker.pot_sd)))
        for pot in history.pots:
            times = self.milestone_times(pot.fragrance, pot.fragrance_in, pot.blends)
            log_weight += log_seen(hand, pot, times, now)
        weight = np.exp(log_weight - log_weight.max())
        rng = np.random.default_rng([11, self.of.seed])
        return self.picked(np.sort(rng.choice(self.n, n, p=weight / weight.sum())))


def particles(pour: Pour, n: int = 1500, knows: str = BOTTLE) -> Particles:
    """Before anything is seen of ``pour``. ``knows``: the bottle, or only its fragrance."""
    maker, setup, physics = pour.maker, pour.setup, pour.maker.physics
    unsure = None
    if knows != BOTTLE:
        unsure = log_af(np.random.default_rng([17, pour.seed]), maker, setup, None, n)
    luck = draw_luck(np.random.default_rng([13, pour.seed]), maker, setup, n, unsure)
    (word,) = setup.fragrances
    rate = physics.base_rate * np.exp(luck.log_rate[:, 0])
    af = luck.af[word.name]
    warm_from = setup.batter_c - setup.room_c
    warm = setup.room_c + warm_from * np.exp(-np.arange(STEPS) * STEP_S / physics.cooling)
    heat = heat_of(physics, warm)
    own = heat_of(physics, AF_AT_C, 1.0 - physics.own_warmth) * heat_of(
        physics, warm, physics.own_warmth
    )
    added, added_later = (af - 1.0)[:, None], (af**physics.fragrance_power - 1.0)[:, None]
    base = (rate * MEAN_LEFT)[:, None]
    weighed = amounts(pour.plan, tables.oils(), tables.colourants())
    litres = sum(pot.ml for pot in weighed.pots) / 1000
    power = physics.blend_power * litres**-physics.litres_power
    up_to = luck.thresholds[:, 0, 0] * np.exp(luck.stop)
    needed = up_to / (rate * float(heat_of(physics, setup.batter_c)))
    return Particles(
        pour, np.arange(n),
        _path(base * heat, base * physics.autocatalysis * heat),
        _path(
            base * (heat + own * added), base * physics.autocatalysis * (heat + own * added_later)
        ),
        luck.thresholds[:, 0], up_to, np.clip(needed / power, 5.0, 240.0),
        af, luck.latency[word.name], luck.seizes[word.name],
    )  # fmt: skip


def _path(first: Array, second: Array) -> Path:
    g = np.minimum(_integral(second), 60.0)  # far past all that a batter comes to
    return Path(g, _integral(first * np.exp(-g)), np.exp(g))


def _integral(rate: Array) -> Array:
    steps = 0.5 * STEP_S * (rate[:, 1:] + rate[:, :-1])
    return np.concatenate([np.zeros((len(rate), 1)), np.cumsum(steps, axis=1)], axis=1)
