"""The plain-http page that a phone meets first: the authority to install, and how.

It runs beside the server, knows no key and no record, and answers six addresses. Nothing secret
may pass here: the one-time code is typed later, on the https side.
"""

from __future__ import annotations

import html
import json
import string
import threading
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import urlsplit

from . import names, profile, steps
from .ca import Authority

WEB = Path(__file__).resolve().parent / "web"
MOST = 32  # requests at once
TIMEOUT_S = 10


def template(page: str, **values: str) -> str:
    """Returns a page of ours with its values filled in; values are escaped by the caller."""
    return string.Template((WEB / page).read_text(encoding="utf-8")).substitute(values)


class Welcome:
    """What the page says of one farm.

    Args:
        name: the farm's name.
        origin: the address phones are to keep, ``https://farm-7k3q.local:8443``.
        days: gives the days the server's certificate has left.
    """

    def __init__(
        self, authority: Authority, tag: str, name: str, origin: str, days: Callable[[], int]
    ) -> None:
        self.authority, self.tag, self.name, self.origin = authority, tag, name, origin
        self.days = days
        self.tls_port = urlsplit(origin).port or 443
        self.crt = steps.file_name(tag)
        self.profile = self.crt.removesuffix(".crt") + ".mobileconfig"

    def here(self, host: str) -> str:
        """Returns the https address of the host the page was opened by, if it is a number."""
        return f"https://{names.url_host(host)}:{self.tls_port}" if names.is_address(host) else ""

    def knows(self, host: str) -> bool:
        """Returns whether a ``Host`` is one of ours; a stranger's name means a rebound page."""
        return host in (self.authority.host, "localhost") or names.is_address(host)

    def page(self, host: str) -> str:
        """Returns the page for a host as the phone wrote it."""
        listed = {
            system: steps.as_html(system, self.tag, self.authority.title, self.authority.code)
            for system in steps.WORDS
        }
        sha = self.authority.fingerprint.upper()
        return template(
            "welcome.html",
            **listed,
            **{f"{system}_name": text for system, text in steps.NAMES.items()},
            name=html.escape(f"{self.name} ({self.tag})"),
            origin=html.escape(self.origin),
            here=html.escape(self.here(host)),
            host=html.escape(self.authority.host),
            tag=self.tag,
            code=self.authority.code,
            crt=self.crt,
            profile=self.profile,
            sha=":".join(sha[i : i + 2] for i in range(0, 64, 2)),
        )

    def policy(self, host: str) -> str:
        """Returns the page's content security policy."""
        connect = " ".join(filter(None, (self.origin, self.here(host))))
        return (
            "default-src 'none'; object-src 'none'; script-src 'self'; style-src 'self'; "
            f"connect-src {connect}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        )

    def answer(self, path: str, host: str) -> tuple[str, bytes] | None:
        """Returns (type, body) for a path, None where there is nothing."""
        if path == "/":
            return "text/html; charset=utf-8", self.page(host).encode()
        if path in ("/welcome.css", "/welcome.js"):
            kind = "text/css" if path.endswith("css") else "text/javascript"
            return f"{kind}; charset=utf-8", (WEB / path[1:]).read_bytes()
        if path == f"/{self.crt}":
            return "application/x-x509-ca-cert", self.authority.der
        if path == f"/{self.profile}":
            return profile.TYPE, profile.mobileconfig(self.authority, self.name)
        if path == "/ping":
            said = {"k": "welcome1", "tag": self.tag, "days": self.days()}
            return "application/json", json.dumps(said).encode()
        return None

    def server(self, address: str, port: int) -> WelcomeServer:
        """Returns a server that listens already; ``serve_forever`` answers."""
        return WelcomeServer((address, port), self)


class WelcomeServer(ThreadingHTTPServer):
    """A bounded number of threads, one a request."""

    daemon_threads = True
    request_queue_size = 64

    def __init__(self, address: tuple[str, int], welcome: Welcome) -> None:
        self.welcome = welcome
        self._slots = threading.BoundedSemaphore(MOST)
        super().__init__(address, _Handler)

    def process_request(self, request, client_address) -> None:  # type: ignore[no-untyped-def]
        if self._slots.acquire(blocking=False):
            super().process_request(request, client_address)
        else:
            self.shutdown_request(request)

    def process_request_thread(self, request, client_address) -> None:  # type: ignore[no-untyped-def]
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._slots.release()

    def handle_error(self, request, client_address) -> None:  # type: ignore[no-untyped-def]
        """A phone that walks out of range is no news."""


class _Handler(BaseHTTPRequestHandler):
    server: WelcomeServer
    server_version, sys_version = "Bagtrail", ""
    timeout = TIMEOUT_S

    def do_GET(self) -> None:
        self._reply(with_body=True)

    def do_HEAD(self) -> None:
        self._reply(with_body=False)

    def _reply(self, with_body: bool) -> None:
        welcome = self.server.welcome
        host = names.bare_host(self.headers.get("Host", ""))
        path = urlsplit(self.path).path
        known = welcome.knows(host)
        found = welcome.answer(path, host) if known else None
        kind, body = found or ("text/plain; charset=utf-8", b"There is nothing here.\n")
        self.send_response(200 if found else 404 if known else 421)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Cache-Control", "no-store")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Referrer-Policy", "no-referrer")
        self.send_header("X-Frame-Options", "DENY")
        policy = welcome.policy(host) if known else "default-src 'none'"
        self.send_header("Content-Security-Policy", policy)
        if kind == "application/x-x509-ca-cert":
            self.send_header("Content-Disposition", f'attachment; filename="{welcome.crt}"')
        asker = self.headers.get("Origin", "")
        # The installed app asks here whether only the certificate is at fault.
        if path == "/ping" and asker in (welcome.origin, welcome.here(host)):
            self.send_header("Access-Control-Allow-Origin", asker)
        self.end_headers()
        if with_body:
            self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002
        """Nothing is logged: addresses of people's phones are nobody's business."""
