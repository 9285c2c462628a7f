"""The bench in a browser: only with its key, one app a tab, and the log held by one of them."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import aiohttp
import pytest

from soapbench.desk.keys import ACTS
from soapbench.settings import USUAL
from soapbench.ui.basescreen import BaseScreen
from soapbench.ui.home import HomeScreen
from soapbench.ui.keyline import key_text, together
from soapbench.ui.settings import settings_rows
from soapbench.ui.workshop.screen import WorkshopScreen
from tests.bench_screen import browser_kit as kit

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("textual_serve") is None, reason="the browser extra is not installed"
)
needs_browser = pytest.mark.skipif(kit.CHROMIUM is None, reason="there is no Chromium here")


async def test_only_the_address_with_its_key_opens_the_bench(tmp_path: Path) -> None:
    jar = aiohttp.CookieJar(unsafe=True)  # a browser keeps cookies of bare addresses too
    async with kit.served(tmp_path) as address, aiohttp.ClientSession(cookie_jar=jar) as session:
        bare = address.partition("?")[0]

        async def status(url: str, **headers: str) -> int:
            async with session.get(url, headers=headers) as answer:
                return answer.status

        assert await status(bare) == 403
        assert await status(bare + "?key=guessed") == 403
        assert await status(bare + "ws") == 403
        assert await status(address, Host="elsewhere.example") == 403
        assert await status(address) == 200  # and the key is kept as a cookie
        assert await status(bare) == 200
        assert await status(bare + "ws", Origin="http://elsewhere.example") == 403
        async with session.get(bare) as page:
            text = await page.text()
        assert "https://" not in text, "the page fetches nothing from elsewhere"


@needs_browser
async def test_a_plan_is_made_in_a_tab(tmp_path: Path) -> None:
    bench = tmp_path / "bench"
    async with kit.served(bench) as address, kit.browser(tmp_path / "profile") as tab:
        page = await tab(address)
        await page.press("n")
        await page.press("s")
        paths = await kit.until(lambda: list(bench.glob("plans/*.toml")), "a plan saved")
        assert 'title = "New plan"' in paths[0].read_text("utf-8")


@needs_browser
async def test_a_tab_only_watches_a_pour_that_is_held(tmp_path: Path) -> None:
    from soapbench.bench.learned import open_bench, remember
    from soapbench.bench.tables import cautions
    from soapbench.desk.starting import begin
    from soapbench.log import Kind
    from soapbench.logfile.clock import SystemClock
    from soapbench.sheet.plansheet import plan_sheet
    from tests.plans import plan

    folder = tmp_path / "bench"
    bench = open_bench(folder)
    known = remember(bench).known
    desk = begin(bench, SystemClock(), known, plan_sheet(plan(), known, cautions()))
    desk.lye_meets_oils()
    log = next(folder.glob("batches/*.toml"))
    held = log.read_bytes()
    async with kit.served(folder) as address, kit.browser(tmp_path / "profile") as tab:
        page = await tab(address)
        for key, code in (("Enter", 13), (" ", 32), ("f", 70), ("r", 82)):
            await page.press(key, code)
        other = await tab(address)
        await other.press("n")
        await other.press("s")
        await kit.until(lambda: list(folder.glob("plans/*.toml")), "the second tab at work")
        assert log.read_bytes() == held, "neither tab writes into a log that is held"
    desk.note("base", "still mine")
    assert log.read_bytes().startswith(held)
    assert any(e.kind is Kind.NOTE for e in desk.log.events)
    desk.close()


class Tablet:
    """A finger on the bench in a browser: on its key lines and on the bar below."""

    def __init__(self, page: kit.Tab) -> None:
        self.page = page

    async def bar(self, key: str) -> None:
        """Tap a key of the bar under the terminal."""
        wanted = f"document.querySelector('.touch button[data-key=\"{key}\"]')"
        await self.page.tap(*await self.page.place(wanted))

    async def key_line(self, screen: type[BaseScreen[None]], words: str) -> None:
        """Tap ``words`` on the key line at the bottom of a screen."""
        left, top, wide, high, cell, row = await self.page.ask(CELLS)
        columns = round(wide / cell)
        lines = key_text(together(screen.BINDINGS), columns - 2).plain.splitlines()
        y = next(i for i, line in enumerate(lines) if words in line)
        x = 1 + lines[y].index(words) + len(words) / 2
        rows = round(high / row)
        await self.page.tap(left + x * cell, top + (rows - len(lines) + y + 0.5) * row)


CELLS = """(() => {
  const screen = document.querySelector(".xterm-screen").getBoundingClientRect();
  const size = document.getElementById("terminal").dataset.fontSize;
  const cell = Math.floor(size * 0.6), row = Math.ceil(size * 1.319);
  return [screen.x, screen.y, screen.width, screen.height, cell, row];
})()"""
"""Where the terminal is, and how large a cell of it: Roboto Mono is .6 wide and 1.319 high."""


@needs_browser
@pytest.mark.parametrize(
    "size", [(1024, 768), pytest.param((820, 1180), marks=pytest.mark.long)], ids=["wide", "tall"]
)
async def test_a_tablet_is_worked_by_touch_alone(tmp_path: Path, size: tuple[int, int]) -> None:
    bench = tmp_path / "bench"
    async with kit.served(bench) as address, kit.browser(tmp_path / "profile") as tab:
        page = await tab(address)
        await page.as_tablet(*size)
        await page.to(address)
        assert await page.ask("document.activeElement.className") == "xterm-helper-textarea"
        assert await page.ask("document.activeElement.inputMode") == "none", "no keyboard yet"
        finger = Tablet(page)
        await finger.key_line(HomeScreen, "new plan")
        await finger.key_line(WorkshopScreen, "save")
        await kit.until(lambda: len(list(bench.glob("plans/*.toml"))) == 1, "a plan saved")
        await finger.bar("Escape")
        await finger.key_line(HomeScreen, "new plan")
        await finger.key_line(WorkshopScreen, "save")
        await kit.until(lambda: len(list(bench.glob("plans/*.toml"))) == 2, "Esc led back")
        await finger.bar("Escape")
        await finger.key_line(HomeScreen, "settings")
        await finger.bar("ArrowDown")
        await finger.bar("Enter")
        settings = bench / "settings.toml"
        await kit.until(lambda: settings.exists() and "°F" in settings.read_text(), "degrees")
        rows = [row.cells[0].keys[0] for row in settings_rows(USUAL)]
        for key in ("ArrowDown",) * (rows.index("keys") - 1) + ("ArrowRight", "Enter", " "):
            await finger.bar(key)
        given = f'{ACTS[1].name} = "space"'  # the one to the right of the first
        await kit.until(lambda: given in settings.read_text(), "a key given by Space")
        await finger.bar("letters")
        assert await page.ask("document.activeElement.inputMode") == "text"
