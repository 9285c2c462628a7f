"""What is said when something could not be read, worked out, saved or left alone."""

from __future__ import annotations

from soapbench.reading.safetext import counted

QUIT, QUIT_MORE = (
    "Quit during a pour?",
    "The clock keeps running; you can carry on when you restart",
)
QUIT_UNSAVED = "Quit and lose what isn't saved yet?"
CRASHED = "soapbench crashed. Please report:"
GOES_UNSEEN = "It would go on without you"
VIEW_ONLY = "View only: keys have no effect"
ELSEWHERE = "View only: the pour runs in another window"
OTHER_GONE = "The other window is gone. Enter: carry on here"
LOCK_DAMAGED = "The lock file is damaged. Enter: carry on here if nobody else pours this"
NOBODY_ELSE = "Does nobody else pour this?"


PLAN_DAMAGED = "Its plan, at the top of the file, is damaged"
RUNS_ELSEWHERE = "this pour runs in another window"


def cannot_be_read(why: object) -> str:
    return f"It cannot be read: {why}"


def plan_unusable(why: str) -> str:
    return f"Its plan cannot be used: {why}"


def plan_unpourable(why: str) -> str:
    return f"Its plan cannot be poured from: {why}"


def not_worked_out(why: str) -> str:
    return f"This could not be worked out: {why}"


def not_saved(why: object) -> str:
    return f"NOT SAVED: {why}"


def keys_not_saved(count: int, spilled: bool, why: str) -> str:
    """ "NOT SAVED: last 3 keys (still in memory): …"; 0: the page a log begins with."""
    what = f"last {counted(count, 'key')}" if count else "the plan's page"
    kept = "in the backup folder" if spilled else "still in memory"
    return f"NOT SAVED: {what} ({kept}): {why}"


def had_last(host: str) -> str:
    return f"{host} had this last. Enter: carry on here if it is finished there"


def host_finished(host: str) -> str:
    return f"Is {host} really finished with this batch?"


def went_wrong(why: str) -> str:
    return f"Something went wrong here. {why}"


def bench_unreadable(why: object) -> str:
    return f"Your bench can't be read: {why}"


def part_unreadable(why: str) -> str:
    return f"Some of your bench could not be read: {why}"


def now_saved(count: int) -> str:
    return f"Earlier unsaved entries are now saved ({count} in all)"


def still_not_saved(count: int, why: str) -> str:
    """``why``: empty where nothing tells."""
    what = f"Still not saved in the bench: {counted(count, 'batch', 'batches')}"
    return f"{what}: {why}" if why else what


def not_carried_on(name: str, why: object) -> str:
    return f"{name} can't be carried on. {why}"


def not_opened(name: str, why: object) -> str:
    return f"{name} can't be opened. {why}"
