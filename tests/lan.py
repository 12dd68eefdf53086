"""A farm that serves phones, as a process of its own: https, the plain page, the desk's relay."""

from __future__ import annotations

import http.client
import json
import signal
import socket
import ssl
import time
from pathlib import Path
from typing import Any

from tests.ports import free_port
from tests.served import Served


class LanFarm(Served):
    """``bagtrail serve`` with phones let in; ``port`` is the desk's."""

    def __init__(
        self,
        folder: Path,
        tls_port: int = 0,
        welcome_port: int = 0,
        port: int = 0,
        **settings: str,
    ) -> None:
        self.folder = folder
        self.tls_port = tls_port or free_port()
        self.welcome_port = welcome_port or free_port()
        self._settings = settings
        super().__init__(
            folder,
            port,
            BAGTRAIL_LAN="on",
            BAGTRAIL_TLS_PORT=str(self.tls_port),
            BAGTRAIL_WELCOME_PORT=str(self.welcome_port),
            BAGTRAIL_ZONE="Europe/London",
            **settings,
        )
        self.process.stdout.reconfigure(errors="replace")

    def up(self) -> LanFarm:
        """Waits until it answers."""
        self.wait()
        return self

    def kill(self) -> None:
        """Ends all its processes as a power cut does."""
        self.end(signal.SIGKILL)

    def again(self) -> LanFarm:
        """The same farm on the same ports, after it was ended."""
        ports = (self.tls_port, self.welcome_port, self.port)
        return LanFarm(self.folder, *ports, **self._settings).up()

    def stop(self) -> str:
        """Ends it as a person does; returns what it had said."""
        return self.end(signal.SIGTERM) if self.process.poll() is None else ""

    @property
    def authority(self) -> Any:
        """The farm's authority as it lies in the data folder."""
        from bagtrail.network import ca

        return ca.load(self.folder)

    @property
    def host(self) -> str:
        """The farm's own name."""
        return str(self.authority.host)

    @property
    def origin(self) -> str:
        """The address phones keep."""
        return f"https://{self.host}:{self.tls_port}"

    def trusting(self) -> ssl.SSLContext:
        """A client that trusts this farm's authority and nothing else."""
        made = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        made.load_verify_locations(cadata=self.authority.der)
        return made

    def dial(self, trust: ssl.SSLContext, name: str = "") -> ssl.SSLSocket:
        """Connects by the farm's name; raises what a phone would see."""
        raw = socket.create_connection(("127.0.0.1", self.tls_port), timeout=10)
        try:
            return trust.wrap_socket(raw, server_hostname=name or self.host)
        except BaseException:
            raw.close()
            raise

    def secure(
        self, path: str, headers: dict[str, str] | None = None, trust: ssl.SSLContext | None = None
    ) -> tuple[int, Any, dict[str, str]]:
        """GET over https as a phone does; returns (status, JSON or bytes, headers)."""
        link = http.client.HTTPConnection(self.host, self.tls_port)
        link.sock = self.dial(trust or self.trusting())
        try:
            link.request("GET", path, headers=headers or {})
            reply = link.getresponse()
            body = reply.read()
            found = {k.lower(): v for k, v in reply.getheaders()}
            is_json = found.get("content-type", "").startswith("application/json")
            return reply.status, json.loads(body) if is_json else body, found
        finally:
            link.close()

    def serial(self, trust: ssl.SSLContext) -> str:
        """The serial number of the certificate it shows now."""
        with self.dial(trust) as link:
            return str(link.getpeercert()["serialNumber"])  # type: ignore[index]

    def wait_for(self, true: Any, what: str, seconds: float = 25) -> Any:
        """Returns the first truthy answer."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if found := true():
                return found
            time.sleep(0.05)
        raise AssertionError(f"not within {seconds} s: {what}")
