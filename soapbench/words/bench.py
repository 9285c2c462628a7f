"""What the bench says: headings, first words, troubles."""

from __future__ import annotations

RUNNING = "POUR RUNNING – press Enter to carry on"
DUE = "Due"
HEADS_UP = "Heads-up"
PLANS = "Plans"
SAMPLES = "Sample plans (made up)"
CURING = "Curing"
FINISHED = "Finished"
DAMAGED = "Damaged"
FIRST_WORDS = (
    "Nothing here yet. Enter opens a sample plan, r practises it without soap, n starts your own."
)
SEARCH = "Search plans, batches, fragrances, dates"
ONCE_MORE = "Press Esc again to quit"
NOT_A_PLAN = "You can't edit a batch. Press c to copy its plan"
CHOOSE_FIRST = "Choose a plan to practise first"


def bench_title(plans: int, batches: int, due: int) -> str:
    """ "Your bench: 2 plans, 1 batch, 1 thing due"."""
    counts = [_several(plans, "plan"), _several(batches, "batch", "batches")]
    if due:
        counts.append(_several(due, "thing") + " due")
    return f"Your bench: {', '.join(counts)}"


def _several(count: int, one: str, more: str = "") -> str:
    return f"{count:,} {one if count == 1 else more or one + 's'}"


TITLE, READING = "Your bench", "Reading your batches "
NOT_CUT, CURED = "not cut yet", "cured"
A_PLAN = "a plan"
IN_BACKUP = "in the backup folder"
PLAN_DAMAGED = ("this batch's plan is damaged", "copy a different batch")
"""What is wrong, and what would be right."""


def left_for(time: str) -> str:
    """Of a pour begun and never ended."""
    return f"left for {time}"


def ready_about(day: str) -> str:
    return f"ready about {day}"


def unreadable(why: str) -> str:
    return f"can't be read: {why}"


def not_used(fault: str) -> str:
    return f"! {fault}. Not used."


def cannot_save(why: object) -> str:
    return f"Can't save on this bench: {why}"


def cannot_read(why: object) -> str:
    return f"Can't read it: {why}"
