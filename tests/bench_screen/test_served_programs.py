"""The programs behind the pages end with their server however it ends; the log stays whole."""

from __future__ import annotations

import asyncio
import importlib.util
import json
import signal
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest

from soapbench.advice.known import Known
from soapbench.logfile.batchlog import read_log
from soapbench.logfile.clock import SystemClock
from soapbench.logfile.hold import holder
from tests.bench_screen import browser_kit as kit
from tests.stress.test_kills import pour_under_way

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("textual_serve") is None, reason="the browser extra is not installed"
)
GARBAGE = (
    "", "{", "null", "[]", "[1]", '["stdin"]', '["stdin", 5]', '["resize", {}]', "[" * 50_000,
    '["resize", {"width": -1, "height": 99999999999}]',
    '["resize", {"width": "x"}]', '["ping", []]',
)  # fmt: skip


class Page:
    """A page as its script speaks: without a browser."""

    def __init__(self, server: Any, address: str, socket: Any, session: Any) -> None:
        self.server, self.address, self.socket, self.session = server, address, socket, session

    async def sends(self, kind: str, data: Any) -> None:
        await self.socket.send_str(json.dumps([kind, data]))


@asynccontextmanager
async def page(bench: Path) -> AsyncIterator[Page]:
    port = kit.free_port()
    command = [sys.executable, "-m", "soapbench", "--bench", bench, "serve", "--port", str(port)]
    with kit.program(*command) as server:
        address = await kit.line_with(server, r"Your bench is at (\S+)")
        await kit.until(lambda: kit.listens(port), "the server listens")
        jar = aiohttp.CookieJar(unsafe=True)
        async with aiohttp.ClientSession(cookie_jar=jar) as session:
            await session.get(address)
            bare = address.partition("?")[0]
            async with session.ws_connect(f"{bare}ws?width=80&height=24") as socket:
                yield Page(server, address, socket, session)


async def pouring(log: Path, open_page: Page) -> int:
    """Carry the pour on in the page; the process that holds it then."""
    boot = SystemClock().boot_id
    end = asyncio.get_running_loop().time() + 3 * kit.PATIENCE_S  # twelve others may be ending
    while (held := holder(log, boot)) is None:
        assert asyncio.get_running_loop().time() < end, "the pour was never carried on"
        await open_page.sends("stdin", "\r")
        await asyncio.sleep(0.3)
    return held.pid


def alive(pid: int) -> bool:
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL, signal.SIGHUP])
async def test_however_the_server_ends(
    tmp_path: Path, known: Known, number: signal.Signals
) -> None:
    log = pour_under_way(tmp_path / "bench", known)
    async with page(tmp_path / "bench") as opened:
        pid = await pouring(log, opened)
        await opened.sends("stdin", "r")
        await kit.until(lambda: len(read_log(log).events) >= 2, "the note")
        opened.server.send_signal(number)
        await kit.until(lambda: opened.server.poll() is not None, "the server's end")
        await kit.until(lambda: not alive(pid), "its program's end")
    assert read_log(log).damaged == ()
    assert holder(log, SystemClock().boot_id) is None


async def test_a_page_that_sends_garbage_and_goes(tmp_path: Path, known: Known) -> None:
    log = pour_under_way(tmp_path / "bench", known)
    async with page(tmp_path / "bench") as opened:
        for text in GARBAGE:
            bare = opened.address.partition("?")[0]
            async with opened.session.ws_connect(f"{bare}ws") as other:
                await other.send_str(text)
        pid = await pouring(log, opened)
        await opened.sends("resize", {"width": 99999, "height": 99999})
        await opened.sends("stdin", "\ud800\x1b[1114112u")
        await opened.sends("stdin", "r")
        await kit.until(lambda: len(read_log(log).events) >= 2, "the note")
        await opened.socket.close()
        await kit.until(lambda: not alive(pid), "its program's end")
        opened.server.terminate()
        output = opened.server.stdout.read()
    assert "Traceback" not in output, output
    assert opened.address.partition("=")[2] not in output, "the key is told once"
    assert holder(log, SystemClock().boot_id) is None


async def test_every_answer_is_in_nobodys_frame_and_kept_by_nobody(tmp_path: Path) -> None:
    async with page(tmp_path) as opened:
        bare = opened.address.partition("?")[0]
        for url, headers in (
            (bare, {}),
            (bare + "nothing", {}),
            (bare, {"Cookie": "soapbench_key=\xff\xfe"}),
            (bare, {"Cookie": 'soapbench_key="\\777\\377"; ;;=;'}),
            (bare + "?key=%FF%FE", {"Cookie": "soapbench_key=x"}),
        ):
            async with opened.session.get(url, headers=headers) as answer:
                assert answer.status in (200, 403, 404)
                assert answer.headers["X-Frame-Options"] == "DENY"
                assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]
                assert answer.headers["Cache-Control"] == "no-store"


def test_the_usual_port_may_be_left_out() -> None:
    from soapbench.ui.browser import BenchServer

    usual = BenchServer(Path(), "127.0.0.1", 80, Path(), "k")
    assert usual._authorities == {"127.0.0.1", "127.0.0.1:80"}
    assert usual.address == "http://127.0.0.1/?key=k"
    assert BenchServer(Path(), "::1", 8765, Path(), "k")._authorities == {"[::1]:8765"}
