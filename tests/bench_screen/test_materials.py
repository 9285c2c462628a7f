"""The maker's own materials: entered in forms, kept in their files, known where they are chosen."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from soapbench.batter import Reputation, Trace
from soapbench.bench import owntable
from soapbench.bench.tables import colourants, fragrances, oils, swirls
from soapbench.desk import materials
from soapbench.desk.colournames import colour_named
from soapbench.desk.materials import FORMS
from soapbench.fragrances.shelf import history_words, limit_words, shelf, trouble_words, troubled
from soapbench.lessons import Ended
from soapbench.thickening.fitted import no_batches
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.editor import Editor
from soapbench.ui.grid import Grid
from soapbench.ui.materials import MaterialsScreen
from tests.bench_screen.bench_kit import bench_app, poured, rest, shown
from tests.fakes import FakeClock

BY_HAND = """\
# my bottles
["Kelp & Fig"]   # the blue one [2025]
limit_percent = 9.5   # sheet of 2025
reputation = "well behaved"
"""
AT = ("Kelp & Fig",)


async def form(app: SoapbenchApp, pilot: Pilot[int], name: str) -> Grid:
    """The materials screen, open at one of its lists."""
    await pilot.press("f")
    await rest(app, pilot)
    assert isinstance(app.screen, MaterialsScreen)
    while app.screen.form.name != name:
        await pilot.press("t")
    await rest(app, pilot)
    return app.screen.query_one("#page", Grid)


async def test_a_bottle_is_put_on_the_shelf_and_taken_down(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        await form(app, pilot, "fragrances")
        await pilot.press("n", *"Tar & Thyme", "enter", *"4.5", "enter")
        await pilot.press("right", "right", "enter", "down", "down")
        await pilot.press("enter")
        await pilot.press("right", "enter", *"T9", "enter")
        await rest(app, pilot)
        bottle = fragrances(tmp_path / "tables")["Tar & Thyme"]
        assert bottle.limit == pytest.approx(0.045)
        assert bottle.reputation is Reputation.NOTORIOUS
        assert bottle.lot == "T9"
        await pilot.press("u")
        await rest(app, pilot)
        assert fragrances(tmp_path / "tables")["Tar & Thyme"].lot == ""


async def test_an_oil_is_not_begun_without_its_saponification_value(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        grid = await form(app, pilot, "oils")
        await pilot.press("n", *"tiger nut", "enter", "escape")
        assert not (tmp_path / "tables" / "oils.toml").exists()
        await pilot.press("n", *"tiger nut", "enter", *"190-200", "enter")
        await rest(app, pilot)
        assert grid.go_to(("tiger nut", "saturated", "share"))
        await pilot.press("enter", *"19", "enter")
        await rest(app, pilot)
        oil = oils(tmp_path / "tables")["tiger nut"]
        assert (oil.saponification.low, oil.saponification.high) == (190, 200)
        assert oil.saturated is not None
        assert oil.saturated.mid == pytest.approx(0.19)


async def test_a_colourant_gets_its_colour_by_name(tmp_path: Path, clock: FakeClock) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        await form(app, pilot, "colours")
        await pilot.press("n", *"harbour", "enter", *"dark denim", "enter")
        await rest(app, pilot)
        colour = colourants(tmp_path / "tables")["harbour"]
        assert colour.look == colour_named("dark denim")
        assert "dark denim" in shown(app)


async def test_a_swirl_of_ones_own_begins_like_another_and_takes_its_own_time(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        grid = await form(app, pilot, "swirls")
        await pilot.press("n", *"slow drop", "enter", *"drop", "enter")
        await rest(app, pilot)
        like = swirls(None).kinds["drop swirl"]
        swirl = swirls(tmp_path / "tables").kinds["slow drop"]
        assert [move.do for move in swirl.moves] == [move.do for move in like.moves]
        at = ("swirl", "slow drop", "moves", 1)
        assert grid.go_to((*at, "median_s"))
        await pilot.press("enter", "end", *["backspace"] * 9, *"2 min", "enter")
        assert grid.go_to((*at, "hand", 1))
        await pilot.press("enter", *"light", "enter")
        await rest(app, pilot)
        swirl = swirls(tmp_path / "tables").kinds["slow drop"]
        assert swirl.moves[1].handwork.median_s == 120
        assert swirl.moves[1].hand.latest is Trace.LIGHT


@pytest.mark.parametrize("typed", ["0", "101", "4 g", "lots"])
async def test_no_limit_is_refused_and_not_written(
    tmp_path: Path, clock: FakeClock, typed: str
) -> None:
    (tmp_path / "tables").mkdir()
    (tmp_path / "tables" / "fragrances.toml").write_text(BY_HAND)
    async with bench_app(tmp_path, clock) as (app, pilot):
        await form(app, pilot, "fragrances")
        await pilot.press("right", "enter", "end", *["backspace"] * 9, *typed, "enter")
        await rest(app, pilot)
        assert isinstance(app.screen, Editor), "it stays open to be put right"
        assert "!" in shown(app)
    assert (tmp_path / "tables" / "fragrances.toml").read_text() == BY_HAND


def test_a_hand_written_table_keeps_its_comments() -> None:
    text = owntable.with_value(BY_HAND, (*AT, "limit_percent"), 8.0)
    assert text == BY_HAND.replace("9.5", "8.0")
    renamed = owntable.renamed(BY_HAND, AT, "Kelp.Fig")
    assert list(owntable.entries(renamed)) == ["Kelp.Fig"]
    assert "# the blue one [2025]" in renamed
    assert owntable.entries(owntable.without(BY_HAND, AT)) == {}
    again = owntable.with_entry(BY_HAND, ("[/] x",), {"lot": 'q"'})
    assert again.startswith(BY_HAND)
    assert owntable.entries(again)["[/] x"] == {"lot": 'q"'}


def test_an_entry_with_tables_below_it_is_renamed_with_them() -> None:
    text = '[swirl."a b"]\nrole = "tool"\n[[swirl."a b".moves]]\ndo = "spoon"\n[swirl.c]\n'
    renamed = owntable.renamed(text, ("swirl", "a b"), "d")
    assert owntable.entries(renamed, "swirl") == {
        "d": {"role": "tool", "moves": [{"do": "spoon"}]},
        "c": {},
    }


@pytest.mark.parametrize("table", FORMS, ids=[table.name for table in FORMS])
def test_the_first_lines_of_a_table_are_one_without_entries(table: materials.Form) -> None:
    assert owntable.entries(table.first_lines, table.under) == {}
    assert materials.faults_of(table, {}) == ()


def outcome(as_planned: bool) -> Ended:
    steps = ("drop swirl",)
    return Ended("b", steps, steps, ("Tar",), 0.8, as_planned, finished=True)


def test_a_fragrance_that_spoilt_most_swirls_is_pointed_out() -> None:
    fragrance = shelf({}, no_batches(), [outcome(True), outcome(False), outcome(False)])["Tar"]
    assert troubled(fragrance)
    assert trouble_words(fragrance) == "Tar: 1 of 3 swirls worked out"
    assert "last: drop swirl, finished another way" in history_words(fragrance)
    assert limit_words(fragrance) == "no limit entered; see its certificate"
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
        text = " ".join(shown(app).replace("┃", " ").split())
        assert "your 1 batch with it" in text
        assert "1 of 1 swirls" in text
