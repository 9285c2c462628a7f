"""What a batter is and what was seen of it: trace states, taps and histories.

These are the values the thickening model reads and the pour screen shows. Times are
seconds since lye met oils (``t``), never wall-clock times.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum


class Trace(IntEnum):
    """How thick a batter is; each state is a milestone that a batter reaches once."""

    EMULSION = 0
    LIGHT = 1
    MEDIUM = 2
    THICK = 3
    SET_UP = 4

    @property
    def words(self) -> str:
        return TRACE_WORDS[self]


TRACE_WORDS = ("stable emulsion", "light trace", "medium trace", "thick trace", "set up")
MILESTONES = tuple(Trace)
"""Times of milestones stand in this order everywhere: column j is when Trace(j) is reached."""
USUAL_LOAD = 0.03
"""Share of the oils' mass that a fragrance's acceleration factor is meant for."""


class Reputation(StrEnum):
    """What the supplier or other makers say a fragrance does to the clock."""

    WELL_BEHAVED = "well behaved"
    UNKNOWN = "unknown"
    ACCELERATES = "accelerates"
    NOTORIOUS = "notorious"


@dataclass(frozen=True, slots=True)
class Tap:
    """The maker says: this pot has reached this trace state now."""

    t: float
    state: Trace


def standing(taps: Iterable[Tap]) -> tuple[dict[Trace, float], dict[Trace, float]]:
    """Which taps still hold: (first seen, last seen) of each state, s.

    A batter never thins, so a tap of a lower state takes back every higher one before it.
    """
    first: dict[Trace, float] = {}
    last: dict[Trace, float] = {}
    for tap in sorted(taps, key=lambda tap: tap.t):
        for higher in [state for state in first if state > tap.state]:
            del first[higher], last[higher]
        first.setdefault(tap.state, tap.t)
        last[tap.state] = tap.t
    return first, last


@dataclass(frozen=True, slots=True)
class Blend:
    """A burst of the stick blender; ``seconds`` of running from ``t`` on."""

    t: float
    seconds: float
    litres: float = 1.0
    """Of batter blended together."""
    to: Trace | None = None
    """The state it was kept up to, however long the blender really ran; None: it ran for
    ``seconds``. With no seconds of its own: the state was there by ``t``, after bursts keyed."""

    @property
    def end(self) -> float:
        return self.t + self.seconds

    def within(self, begun: float) -> bool:
        """Whether some of it fell into what began at ``begun``, s: a finger may have been early.

        What ended as that began, give or take how exactly times are kept, did not.
        """
        return self.end > begun + 0.1


@dataclass(frozen=True, slots=True)
class PotHistory:
    """What happened to one pot, up to ``until``, the last moment anybody could have looked."""

    name: str
    until: float
    fragrance: str | None = None
    fragrance_in: float | None = None
    """None: not in yet, or never (``fragrance`` None: never)."""
    blends: tuple[Blend, ...] = ()
    """Every burst this pot went through, those before it was poured off included."""
    taps: tuple[Tap, ...] = ()
    together: Trace = Trace.EMULSION
    """What the batter it was in was seen at before it was poured off: by another pot's taps, which
    are not this one's evidence too."""
    keyed: float | None = None
    """When the maker last keyed anything of this pot, s; None: at ``until``."""


@dataclass(frozen=True, slots=True)
class FragranceWord:
    """A fragrance as the maker knows it before it goes in."""

    name: str
    reputation: Reputation = Reputation.UNKNOWN
    lot: str | None = None
    load: float = USUAL_LOAD
    """Share of the oils' mass, or of the scented pots' part of it."""


@dataclass(frozen=True, slots=True)
class ByOthers:
    """What another maker found of a fragrance: counted as a word, never as batches of one's own.

    How many times faster batter thickens with 3 % of it at 24 degC: the middle, four of five.
    """

    times_faster: float
    low: float
    high: float
    batches: int
    """The other maker's."""


@dataclass(frozen=True, slots=True)
class Mix:
    """What the recipe says about speed: the covariates of the thickening model."""

    batter_c: float
    """Temperature of oils and lye water when they meet, degC."""
    concentration: float
    """Pure alkali / (pure alkali + water), 0 to 1."""
    saturated: float
    """Saturated share of the oils' fatty acids, 0 to 1."""
    hurry: float = 1.0
    """Times faster it thickens with its additives, by their table; 1 without any."""


@dataclass(frozen=True, slots=True)
class BatchHistory:
    """One batch as the model sees it, finished or still running."""

    batch: str
    mix: Mix
    pots: tuple[PotHistory, ...]
    fragrances: tuple[FragranceWord, ...] = field(default=())
