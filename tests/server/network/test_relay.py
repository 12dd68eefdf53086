"""The relay in front of a server that answers before it has read all."""

from __future__ import annotations

import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bagtrail.network import ca, leaf
from bagtrail.network.relay import Relay

ANSWER = b"HTTP/1.1 415 Unsupported Media Type\r\nContent-Length: 2\r\nConnection: close\r\n\r\nno"
BODIES = (900_000, 8_000_000)


@contextmanager
def server(folder: Path, serve: Callable[[ssl.SSLSocket], None]) -> Iterator[int]:
    """A TLS server that treats each connection as a test wants."""
    authority = ca.ensure(folder, "7K3Q", True, datetime.now(UTC))
    leaf.ensure(folder, authority, [], datetime.now(UTC))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(folder / leaf.FILE)
    listener = socket.create_server(("127.0.0.1", 0))

    def run() -> None:
        while True:
            try:
                raw, _ = listener.accept()
            except OSError:
                return
            raw.settimeout(10)
            try:
                with context.wrap_socket(raw, server_side=True) as link:
                    serve(link)
            except OSError:
                pass

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        yield int(listener.getsockname()[1])
    finally:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        thread.join(12)


@pytest.fixture
def relay(tmp_path: Path) -> Iterator[Callable[[int], int]]:
    made: list[Relay] = []

    def to(target: int) -> int:
        made.append(Relay("127.0.0.1", 0, target))
        made[-1].start()
        return made[-1].port

    yield to
    for each in made:
        each.stop()


def ask(port: int, size: int) -> bytes:
    """Sends a request with a body of so many bytes, then reads to the end, as a browser does."""
    head = f"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: {size}\r\n\r\n".encode()
    with socket.create_connection(("127.0.0.1", port), 10) as link:
        link.sendall(head)
        for _ in range(size // 10_000):
            link.sendall(b"x" * 10_000)
        found = b""
        while data := link.recv(1 << 16):
            found += data
        return found


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("read", [1, 100_000], ids=["at once", "half-way"])
def test_an_answer_before_the_end_of_the_body_arrives(
    tmp_path: Path, relay: Callable[[int], int], read: int, body: int
) -> None:
    def early(link: ssl.SSLSocket) -> None:
        left = read
        while left > 0:
            left -= len(link.recv(min(left, 16_384)))
        link.sendall(ANSWER)
        # It has said all, and reads the rest of the body only to throw it away.
        link.shutdown(socket.SHUT_WR)
        while link.recv(16_384):
            pass

    with server(tmp_path, early) as target:
        port = relay(target)
        for _ in range(10):
            assert ask(port, body) == ANSWER


def test_a_large_answer_arrives_whole_and_a_closed_browser_ends_both(
    tmp_path: Path, relay: Callable[[int], int]
) -> None:
    ended = threading.Event()

    def large(link: ssl.SSLSocket) -> None:
        if not link.recv(1 << 16).startswith(b"POST"):
            return
        link.sendall(b"y" * 3_000_000)
        if link.recv(1 << 16) == b"":  # the browser has closed
            ended.set()

    with (
        server(tmp_path, large) as target,
        socket.create_connection(("127.0.0.1", relay(target)), 10) as link,
    ):
        link.sendall(b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 0\r\n\r\n")
        found = 0
        while found < 3_000_000:
            found += len(link.recv(1 << 16))
        link.close()
        assert ended.wait(10)
