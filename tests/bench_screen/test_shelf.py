"""The maker's own fragrances: kept in their file, and known where a fragrance is chosen."""

from __future__ import annotations

from pathlib import Path

import pytest

from soapbench.batter import Reputation
from soapbench.bench import fragrancetable
from soapbench.bench.tables import fragrances
from soapbench.fragrances.shelf import history_words, limit_words, shelf, trouble_words, troubled
from soapbench.lessons import Outcome
from soapbench.thickening.fitting import no_batches
from tests.bench_screen.bench_kit import bench_app, poured, rest, shown
from tests.fakes import FakeClock

BY_HAND = """\
# my bottles
["Kelp & Fig"]   # the blue one
limit_percent = 9.5   # sheet of 2025
reputation = "well behaved"
"""


async def test_a_bottle_is_put_on_the_shelf_and_taken_down(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("f")
        await rest(app, pilot)
        await pilot.press("n", *"Tar & Thyme", "enter", "enter", *"4.5", "enter")
        await pilot.press("right", "enter", "down", "down", "enter")
        await pilot.press("right", "enter", *"T9", "enter")
        await rest(app, pilot)
        found = fragrances(tmp_path / "tables")["Tar & Thyme"]
        assert found.limit == pytest.approx(0.045)
        assert found.reputation is Reputation.NOTORIOUS
        assert found.lot == "T9"
        await pilot.press("u")
        await rest(app, pilot)
        assert fragrances(tmp_path / "tables")["Tar & Thyme"].lot == ""


@pytest.mark.parametrize("typed", ["0", "101", "4 g", "lots"])
async def test_no_limit_is_refused_and_not_written(
    tmp_path: Path, clock: FakeClock, typed: str
) -> None:
    (tmp_path / "tables").mkdir()
    (tmp_path / "tables" / "fragrances.toml").write_text(BY_HAND)
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("f")
        await rest(app, pilot)
        await pilot.press("right", "enter", *typed, "enter")
        await rest(app, pilot)
        assert "!" in shown(app)
    assert (tmp_path / "tables" / "fragrances.toml").read_text() == BY_HAND


def test_a_hand_written_table_keeps_its_comments() -> None:
    text = fragrancetable.with_value(BY_HAND, "Kelp & Fig", "limit_percent", 8.0)
    assert text == BY_HAND.replace("9.5", "8.0")
    renamed = fragrancetable.renamed(BY_HAND, "Kelp & Fig", "Kelp.Fig")
    assert list(fragrancetable.entries(renamed)) == ["Kelp.Fig"]
    assert "# the blue one" in renamed
    assert fragrancetable.entries(fragrancetable.without(BY_HAND, "Kelp & Fig")) == {}


def outcome(as_planned: bool) -> Outcome:
    steps = ("drop swirl",)
    return Outcome("b", steps, steps, ("Tar",), 0.8, as_planned, finished=True)


def test_a_fragrance_that_spoilt_most_swirls_is_pointed_out() -> None:
    found = shelf({}, no_batches(), [outcome(True), outcome(False), outcome(False)])["Tar"]
    assert troubled(found)
    assert trouble_words(found) == "Tar: 1 of 3 swirls worked out"
    assert "last: drop swirl, finished another way" in history_words(found)
    assert limit_words(found) == "no limit entered; see its certificate"
    assert not troubled(shelf({}, no_batches(), [outcome(True), outcome(False)])["Tar"])


async def test_what_a_fragrance_did_is_told_where_it_is_chosen(
    tmp_path: Path, clock: FakeClock
) -> None:
    poured(tmp_path, clock)
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("n")
        await rest(app, pilot)
        await pilot.press("f", *"tar")
        await rest(app, pilot)
        seen = " ".join(shown(app).replace("┃", " ").split())
        assert "1 batch with this fragrance" in seen
        assert "1 of 1 swirls" in seen
