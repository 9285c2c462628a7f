"""The workshop under a maker's keys."""

from __future__ import annotations

import tomllib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input
from textual.worker import WorkerCancelled

from soapbench.bench.learned import open_bench
from soapbench.desk.colournames import colour_named
from soapbench.desk.draft import FIRST_PLAN, Draft, opened
from soapbench.desk.plankeys import MORE, Keys
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.barface import BarFace
from soapbench.ui.editor import Editor
from soapbench.ui.grid import Grid
from soapbench.ui.ways import ToWorkshop
from soapbench.ui.workshop.screen import WorkshopScreen
from soapbench.words.colours import NAMES
from tests.fakes import FakeClock
from tests.plans import THREE_POTS
from tests.waiting import worked_out


async def rest(app: SoapbenchApp, pilot: Pilot[int]) -> None:
    """Until nothing is being worked out: timers that wait for the keys to rest are run at once."""
    await pilot.pause()
    screen = app.screen
    if isinstance(screen, WorkshopScreen):
        screen._work_out()
    elif isinstance(screen, Editor):
        screen.try_now()
    with suppress(WorkerCancelled):  # the one before, for its answer is no longer wanted
        await worked_out(app)
    await worked_out(app)
    await pilot.pause()


@asynccontextmanager
async def workshop(
    bench: Path, clock: FakeClock, first: Draft, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[tuple[SoapbenchApp, Pilot[int]]]:
    app = SoapbenchApp(open_bench(bench), clock)
    async with app.run_test(size=size) as pilot:
        app.take(ToWorkshop(first))
        await rest(app, pilot)
        yield app, pilot


def shown(app: SoapbenchApp) -> str:
    return "\n".join(line.text.rstrip() for line in app.screen._compositor.render_strips())


def desk(app: SoapbenchApp) -> WorkshopScreen:
    assert isinstance(app.screen, WorkshopScreen)
    return app.screen


async def test_a_fault_is_shown_at_its_field_with_what_would_be_right(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN)) as (app, pilot):
        desk(app).query_one("#page", Grid).go_to(("oils", 1, "share"))
        await pilot.press("enter", *"9", "enter")
        await rest(app, pilot)
        lines = shown(app).splitlines()
        (at,) = [i for i, line in enumerate(lines) if "add up to 84 %" in line]
        assert "castor" in lines[at - 1]
        assert "shares must add up to 100 %" in lines[at]
        await pilot.press("equals_sign")
        await rest(app, pilot)
        assert desk(app).answer is not None
        assert not desk(app).answer.faults
        assert "Chance" in shown(app)


async def test_the_chance_moves_as_a_fragrance_is_chosen(tmp_path: Path, clock: FakeClock) -> None:
    tables = tmp_path / "tables"
    tables.mkdir()
    tables.joinpath("fragrances.toml").write_text(
        '["Peat Reek"]\nreputation = "notorious"\nlimit_percent = 4.0\nlot = "P3"\n'
    )
    async with workshop(tmp_path, clock, Draft(THREE_POTS)) as (app, pilot):
        before = desk(app).answer.chance  # type: ignore[union-attr]
        assert before is not None
        await pilot.press("f", *"Peat")
        await rest(app, pilot)
        text = shown(app)
        assert "limit 4 % of the finished soap" in text
        assert "the supplier's word alone" in text
        assert f"(was {before * 100:.0f} %)" in text
        await pilot.press("enter")
        await rest(app, pilot)
        answer = desk(app).answer
        assert answer is not None
        assert answer.chance is not None
        assert answer.chance < before
        assert f"(was {before * 100:.0f} %)" in shown(app)
        fragrance = tomllib.loads(desk(app).draft.text)["fragrance"]
        assert (fragrance["name"], fragrance["limit"], fragrance["lot"]) == (
            "Peat Reek",
            "4 %",
            "P3",
        )


async def test_a_look_is_shown_live_while_it_is_typed(tmp_path: Path, clock: FakeClock) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN)) as (app, pilot):
        desk(app).query_one("#page", Grid).go_to(("pots", 0, "look"))
        await pilot.press("enter", *"#12ab9")
        await rest(app, pilot)
        assert "Don't know that colour" in shown(app)
        await pilot.press("f")
        await rest(app, pilot)
        styles = [
            segment.style.color.name
            for line in app.screen._compositor.render_strips()
            for segment in line
            if segment.style and segment.style.color and "█" in segment.text
        ]
        assert "#12ab9f" in styles


async def test_undo_save_and_a_title_from_hell(tmp_path: Path, clock: FakeClock) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN)) as (app, pilot):
        await pilot.press("enter", *"[/] [@click=app.quit]x", "enter")
        await rest(app, pilot)
        assert "[/] [@click=app.quit]x" in shown(app)
        await pilot.press("u")
        await rest(app, pilot)
        assert desk(app).draft.text == FIRST_PLAN
        await pilot.press("s")
        await rest(app, pilot)
        assert (tmp_path / "plans" / "new_plan.toml").read_text("utf-8") == FIRST_PLAN
        assert "not saved" not in shown(app)


async def test_a_plan_that_cannot_be_written_is_told_and_kept(
    tmp_path: Path, clock: FakeClock
) -> None:
    tmp_path.joinpath("plans").write_text("a file where the folder should be")
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN)) as (app, pilot):
        await pilot.press("s")
        await rest(app, pilot)
        assert "NOT SAVED" in shown(app)
        assert desk(app).draft.changed


async def test_leaving_asks_before_changes_are_lost(tmp_path: Path, clock: FakeClock) -> None:
    plans = tmp_path / "plans"
    plans.mkdir()
    file = plans / "quay.toml"
    file.write_text(THREE_POTS)
    async with workshop(tmp_path, clock, opened(file)) as (app, pilot):
        await pilot.press("down", "delete", "down", "delete")
        await rest(app, pilot)
        await pilot.press("escape")
        await rest(app, pilot)
        assert "Close without saving?" in shown(app)
        await pilot.press("n")
        assert isinstance(app.screen, WorkshopScreen)
    assert file.read_text() == THREE_POTS


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_chance_room_and_amounts_fit_the_screen(
    tmp_path: Path, clock: FakeClock, size: tuple[int, int]
) -> None:
    async with workshop(tmp_path, clock, Draft(THREE_POTS), size) as (app, _):
        text = shown(app)
        for words in ("Chance", "Pourable after", "rope", "NaOH", "Batter", "limit 9 %", "p save"):
            assert words in text
        assert max(map(len, text.splitlines())) <= size[0]


async def test_a_wide_screen_shows_the_cut_face(tmp_path: Path, clock: FakeClock) -> None:
    async with workshop(tmp_path, clock, Draft(THREE_POTS), (120, 40)) as (app, pilot):
        await worked_out(app)
        await pilot.pause()
        face = desk(app).query_one("#face", BarFace)
        assert len(face.lines) >= 10
        drawn = {sign for line in face.lines for segment in line for sign in segment.text}
        assert len(drawn) >= 3, "each of the three pots shows"


def plan_of(app: SoapbenchApp) -> dict[str, Any]:
    return tomllib.loads(desk(app).draft.text)


async def give(app: SoapbenchApp, pilot: Pilot[int], keys: Keys, typed: str) -> None:
    """Edit the value at ``keys``: what is there is taken out first."""
    assert desk(app).query_one("#page", Grid).go_to(keys)
    await pilot.press("enter", "end", *["backspace"] * 40)
    for sign in typed:
        app.screen.query_one("#typed", Input).insert_text_at_cursor(sign)
    await pilot.press("enter")
    await rest(app, pilot)


async def test_a_colour_is_given_by_a_name_or_picked(tmp_path: Path, clock: FakeClock) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN), (120, 40)) as (app, pilot):
        look: Keys = ("pots", 0, "look")
        await give(app, pilot, look, "dark red")
        assert plan_of(app)["pots"][0]["look"] == colour_named("dark red")
        assert "dark red" in shown(app)
        desk(app).query_one("#page", Grid).go_to(look)
        await pilot.press("enter", "end", *["backspace"] * 10, *"slat")
        await pilot.press("enter")
        await rest(app, pilot)
        assert plan_of(app)["pots"][0]["look"] == NAMES["slate"], "the first that fits is taken"
        assert "slate" in shown(app)


@pytest.mark.parametrize(
    ("typed", "mould"),
    [
        ("12 x 3.5 x 3 in", {"length": "12 in", "width": "3.5 in", "depth": "3 in"}),
        ("30x9x8cm", {"length": "30 cm", "width": "9 cm", "depth": "8cm"}),
        ("2 L", {"volume": "2 L"}),
        ("40 fl_oz", {"volume": "40 fl_oz"}),
    ],
)
async def test_a_mould_is_given_in_one_field_in_any_unit(
    tmp_path: Path, clock: FakeClock, typed: str, mould: dict[str, str]
) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN)) as (app, pilot):
        await give(app, pilot, ("mould", "size"), typed)
        given = {key: value for key, value in plan_of(app)["mould"].items() if key != "fill"}
        assert given == mould
        assert not desk(app).answer.faults  # type: ignore[union-attr]


async def test_a_recipe_changes_between_shares_and_weights(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN)) as (app, pilot):
        answer = desk(app).answer
        assert answer is not None
        assert answer.sheet is not None
        before = answer.sheet.amounts.oils_g
        await pilot.press("w")
        await rest(app, pilot)
        oils = plan_of(app)["oils"]
        assert all("mass" in oil and "share" not in oil for oil in oils)
        answer = desk(app).answer
        assert answer is not None
        assert answer.sheet is not None
        assert answer.sheet.amounts.oils_g == pytest.approx(before, rel=0.002)
        await pilot.press("w")
        await rest(app, pilot)
        assert [oil["share"] for oil in plan_of(app)["oils"]] == ["70 %", "25 %", "5 %"]


async def test_a_weight_typed_for_a_share_is_refused_once_where_it_was_typed(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN)) as (app, pilot):
        await give(app, pilot, ("oils", 0, "share"), "12 oz")
        assert isinstance(app.screen, Editor), "it stays open to be put right"
        assert shown(app).count("press w to enter weights") == 1
        await pilot.press("escape")
        assert desk(app).draft.text == FIRST_PLAN


async def test_what_a_plan_may_have_beside_is_asked_for_by_its_words(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN), (120, 40)) as (app, pilot):
        assert desk(app).query_one("#page", Grid).go_to(("oils", 1, MORE))
        await pilot.press("enter", *"sap certificate")
        assert "SAP value" in shown(app)
        await pilot.press("enter", *"255", "enter")
        await rest(app, pilot)
        assert plan_of(app)["oils"][1]["saponification"] == "255 mg/g"


async def test_home_and_end_and_pages_move_over_the_page(tmp_path: Path, clock: FakeClock) -> None:
    async with workshop(tmp_path, clock, Draft(THREE_POTS)) as (app, pilot):
        grid = desk(app).query_one("#page", Grid)
        await pilot.press("end")
        last = grid.cell
        await pilot.press("home")
        assert grid.cell is not None
        assert grid.cell.keys == ("title",)
        await pilot.press("pagedown")
        assert grid.cell not in (None, last)


async def test_an_additive_is_added_and_embeds_take_their_room(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with workshop(tmp_path, clock, Draft(FIRST_PLAN), (120, 50)) as (app, pilot):
        grid = desk(app).query_one("#page", Grid)
        assert grid.go_to((MORE,))
        await pilot.press("enter", *"additive", "enter")
        assert "Which additive?" in shown(app)
        await pilot.press(*"goat", "enter")
        await rest(app, pilot)
        assert plan_of(app)["additives"] == [{"name": "goat milk", "dose": "2 %"}]
        assert not desk(app).answer.faults  # type: ignore[union-attr]
        assert grid.cell is not None
        assert grid.cell.keys == ("additives", 0, "dose")
        await give(app, pilot, ("additives", 0, "dose"), "120 mL")
        assert plan_of(app)["additives"][0]["dose"] == "120 mL"
        grid.go_to((MORE,))
        await pilot.press("enter", *"embed", "enter")
        await pilot.press(*"80 mL", "enter")
        await rest(app, pilot)
        assert plan_of(app)["embeds"] == [{"volume": "80 mL"}]
        assert not desk(app).answer.faults  # type: ignore[union-attr]
