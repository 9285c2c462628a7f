"""One button, told apart by when it goes down."""

from __future__ import annotations

import pytest

from soapbench.desk.onebutton import Gesture, Presses, pressed, waited

TICK_S = 0.05


def gestures(*downs: float, until: float = 5.0) -> list[Gesture]:
    """What ``downs`` come to, looked at every tick as a screen does."""
    presses, read, left = Presses(), [], sorted(downs)
    for i in range(int(until / TICK_S)):
        now = i * TICK_S
        while left and left[0] <= now:
            presses, gesture = pressed(presses, left.pop(0))
            read += [gesture] if gesture else []
        presses, gesture = waited(presses, now)
        read += [gesture] if gesture else []
    return read


def held(start: float, seconds: float, delay: float, every: float) -> list[float]:
    """A key held, as a keyboard repeats it: after ``delay``, then every ``every`` s."""
    repeats = int((seconds - delay) / every)
    return [start, *(start + delay + i * every for i in range(repeats))]


def test_one_press() -> None:
    assert gestures(1.0) == [Gesture.SHORT]


def test_two_soon_after_each_other_and_two_apart() -> None:
    assert gestures(1.0, 1.3) == [Gesture.DOUBLE]
    assert gestures(1.0, 2.5) == [Gesture.SHORT, Gesture.SHORT]


@pytest.mark.parametrize("delay", [0.2, 0.4, 0.66])
@pytest.mark.parametrize("every", [0.025, 0.033, 0.09])
def test_held_is_one_hold_however_long(delay: float, every: float) -> None:
    assert gestures(*held(1.0, 2.0, delay, every)) == [Gesture.HOLD]
    assert gestures(*held(1.0, 3.5, delay, every), until=8.0) == [Gesture.HOLD]


def test_a_press_after_a_hold_counts() -> None:
    assert gestures(*held(1.0, 2.0, 0.25, 0.033), 4.5, until=8.0) == [Gesture.HOLD, Gesture.SHORT]


def test_a_foot_that_bounces_is_no_hold() -> None:
    assert gestures(1.0, 1.06, 1.12) == [Gesture.DOUBLE]
