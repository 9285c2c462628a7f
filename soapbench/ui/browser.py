"""The bench in a browser, for a tablet by the scale: one app for each tab.

Whoever can open the page can pour, so it takes the key in the address that is printed, and by
default only this machine can reach it. Nothing is fetched from anywhere else.
"""

from __future__ import annotations

import asyncio
import contextlib
import hmac
import ipaddress
import logging
import secrets
from http.cookies import CookieError
from importlib.resources import as_file, files
from pathlib import Path

from aiohttp import web
from aiohttp.typedefs import Handler, Middleware
from textual_serve.server import Server, to_int

from soapbench.reading.safetext import clean
from soapbench.ui.tabprogram import LARGEST_MESSAGE, TabProgram, pass_on
from soapbench.words import commands as words

COOKIE = "soapbench_key"
MOST_TABS = 12
"""Each is a program of its own."""
GO_S = 2.0
"""How long pages that are open are waited for at the end."""
WITH_EVERY_ANSWER = {
    "Content-Security-Policy": "frame-ancestors 'none'",
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}
"""In nobody's frame (CSP level 3; RFC 7034), kept by nobody (RFC 9111), the key told to nobody."""


class NotThisAddress(Exception):
    """Why the bench cannot be served at an address; the text is for the maker."""


def loopback(host: str) -> bool:
    """Whether only this machine can reach ``host``."""
    return host == "localhost" or ipaddress.ip_address(host).is_loopback


def checked(host: str) -> str:
    """``host``, if it is one definite address of a machine. Raises NotThisAddress."""
    if host == "localhost":
        return host
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        raise NotThisAddress(words.no_address(host)) from None
    if address.is_unspecified or address.is_multicast:
        raise NotThisAddress(words.every_address(host)) from None
    return host


class BenchServer(Server):
    """Serves the bench at one address, to those who have its key."""

    def __init__(self, bench: Path, host: str, port: int, pages: Path, key: str) -> None:
        shown = f"[{host}]" if ":" in host else host
        # Browsers leave the usual port out of Host and of Origin (RFC 9110, 7.2).
        self._authorities = {f"{shown}:{port}", shown} if port == 80 else {f"{shown}:{port}"}
        self._bench = bench
        self._key = key
        self._open: dict[web.WebSocketResponse, TabProgram] = {}
        super().__init__(
            "soapbench",
            host=host,
            port=port,
            title="soapbench",
            public_url=f"http://{min(self._authorities, key=len)}",
            templates_path=pages,
        )

    @property
    def address(self) -> str:
        """What to open in the browser."""
        return f"{self.public_url}/?key={self._key}"

    def initialize_logging(self) -> None:
        """A line for what goes wrong: no traceback, and never the key."""
        handler = logging.StreamHandler()
        handler.setFormatter(_Brief(self._key))
        logging.basicConfig(level=logging.WARNING, handlers=[handler])
        # Says of every page that goes before its program is there that this "failed to start".
        logging.getLogger("textual-serve").setLevel(logging.CRITICAL)

    def serve(self, debug: bool = False) -> None:
        """Until told to end. Raises OSError where the address cannot be had."""
        self.initialize_logging()
        web.run_app(
            self._make_app(),
            host=self.host,
            port=self.port,
            shutdown_timeout=GO_S,
            access_log=None,  # the first address asked for has the key in it
            print=None,
        )

    async def _make_app(self) -> web.Application:
        app: web.Application = await super()._make_app()
        app.middlewares.append(self._guard())
        app.on_response_prepare.append(_with_every_answer)
        return app

    async def on_startup(self, app: web.Application) -> None:
        print(words.served(self.address), flush=True)

    async def on_shutdown(self, app: web.Application) -> None:
        """Every page is closed and its program ended; its pour goes on by its clock."""
        await asyncio.gather(*(tab.stop() for tab in list(self._open.values())))
        for socket in list(self._open):
            with contextlib.suppress(ConnectionError, RuntimeError, TimeoutError):
                await asyncio.wait_for(socket.close(code=1001), GO_S)

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """One page: its program runs as long as the page is open."""
        if len(self._open) >= MOST_TABS:
            raise web.HTTPServiceUnavailable(text=words.TOO_MANY_WINDOWS)
        socket = web.WebSocketResponse(heartbeat=15, max_msg_size=LARGEST_MESSAGE)
        await socket.prepare(request)
        tab = TabProgram(self._bench, socket, self.download_manager)
        self._open[socket] = tab
        width, height = (
            min(max(to_int(request.query.get(name, ""), usual), 1), 1000)
            for name, usual in (("width", 80), ("height", 24))
        )
        try:
            await tab.start(width, height)
            await pass_on(socket, tab)
        finally:
            self._open.pop(socket, None)
            await tab.stop()
            with contextlib.suppress(ConnectionError, RuntimeError):
                await socket.close()
        return socket

    def _guard(self) -> Middleware:
        """Only this address, only from its own pages, only with the key.

        The first stops other names for this machine, the second other sites' pages in the same
        browser, the third everybody else who can reach the port.
        """

        @web.middleware
        async def guard(request: web.Request, handler: Handler) -> web.StreamResponse:
            if request.host not in self._authorities:
                raise web.HTTPForbidden(text=words.WRONG_NAME)
            if request.headers.get("Origin", self.public_url) != self.public_url:
                raise web.HTTPForbidden(text=words.WRONG_PAGE)
            if "key" in request.query and self._fits(request.query["key"]):
                redirect = web.HTTPSeeOther(request.path)
                redirect.set_cookie(COOKIE, self._key, httponly=True, samesite="Strict")
                raise redirect
            if not self._fits(_cookie(request)):
                raise web.HTTPForbidden(text=words.WANTS_KEY)
            return await handler(request)

        return guard

    def _fits(self, key: str) -> bool:
        return hmac.compare_digest(key.encode("utf-8", "replace"), self._key.encode())


def _cookie(request: web.Request) -> str:
    try:
        return request.cookies.get(COOKIE, "")
    except (CookieError, ValueError):
        return ""


async def _with_every_answer(_: web.Request, answer: web.StreamResponse) -> None:
    answer.headers.update(WITH_EVERY_ANSWER)


class _Brief(logging.Formatter):
    """One line each; whoever sends garbage must not fill the maker's screen."""

    def __init__(self, key: str) -> None:
        super().__init__()
        self._key = key

    def format(self, record: logging.LogRecord) -> str:
        line = record.getMessage().replace(self._key, "…")
        kind = record.exc_info[0].__name__ if record.exc_info and record.exc_info[0] else ""
        return f"soapbench: {clean(line, 160)}" + (f" ({kind})" if kind else "")


def serve(bench: Path, host: str, port: int) -> None:
    """Serve the bench in ``bench`` until interrupted. Raises NotThisAddress, OSError."""
    if not loopback(checked(host)):
        print(words.ON_NETWORK, flush=True)
    with as_file(files("soapbench").joinpath("data", "browser")) as pages:
        BenchServer(bench.absolute(), host, port, pages, secrets.token_urlsafe(16)).serve()
