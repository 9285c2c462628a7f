"""The bench: what it lists, how things are found, what an empty one offers."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from soapbench.bench import tables
from soapbench.bench.samples import samples
from soapbench.ui.help import BENCH_PAGE, TABLES_PAGE
from soapbench.ui.home import HomeScreen
from soapbench.ui.plan import PlanScreen
from soapbench.ui.workshop.screen import WorkshopScreen
from tests.bench_screen.bench_kit import bench_app, poured, rest, shown, with_plan
from tests.fakes import SAMPLES, FakeClock


def test_the_samples_are_those_of_the_source_tree() -> None:
    assert set(samples()) == {file.stem for file in SAMPLES.glob("*.toml")}
    assert all("nvented" in text for text in samples().values())


async def test_an_empty_bench_offers_samples_and_writes_nothing(
    tmp_path: Path, clock: FakeClock
) -> None:
    async with bench_app(tmp_path / "bench", clock) as (app, _):
        seen = shown(app)
        assert "Harbour at Dusk" in seen
        assert "invented" in seen
        assert "This bench is empty" in seen
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
        assert "Rehearse how many times faster" in shown(app)
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
        assert heads == ["Carry on", "Due", "Mind", "Plans", "Resting"]
        assert "Left Half Way" in lines[lines.index(" Carry on") + 1]
        assert any("unmould" in line and "Quay Wall" in line for line in lines)


HEADINGS = ("Carry on", "Due", "Mind", "Plans", "Resting", "Poured")


async def test_a_word_finds_plans_and_batches(tmp_path: Path, clock: FakeClock) -> None:
    for title in ("North Mole", "South Mole", "Lamp Room"):
        poured(tmp_path, clock, title)
    async with bench_app(tmp_path, clock) as (app, pilot):
        await pilot.press("slash", *"mole SOUTH")
        await rest(app, pilot)
        seen = shown(app)
        assert "South Mole" in seen
        assert "North Mole" not in seen
        assert "Lamp Room" not in seen
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
        assert copy["title"] == "Quay Wall, again"
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
        seen = shown(app)
        assert "[/] [@click=app.quit]x" in seen
        assert "\x1b" not in seen
        assert "cannot be read" in seen


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
        seen = shown(app)
        assert "THE BENCH" in seen
        assert "any key goes back" in seen
        assert app.screen.query_one("#page").max_scroll_y == 0


@pytest.mark.parametrize("page", [BENCH_PAGE, TABLES_PAGE], ids=["bench", "tables"])
def test_no_line_of_help_is_broken_at_80_columns(page: str) -> None:
    assert max(map(len, page.splitlines())) <= 76
    assert len(page.splitlines()) <= 23


def test_the_tables_in_the_help_are_tables(tmp_path: Path) -> None:
    """What the page shows is read by the readers it is about, with no fault."""
    file = ""
    said: dict[str, list[str]] = {}
    for line in TABLES_PAGE.splitlines()[1:]:
        if line[:1].isalpha() and ".toml" in line[:16]:
            file = line.split()[0]
        if file and (line.startswith(" ") or line.startswith(file)):
            said.setdefault(file, []).append(line[16:])
    assert set(said) == {"oils.toml", "colourants.toml", "fragrances.toml", "swirls.toml"}
    for name, lines in said.items():
        (tmp_path / name).write_text("\n".join(lines), "utf-8")
    assert tables.oils(tmp_path)["tiger nut"].lot == "A17"
    assert tables.colourants(tmp_path)["harbour blue"].look == "#274b6d"
    assert tables.fragrances(tmp_path)["Kelp & Fig"].limit == pytest.approx(0.095)
    assert tables.swirls(tmp_path).kinds["spoon spiral"].role == "tool"
