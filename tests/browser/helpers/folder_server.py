"""A plain server for a built page: right types, a strict policy, a switch of folders."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

# What the decoder needs at least. A worker goes by the policy of its own script's answer.
POLICY = (
    "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; worker-src 'self'; "
    "connect-src 'self'; img-src 'self' data:; media-src 'self' blob: mediastream:"
)


class FolderServer:
    """Serves `folder`; change it to serve another version from then on. `asked` lists GET paths."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.asked: list[str] = []
        self._server: ThreadingHTTPServer | None = None
        self._thread: threading.Thread | None = None
        self.port = 0

    @property
    def url(self) -> str:
        """Return the address; localhost, so that it is a secure context."""
        return f"http://localhost:{self.port}"

    def start(self) -> None:
        """Begin to listen, on the same port as before when there was one."""
        handler = partial(_Handler, self)
        self._server = ThreadingHTTPServer(("127.0.0.1", self.port), handler)
        self.port = self._server.server_address[1]
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,))
        self._thread.start()

    def stop(self) -> None:
        """Stop listening: connections are refused, as by a machine whose server was killed."""
        if self._server and self._thread:
            self._server.shutdown()
            self._thread.join()
            self._server.server_close()
            self._server = self._thread = None


class _Handler(SimpleHTTPRequestHandler):
    # HTTP/1.0: every answer closes its connection, so a stopped server has none left that goes on.
    extensions_map = SimpleHTTPRequestHandler.extensions_map | {
        ".js": "text/javascript",
        ".wasm": "application/wasm",
    }

    def __init__(self, owner: FolderServer, *args: Any) -> None:
        self._owner = owner
        super().__init__(*args, directory=str(owner.folder))

    def do_GET(self) -> None:  # noqa: N802 (the library's name)
        self._owner.asked.append(self.path)
        # Two versions built within one second must not pass for the same file.
        del self.headers["If-Modified-Since"]
        super().do_GET()

    def end_headers(self) -> None:
        self.send_header("Content-Security-Policy", POLICY)
        self.send_header("Cache-Control", "no-cache")
        super().end_headers()

    def log_message(self, *_args: Any) -> None:
        """Keep quiet: `asked` says it."""


@contextmanager
def serve_folder(folder: Path) -> Iterator[FolderServer]:
    """Serve a folder on a free port until the end of the block."""
    server = FolderServer(folder)
    server.start()
    try:
        yield server
    finally:
        server.stop()
