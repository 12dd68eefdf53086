"""The farm on its own network: certificate, name, first page and the desk's relay in one piece.

Lives in the server's parent process, beside the workers, and outlives their renewals.
"""

from __future__ import annotations

import json
import logging
import ssl
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from ..errors import BadSetting
from ..settings import Settings
from . import ca, files, leaf, names
from .mdns import Announcer
from .relay import Relay
from .welcome import Welcome, WelcomeServer

log = logging.getLogger("bagtrail.network")

PORT = 8443
LOOK_S = 5.0
STATE = Path("tls") / "lan.json"
EVERY_CARD = "0.0.0.0"


def now() -> datetime:
    """Returns the machine's clock."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Standing:
    """How the farm stands on its network, for the views of the server.

    Attributes:
        origin: the one address phones keep.
        certificate: PEM file of the server's certificate, key or chain with it.
        authority: the farm's own; None where a real domain's certificate was given.
        welcome_port: of the plain-http page; 0 where no phone needs one.
    """

    origin: str
    certificate: Path
    key: Path
    authority: ca.Authority | None
    welcome_port: int
    hosts: frozenset[str] = field(default=frozenset())

    @property
    def port(self) -> int:
        """The port of the https server."""
        return urlsplit(self.origin).port or 443

    @property
    def host(self) -> str:
        """The name of the https server."""
        return urlsplit(self.origin).hostname or ""

    def welcome_url(self) -> str:
        """Returns what the square at the desk holds: a number, as some phones find no names.

        Only a number that the certificate carries, as the phone goes on to https from there; the
        farm's name where there is none.
        """
        if not self.welcome_port:
            return f"{self.origin}/hello.html"
        made = leaf.read(self.certificate)
        carried = made.addresses if made else ()
        found = [a for a in names.reachable() if a in carried]
        return f"http://{found[0] if found else self.host}:{self.welcome_port}/"


def standing(settings: Settings, tag: str) -> Standing | None:
    """Returns how a farm is served to phones, None where it is not; makes what is missing.

    Raises:
        BadSetting: the certificate given cannot be used, or the farm's address would change.
        BadData: the authority cannot be read.
    """
    if settings.cert and settings.key:
        return _own_domain(settings, settings.cert, settings.key)
    if not settings.lan:
        return None
    authority = ca.ensure(settings.data, tag, settings.ca_constraints, now())
    before = urlsplit(authority.origin).port or PORT
    origin = f"https://{authority.host}:{settings.tls_port or before}"
    authority = authority.keep_origin(origin)
    path = settings.data / leaf.FILE
    known = frozenset({authority.host})
    return Standing(origin, path, path, authority, settings.welcome_port, known)


def _own_domain(settings: Settings, cert: Path, key: Path) -> Standing:
    try:
        check_pair(cert, key)
    except (OSError, ssl.SSLError) as bad:
        raise BadSetting(
            f"The certificate {cert} cannot be used with the key {key} ({bad}).",
            "Give the PEM file of the whole chain as --cert and its PKCS#8 key as --key.",
        ) from bad
    found = leaf.read(cert)
    hosts = [h for h in found.hosts if "*" not in h] if found else []
    origin = settings.origin
    if not origin and hosts:
        port = settings.tls_port or PORT
        origin = f"https://{hosts[0]}" + ("" if port == 443 else f":{port}")
    if not origin:
        raise BadSetting(
            f"The certificate {cert} names no host.", "Name the farm's address in BAGTRAIL_ORIGIN."
        )
    known = frozenset([*hosts, urlsplit(origin).hostname or ""])
    return Standing(origin, cert, key, None, 0, known)


def check_pair(cert: Path, key: Path) -> None:
    """Raises OSError or SSLError when a certificate and a key do not belong together."""
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(cert, key)


class Lan:
    """What runs beside the server while phones are served.

    Args:
        renewed: called, in another thread, when the server has to take up a new certificate.
    """

    def __init__(
        self,
        settings: Settings,
        stands: Standing,
        tag: str,
        name: str,
        renewed: Callable[[], None],
        look_s: float = LOOK_S,
    ) -> None:
        self.settings, self.stands, self.tag, self.name = settings, stands, tag, name
        self.renewed = renewed
        self._look_s = look_s
        self._stop = threading.Event()
        self._stamp = 0
        self.look(first=True)  # a certificate has to be there before the server starts
        self.relay = Relay(settings.host, settings.port, stands.port)
        self.welcome: WelcomeServer | None = None
        self.announcer: Announcer | None = None
        if stands.authority is not None:
            page = Welcome(stands.authority, tag, name, stands.origin, self.days_left)
            self.welcome = page.server(EVERY_CARD, stands.welcome_port)
            self.announcer = Announcer(stands.authority.host, tag, stands.port)

    def days_left(self) -> int:
        """Returns the days the server's certificate has left; 0 when it cannot be read."""
        found = leaf.read(self.stands.certificate)
        return found.days_left(int(now().timestamp() * 1000)) if found else 0

    def start(self) -> None:
        """Starts the threads."""
        self.relay.start()
        if self.welcome is not None:
            threading.Thread(target=self.welcome.serve_forever, name="welcome", daemon=True).start()
        threading.Thread(target=self._run, name="network", daemon=True).start()

    def stop(self) -> None:
        """Takes the name back and ends the threads at their next look."""
        self._stop.set()
        if self.announcer is not None:
            self.announcer.close()
        if self.welcome is not None:
            self.welcome.shutdown()
            self.welcome.server_close()

    def _run(self) -> None:
        while True:
            try:
                self.look()
            except Exception:  # the next look may be luckier; phones are served meanwhile
                log.exception("looking after the farm's network failed")
            if self._stop.wait(self._look_s):
                return

    def look(self, first: bool = False) -> str:
        """Renews what is due and announces the addresses of now; returns why it renewed."""
        addresses = names.lan_addresses()
        why = self._renew(addresses)
        if first:
            return why
        if why:
            log.info("a new certificate: %s", why)
            self.renewed()
        if self.announcer is not None:
            self.announcer.announce(names.reachable())
        self._tell(addresses)
        return why

    def _renew(self, addresses: list[str]) -> str:
        if self.stands.authority is not None:
            return leaf.ensure(self.settings.data, self.stands.authority, addresses, now())
        # A domain's certificate is renewed by somebody else: taken up when both files are whole.
        paths = (self.stands.certificate, self.stands.key)
        try:
            stamp = max(p.stat().st_mtime_ns for p in paths)
            before, changed = self._stamp, stamp != self._stamp
            if changed:
                check_pair(*paths)
        except (OSError, ssl.SSLError):
            return ""
        self._stamp = stamp
        return "its file has changed" if changed and before else ""

    def _tell(self, addresses: list[str]) -> None:
        """Leaves word for the workers, who cannot see this process."""
        said: dict[str, Any] = {"addresses": addresses, "mdns": None}
        if self.announcer is not None:
            said["mdns"] = {
                "host": self.announcer.host,
                "addresses": list(self.announcer.addresses),
                "fault": self.announcer.fault,
            }
        text = json.dumps(said).encode()
        path = self.settings.data / STATE
        files.make_folder(path.parent)
        if not path.exists() or path.read_bytes() != text:
            files.write(path, text)


def told(data: Path) -> dict[str, Any] | None:
    """Returns what the process beside the server last said of the network."""
    try:
        said: dict[str, Any] = json.loads((data / STATE).read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None
    return said
