"""The farm's name on the network, by multicast DNS (RFC 6762): ``farm-7k3q.local``."""

from __future__ import annotations

import logging
import threading
from collections.abc import Sequence

from zeroconf import BadTypeInNameException, Error, IPVersion, ServiceInfo, Zeroconf

log = logging.getLogger("bagtrail.network")

TYPE = "_https._tcp.local."


class Announcer:
    """Keeps one name registered for the addresses of the moment; safe to call from any thread."""

    def __init__(self, host: str, tag: str, port: int) -> None:
        self.host, self.tag, self.port = host, tag, port
        self.fault = ""
        self._addresses: tuple[str, ...] = ()
        self._zeroconf: Zeroconf | None = None
        self._lock = threading.Lock()

    @property
    def addresses(self) -> tuple[str, ...]:
        """The addresses the name stands for now; empty while it is not registered."""
        return self._addresses

    def announce(self, addresses: Sequence[str]) -> None:
        """Registers the name for these IPv4 addresses, in place of those before; never raises.

        A new socket on each change: the old one is bound to the cards of then.
        """
        wanted = tuple(addresses)
        with self._lock:
            if wanted == self._addresses and self._zeroconf is not None:
                return
            self._stop()
            if not wanted:
                self.fault = "this computer is on no network"
                return
            try:
                self._start(wanted)
            except (OSError, Error, BadTypeInNameException, TimeoutError) as bad:
                self._stop()
                taken = "NonUniqueName" in type(bad).__name__
                self.fault = (
                    f"another computer on this network is called {self.host}"
                    if taken
                    else f"the name cannot be announced ({bad or type(bad).__name__})"
                )
                log.warning("%s", self.fault)

    def _start(self, wanted: tuple[str, ...]) -> None:
        self._zeroconf = Zeroconf(interfaces=list(wanted), ip_version=IPVersion.V4Only)
        info = ServiceInfo(
            TYPE,
            f"Bagtrail farm {self.tag}.{TYPE}",
            port=self.port,
            properties={"path": "/"},
            server=f"{self.host}.",
            parsed_addresses=list(wanted),
        )
        self._zeroconf.register_service(info)
        self._addresses, self.fault = wanted, ""

    def _stop(self) -> None:
        old, self._zeroconf, self._addresses = self._zeroconf, None, ()
        if old is not None:
            old.close()  # says goodbye for what was registered

    def close(self) -> None:
        """Takes the name back."""
        with self._lock:
            self._stop()
