"""A whole pour with one button: pressed, pressed twice, or held.

A terminal tells when a key goes down and, while it is held, goes down again and again; never when
it comes up. So a press is one, two soon after each other are a double, and many in a row are a
hold. Plain values: when a press was, in s of any clock that only goes forward.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from soapbench.log import Outcome

DOUBLE_S = 0.7
"""Two presses within this are a double (ours): longer than most keyboards wait before a key that
is held repeats, which is 0.2 to 0.66 s (from memory), so that a hold never begins as one press."""
REPEAT_S = 0.12
"""A key held repeats faster than this, and no foot does (common practice, no source)."""
HELD_S = 1.1
"""From the first press: a hold (ours)."""


class Gesture(StrEnum):
    SHORT = "short"
    DOUBLE = "double"
    HOLD = "hold"


@dataclass(frozen=True, slots=True)
class Presses:
    """Presses not told apart yet, and the hold whose repeats are still coming."""

    at: tuple[float, ...] = ()
    held_until: float = float("-inf")
    """Repeats up to here belong to a hold that has been told."""


def pressed(presses: Presses, now: float) -> tuple[Presses, Gesture | None]:
    """Take in one press; a gesture where it decides one."""
    if now <= presses.held_until:
        return Presses((), now + DOUBLE_S), None
    at = (*presses.at, now)
    if len(at) > 2 and now - at[0] >= HELD_S and at[-1] - at[-2] <= REPEAT_S:
        return Presses((), now + DOUBLE_S), Gesture.HOLD
    return Presses(at), None


def waited(presses: Presses, now: float) -> tuple[Presses, Gesture | None]:
    """What the presses so far were, once nothing more is to come."""
    if not presses.at or now - presses.at[-1] < DOUBLE_S:
        return presses, None
    # Three and more that were no hold: a foot that bounced, or stepped on again in a hurry.
    return Presses(), Gesture.SHORT if len(presses.at) == 1 else Gesture.DOUBLE


def act_of(gesture: Gesture, warns: bool) -> str:
    """The act of a pour that a gesture stands for; ``"next trace"`` is the next state of the pot
    to be looked at."""
    if gesture is Gesture.SHORT:
        return "done"
    if gesture is Gesture.DOUBLE:
        return "next trace"
    return "rescue" if warns else "undo"


HOW_IT_WENT = {
    Gesture.SHORT: Outcome.AS_PLANNED,
    Gesture.DOUBLE: Outcome.IN_PART,
    Gesture.HOLD: Outcome.NO,
}
"""The answer to how a pour came out."""
