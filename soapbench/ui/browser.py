"""The bench in a browser, for a tablet by the scale: one app for each tab.

Whoever can open the page can pour, so it takes the key in the address that is printed, and by
default only this machine can reach it. Nothing is fetched from anywhere else.
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
import shlex
import sys
from importlib.resources import as_file, files
from pathlib import Path

from aiohttp import web
from aiohttp.typedefs import Handler, Middleware
from textual_serve.server import Server

COOKIE = "soapbench_key"


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
        raise NotThisAddress(f'"{host}" is no address; write 127.0.0.1 or 192.168.1.20') from None
    if address.is_unspecified or address.is_multicast:
        raise NotThisAddress(f"{host} is every address at once; name this machine's own") from None
    return host


class BenchServer(Server):
    """Serves the bench at one address, to those who have its key."""

    def __init__(self, bench: Path, host: str, port: int, pages: Path, key: str) -> None:
        command = [sys.executable, "-m", "soapbench", "--bench", str(bench)]
        shown = f"[{host}]" if ":" in host else host
        self._authority = f"{shown}:{port}"
        self._key = key
        super().__init__(
            shlex.join(command),
            host=host,
            port=port,
            title="soapbench",
            public_url=f"http://{self._authority}",
            templates_path=pages,
        )

    @property
    def address(self) -> str:
        """What to open in the browser."""
        return f"{self.public_url}/?key={self._key}"

    async def _make_app(self) -> web.Application:
        app: web.Application = await super()._make_app()
        app.middlewares.append(self._guard())
        return app

    async def on_startup(self, app: web.Application) -> None:
        print(f"The bench is at {self.address}\nCtrl+C ends it.", flush=True)

    def _guard(self) -> Middleware:
        """Only this address, only from its own pages, only with the key.

        The first stops other names for this machine, the second other sites' pages in the same
        browser, the third everybody else who can reach the port.
        """

        @web.middleware
        async def guard(request: web.Request, handler: Handler) -> web.StreamResponse:
            if request.host != self._authority:
                raise web.HTTPForbidden(text="Not at this name.")
            if request.headers.get("Origin", self.public_url) != self.public_url:
                raise web.HTTPForbidden(text="Not from another page.")
            if "key" in request.query and self._fits(request.query["key"]):
                found = web.HTTPSeeOther(request.path)
                found.set_cookie(COOKIE, self._key, httponly=True, samesite="Strict")
                raise found
            if not self._fits(request.cookies.get(COOKIE, "")):
                raise web.HTTPForbidden(text="Open the address that was printed, with its key.")
            return await handler(request)

        return guard

    def _fits(self, key: str) -> bool:
        return hmac.compare_digest(key.encode(), self._key.encode())


def serve(bench: Path, host: str, port: int) -> None:
    """Serve the bench in ``bench`` until interrupted. Raises NotThisAddress, OSError."""
    if not loopback(checked(host)):
        print(
            "Anybody in this network who gets the address can pour and change plans here, and the\n"
            "network can read what is typed, for it is not encrypted. At home only.",
            flush=True,
        )
    with as_file(files("soapbench").joinpath("data", "browser")) as pages:
        BenchServer(bench.absolute(), host, port, pages, secrets.token_urlsafe(16)).serve()
