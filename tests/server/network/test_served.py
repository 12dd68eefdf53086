"""Phones over https from the real server: TLS, the desk beside it, renewal, two farms, recovery."""

from __future__ import annotations

import http.client
import json
import os
import re
import socket
import ssl
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID
from tests.lan import LanFarm
from tests.served import ROOT, Served

from bagtrail import keys
from bagtrail.network import files, leaf


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LanFarm]:
    made = LanFarm(tmp_path_factory.mktemp("a") / "farm", BAGTRAIL_NAME="Alder Hollow").up()
    yield made
    made.stop()


@pytest.fixture(scope="module")
def other(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LanFarm]:
    made = LanFarm(tmp_path_factory.mktemp("b") / "farm", BAGTRAIL_NAME="Birch End").up()
    yield made
    made.stop()


def paired(farm: LanFarm, role: str = "owner") -> dict[str, str]:
    """Pairs a device through the desk; returns its headers."""
    said = cli(farm.folder, "pair", "--role", role)
    code = re.search(r"#pair=(\w{8})", said)[1]  # type: ignore[index]
    got = farm.call("/api/devices/pair", {"code": code, "name": "Phone"})
    tag = keys.bearer_tag(bytes.fromhex(got["key"]))
    return {"Authorization": f"Bearer {got['dev']}.{got['gen']}.{tag}"}


def cli(folder: Path, *words: str, **env: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "bagtrail", "--data", str(folder), *words],
        capture_output=True, text=True, timeout=60, check=True,
        env={**os.environ, "PYTHONPATH": f"{ROOT / 'server'}:{ROOT / 'labels'}", **env},
    )  # fmt: skip
    return done.stdout


def test_phones_are_served_over_https_with_http2(farm: LanFarm) -> None:
    status, said, headers = farm.secure("/api/farm")
    assert (status, said["name"]) == (200, "Alder Hollow")
    assert "strict-transport-security" not in headers
    trust = farm.trusting()
    trust.set_alpn_protocols(["h2", "http/1.1"])
    with farm.dial(trust) as link:
        assert link.selected_alpn_protocol() == "h2"
        assert link.version() == "TLSv1.3"


def test_tls_1_2_is_the_oldest(farm: LanFarm, tmp_path: Path) -> None:
    def client(oldest: ssl.TLSVersion, newest: ssl.TLSVersion) -> ssl.SSLContext:
        made = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        made.check_hostname = False
        made.verify_mode = ssl.CERT_NONE
        made.minimum_version, made.maximum_version = oldest, newest
        made.set_ciphers("ALL:@SECLEVEL=0")
        return made

    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        old = client(ssl.TLSVersion.TLSv1_1, ssl.TLSVersion.TLSv1_1)
        # The same client is served by a server that does allow it: the refusal below is ours.
        lax = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        lax.minimum_version = ssl.TLSVersion.TLSv1_1
    lax.set_ciphers("ALL:@SECLEVEL=0")
    lax.load_cert_chain(farm.folder / leaf.FILE)
    assert handshake(old, lax) == "TLSv1.1"
    with pytest.raises(ssl.SSLError):
        farm.dial(old).close()
    only_12 = client(ssl.TLSVersion.TLSv1_2, ssl.TLSVersion.TLSv1_2)
    with farm.dial(only_12) as link:
        assert link.version() == "TLSv1.2"


def handshake(client: ssl.SSLContext, server: ssl.SSLContext) -> str | None:
    ways = [ssl.MemoryBIO() for _ in range(4)]
    one = client.wrap_bio(ways[0], ways[1])
    two = server.wrap_bio(ways[2], ways[3], server_side=True)
    for _ in range(4):
        for end, out, into in ((one, ways[1], ways[2]), (two, ways[3], ways[0])):
            try:
                end.do_handshake()
            except ssl.SSLWantReadError:
                pass
            into.write(out.read())
    return one.version()


def test_the_desk_keeps_its_plain_address(farm: LanFarm) -> None:
    """Through the relay: bodies both ways, kept connections, large files."""
    assert farm.call("/api/farm")["name"] == "Alder Hollow"
    link = http.client.HTTPConnection("localhost", farm.port, timeout=10)
    for _ in range(3):  # one connection
        link.request("GET", "/api/catalogue")
        reply = link.getresponse()
        assert len(reply.read()) > 5_000
    link.close()
    refused = http.client.HTTPConnection("127.0.0.1", farm.port, timeout=10)
    refused.request("POST", "/api/devices/pair", b"x" * 900_000, {"Content-Type": "text/plain"})
    assert refused.getresponse().status == 415
    refused.close()


def test_a_body_far_too_big_is_answered_before_its_end_through_the_relay(farm: LanFarm) -> None:
    """Four times what a client may send; beyond 8 MiB the server's end may cut the answer off."""
    size = 4 << 20
    for _ in range(3):
        with socket.create_connection(("127.0.0.1", farm.port), 10) as link:
            head = (
                f"POST /api/sync/push HTTP/1.1\r\nHost: localhost:{farm.port}\r\n"
                f"Content-Type: application/json\r\nContent-Length: {size}\r\n\r\n"
            )
            link.sendall(head.encode())
            for _ in range(size >> 16):
                link.sendall(b"x" * (1 << 16))
            reply = http.client.HTTPResponse(link, method="POST")
            reply.begin()
            assert reply.status == 413
            assert json.loads(reply.read())["error"]["code"] == "too_big"


def test_the_desk_is_served_to_this_computer_alone(farm: LanFarm) -> None:
    from bagtrail.network import names

    for card in names.cards():
        if ":" not in card.address:
            with socket.socket() as probe:
                probe.settimeout(2)
                assert probe.connect_ex((card.address, farm.port)) != 0
                assert socket.create_connection((card.address, farm.tls_port), 2).close() is None


def test_the_plain_page_gives_nothing_of_the_farm(farm: LanFarm) -> None:
    base = f"http://127.0.0.1:{farm.welcome_port}"
    with urllib.request.urlopen(f"{base}/ping", timeout=5) as reply:
        assert json.load(reply)["k"] == "welcome1"
    for path in ("/api/farm", "/api/sync/snapshot", "/api/devices/pair", "/sw.js"):
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(base + path, timeout=5)
        assert refused.value.code == 404
        refused.value.close()


def test_two_farms_on_one_network_do_not_mix(farm: LanFarm, other: LanFarm) -> None:
    assert farm.host != other.host
    with pytest.raises(ssl.SSLCertVerificationError):
        other.dial(farm.trusting()).close()
    # Even by the other's name, and by number.
    with pytest.raises(ssl.SSLCertVerificationError):
        farm.dial(farm.trusting(), other.host).close()
    headers = paired(farm)
    assert farm.secure("/api/sync/snapshot", headers)[0] == 200
    status, said, _ = other.secure("/api/sync/snapshot", headers)
    assert (status, said["error"]["code"]) == (401, "no_device")
    with pytest.raises(urllib.error.HTTPError) as refused:
        other.call("/api/sync/push", {
            "farm": farm.call("/api/farm")["farm"], "nonce": "n", "now": 0, "st": "0" * 16,
            "pending": 0, "oldest": 0, "records": [], "proof": "",
        }, headers=paired(other))  # fmt: skip
    assert refused.value.code == 409
    refused.value.close()
    # Each page waits for its own farm: the ping names it.
    assert farm.secure("/api/ping")[1]["tag"] != other.secure("/api/ping")[1]["tag"]


class Load:
    """Requests without pause, each counted; some on kept connections, some on new ones."""

    def __init__(self, farm: LanFarm, threads: int = 4) -> None:
        self.farm, self.good, self.bad = farm, 0, []  # type: ignore[var-annotated]
        self.trust = farm.trusting()
        self._stop = threading.Event()
        ways = (self._new, self._kept, self._desk)
        self._threads = [
            threading.Thread(target=self._run, args=(ways[i % 3],)) for i in range(threads)
        ]

    def __enter__(self) -> Load:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join(20)

    def _run(self, way: Any) -> None:
        while not self._stop.is_set():
            try:
                way()
            except Exception as bad:
                self.bad.append(repr(bad))

    def _count(self, link: http.client.HTTPConnection) -> None:
        link.request("GET", "/api/farm")
        reply = link.getresponse()
        reply.read()
        assert reply.status == 200
        self.good += 1

    def _open(self) -> http.client.HTTPConnection:
        link = http.client.HTTPConnection(self.farm.host, self.farm.tls_port)

        def connect() -> None:  # also after an answer that says "Connection: close"
            link.sock = self.farm.dial(self.trust)

        link.connect = connect  # type: ignore[method-assign]
        link.connect()
        return link

    def _new(self) -> None:
        link = self._open()
        try:
            self._count(link)
        finally:
            link.close()

    def _kept(self) -> None:
        """A kept connection may be closed between two requests, as browsers allow for."""
        link = self._open()
        try:
            for _ in range(50):
                try:
                    self._count(link)
                except (http.client.RemoteDisconnected, ConnectionError, ssl.SSLEOFError):
                    link.close()
                    link = self._open()
                    self._count(link)
        finally:
            link.close()

    def _desk(self) -> None:
        link = http.client.HTTPConnection("127.0.0.1", self.farm.port, timeout=10)
        try:
            self._count(link)
        finally:
            link.close()


def test_a_new_certificate_is_taken_up_without_a_failed_request(farm: LanFarm) -> None:
    trust = farm.trusting()
    before = farm.serial(trust)
    old = leaf.issue(farm.authority, [], datetime.now(UTC) - timedelta(days=350))
    with Load(farm) as load:
        time.sleep(0.5)
        # As if 350 days had gone by: the watcher finds it due.
        files.write(farm.folder / leaf.FILE, old)
        farm.wait_for(lambda: farm.serial(trust) != before, "a new certificate", 30)
        time.sleep(5)  # old and new workers stand beside each other for a while
    found = leaf.read(farm.folder / leaf.FILE)
    assert found is not None
    assert found.days_left(int(time.time() * 1000)) > 390
    now_served = farm.serial(trust)
    assert (
        int(now_served, 16)
        == x509.load_pem_x509_certificates((farm.folder / leaf.FILE).read_bytes())[0].serial_number
    )
    assert load.bad == []
    assert load.good > 100


def test_health_tells_the_owner_and_a_monitor(farm: LanFarm) -> None:
    _, said, _ = farm.secure("/api/health", paired(farm))
    cert = said["certificate"]
    assert cert["origin"] == farm.origin
    assert 390 <= cert["days"] <= 397
    assert cert["authority"]["code"] == farm.authority.code
    assert cert["mdns"]["host"] == farm.host
    assert said["chain"] == {"verified": said["head"], "head": said["head"], "broken": 0}
    assert said["disk"]["free"] > 0


def test_a_new_computer_from_backup_and_sheet_is_the_same_to_phones(
    farm: LanFarm, tmp_path: Path
) -> None:
    headers = paired(farm)
    cli(farm.folder, "backup", "--to", str(tmp_path / "usb"))
    [backup] = (tmp_path / "usb").glob("*.zip")
    # The keys lie in it sealed, and in no other form.
    raw = backup.read_bytes()
    assert (farm.folder / "ca" / "intermediate.key").read_bytes()[30:80] not in raw
    key = (farm.folder / "recovery.key").read_text().strip()
    trust, origin, port = farm.trusting(), farm.origin, farm.tls_port
    farm.stop()
    new = tmp_path / "new"
    cli(new, "recover", str(backup), BAGTRAIL_RECOVERY_KEY=key)
    again = LanFarm(new, port).up()
    try:
        assert again.origin == origin
        # The phone's own trust and the phone's own token, nothing installed or paired anew.
        status, said, _ = again.secure("/api/sync/pull?nonce=n", headers, trust)
        assert (status, said["error"]["code"]) == (403, "unconfirmed")
        cli(new, "devices", "--confirm")
        assert again.secure("/api/sync/pull?nonce=n", headers, trust)[0] == 200
    finally:
        again.stop()


def own_domain(folder: Path, days: int = 90) -> tuple[Path, Path]:
    """A certificate as a real domain has one, of its own authority."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "farm.example")])
    now = datetime.now(UTC)
    cert = (
        x509.CertificateBuilder()
        .subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1)).not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("farm.example")]), False)
        .sign(key, SHA256())
    )  # fmt: skip
    folder.mkdir(exist_ok=True)
    paths = folder / "chain.pem", folder / "key.pem"
    pem = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    files.write(paths[1], pem)
    files.write(paths[0], cert.public_bytes(Encoding.PEM))
    return paths


def test_a_real_domains_certificate_is_used_and_taken_up_anew(tmp_path: Path) -> None:
    cert, key = own_domain(tmp_path / "domain")
    farm = LanFarm(tmp_path / "farm", BAGTRAIL_CERT=str(cert), BAGTRAIL_KEY=str(key)).up()
    try:
        assert not (tmp_path / "farm" / "ca").exists()

        def trusted() -> ssl.SSLContext:
            return ssl.create_default_context(cadata=cert.read_text())

        with farm.dial(trusted(), "farm.example") as link:
            before = link.getpeercert()["serialNumber"]  # type: ignore[index]
        own_domain(tmp_path / "domain")

        def is_new() -> bool:
            try:
                with farm.dial(trusted(), "farm.example") as link:
                    return bool(link.getpeercert()["serialNumber"] != before)  # type: ignore[index]
            except ssl.SSLError:
                return False

        farm.wait_for(is_new, "the renewed certificate")
        # No page over plain http: there is nothing to install.
        with socket.socket() as probe:
            assert probe.connect_ex(("127.0.0.1", farm.welcome_port)) != 0
    finally:
        said = farm.stop()
    assert f"Phones: https://farm.example:{farm.tls_port}" in said


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({"BAGTRAIL_CERT": "none.pem"}, "go together"),
        ({"BAGTRAIL_CERT": "none.pem", "BAGTRAIL_KEY": "none.key"}, "cannot be used"),
        ({"BAGTRAIL_LAN": "maybe"}, "Say on or off"),
        ({"BAGTRAIL_LAN": "on", "BAGTRAIL_TLS_PORT": "99999"}, "BAGTRAIL_TLS_PORT"),
        ({"BAGTRAIL_ORIGIN": "http://farm.example"}, "BAGTRAIL_ORIGIN"),
        ({"BAGTRAIL_MONITOR_TOKEN": "short"}, "20 random symbols"),
    ],
)
def test_wrong_settings_are_told_in_a_sentence(
    tmp_path: Path, settings: dict[str, str], told: str
) -> None:
    served = Served(tmp_path / "farm", **settings)
    said = served.process.communicate(timeout=30)[0]
    assert served.process.returncode == 1
    assert told in said
    assert "Traceback" not in said


def test_a_taken_port_is_told_before_anything_starts(tmp_path: Path) -> None:
    with socket.create_server(("0.0.0.0", 0)) as taken:
        port = taken.getsockname()[1]
        served = Served(
            tmp_path / "farm", BAGTRAIL_LAN="on", BAGTRAIL_TLS_PORT=str(port),
            BAGTRAIL_WELCOME_PORT="1",
        )  # fmt: skip
        said = served.process.communicate(timeout=30)[0]
    assert served.process.returncode == 1
    assert f"Port {port}" in said
    assert "--tls-port" in said


def test_without_phones_nothing_listens_beyond_this_computer(tmp_path: Path) -> None:
    served = Served(tmp_path / "farm")
    served.wait()
    try:
        assert (tmp_path / "farm" / "ca" / "root.pem").exists()  # made at the first start
        assert not (tmp_path / "farm" / "tls").exists()
    finally:
        import signal

        said = served.end(signal.SIGTERM)
    assert "start with --lan" in said
