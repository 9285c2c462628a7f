"""The table of simulated pours, and how sure its figures are."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from tests.worlds.tally import NEVER, Row, kept, over, read, share, table

PLAIN = Row(1, 0, "strong", "usual", -1, NEVER, -0.5, "as wished", False, False, True)
SAVED = replace(PLAIN, size=10, who="tool", worth=0.6, became="another swirl", in_part=True)
LET_BE = replace(PLAIN, pour=1, worth=1.0, planned=True, in_part=True, would_ruin=False)
GIVEN_UP = replace(SAVED, pour=1, would_ruin=False)


def test_what_is_prevented_and_what_is_given_up_without_need() -> None:
    assert (SAVED.prevented, SAVED.needless) == (True, False)
    assert (GIVEN_UP.prevented, GIVEN_UP.needless) == (False, True)
    assert not PLAIN.prevented
    assert not LET_BE.needless


def test_a_share_with_its_error_by_hand() -> None:
    assert share(5, 10) == pytest.approx((50.0, 100.0 * math.sqrt(0.25 / 12)))
    none, error = share(0, 20)
    assert none == 0.0
    assert error > 3.0, "none of twenty is not never"
    assert all(map(math.isnan, share(0, 0)))


def test_differences_are_of_who_met_the_same_luck() -> None:
    stranger = replace(SAVED, world=2, worth=9.0)
    mean, error, pairs = over([SAVED, GIVEN_UP, stranger], [PLAIN, LET_BE])
    assert (mean, pairs) == (pytest.approx((1.1 - 0.4) / 2), 2)
    assert error == pytest.approx(0.75), "half the distance of two"


def test_the_table_tells_each_decider_and_the_run_before() -> None:
    rows = [PLAIN, LET_BE, SAVED, GIVEN_UP]
    before = [replace(SAVED, worth=0.5), GIVEN_UP]
    lines = table(rows, "both", before).splitlines()
    assert len(lines) == 4
    ours = next(line for line in lines if " tool " in line)
    assert "0.600 ±0.000" in ours
    assert "100.0 %" in ours
    assert " 50.0 ±" in ours, "one wish of two given up without need"
    assert ours.endswith("+0.050 ±0.050")
    assert len(table(rows, "natural").splitlines()) == 2, "none of these"


def test_rows_are_kept_and_read_again(tmp_path: Path) -> None:
    kept(tmp_path / "rows", [PLAIN])
    kept(tmp_path / "rows", [SAVED])
    assert read(tmp_path / "rows") == [PLAIN, SAVED]
