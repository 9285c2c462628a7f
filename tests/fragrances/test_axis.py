"""The axis of times faster: a dot a batch, where it belongs."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from soapbench.fragrances.axis import BAD, GOOD, HIGH, LOW, bar, dots, place, scale
from soapbench.outlook.finishing import Quantiles

WIDTHS = st.integers(16, 90)
FACTORS = st.floats(0.01, 100)


@given(WIDTHS, st.lists(st.tuples(FACTORS, st.booleans()), max_size=40))
def test_every_batch_has_a_dot_while_there_is_room(
    width: int, batches: list[tuple[float, bool]]
) -> None:
    line = dots(batches, width)
    assert len(line) == width
    assert line.count(GOOD) + line.count(BAD) == min(len(batches), width)


@given(WIDTHS, FACTORS, FACTORS)
def test_faster_is_further_right_and_within(width: int, one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert 0 <= place(low, width) <= place(high, width) < width


def test_twice_is_as_far_from_once_as_four_from_twice() -> None:
    assert place(2, 1001) - place(1, 1001) == place(4, 1001) - place(2, 1001)
    assert (place(LOW, 80), place(HIGH, 80)) == (0, 79)


def test_the_bar_and_the_numbers_stand_over_each_other() -> None:
    width = 60
    line, numbers = bar(Quantiles(2, 3, 6), width), scale(width)
    assert line.index("━") == numbers.index("2x")
    assert line.index("◆") == numbers.index("3x")
    assert line.rindex("━") == numbers.index("6x")
