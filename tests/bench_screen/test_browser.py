"""The bench in a browser: only with its key, one app a tab, and the log held by one of them."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import aiohttp
import pytest

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
        made = await kit.until(lambda: list(bench.glob("plans/*.toml")), "a plan saved")
        assert 'title = "New plan"' in made[0].read_text("utf-8")


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
