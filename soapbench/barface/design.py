"""What the bar face is drawn from: colours, pours, tool passes and the mould's proportions.

The types here know nothing of a plan file; whoever holds a plan fills them in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from soapbench.swirls.table import Manner, WireLed
from soapbench.words.signs import LOOK

MAX_POTS = 32


@dataclass(frozen=True, slots=True)
class Colour:
    """One pot's colour. ``look`` is '#rrggbb'; ``pattern`` picks its sign without colour."""

    name: str
    look: str
    pattern: int = 0

    def __post_init__(self) -> None:
        if not LOOK.fullmatch(self.look):
            raise ValueError(f"{self.name}: look {self.look!r} is not '#rrggbb'")


def _trace(value: float, what: str) -> None:
    if not 0.0 <= value <= 4.0:
        raise ValueError(f"{what} {value} is not a trace state from 0 to 4")


@dataclass(frozen=True, slots=True)
class Pouring:
    """One pour. Neighbouring pours of one manner are poured in turns, a little at a time."""

    pot: int
    share: float
    """Share of the whole batter; taken relative to the sum over all pours."""
    manner: Manner = Manner.FILL
    trace: float = 1.0
    """Trace state of the batter in the mould at that moment, 0 (emulsion) to 4 (set up)."""
    own_trace: float = 1.0
    """Trace state of the batter being poured, 0 to 4."""
    spots: int = 0
    """Columns, streams or spoonfuls; 0: the usual number for this manner."""

    def __post_init__(self) -> None:
        if not 0.0 < self.share < math.inf:
            raise ValueError(f"share {self.share} of a pour is not a number above zero")
        if self.spots < 0:
            raise ValueError(f"spots {self.spots} is below zero")
        _trace(self.trace, "trace")
        _trace(self.own_trace, "own trace")


@dataclass(frozen=True, slots=True)
class ToolPass:
    """The hanger is led through; ``trace`` is the batter's state then, 0 to 4."""

    path: WireLed = WireLed.UP_DOWN
    trace: float = 1.0

    def __post_init__(self) -> None:
        _trace(self.trace, "trace")


@dataclass(frozen=True, slots=True)
class Top:
    """A textured top, worked when the batter's trace state is ``trace``, 0 to 4."""

    trace: float = 3.0

    def __post_init__(self) -> None:
        _trace(self.trace, "trace")


@dataclass(frozen=True, slots=True)
class Mould:
    """Inside proportions of a loaf mould as filled; any one unit of length."""

    width: float = 9.0
    depth: float = 7.0
    length: float = 25.0

    def __post_init__(self) -> None:
        if not all(0.0 < side < math.inf for side in (self.width, self.depth, self.length)):
            raise ValueError("a mould's width, depth and length are numbers above zero")


@dataclass(frozen=True, slots=True)
class SinkDepth:
    """How deep a stream sinks, as a share of the batter's depth, by the batter's trace state.

    The values are ours, from the common picture that a stream goes to the floor of a thin
    base, half way into one at light trace and lies on one past medium; a maker's own cuts can
    replace them.
    """

    emulsion: float = 0.85
    light: float = 0.66
    medium: float = 0.14
    thick: float = 0.04
    set_up: float = 0.0

    def at(self, trace: float) -> float:
        """Depth (0 surface, 1 floor) at a trace state, linear between the states."""
        depths = (self.emulsion, self.light, self.medium, self.thick, self.set_up)
        below = min(int(trace), 3)
        return depths[below] + (depths[below + 1] - depths[below]) * (trace - below)


@dataclass(frozen=True, slots=True)
class Design:
    """Everything that shapes the cut face; ``steps`` are in the order of the evening."""

    colours: tuple[Colour, ...]
    steps: tuple[Pouring | ToolPass, ...]
    mould: Mould = field(default=Mould())
    top: Top | None = None
    sink: SinkDepth = field(default=SinkDepth())

    def __post_init__(self) -> None:
        if not 1 <= len(self.colours) <= MAX_POTS:
            raise ValueError(f"a face shows 1 to {MAX_POTS} pots, not {len(self.colours)}")
        if not self.pours:
            raise ValueError("nothing is poured")
        for pour in self.pours:
            if not 0 <= pour.pot < len(self.colours):
                raise ValueError(f"no pot {pour.pot} among {len(self.colours)}")

    @property
    def pours(self) -> tuple[Pouring, ...]:
        return tuple(step for step in self.steps if isinstance(step, Pouring))

    @property
    def shares(self) -> tuple[float, ...]:
        """Each pot's share of the batter; adds up to 1."""
        whole = sum(pour.share for pour in self.pours)
        return tuple(
            sum(pour.share for pour in self.pours if pour.pot == pot) / whole
            for pot in range(len(self.colours))
        )
