"""A proxy that breaks what passes through it, one fault after another, for any test with a server.

    with FaultProxy(port) as proxy:
        proxy.next(cut_reply)            # the next request only
        proxy.every = lambda n: drop if n % 3 == 0 else None

Faults are what networks, portals and crashing machines do (sync.md, section 2, parts A and B).
"""

from __future__ import annotations

import http.client
import http.server
import socket
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Fault:
    """One fault.

    Args:
        before: break before the server hears of the request.
        status: answer this instead of passing on (with `body`, `kind` and `headers`).
        keep: pass on, then send only this share of the reply's bytes and cut; None for all of it.
        wait_s: wait so long first.
        twice: deliver the request twice, answer with the second reply.
    """

    name: str
    before: bool = False
    status: int = 0
    body: bytes = b""
    kind: str = "application/json"
    headers: tuple[tuple[str, str], ...] = ()
    keep: float | None = None
    wait_s: float = 0.0
    twice: bool = False
    replay: bool = False  # answer with the last good reply seen


DROP = Fault("request dropped", before=True)
CUT = Fault("reply cut before its first byte", keep=0.0)
HALF = Fault("half a reply", keep=0.5)
TWICE = Fault("request delivered twice", twice=True)
SLOW = Fault("slow", wait_s=0.5)
BUSY = Fault("503", status=503, body=b'{"error":{"code":"busy","message":"","todo":"",'
             b'"details":{}}}', headers=(("Retry-After", "1"),))  # fmt: skip
STORM = Fault("429", status=429, body=b'{"error":{"code":"too_fast","message":"","todo":"",'
              b'"details":{}}}', headers=(("Retry-After", "1"),))  # fmt: skip
ERROR = Fault("500", status=500, body=b"oops", kind="text/plain")
PORTAL = Fault("portal", status=200, body=b"<html>Sign in</html>", kind="text/html")
EMPTY = Fault("empty object", status=200, body=b"{}")
REPLAY = Fault("an earlier good reply", replay=True)


def too_big(most: int) -> Callable[[int], Fault | None]:
    """Return a fault for bodies of more than so many bytes: a proxy's own 413."""
    fault = Fault("413", status=413, body=b'{"error":{"code":"too_big","message":"","todo":"",'
                  b'"details":{}}}')  # fmt: skip
    return lambda size: fault if size > most else None


class FaultProxy:
    """A proxy on a port of its own in front of a server on this machine."""

    def __init__(self, port: int, host: str = "127.0.0.1") -> None:
        self.target = (host, port)
        self.every: Callable[[int], Fault | None] = lambda _: None
        self.by_size: Callable[[int], Fault | None] = lambda _: None
        self.by_path: Callable[[str], Fault | None] = lambda _: None
        self.seen: list[tuple[str, str, str]] = []  # method, path, fault
        self._next: deque[Fault] = deque()
        self._good: dict[str, tuple[int, list[tuple[str, str]], bytes]] = {}
        self._lock = threading.Lock()
        proxy = self

        class Handler(_Handler):
            owner = proxy

        self._server = _Server(("127.0.0.1", 0), Handler)
        self.port = int(self._server.server_address[1])
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)

    def __enter__(self) -> FaultProxy:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._server.server_close()

    @property
    def url(self) -> str:
        """Its address, without a slash at the end."""
        return f"http://127.0.0.1:{self.port}"

    def next(self, *faults: Fault) -> None:
        """Break the next requests, one fault each."""
        with self._lock:
            self._next.extend(faults)

    def fault_for(self, method: str, path: str, size: int) -> Fault | None:
        """Return what happens to a request."""
        with self._lock:
            found = self._next.popleft() if self._next else None
            found = found or self.every(len(self.seen)) or self.by_size(size) or self.by_path(path)
            self.seen.append((method, path, found.name if found else ""))
            return found

    def forward(
        self, method: str, path: str, body: bytes, headers: Any
    ) -> tuple[int, list[tuple[str, str]], bytes]:
        """Pass a request on and return the whole reply."""
        connection = http.client.HTTPConnection(*self.target, timeout=60)
        try:
            sent = {k: v for k, v in headers.items() if k.lower() not in ("host", "connection")}
            connection.request(method, path, body or None, sent)
            reply = connection.getresponse()
            data = reply.read()
            drop = ("connection", "transfer-encoding", "content-length", "keep-alive")
            kept = [(k, v) for k, v in reply.getheaders() if k.lower() not in drop]
            found = (reply.status, kept, data)
        finally:
            connection.close()
        key = path.partition("?")[0]
        if found[0] == 200:
            self._good.setdefault(key, found)
        return found

    def earlier(self, path: str) -> tuple[int, list[tuple[str, str]], bytes] | None:
        """Return the first good reply that passed for a path."""
        return self._good.get(path.partition("?")[0])


class _Server(http.server.ThreadingHTTPServer):
    daemon_threads = True
    request_queue_size = 256


class _Handler(http.server.BaseHTTPRequestHandler):
    owner: FaultProxy
    protocol_version = "HTTP/1.1"

    def _pass(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        fault = self.owner.fault_for(self.command, self.path, len(body))
        if fault and fault.wait_s:
            time.sleep(fault.wait_s)
        if fault and fault.before:
            return self._break()
        if fault and fault.status:
            return self._answer(
                fault.status, [("Content-Type", fault.kind), *fault.headers], fault.body
            )
        try:
            if fault and fault.replay and (old := self.owner.earlier(self.path)):
                return self._answer(*old)
            found = self.owner.forward(self.command, self.path, body, self.headers)
            if fault and fault.twice:
                found = self.owner.forward(self.command, self.path, body, self.headers)
        except OSError:
            return self._break()
        self._answer(*found, keep=fault.keep if fault else None)

    do_GET = do_POST = do_PUT = do_HEAD = do_OPTIONS = _pass

    def _answer(
        self, status: int, headers: list[tuple[str, str]], body: bytes, keep: float | None = None
    ) -> None:
        if keep == 0.0:
            return self._break()
        self.send_response_only(status)
        for name, value in headers:
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body if keep is None else body[: int(len(body) * keep)])
        if keep is not None:
            self.wfile.flush()
            self._break()

    def _break(self) -> None:
        """Cut the connection as a lost network does: no farewell."""
        self.close_connection = True
        try:
            self.connection.shutdown(socket.SHUT_RDWR)
        except OSError:
            pass

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: what passed stands in `seen`."""
