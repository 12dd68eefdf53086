"""By which names this server answers: a stranger's name in ``Host`` means a rebound page.

Outside of everything, static files too. Numbers pass: a page that a stranger's name was rebound to
carries that name. Once phones are served, a browser that opens the farm by a number is led to the
farm's one address, for what waits in a browser belongs to its address; unless this device was told
to stay (``/hello.html?own``), because it finds no names.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from flask import Flask

from .. import errors
from ..errors import WrongHost
from ..network import lan, names
from ..settings import Settings
from . import pages

OWN_COOKIE = "__Host-own"
LOOPBACK = ("localhost", "127.0.0.1", "::1")


class Guard:
    """WSGI around an application."""

    def __init__(
        self, inner: WSGIApplication, known: Iterable[str], stands: lan.Standing | None
    ) -> None:
        self.inner, self.stands = inner, stands
        self.known = {*LOOPBACK, *known}

    def __call__(self, environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        host = names.bare_host(environ.get("HTTP_HOST", ""))
        if not (host in self.known or names.is_address(host) or host.endswith(".localhost")):
            return _refuse(start)
        if self.stands and self._leads_on(environ, host, self.stands):
            path = environ.get("PATH_INFO", "/").lstrip("/")
            safe = path if path.isascii() and path.isalnum() else ""
            start("302 Found", [("Location", f"{self.stands.origin}/{safe}"), *_headers()])
            return [b""]
        return self.inner(environ, start)

    def _leads_on(self, environ: dict[str, Any], host: str, stands: lan.Standing) -> bool:
        return (
            host != stands.host
            and host not in LOOPBACK
            and names.is_address(host)
            and environ["REQUEST_METHOD"] == "GET"
            and environ.get("HTTP_SEC_FETCH_MODE") == "navigate"
            and "." not in environ.get("PATH_INFO", "")
            and not environ.get("PATH_INFO", "").startswith("/api/")
            and f"{OWN_COOKIE}=1" not in environ.get("HTTP_COOKIE", "")
        )


def _headers() -> list[tuple[str, str]]:
    return [*pages.SAFE.items(), ("Cache-Control", "no-store")]


def _refuse(start: StartResponse) -> Iterable[bytes]:
    body = json.dumps(errors.body(WrongHost())).encode()
    start(
        "421 Misdirected Request",
        [("Content-Type", "application/json"), ("Content-Length", str(len(body))), *_headers()],
    )
    return [body]


def install(app: Flask, settings: Settings, stands: lan.Standing | None, tag: str) -> None:
    """Puts the guard around an application."""
    known = {names.farm_host(tag), settings.host.lower(), *settings.hosts}
    known |= stands.hosts if stands else set()
    app.wsgi_app = Guard(app.wsgi_app, known, stands)  # type: ignore[assignment,method-assign]
