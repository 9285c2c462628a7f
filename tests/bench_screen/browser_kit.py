"""A headless Chromium driven over its DevTools protocol, and a bench served to it."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import json
import re
import shutil
import socket
import subprocess
import sys
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import aiohttp

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
WITH_TEXT = 20_000
"""Bytes of a picture of a page with text on it; one still being filled has 12,000."""
MOST_LOOKS = 8
"""A page that still changes after so many has a clock on it."""
PATIENCE_S = 30.0
"""How long a browser on a busy machine may take; a bound, not a pause."""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


async def until(fits: Callable[[], Any], what: str) -> Any:
    """Whatever ``fits`` gives, as soon as it is true; fails after ``PATIENCE_S``."""
    end = asyncio.get_running_loop().time() + PATIENCE_S
    while asyncio.get_running_loop().time() < end:
        if reply := fits():
            return reply
        await asyncio.sleep(0.05)
    raise AssertionError(f"never: {what}")


@contextlib.contextmanager
def program(*command: str | Path) -> Any:
    """A program while it is needed; ended by its own process."""
    process = subprocess.Popen(
        [str(part) for part in command], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        yield process
    finally:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(10)


async def line_with(process: Any, pattern: str) -> str:
    """The first group of ``pattern`` in what ``made`` prints."""
    loop = asyncio.get_running_loop()
    for _ in range(200):
        line = await asyncio.wait_for(
            loop.run_in_executor(None, process.stdout.readline), PATIENCE_S
        )
        if match := re.search(pattern, line):
            return match.group(1)
        if not line:
            break
    raise AssertionError(f"never printed: {pattern}")


class Tab:
    """One page of the browser."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket, self._id = socket, 0

    async def call(self, method: str, **values: Any) -> dict[str, Any]:
        self._id += 1
        await self._socket.send_json({"id": self._id, "method": method, "params": values})
        while True:
            answer = json.loads((await self._socket.receive(PATIENCE_S)).data)
            if answer.get("id") == self._id:
                return dict(answer["result"])

    async def ask(self, script: str) -> Any:
        reply = await self.call("Runtime.evaluate", expression=script, returnByValue=True)
        return reply["result"].get("value")

    async def press(self, key: str, code: int = 0) -> None:
        more: dict[str, Any] = {"key": key, "windowsVirtualKeyCode": code or ord(key.upper())}
        if len(key) == 1:
            more["text"] = key
        elif key == "Enter":
            more["text"] = "\r"
        await self.call("Input.dispatchKeyEvent", type="keyDown", **more)
        await self.call("Input.dispatchKeyEvent", type="keyUp", **more)
        await self.rest()

    async def rest(self, least: int = 0) -> None:
        """Until the page changes no more, or by the second; a picture has ``least`` bytes."""
        end = asyncio.get_running_loop().time() + PATIENCE_S
        parts: list[bytes] = []
        while len(parts) < MOST_LOOKS and (len(parts) < 2 or parts[-1] != parts[-2]):
            assert asyncio.get_running_loop().time() < end, "the app never drew anything"
            await asyncio.sleep(0.2)
            now = await self.picture()
            if len(now) >= least:
                parts.append(now)

    async def as_tablet(self, width: int, height: int) -> None:
        """A touch screen of this size, from the next page it opens on."""
        await self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=False,
        )  # fmt: skip
        await self.call("Emulation.setTouchEmulationEnabled", enabled=True, maxTouchPoints=5)

    async def to(self, address: str) -> None:
        await self.call("Page.navigate", url=address)
        await self.rest(WITH_TEXT)

    async def tap(self, x: float, y: float) -> None:
        """A finger on the screen, as the browser sees one."""
        point = [{"x": x, "y": y}]
        await self.call("Input.dispatchTouchEvent", type="touchStart", touchPoints=point)
        await self.call("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
        await self.rest()

    async def place(self, script: str) -> tuple[float, float]:
        """The middle of the element that ``script`` gives."""
        box = await self.ask(
            f"(() => {{ const b = ({script}).getBoundingClientRect();"
            " return [b.x + b.width / 2, b.y + b.height / 2] })()"
        )
        return float(box[0]), float(box[1])

    async def picture(self) -> bytes:
        """What the page looks like, as PNG."""
        shot = await self.call("Page.captureScreenshot")
        return base64.b64decode(shot["data"])


@contextlib.asynccontextmanager
async def browser(profile: Path) -> AsyncIterator[Callable[[str], Any]]:
    """Gives a function that opens a tab at an address."""
    command = [
        CHROMIUM or "", "--headless=new", "--no-sandbox", "--disable-gpu", "--window-size=1100,700",
        "--remote-debugging-port=0", f"--user-data-dir={profile}", "--no-first-run",
        "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1", "about:blank",
    ]  # fmt: skip
    with program(*command) as process:
        root = await line_with(process, r"DevTools listening on (ws://\S+)")
        base = "http" + root[2 : root.index("/devtools")]
        async with aiohttp.ClientSession() as session, contextlib.AsyncExitStack() as stack:

            async def tab(address: str) -> Tab:
                async with session.put(f"{base}/json/new?{address}") as answer:
                    page = await answer.json()
                socket = await stack.enter_async_context(
                    session.ws_connect(page["webSocketDebuggerUrl"], max_msg_size=0)
                )
                opened = Tab(socket)
                await opened.rest(WITH_TEXT)
                return opened

            yield tab


@contextlib.asynccontextmanager
async def served(bench: Path) -> AsyncIterator[str]:
    """The address of ``bench``, served."""
    command = [sys.executable, "-m", "soapbench", "--bench", bench, "serve"]
    port = free_port()
    with program(*command, "--port", str(port)) as process:
        address = await line_with(process, r"Your bench is at (\S+)")
        await until(lambda: listens(port), "the server listens")
        yield address
