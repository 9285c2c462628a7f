"""A pour by its log, without a screen: what happened, how things stand, how long since lye.

A fact is on disk before the state changes; going forward costs the same however long the log is.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from soapbench.figures import Figures
from soapbench.log import Event, Kind, Standing, Value, standing
from soapbench.pour.events import after, state_of
from soapbench.pour.state import PourState

if TYPE_CHECKING:
    from soapbench.advice.advise import Live
    from soapbench.advice.known import Known
    from soapbench.aftercare.resting import Resting
    from soapbench.logfile.batchlog import Unsaved
    from soapbench.logfile.clock import Clock, Reading
    from soapbench.logfile.hold import Holder
    from soapbench.plan import Plan
    from soapbench.recipe.amounts import Amounts
    from soapbench.swirls.table import SwirlTable

TEND_EVERY_S = 2.0
"""How often the disk is asked again about what it would not take (ours)."""
STOOD = 64
"""Acts that can be undone without folding the log anew (ours)."""


class Log(Protocol):
    """Where events go; ``append`` returns once they are durable, or ``unsaved`` says why not."""

    @property
    def events(self) -> tuple[Event, ...]: ...
    @property
    def unsaved(self) -> Unsaved | None: ...
    def append(self, event: Event) -> Event: ...
    def retry(self) -> bool: ...
    def close(self) -> None: ...


@dataclass
class PourLog:
    """A pour by its log. ``watching``: another program holds the log, so nothing is written."""

    batch: str
    plan: Plan
    amounts: Amounts
    swirls: SwirlTable
    learn: Callable[[], Known]
    """What the bench knows; worked out when the model is first asked, on another thread."""
    log: Log
    clock: Clock
    watching: bool = False
    release: Callable[[], None] = lambda: None
    take_up: Callable[[bool], tuple[Log, Callable[[], None]] | None] = lambda override: None
    """While watching: the log to write from now on and its release, if nobody holds it now.

    Given whether the word of another machine, which may be long off, counts as nothing."""
    held_by: Callable[[], Holder | None] = lambda: None
    holder: Holder | None = None
    """While watching: who holds the pour, as last seen; None: nobody any more."""
    foreseen: Figures = field(default_factory=Figures)
    """What the log's header kept of the figures shown before the pour."""
    left_out: str = ""
    """The maker's own table that cannot be read, so that this pour goes by none of them."""
    facts: Standing = field(init=False)
    """The events that hold."""
    state: PourState = field(init=False)
    live: Live | None = None
    """What the model said last."""
    _ml: Mapping[str, float] = field(init=False)
    _known: Known | None = field(default=None, init=False)
    by_wall_clock: bool = field(default=False, init=False)
    """Time since lye had to be taken over from the wall clock, for the machine was restarted."""
    clock_behind: bool = field(default=False, init=False)
    """That wall clock shows a time before the last entry: it is looked at again until the first
    entry since, for many a machine sets its clock some time after it was started."""
    _rests: tuple[Standing, Resting | None] | None = field(default=None, init=False)
    _stood: deque[tuple[Standing, PourState]] = field(
        default_factory=lambda: deque(maxlen=STOOD), init=False
    )
    """How things stood before each of the last events."""
    _from: tuple[Reading, float] | None = field(default=None, init=False)
    _tended: float = field(default=float("-inf"), init=False)

    def __post_init__(self) -> None:
        from soapbench.recipe.amounts import pot_ml

        self._ml = pot_ml(self.amounts)
        self.refold()
        self._set_clock()

    @property
    def known(self) -> Known:
        if self._known is None:
            self._known = self.learn()
        return self._known

    # ---- time

    def now(self) -> float:
        """Seconds since lye met oils; 0 before."""
        return self._t(self.clock.read())

    def _t(self, reading: Reading) -> float:
        from soapbench.logfile.clock import elapsed_since

        if self._from is None:
            return 0.0
        stamp, t = self._from
        return t + elapsed_since(stamp, reading).seconds

    def _set_clock(self) -> None:
        """Choose what time counts from: the boot clock, whatever the wall clock does meanwhile.

        After a restart of the machine only the wall clock tells how long it was off. It is
        asked once, from the last event on, so that no step of it before or after counts.
        """
        from soapbench.logfile.clock import Reading, elapsed_since

        start = self.facts.first(Kind.LYE_MEETS_OILS)
        if start is None:
            self._from = None
            return
        events = self.log.events
        reading, poured = self.clock.read(), events[events.index(start) :]
        ours = [e for e in poured if e.boot_id and e.boot_id == reading.boot_id]
        whole = all(e.boot_s <= reading.boot_s for e in ours)  # not put back to an earlier state
        here = ours[0] if ours and whole else None
        self.by_wall_clock = here is None
        self.clock_behind = here is None and reading.at < poured[-1].at
        if here:
            self._from = Reading(here.at, here.boot_s, here.boot_id), here.t
        else:
            last = poured[-1]
            self._from = reading, last.t + elapsed_since(last, reading).seconds

    def _look_at_clock_again(self) -> None:
        """Go by the wall clock anew once it shows a time that can be."""
        if self._from is None or not self.log.events:
            return
        reading, last = self.clock.read(), self.log.events[-1]
        since_start = reading.boot_s - self._from[0].boot_s
        if (reading.at - last.at).total_seconds() >= since_start:
            self._set_clock()

    # ---- what happens

    def record(
        self, kind: Kind, pot: str | None = None, t: float | None = None, **values: Value
    ) -> Event | None:
        """Log one fact, then take it into the state. None when only watching."""
        if self.watching:
            return None
        reading = self.clock.read()
        event = Event(
            at=reading.at,
            t=self._t(reading) if t is None else t,
            kind=kind,
            pot=pot,
            values=values,
            boot_s=reading.boot_s,
            boot_id=reading.boot_id,
        )
        logged = self.log.append(event)
        self.clock_behind = False
        self._take_in(logged)
        if self._from is None or not self.state.begun:
            self._set_clock()
            self.live = None
        return logged

    def _take_in(self, event: Event) -> None:
        """One more event: forward from how things stand. The last act undone is how they stood
        before it; what any other undo leaves is folded anew."""
        if event.kind is Kind.UNDO:
            if self._stood and self.facts[-1].id == event.values.get("of"):
                self.facts, self.state = self._stood.pop()
            else:
                self.refold()
            return
        self._stood.append((self.facts, self.state))
        self.facts = self.facts.and_then(event)
        self.state = after(self.state, event, self.plan, self._ml, self.swirls)

    def refold(self) -> None:
        """How things stand by the log, worked out from its first event on."""
        self._stood.clear()
        self.facts = standing(self.log.events)
        self.state = state_of(self.plan, self._ml, self.swirls, self.facts)

    @property
    def resting(self) -> Resting | None:
        """The batch after its pour; None while that has not ended. Worked out once an event."""
        if self._rests is None or self._rests[0] is not self.facts:
            from soapbench.aftercare.resting import resting_of

            steps = self.state.steps
            rests = resting_of(self.batch, self.plan, self.foreseen, self.facts, steps, self.swirls)
            self._rests = self.facts, rests
        return self._rests[1]

    # ---- the log's keeping

    def tend(self) -> bool:
        """Retry what is not saved, or look what the pour's holder did; True when that is new.

        Called with every tick; goes to the disk every ``TEND_EVERY_S`` only.
        """
        boot_s = self.clock.read().boot_s
        if 0 <= boot_s - self._tended < TEND_EVERY_S:
            return False
        self._tended = boot_s
        if self.clock_behind:
            self._look_at_clock_again()
        if not self.watching:
            if self.log.unsaved:
                self.log.retry()
            return False
        self.holder = self.held_by()
        new = self.log.retry()
        if new:
            self.refold()
            self._set_clock()
        return new

    def take_over(self, override: bool = False) -> bool:
        """Write this pour from here on, if nobody holds it any more. OSError: no log to read."""
        taken = self.take_up(override) if self.watching else None
        if taken is None:
            return False
        self.log, self.release = taken
        self.watching = False
        self.refold()
        self._set_clock()
        return True

    def close(self) -> None:
        self.log.close()
        self.release()
