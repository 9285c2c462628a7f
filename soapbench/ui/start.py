"""Beginning a batch, and carrying on one that was left: the desk over its log."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import TYPE_CHECKING

from soapbench import __version__
from soapbench.lessons import foreseen_figures
from soapbench.ui.desk import Desk

if TYPE_CHECKING:
    from soapbench.advice import Known
    from soapbench.disk.bench import Bench
    from soapbench.disk.clock import Clock
    from soapbench.plansheet import PlanSheet


class CannotCarryOn(Exception):
    """Why a log cannot be poured on from; its text is for the maker."""


def begin(
    bench: Bench, clock: Clock, known: Known, sheet: PlanSheet, rehearsal: bool = False
) -> Desk:
    """A new batch of ``sheet``: its log is made and held. Never fails for want of a disk."""
    from soapbench.disk.hold import Hold, take
    from soapbench.disk.records import Header

    reading = clock.read()
    batch = f"{reading.at:%Y%m%d}-{secrets.token_hex(4)}"
    figures = foreseen_figures(sheet.amounts, sheet.plan, sheet.outlook) if sheet.outlook else {}
    header = Header(
        batch, sheet.plan.title, reading.at, __version__, sheet.plan.as_written(), figures
    )
    log = bench.begin(header, rehearsal=rehearsal)
    hold = take(log.path, reading.boot_id)
    release = hold.release if isinstance(hold, Hold) else (lambda: None)
    return Desk(batch, sheet.plan, sheet.amounts, known, log, clock, release=release)


def carry_on(bench: Bench, clock: Clock, known: Known, path: Path) -> Desk:
    """The pour in ``path``, as its log tells it; only watching when another program holds it.

    Raises CannotCarryOn when the log does not hold enough to go on from.
    """
    from pydantic import ValidationError

    from soapbench.amounts import amounts
    from soapbench.disk.batchlog import read_log
    from soapbench.disk.hold import Hold, take
    from soapbench.plan import Plan

    try:
        header = read_log(path).header
    except OSError as error:
        raise CannotCarryOn(f"It cannot be read: {error.strerror}") from None
    if header is None:
        raise CannotCarryOn("Its plan, at the top of the file, is damaged")
    try:
        plan = Plan.read(dict(header.plan))
        made = amounts(plan, known.oils, known.colourants)
    except (ValidationError, KeyError):
        raise CannotCarryOn("Its plan is of another version or names an oil no longer known") from None
    hold = take(path, clock.read().boot_id)
    if not isinstance(hold, Hold):
        return Desk(header.id, plan, made, known, WatchedLog(path), clock, watching=True)
    log = bench.carry_on(path)
    return Desk(header.id, plan, made, known, log, clock, release=hold.release)


class WatchedLog:
    """A log another program writes: read afresh, never written."""

    unsaved = None

    def __init__(self, path: Path) -> None:
        from soapbench.disk.batchlog import read_log

        self._path, self._read = path, read_log
        self.events = read_log(path).events

    def retry(self) -> bool:
        """Look for events since; keeps the last ones while the file cannot be read."""
        try:
            self.events = self._read(self._path).events
        except OSError:
            return False
        return True

    def append(self, event: object) -> object:
        raise PermissionError("this pour is held by another program")

    def close(self) -> None:
        """Nothing is open."""
