"""The program behind one page of the browser: begun with it and ended with it, come what may."""

from __future__ import annotations

import asyncio
import contextlib
import sys
from asyncio.subprocess import PIPE, Process
from pathlib import Path
from typing import Any

from aiohttp import WSMsgType, web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

LARGEST_MESSAGE = 1_000_000
"""Bytes; a key, a paste or a size."""
GO_S = 3.0
"""For a program to write its last and end; it takes milliseconds."""


class TabProgram(AppService):
    """The app in a process of its own, on the bench in ``bench``, shown through ``socket``."""

    def __init__(
        self, bench: Path, socket: web.WebSocketResponse, downloads: DownloadManager
    ) -> None:

        async def close() -> None:
            await socket.close()

        super().__init__(
            "",
            write_bytes=socket.send_bytes,
            write_str=socket.send_str,
            close=close,
            download_manager=downloads,
        )
        self._bench = bench

    async def _open_app_process(self, width: int = 80, height: int = 24) -> Process:
        """Without a shell. It ends when its input does, so even when this process is killed."""
        self._process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "soapbench", "--bench", str(self._bench),
            stdin=PIPE, stdout=PIPE, stderr=PIPE,
            env=self._build_environment(width=width, height=height),
            start_new_session=True,  # Ctrl+C in the server's terminal is for the server
        )  # fmt: skip
        self._stdin = self._process.stdin
        return self._process

    async def start(self, width: int, height: int) -> None:
        await super().start(width, height)
        if self._task is not None:
            self._task.add_done_callback(lambda _: self._over())

    def _over(self) -> None:
        """The program has ended by itself: so does its page."""

        async def close() -> None:
            with contextlib.suppress(ConnectionError, RuntimeError):
                await self.remote_close()

        with contextlib.suppress(RuntimeError):  # the server is ending, too
            self._closing = asyncio.get_running_loop().create_task(close())

    async def stop(self) -> None:
        """Have it end; one that does not is killed, its log being whole at every moment."""
        task, self._task = self._task, None
        process = self._process
        if process is None:
            return
        with contextlib.suppress(OSError, RuntimeError, asyncio.TimeoutError):
            await asyncio.wait_for(self.send_meta({"type": "quit"}), GO_S)
            self.stdin.close()
        try:
            await asyncio.wait_for(process.wait(), GO_S)
        except TimeoutError:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            await process.wait()
        if task is not None:
            with contextlib.suppress(asyncio.CancelledError, asyncio.TimeoutError, OSError):
                await asyncio.wait_for(task, GO_S)


async def pass_on(socket: web.WebSocketResponse, tab: AppService) -> None:
    """Keys and sizes from a page to its program, until the page goes or sends nonsense."""
    async for message in socket:
        if message.type != WSMsgType.TEXT:
            continue
        try:
            kind, *rest = message.json()
        except (ValueError, TypeError, RecursionError):
            return
        data: Any = rest[0] if rest else None
        if kind == "stdin" and isinstance(
            data, str
        ):  # half a character is no key, least of all "?"
            if not await tab.send_bytes(data.encode("utf-8", "ignore")):
                return
        elif kind == "resize" and isinstance(data, dict):
            width, height = data.get("width"), data.get("height")
            if isinstance(width, int) and isinstance(height, int):
                await tab.set_terminal_size(width, height)
        elif kind == "ping" and isinstance(data, (str, int)):
            await socket.send_json(["pong", data])
        elif kind == "blur":
            await tab.blur()
        elif kind == "focus":
            await tab.focus()
