"""Plain http on the farm's own computer, in front of the one https server.

The desk keeps its address ``http://localhost:8765`` when phones come in (what waits in a browser
belongs to its address), and two servers would hold two copies of the farm's state. So bytes are
handed on, through TLS, to the server's own port on this computer. That port is bound by our parent
process for as long as it lives, so nobody else can answer there and no certificate is compared.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
import threading

log = logging.getLogger("bagtrail.network")

CHUNK = 1 << 16
CONNECT_S = 10.0
MOST = 200  # connections at once; a browser opens six


class Relay:
    """Listens on an address and hands everything on to a TLS port of this computer."""

    def __init__(self, host: str, port: int, target: int) -> None:
        self.target = target
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        self._socket = socket.create_server((host, port), family=family, backlog=128)
        self._loop = asyncio.new_event_loop()
        self._open = 0
        self._tls = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        self._tls.check_hostname = False
        self._tls.verify_mode = ssl.CERT_NONE  # see the module's own words

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(self._socket.getsockname()[1])

    def start(self) -> None:
        """Starts its thread."""
        threading.Thread(target=self._run, name="relay", daemon=True).start()

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.run_until_complete(asyncio.start_server(self._serve, sock=self._socket))
        self._loop.run_forever()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._open >= MOST:
            writer.close()
            return
        self._open += 1
        try:
            inner, outer = await asyncio.wait_for(self._inside(), CONNECT_S)
        except (OSError, TimeoutError) as bad:
            log.warning("the server does not answer on port %d (%s)", self.target, bad)
            self._open -= 1
            writer.close()
            return
        try:
            ways = (_pump(reader, outer), _pump(inner, writer))
            tasks = [asyncio.ensure_future(way) for way in ways]
            # A browser that has closed wants no more; a server that has closed has said all.
            await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in tasks:
                task.cancel()
        finally:
            self._open -= 1
            for end in (outer, writer):
                end.close()

    async def _inside(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        """Returns a connection to the server, which at a start listens a little after us."""
        while True:
            try:
                return await asyncio.open_connection("127.0.0.1", self.target, ssl=self._tls)
            except ConnectionRefusedError:
                await asyncio.sleep(0.1)


async def _pump(source: asyncio.StreamReader, sink: asyncio.StreamWriter) -> None:
    try:
        while data := await source.read(CHUNK):
            sink.write(data)
            await sink.drain()
    except (OSError, ssl.SSLError):
        pass  # either end may go at any moment
