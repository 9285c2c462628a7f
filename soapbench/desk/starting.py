"""Beginning a batch, and carrying on one that was left: the desk over its log."""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench import __version__
from soapbench.desk.pourdesk import Desk
from soapbench.desk.pourlog import Log
from soapbench.figures import Figures
from soapbench.logfile.patience import LOOK_S, OPEN_S, Asked, NoAnswer, within
from soapbench.reading.safetext import clean
from soapbench.words import troubles as words

if TYPE_CHECKING:
    from soapbench.advice.known import Known
    from soapbench.bench.folder import Bench
    from soapbench.log import Event
    from soapbench.logfile.clock import Clock
    from soapbench.logfile.hold import Hold
    from soapbench.sheet.plansheet import PlanSheet
    from soapbench.sheet.weighing import Weighed
    from soapbench.swirls.table import SwirlTable

Held = tuple[Log, Callable[[], None]]
"""A log to write and what lets go of it."""


class CannotCarryOn(Exception):
    """Why a log cannot be poured on from; its text is for the maker."""


class NotToBePoured(Exception):
    """A plan with a problem of lye or limit, and nobody typed that it is to be poured."""


def begin(bench: Bench, clock: Clock, known: Known, sheet: PlanSheet, typed: str = "") -> Desk:
    """A new batch of ``sheet``: its log is made and held. Never fails for want of a disk.

    ``typed``: what the maker typed in full to pour it in spite of its stops. No pour begins any
    other way, so this is where it is refused. Raises NotToBePoured.
    """
    if not sheet.may_be_poured(typed):
        raise NotToBePoured("; ".join(problem.text for problem in sheet.stops))
    from soapbench.lessons import foreseen_figures

    figures = foreseen_figures(sheet.amounts, sheet.plan, sheet.outlook)
    if sheet.outlook:
        from soapbench.advice.foreseen import Foreseen
        from soapbench.barface import barplan

        worked = barplan.foreseen(Foreseen(sheet.plan, known, sheet.amounts))
        figures = replace(figures, face=barplan.kept(worked, known.sinking))
    figures = replace(figures, in_spite_of=tuple(problem.id for problem in sheet.stops))
    return _desk(bench, clock, known.swirls, lambda: known, sheet, figures)


def begin_rehearsal(
    bench: Bench, clock: Clock, swirls: SwirlTable, learn: Callable[[], Known], ready: Weighed
) -> Desk:
    """A rehearsal of what was weighed out, logged among the rehearsals.

    Nothing was foreseen for it and it teaches nothing, so the model can come later.
    """
    return _desk(bench, clock, swirls, learn, ready, Figures(), rehearsal=True)


def _desk(
    bench: Bench,
    clock: Clock,
    swirls: SwirlTable,
    learn: Callable[[], Known],
    sheet: Weighed,
    figures: Figures,
    rehearsal: bool = False,
) -> Desk:
    from soapbench.logfile.hold import Hold, take
    from soapbench.logfile.records import Header
    from soapbench.logfile.slowdisk import PATIENCE_S, PatientLog

    reading = clock.read()
    batch = f"{reading.at:%Y%m%d}-{secrets.token_hex(4)}"
    header = Header(
        batch, sheet.plan.title, reading.at, __version__, sheet.plan.as_written(), figures
    )
    log = PatientLog(bench.prepare(header, rehearsal=rehearsal), new=True)
    hold = None
    if log.answered(0.0):  # nobody else can know of a log that is not there
        with contextlib.suppress(NoAnswer):
            hold = within(PATIENCE_S, lambda: take(log.path, reading.boot_id))
    release = _letting_go(hold) if isinstance(hold, Hold) else (lambda: None)
    return Desk(
        batch, sheet.plan, sheet.amounts, swirls, learn, log, clock,
        release=release, foreseen=figures,
    )  # fmt: skip


def carry_on(bench: Bench, clock: Clock, learn: Callable[[], Known], path: Path) -> Desk:
    """The pour in ``path``, as its log tells it; only watching when another program holds it.

    It is there before the model, which ``learn`` brings when that is first asked. Raises
    CannotCarryOn when the log does not hold enough to go on from, or its disk hangs.
    """
    try:
        return within(OPEN_S, lambda: _carry_on(bench, clock, learn, path), Desk.close)
    except NoAnswer as hangs:
        raise CannotCarryOn(words.cannot_be_read(hangs.strerror)) from None


def _carry_on(bench: Bench, clock: Clock, learn: Callable[[], Known], path: Path) -> Desk:
    from soapbench.bench.planfile import plan_in_log
    from soapbench.bench.tables import tables_anyhow
    from soapbench.logfile.hold import holder
    from soapbench.reading.faults import FileFaults
    from soapbench.recipe.amounts import amounts

    boot_id = clock.read().boot_id

    def take_up(override: bool = False) -> Held | None:
        from soapbench.logfile.hold import Hold, take
        from soapbench.logfile.slowdisk import PatientLog

        hold = take(path, boot_id, override=override)
        if not isinstance(hold, Hold):
            return None
        try:
            return PatientLog(bench.carry_on(path)), _letting_go(hold)
        except OSError:
            hold.release()
            raise

    def take_up_patiently(override: bool = False) -> Held | None:
        return within(OPEN_S, lambda: take_up(override), lambda late: late and late[1]())

    try:
        header = bench.read(path).header
        if header is None:
            raise CannotCarryOn(words.PLAN_DAMAGED)
        known = tables_anyhow(bench.folder / "tables")
        swirls = known.swirls
        plan = plan_in_log(header, path, known.oils, swirls)
        worked = amounts(plan, known.oils, known.colourants, known.additives)
        watched = WatchedLog(bench, path)
        desk = Desk(
            header.id, plan, worked, swirls, learn, watched, clock,
            watching=True, take_up=take_up_patiently,
            held_by=Asked(lambda: holder(path, boot_id), None),
            foreseen=header.foreseen, left_out=known.faulty,
        )  # fmt: skip
        if not desk.take_over():
            desk.holder = desk.held_by()
    except FileFaults as refused:
        fault = refused.faults[0].words(path.name)
        raise CannotCarryOn(words.plan_unusable(clean(fault, 160))) from None
    except OSError as error:
        raise CannotCarryOn(words.cannot_be_read(error.strerror or error)) from None
    except (ArithmeticError, LookupError, TypeError, ValueError) as error:
        raise CannotCarryOn(words.plan_unpourable(clean(str(error), 120))) from None
    return desk


def _letting_go(hold: Hold) -> Callable[[], None]:
    """What releases a hold, without waiting for a disk that hangs: the end of the program does."""

    def release() -> None:
        with contextlib.suppress(NoAnswer):
            within(LOOK_S, hold.release)

    return release


class WatchedLog:
    """A log another program writes: read afresh, never written."""

    unsaved = None

    def __init__(self, bench: Bench, path: Path) -> None:
        self._bench, self.path = bench, path
        self._stamp = self._look()
        self.events = bench.read(path).events
        self._asked = Asked(self._read, self.events)

    def retry(self) -> bool:
        """Look for events since; True when there are. Keeps the last ones if it cannot be read."""
        events = self._asked()
        new = events != self.events
        self.events = events
        return new

    def _read(self) -> tuple[Event, ...]:
        stamp = self._look()
        if stamp == self._stamp:
            return self.events
        events = self._bench.read(self.path).events
        self._stamp = stamp
        return events

    def _look(self) -> tuple[int, int] | None:
        try:
            there = self.path.stat()
        except FileNotFoundError:
            return None  # it may have reached the spill folder only
        return there.st_mtime_ns, there.st_size

    def append(self, event: Event) -> Event:
        raise PermissionError(words.RUNS_ELSEWHERE)

    def close(self) -> None:
        """Nothing is open."""
