"""The bench: what it lists, how things are found, what an empty one offers."""

from __future__ import annotations

import tomllib
from datetime import timedelta
from pathlib import Path

import pytest

from soapbench.batter import Trace
from soapbench.bench.learned import open_bench, remember
from soapbench.bench.samples import samples
from soapbench.desk.starting import carry_on
from soapbench.log import Kind
from soapbench.ui.home import HomeScreen
from soapbench.ui.plan import PlanScreen
from soapbench.ui.workshop.screen import WorkshopScreen
from soapbench.words.bench import RUNNING
from soapbench.words.help import BENCH_PAGE, GLOSSARY
from tests.bench_screen.bench_kit import bench_app, poured, rest, shown, tap, with_plan
from tests.fakes import SAMPLES, FakeClock


def test_the_samples_are_those_of_the_source_tree() -> None:
    assert set(samples()) == {file.stem for file in SAMPLES.glob("*.toml")}
    assert all("nvented" in text for text in samples().values())


async def test_an_empty_bench_offers_samples_and_writes_nothing(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path / "bench", clock) as (app, _):
        text = shown(app)
        assert "Harbour at Dusk" in text
        assert "made up" in text
        assert "Nothing here yet" in text
    assert not (tmp_path / "bench").exists()


async def test_a_sample_opens_with_one_key_and_rehearses_with_two(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("enter")
        await rest(app, pilot)
        assert isinstance(app.screen, PlanScreen)
    async with bench_app(tmp_path / "other", clock) as (app, pilot):
        await pilot.press("r")
        await rest(app, pilot)
        assert "Practice speed" in shown(app)
        await pilot.press("enter")
        await rest(app, pilot)
        assert type(app.screen).__name__ == "RehearsalScreen"


async def test_the_bench_tells_what_is_due_resting_and_begun(
    tmp_path: Path, clock: FakeClock
) -> None:
    poured(tmp_path, clock)
    poured(tmp_path, clock, "Left Half Way", ended=False)
    with_plan(tmp_path)
    async with bench_app(tmp_path, clock) as (app, _):
        lines = shown(app).splitlines()
        heads = [line.strip() for line in lines if line.strip() in HEADINGS]
        assert heads == [RUNNING, "Due", "Heads-up", "Plans", "Curing"]
        assert "Left Half Way" in lines[lines.index(f" {RUNNING}") + 1]
        assert any("unmould" in line and "Quay Wall" in line for line in lines)
        assert any(line.startswith(" 1 pour: 1 ") for line in lines), "its record"


HEADINGS = (RUNNING, "Due", "Heads-up", "Plans", "Curing", "Finished")


async def test_a_word_finds_plans_and_batches(tmp_path: Path, clock: FakeClock) -> None:
    for title in ("North Mole", "South Mole", "Lamp Room"):
        poured(tmp_path, clock, title)
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("slash", *"mole SOUTH")
        await rest(app, pilot)
        text = shown(app)
        assert "South Mole" in text
        assert "North Mole" not in text
        assert "Lamp Room" not in text
        await pilot.press("down")
        assert app.screen.query_one("#list").has_focus
        await pilot.press("escape")
        assert "Lamp Room" in shown(app)


async def test_a_past_batch_becomes_a_new_plan(tmp_path: Path, clock: FakeClock) -> None:
    poured(tmp_path, clock)
    async with bench_app(tmp_path, clock) as (app, pilot):
        while not (app.screen.line and app.screen.line.kind == "batch"):  # type: ignore[attr-defined]
            await pilot.press("down")
        await pilot.press("c")
        await rest(app, pilot)
        assert isinstance(app.screen, WorkshopScreen)
        copy = tomllib.loads(app.screen.draft.text)
        assert copy["title"] == "Quay Wall (copy)"
        assert [pot["name"] for pot in copy["pots"]] == ["base", "rope", "gull"]
        assert app.screen.draft.path is None


async def test_a_faulty_table_is_told_and_the_bench_stays(tmp_path: Path, clock: FakeClock) -> None:
    with_plan(tmp_path)
    (tmp_path / "tables").mkdir()
    (tmp_path / "tables" / "oils.toml").write_text('[whale]\nsaponification.mg_koh_g = "much"\n')
    async with bench_app(tmp_path, clock, (120, 40)) as (app, _):
        assert "oils.toml, line 2" in shown(app)
        assert "Quay Wall" in shown(app)


async def test_a_hostile_title_and_a_broken_plan_are_only_text(
    tmp_path: Path, clock: FakeClock
) -> None:
    with_plan(tmp_path, "odd", 'title = "[/] [@click=app.quit]x\\u001b]0;y"\n')
    with_plan(tmp_path, "broken", "title = \n")
    async with bench_app(tmp_path, clock) as (app, _):
        text = shown(app)
        assert "[/] [@click=app.quit]x" in text
        assert "\x1b" not in text
        assert "can't be read" in text


@pytest.mark.parametrize("key", ["question_mark", "f", "b", "s"])
@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_every_side_screen_opens_and_comes_back(
    tmp_path: Path, clock: FakeClock, key: str, size: tuple[int, int]
) -> None:
    async with bench_app(tmp_path, clock, size) as (app, pilot):
        before = shown(app)
        await pilot.press(key)
        await rest(app, pilot)
        assert shown(app) != before
        await pilot.press("escape")
        await rest(app, pilot)
        assert isinstance(app.screen, HomeScreen)


async def test_help_fits_one_page(tmp_path: Path, clock: FakeClock) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("question_mark")
        await rest(app, pilot)
        text = shown(app)
        assert "YOUR BENCH" in text
        assert "any key closes this" in text
        assert app.screen.query_one("#page").max_scroll_y == 0


@pytest.mark.parametrize("page", [BENCH_PAGE, GLOSSARY], ids=["bench", "words"])
def test_no_line_of_help_is_broken_at_80_columns(page: str) -> None:
    assert max(map(len, page.splitlines())) <= 76
    assert len(page.splitlines()) <= 23


async def test_what_the_five_trace_states_look_like_is_one_key_away(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("g")
        await rest(app, pilot)
        assert all(f"{trace} {state.words}" in GLOSSARY for trace, state in enumerate(Trace, 1))
        assert "2 light trace" in shown(app)


async def test_batches_of_one_plan_and_day_are_told_apart_and_the_cure_is_a_bar(
    tmp_path: Path, clock: FakeClock
) -> None:
    poured(tmp_path, clock)
    clock.passes(timedelta(hours=-22).total_seconds())
    poured(tmp_path, clock)
    poured(tmp_path, clock, "North Mole")
    bench = open_bench(tmp_path)
    known = remember(bench).known
    desk = carry_on(bench, clock, lambda: known, bench.path(bench.batches().rows[0]))
    desk.record(Kind.CUT, bars=10)
    desk.close()
    clock.passes(timedelta(weeks=3).total_seconds())
    async with bench_app(tmp_path, clock, (100, 30)) as (app, _):
        lines = [line for line in shown(app).splitlines() if "▱" in line or "▰" in line]
        assert len(lines) == 3
        quays = [line for line in lines if "Quay Wall" in line]
        assert len({line.split("1 Mar ")[1][:5] for line in quays}) == 2
        (cut,) = [line for line in lines if "▰" in line]
        assert cut.count("▰") == 5
        assert "ready about" in cut


async def test_every_key_on_the_key_line_can_be_tapped(tmp_path: Path, clock: FakeClock) -> None:
    async with bench_app(tmp_path, clock) as (app, pilot):
        await tap(pilot, "fragrance book")
        await rest(app, pilot)
        assert type(app.screen).__name__ == "FragranceBookScreen"
        await tap(pilot, "Esc")
        await rest(app, pilot)
        assert isinstance(app.screen, HomeScreen)
        await tap(pilot, "help")
        await rest(app, pilot)
        assert "YOUR BENCH" in shown(app)


async def test_a_key_of_any_screen_can_be_tapped(tmp_path: Path, clock: FakeClock) -> None:
    """On the plan sheet, in a question, in the workshop: a finger does what the key does."""
    with_plan(tmp_path)
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("enter")
        await rest(app, pilot)
        assert isinstance(app.screen, PlanScreen)
        await tap(pilot, "h practise")
        await rest(app, pilot)
        assert "Practice speed" in shown(app)
        await tap(pilot, "Esc cancel")
        await rest(app, pilot)
        assert isinstance(app.screen, PlanScreen)
        await tap(pilot, "Esc bench")
        await rest(app, pilot)
        assert isinstance(app.screen, HomeScreen)
        await tap(pilot, "new plan")
        await rest(app, pilot)
        await tap(pilot, "olive")  # takes the cell in hand
        await tap(pilot, "olive")  # and once more edits it
        assert "Which oil?" in shown(app)
