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
LINGER_S = 5.0  # for what is still under way once one end has had its last word
MOST = 200  # connections at once; a browser opens six


class Relay:
    """Listens on an address and hands everything on to a TLS port of this computer."""

    def __init__(self, host: str, port: int, target: int) -> None:
        self.target = target
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        self._socket = socket.create_server((host, port), family=family, backlog=128)
        self._loop = asyncio.new_event_loop()
        self._stopped = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name="relay", daemon=True)
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
        self._thread.start()

    def stop(self) -> None:
        """Ends its thread, and every connection with it."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stopped.set)
            self._thread.join(LINGER_S)

    def _run(self) -> None:
        with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
            runner.run(self._listen())

    async def _listen(self) -> None:
        server = await asyncio.start_server(self._serve, sock=self._socket)
        await self._stopped.wait()
        server.close()

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
            await _both_ways(reader, writer, inner, outer)
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


async def _both_ways(
    reader: asyncio.StreamReader,
    writer: asyncio.StreamWriter,
    inner: asyncio.StreamReader,
    outer: asyncio.StreamWriter,
) -> None:
    """Hands bytes on until either end has had its last word, and that word has arrived."""
    up = asyncio.ensure_future(_pump(reader, outer))
    down = asyncio.ensure_future(_pump(inner, writer))
    try:
        await asyncio.wait((up, down), return_when=asyncio.FIRST_COMPLETED)
        if up.done() and not up.result():
            # The server takes no more of a body; the answer that says why may be on its way.
            await asyncio.wait((down,), timeout=LINGER_S)
        if down.done():
            up.cancel()
            await asyncio.wait((up,))
            # Closed with bytes unread, a socket resets, and the answer is lost on its way out.
            await asyncio.wait_for(_last_word(reader, writer), LINGER_S)
        # A browser that has closed wants no more.
    except (OSError, TimeoutError):
        pass
    finally:
        for way in (up, down):
            way.cancel()


async def _last_word(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    """Ends our side, and reads what the other still sends until it has seen that."""
    await writer.drain()
    if writer.can_write_eof():
        writer.write_eof()
    while await reader.read(CHUNK):
        pass


async def _pump(source: asyncio.StreamReader, sink: asyncio.StreamWriter) -> bool:
    """Hands on until the source ends; returns False when it was the sink that did."""
    while True:
        try:
            data = await source.read(CHUNK)
        except (OSError, ssl.SSLError):
            return True  # either end may go at any moment
        if not data:
            return True
        try:
            sink.write(data)
            await sink.drain()
        except (OSError, ssl.SSLError):
            return False
