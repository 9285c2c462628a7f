"""The set-out's checklist: every heading once, lye water made early enough to cool."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

import pytest
from textual.containers import VerticalScroll
from textual.widgets import Static

from soapbench.advice.known import Known
from soapbench.bench.learned import open_bench
from soapbench.bench.planfile import read_plan
from soapbench.bench.tables import colourants, oils, swirls
from soapbench.recipe.amounts import amounts
from soapbench.sheet.setout import GROUPS, items
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.pour.setout import SetOutScreen, aligned
from tests.desks import desk
from tests.fakes import SAMPLES, FakeClock
from tests.plans import sample

PLANS = sorted((Path(__file__).parents[1] / "sample_plans").glob("*.toml"))


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_every_heading_comes_once_and_nothing_is_set_out_twice(path: Path) -> None:
    plan = read_plan(path, oils(None), swirls(None).kinds)
    listed = items(plan, amounts(plan, oils(None), colourants(None)), swirls(None))
    headings = [group for group, _ in groupby(item.group for item in listed)]
    assert headings == [group for group in GROUPS if group in headings]
    assert headings[:4] == ["Protect", "Mould", "Weigh", "Lye"]
    assert len({item.id for item in listed}) == len(listed)


def test_amounts_stand_below_each_other_by_their_decimal_points() -> None:
    rows = aligned(["632 g  olive", "45 g  castor", "128.6 g  NaOH (98 % pure)", "1,310 g  palm"])
    assert rows == [
        "  632   g  olive", "   45   g  castor", "  128.6 g  NaOH (98 % pure)", "1,310   g  palm",
    ]  # fmt: skip


async def test_the_list_opens_at_its_top_ticks_all_above_and_says_where_there_is_no_lot(
    known: Known, clock: FakeClock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pour = desk(sample(SAMPLES / "harbour_at_dusk.toml"), known, clock)
    app = SoapbenchApp(open_bench(tmp_path), clock)
    tops: list[float] = []
    async with app.run_test(size=(80, 24)) as pilot:
        screen = SetOutScreen(pour)
        scroll = VerticalScroll.scroll_to
        monkeypatch.setattr(
            VerticalScroll, "scroll_to", lambda *a, y, **k: [tops.append(y), scroll(*a, y=y, **k)]
        )
        await app.switch_screen(screen)
        while not tops:  # drawn once it is laid out
            await pilot.pause()
        assert set(tops) == {0}  # nor is it a row down before it is laid out
        assert screen.query_one("#body").scroll_y == 0
        await pilot.press("L")
        assert "no lot number" in str(screen.query_one("#said", Static).render())
        await pilot.press("down", "down", "down", "a")
        assert len(pour.state.weighed) == 4
        await pilot.press("u", "enter")
        await pilot.pause()
        assert app.screen is not screen
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen is screen
