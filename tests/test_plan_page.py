"""The plan sheet's front: what is said first, that all of it fits, and its keys."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from soapbench.advice.known import Known
from soapbench.bench.learned import open_bench
from soapbench.bench.tables import cautions
from soapbench.settings import USUAL
from soapbench.sheet.front import front, helps
from soapbench.sheet.plansheet import plan_sheet
from soapbench.sheet.screenlines import Front
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.canvas import Canvas
from soapbench.ui.home import HomeScreen
from soapbench.ui.plan import PlanScreen
from soapbench.ui.planpage import DOTS, IN_PART, LOST, PLANNED, dots, page_lines
from soapbench.words.lines import cells, plain
from tests.fakes import SAMPLES, FakeClock
from tests.plans import THREE_POTS, plan, sample
from tests.waiting import worked_out

NAMES = sorted(path.stem for path in SAMPLES.glob("*.toml"))


def front_of(known: Known, name: str) -> Front:
    return front(plan_sheet(sample(SAMPLES / f"{name}.toml"), known, cautions()), 77, USUAL)


@pytest.mark.parametrize("name", NAMES)
def test_every_sample_fits_and_shows_chance_chart_and_its_own_way(known: Known, name: str) -> None:
    shown = front_of(known, name)
    for width, height in ((80, 24), (120, 40), (60, 20)):
        lines = [plain(line) for line in page_lines(shown, width, height)]
        whole = "\n".join(lines)
        assert all(cells(line) <= width for line in lines)
        assert "▸ your plan" in whole
        assert "minutes" in whole
        assert PLANNED in whole or shown.planned < 0.03
        assert lines.index(next(line for line in lines if "minutes" in line)) < 16


def test_dots_are_the_chances(known: Known) -> None:
    shown = replace(front_of(known, "plain_morning"), planned=0.71, in_part=0.21)
    text = plain(dots(shown))
    assert [text.count(c) for c in (PLANNED, IN_PART, LOST)] == [14, 4, 2]
    assert len(text) == DOTS


def test_a_wait_is_a_stage_of_the_chart(known: Known) -> None:
    shown = front_of(known, "dune_layers")
    assert shown.chart is not None
    assert any(act.waits for act in shown.chart.acts)
    assert any("w wait" in plain(line) for line in page_lines(shown, 80, 24))


def test_a_stop_stands_large_in_place_of_the_chance(known: Known) -> None:
    text = THREE_POTS.replace('load = "3 %"', 'load = "8 %"').replace('limit = "9 %"\n', "")
    sheet = plan_sheet(plan(text), known, cautions())
    assert sheet.stops
    shown = front(sheet, 77, USUAL)
    whole = "\n".join(plain(line) for line in page_lines(shown, 80, 24))
    assert "STOP" in whole
    assert "typed yes" in whole
    assert PLANNED not in whole
    assert "each dot" not in whole


async def test_one_key_and_a_yes_make_what_would_help_the_plan(
    clock: FakeClock, tmp_path: Path
) -> None:
    path = tmp_path / "plan.toml"
    text = (SAMPLES / "midsummer_bonfire.toml").read_text("utf-8")
    path.write_text(f"# ours\n{text}", "utf-8")
    app = SoapbenchApp(open_bench(tmp_path / "bench"), clock, path)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, PlanScreen)
        await worked_out(app)
        await pilot.pause()
        assert screen.sheet is not None
        wanted = helps(screen.sheet)[0]
        await pilot.press("1", "n")
        assert path.read_text("utf-8").endswith(text)
        await pilot.press("1", "y")
        await worked_out(app)
        await pilot.pause()
        changed = path.read_text("utf-8")
        assert changed.startswith("# ours")
        assert changed != f"# ours\n{text}"
        assert screen.sheet.plan == wanted.plan


async def test_amounts_are_one_key_away_and_can_be_printed(
    clock: FakeClock, tmp_path: Path
) -> None:
    app = SoapbenchApp(open_bench(tmp_path), clock, SAMPLES / "harbour_at_dusk.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, PlanScreen)
        await worked_out(app)
        await pilot.pause()
        page = screen.query_one(Canvas)
        assert page.display
        assert any("SWIRLS WITH THIS BATTER" in line for line in page.lines)
        await pilot.press("W")
        assert not page.display
        assert "NaOH (" in str(screen.query_one("#text").render())  # type: ignore[attr-defined]
        await pilot.press("p")
        assert "NaOH (" in (tmp_path / "sheets" / "harbour_at_dusk.txt").read_text("utf-8")
        await pilot.press("escape")
        assert page.display
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, HomeScreen)
