"""The fragrance book on screen."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import date
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from soapbench.batter import ByOthers, Reputation
from soapbench.bench.handonfile import text_of
from soapbench.bench.learned import open_bench
from soapbench.fragrances.handon import Word
from soapbench.fragrances.text import PREDICTIONS, SUPPLIERS
from soapbench.ui.app import SoapbenchApp
from soapbench.ui.fragrancebook import FragranceBookScreen
from soapbench.ui.home import HomeScreen
from soapbench.ui.rows import Rows
from soapbench.ui.ways import ToFragrances
from tests.fakes import FakeClock
from tests.waiting import worked_out

SHELF = """
["Reed Smoke"]
limit_percent = 5
reputation = "notorious"
["Milk [/] Thistle"]
reputation = "well behaved"
note = "[bold]not[/ marked up"
"""


@asynccontextmanager
async def opened(
    clock: FakeClock, folder: Path, name: str = "", size: tuple[int, int] = (80, 24)
) -> AsyncIterator[tuple[Pilot[int], FragranceBookScreen]]:
    app = SoapbenchApp(open_bench(folder), clock)
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        app.take(ToFragrances(name))
        await settled(pilot)
        assert isinstance(app.screen, FragranceBookScreen)
        yield pilot, app.screen


async def settled(pilot: Pilot[int]) -> None:
    for _ in range(2):
        await pilot.pause()
        await worked_out(pilot.app)
    await pilot.pause()


def on_shelf(folder: Path, text: str = SHELF) -> Path:
    (folder / "tables").mkdir()
    (folder / "tables" / "fragrances.toml").write_text(text)
    return folder


def shown(screen: FragranceBookScreen, id: str) -> str:
    return str(screen.query_one(f"#{id}", Static).render())


def lines(screen: FragranceBookScreen) -> list[str]:
    return ["".join(s.text for s in strip).rstrip() for strip in screen._compositor.render_strips()]


async def test_list_and_detail(clock: FakeClock, tmp_path: Path) -> None:
    async with opened(clock, on_shelf(tmp_path)) as (pilot, screen):
        text = "\n".join(lines(screen))
        assert "Milk [/] Thistle" in text
        assert "supplier's word" in text
        assert "[bold]not[/ marked up" in shown(screen, "detail")
        await pilot.press("down")
        await settled(pilot)
        assert "thickens about 18x faster" in " ".join(shown(screen, "detail").split())
        await pilot.press("down")
        await settled(pilot)
        assert "described as" in shown(screen, "detail")
        await pilot.press("down", "down")
        await settled(pilot)
        assert shown(screen, "detail") == "No pour with a chance has ended yet."
        await pilot.press("escape")
        await settled(pilot)
        assert isinstance(pilot.app.screen, HomeScreen)


async def test_opens_at_a_name(clock: FakeClock, tmp_path: Path) -> None:
    async with opened(clock, on_shelf(tmp_path), "Reed Smoke") as (_, screen):
        assert screen.query_one("#list", Rows).at == 1
        assert shown(screen, "detail").startswith("Reed Smoke. ")


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_columns_stand_under_their_heads(
    clock: FakeClock, tmp_path: Path, size: tuple[int, int]
) -> None:
    async with opened(clock, on_shelf(tmp_path), size=size) as (_, screen):
        rows = lines(screen)
        head = next(line for line in rows if "speed-up" in line and "from" in line)
        entry = next(line for line in rows if "Reed Smoke" in line)
        assert head.index("from") == entry.index("supplier's word")
        assert head.index("speed-up") + len("speed-up") == entry.index("x  ") + 1
        assert max(map(len, rows)) <= size[0]


async def test_resizing_wraps_again(clock: FakeClock, tmp_path: Path) -> None:
    async with opened(clock, on_shelf(tmp_path), "Reed Smoke", (120, 40)) as (pilot, screen):
        wide = shown(screen, "detail").splitlines()
        await pilot.resize_terminal(70, 24)
        await settled(pilot)
        narrow = shown(screen, "detail").splitlines()
        assert len(narrow) > len(wide)
        assert max(map(len, narrow)) <= 67


async def test_an_empty_book_says_where_fragrances_come_from(
    clock: FakeClock, tmp_path: Path
) -> None:
    async with opened(clock, tmp_path) as (_, screen):
        assert shown(screen, "detail").startswith("No fragrances yet")
        assert {SUPPLIERS, PREDICTIONS} <= {line.strip(" ▸") for line in lines(screen)}


async def test_a_faulty_shelf_is_told_with_its_line(clock: FakeClock, tmp_path: Path) -> None:
    folder = on_shelf(tmp_path, '["Reed Smoke"]\nreputation = "rowdy"\n')
    async with opened(clock, folder) as (_, screen):
        assert "line 2" in shown(screen, "detail")


async def typed_in(pilot: Pilot[int], path: str) -> None:
    await pilot.press("t")
    await settled(pilot)
    pilot.app.screen.query_one(Input).value = path
    await pilot.press("enter")
    await settled(pilot)


async def test_a_word_is_taken_in_by_its_path_and_shown_as_another_makers(
    clock: FakeClock, tmp_path: Path
) -> None:
    word = Word("Kelp & Fig", Reputation.UNKNOWN, ByOthers(6.0, 4.0, 9.0, 5))
    file = tmp_path / "a word.toml"
    file.write_text(text_of(word, date(2026, 3, 1)))
    async with opened(clock, on_shelf(tmp_path)) as (pilot, screen):
        await typed_in(pilot, f"'{file}'")
        assert screen.book is not None
        at = screen.query_one(Rows).at
        assert screen.book.entries[at].name == "Kelp & Fig"
        assert screen.book.entries[at].batches == 0
        detail = shown(screen, "detail")
        assert "as another maker found it in 5 batches" in detail
        assert "It counts as a word" in detail
        assert "from another maker's 5 batches" in detail
        assert "supplier's word alone" not in detail
        await pilot.press("h")
        await settled(pilot)
        assert "no batch of yours" in shown(screen, "detail"), "what was heard is not handed on"
        await pilot.press("down")
        await settled(pilot)
        assert "no batch of yours" not in shown(screen, "detail")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, ["no such file"]),
        ('x = 1\n["fragrance found"]\nname = "A"\nbatches = 0\n', ["x", "batches", "times_faster"]),
        ("[" * 3000, ["!"]),
    ],
)
async def test_a_faulty_word_is_refused_with_all_its_faults(
    clock: FakeClock, tmp_path: Path, text: str | None, words: list[str]
) -> None:
    if text is not None:
        (tmp_path / "w.toml").write_text(text)
    async with opened(clock, on_shelf(tmp_path)) as (pilot, screen):
        before = (tmp_path / "tables" / "fragrances.toml").read_text()
        await typed_in(pilot, str(tmp_path / "w.toml"))
        detail = shown(screen, "detail")
        assert detail.startswith("! ")
        assert all(one in detail for one in words)
        assert (tmp_path / "tables" / "fragrances.toml").read_text() == before
