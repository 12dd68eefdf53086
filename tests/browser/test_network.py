"""Phones over https in a real Chromium with its own store of certificates, and no ignore flags."""

from __future__ import annotations

import http.server
import json
import re
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from cryptography import x509
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, load_pem_private_key
from cryptography.x509.oid import ExtendedKeyUsageOID
from PIL import Image
from playwright.sync_api import Error, Page, Playwright, expect
from tests.lan import LanFarm

from bagtrail.network import files, leaf
from bagtrail.network.welcome import Welcome

from .harness_browser import DESK, WAIT_MS, Phone
from .harness_camera import Camera
from .harness_farm import Hands
from .harness_pages import KEPT
from .harness_words import words
from .helpers.camera_browser import camera_flags, chromium_path
from .helpers.nss import make_store, need_certutil, trust

pytestmark = pytest.mark.browser


class NetPhone(Phone):
    """A phone that finds the names of a network, and trusts what its own store holds."""

    def __init__(
        self, playwright: Playwright, folder: Path, url: str, names: dict[str, str], **more: Any
    ) -> None:
        super().__init__(playwright, folder, url, **more)
        self._names = names
        make_store(folder)

    def start(self) -> NetPhone:
        self._profile.mkdir(parents=True, exist_ok=True)
        rules = ",".join(f"MAP {name} {there}" for name, there in self._names.items())
        width, height = self.size
        self._context = self._playwright.chromium.launch_persistent_context(
            str(self._profile),
            executable_path=chromium_path(),
            chromium_sandbox=False,
            args=[*camera_flags(self._feed), "--disable-gpu", f"--host-resolver-rules={rules}"],
            env={"HOME": str(self._home)},
            viewport={"width": width, "height": height},
            accept_downloads=True,
            locale="en-GB",
            permissions=["camera"] if self._feed else [],
        )
        self._context.set_default_timeout(WAIT_MS)
        self._context.add_init_script(KEPT)
        self.page = self._context.pages[0]
        return self

    def trusts(self, certificate: Path) -> NetPhone:
        trust(self._home, certificate)
        return self

    def restart(self) -> NetPhone:
        """A running Chromium does not notice what was imported meanwhile."""
        self.stop()
        return self.start()

    def goes_to(self, url: str) -> str:
        """Open an address; returns "" or the browser's own word for why not."""
        try:
            self.page.goto(url)
        except Error as bad:
            self.page.wait_for_url("chrome-error://chromewebdata/")  # the warning itself
            return (re.findall(r"net::(\w+)", str(bad)) or [str(bad)])[0]
        return ""


NewPhone = Callable[..., NetPhone]


@pytest.fixture(scope="module")
def farm(client: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[LanFarm]:
    need_certutil()
    made = LanFarm(tmp_path_factory.mktemp("farm") / "farm", BAGTRAIL_NAME="Fen Edge").up()
    yield made
    made.stop()


@pytest.fixture
def new_phone(playwright: Playwright, tmp_path: Path, farm: LanFarm) -> Iterator[NewPhone]:
    phones: list[NetPhone] = []

    def make(name: str = "phone", url: str = "", names: Any = (), **more: Any) -> NetPhone:
        known = {farm.host: "127.0.0.1", **dict(names)}
        phones.append(NetPhone(playwright, tmp_path / name, url or farm.origin, known, **more))
        return phones[-1]

    yield make
    for phone in phones:
        phone.stop()


def root_file(farm: LanFarm, folder: Path) -> Path:
    path = folder / "root.pem"
    path.write_bytes(farm.authority.root.public_bytes(Encoding.PEM))
    return path


def state(page: Page, wanted: str) -> None:
    """Wait until the last check has come to its end."""
    expect(page.locator("body")).to_have_attribute("data-state", re.compile(r"^(?!checking)"))
    assert page.locator("body").get_attribute("data-state") == wanted, page.inner_text("main")


def code_of(farm: LanFarm, role: str = "owner") -> str:
    from bagtrail import devices, open_log, settings

    log = open_log(settings.load({"BAGTRAIL_DATA": str(farm.folder)}))
    try:
        return str(devices.new_code(log, role)["code"])
    finally:
        log.close()


def test_with_the_authority_it_is_a_secure_page_that_starts_without_network(
    farm: LanFarm, new_phone: NewPhone, tmp_path: Path
) -> None:
    phone = new_phone().trusts(root_file(farm, tmp_path)).start()
    assert phone.goes_to(f"{farm.origin}/hello.html") == ""
    state(phone.page, "ready")
    assert phone.page.evaluate("isSecureContext && 'mediaDevices' in navigator")
    protocol = "performance.getEntriesByType('navigation')[0].nextHopProtocol"
    assert phone.page.evaluate(protocol) == "h2"


def test_without_the_authority_it_is_refused(farm: LanFarm, new_phone: NewPhone) -> None:
    phone = new_phone().start()
    assert phone.goes_to(f"{farm.origin}/hello.html") == "ERR_CERT_AUTHORITY_INVALID"


def test_a_warning_clicked_away_is_told_for_what_it_is(farm: LanFarm, new_phone: NewPhone) -> None:
    phone = new_phone().start()
    assert phone.goes_to(f"{farm.origin}/hello.html") == "ERR_CERT_AUTHORITY_INVALID"
    # Chromium's own way past the warning, for who knows it.
    phone.page.keyboard.type("thisisunsafe")
    phone.page.wait_for_url(f"{farm.origin}/hello.html")
    state(phone.page, "refused")
    assert "SecurityError" in phone.page.inner_text("#why")
    back = phone.page.get_by_role("link", name="Back to the steps")
    back.click()
    expect(phone.page.locator("[data-when=refused]")).to_be_visible()
    # It does not send the phone round in a circle.
    phone.page.wait_for_timeout(3_000)
    assert phone.page.url == f"http://{farm.host}:{farm.welcome_port}/#refused"


@contextmanager
def another_server(pem: bytes, folder: Path, port: int = 0) -> Iterator[int]:
    """Somebody else's https server with a certificate of the farm's authority."""
    file = folder / "stolen.pem"
    file.write_bytes(pem)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(file)

    class Page(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.end_headers()
            self.wfile.write(b"<title>another server</title>")

        def log_message(self, *_: Any) -> None:
            pass

    class Quiet(http.server.ThreadingHTTPServer):
        def handle_error(self, *_: Any) -> None:
            pass

    server = Quiet(("127.0.0.1", port), Page)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield int(server.server_address[1])
    server.shutdown()
    server.server_close()


def stolen(farm: LanFarm, name: str, days: int = 30) -> bytes:
    """What a thief of the intermediate's key could sign for any name."""
    authority = farm.authority
    pem = leaf.issue(authority, [], datetime.now(UTC))
    key = load_pem_private_key(pem, None)
    now = datetime.now(UTC)
    cert = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([])).issuer_name(authority.intermediate.subject)
        .public_key(key.public_key()).serial_number(x509.random_serial_number())  # type: ignore[arg-type]
        .not_valid_before(now - timedelta(days=2)).not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .sign(authority.key, SHA256())
    )  # fmt: skip
    secret, _, _ = pem.partition(b"-----BEGIN CERTIFICATE-----")
    between = authority.intermediate.public_bytes(Encoding.PEM)
    return secret + cert.public_bytes(Encoding.PEM) + between


def test_the_farms_signature_for_another_name_is_refused(
    farm: LanFarm, new_phone: NewPhone, tmp_path: Path
) -> None:
    phone = new_phone(names={"shop.example": "127.0.0.1"}).trusts(root_file(farm, tmp_path)).start()
    with another_server(stolen(farm, "shop.example"), tmp_path) as port:
        assert phone.goes_to(f"https://shop.example:{port}/") == "ERR_CERT_INVALID"
    # The same server with the farm's own name is taken: it is the name that was refused.
    with another_server(stolen(farm, farm.host), tmp_path) as port:
        assert phone.goes_to(f"https://{farm.host}:{port}/") == ""
        assert phone.page.title() == "another server"


def test_a_phone_of_one_farm_takes_no_other_farm(
    farm: LanFarm, new_phone: NewPhone, tmp_path: Path
) -> None:
    other = LanFarm(tmp_path / "other", BAGTRAIL_NAME="Birch End").up()
    try:
        names = {other.host: "127.0.0.1"}
        phone = new_phone(names=names).trusts(root_file(farm, tmp_path)).start()
        assert phone.goes_to(f"{farm.origin}/hello.html") == ""
        assert phone.goes_to(f"{other.origin}/hello.html") == "ERR_CERT_AUTHORITY_INVALID"
        # Its page waits on, and never takes the first farm's answer for its own.
        phone.page.goto(f"http://{other.host}:{other.welcome_port}/")
        phone.page.wait_for_timeout(3_000)
        expect(phone.page.locator("[data-when=waiting]")).to_be_visible()
        assert phone.page.inner_text("#code") == other.authority.code
    finally:
        other.stop()


def square_on(page: Page) -> str:
    """Read the square on a screen as a phone's camera does."""
    picture = page.locator("svg[role=img]").screenshot()
    [found] = zxingcpp.read_barcodes(Image.open(BytesIO(picture)).convert("L"))
    return str(found.text)


def records_of(farm: LanFarm) -> list[dict[str, Any]]:
    """Every record of the farm's log, as it was written."""
    from bagtrail import open_log, settings

    log = open_log(settings.load({"BAGTRAIL_DATA": str(farm.folder)}))
    try:
        with log.store.reading():
            return [json.loads(row.text) for row in log.store.after(0, 10_000)]
    finally:
        log.close()


def test_from_the_square_at_the_desk_to_a_first_scan_without_network(
    client: None, playwright: Playwright, tmp_path: Path, camera: Camera
) -> None:
    """Every step of a new phone, from the desk's square to a bag scanned with the server dead."""
    need_certutil()
    farm = LanFarm(tmp_path / "farm", BAGTRAIL_NAME="Fen Edge").up()
    desk = Phone(playwright, tmp_path / "desk", f"http://localhost:{farm.port}", size=DESK).start()
    names = {farm.host: "127.0.0.1"}
    phone = NetPhone(playwright, tmp_path / "phone", farm.origin, names, feed=camera.feed)
    try:
        # The desk works over plain http on its own computer: it makes bags and prints their labels.
        desk.pair(code_of(farm), "Desk")
        maker = Hands(desk, tmp_path / "desk")
        shelf = maker.name_place("Shelf 3", "shelf")
        _, [bag] = maker.mix_and_fill(1, 2_500, "60")
        desk.all_sent()
        # It shows square and code.
        desk.go("settings")
        desk.page.get_by_role("button", name=words("settings.pair_make")).click()
        # Backups on another disk are what a new farm lacks, and nothing else.
        health = desk.page.locator("[data-health=ask]")
        expect(health.get_by_text("Fewer than two good backups")).to_be_visible()
        health.get_by_text(words("health.figures")).click()
        expect(health.get_by_text(farm.authority.code)).to_be_visible()
        welcome = square_on(desk.page)
        assert re.fullmatch(rf"http://[^/]+:{farm.welcome_port}/", welcome)
        shown = desk.page.inner_text("section:has(svg[role=img])")
        one_time = re.search(r"\b([0-9A-Z]{4}) ([0-9A-Z]{4})\b", shown)
        assert one_time, shown
        code = "".join(one_time.groups())
        assert code not in welcome
        assert farm.authority.code in shown

        # The phone meets the plain page: nothing trusted yet, the same code on both screens.
        here = f"http://{farm.host}:{farm.welcome_port}/"
        page = phone.start().page
        page.goto(here)
        assert page.inner_text("#code") == farm.authority.code
        expect(page.locator("[data-when=waiting]")).to_be_visible()
        with page.expect_download() as got:
            page.get_by_role("link", name="Get the certificate").click()
        saved = tmp_path / got.value.suggested_filename
        got.value.save_as(saved)
        assert saved.name == f"{farm.host.removesuffix('.local')}.crt"

        # What the phone got is what it installs; the page then goes on by itself.
        page = phone.trusts(saved).restart().page
        page.goto(here)
        page.wait_for_url(f"{farm.origin}/hello.html")
        state(page, "ready")
        page.goto(farm.origin)
        page.get_by_label(words("pair.code")).fill(code)
        page.get_by_role("button", name=words("pair.do")).click()
        phone.up()
        phone.shell_ready()
        phone.go(f"bag/{bag}")  # what the desk has made is here
        expect(page.get_by_role("link", name=words("act.bag_moved"))).to_be_visible()

        # The server dies and the browser starts anew: the app stands, and its camera reads.
        farm.kill()
        page = phone.restart().page
        page.goto(farm.origin)
        phone.up()
        expect(page.locator(".status")).to_contain_text(words("link.silent"))
        carrier = Hands(phone, tmp_path / "phone", camera)
        carrier.labels = maker.labels
        carrier.scan_one(bag)
        carrier.touch("act.bag_moved")
        carrier.hold_up(shelf)
        carrier.said("move.saved")
        phone.waiting(1)
        [written] = [json.loads(text) for text in phone.outbox()]
        assert (written["ty"], written["sub"], written["d"]) == ("bag.moved", [bag], {"to": shelf})
        assert written["id"] not in {record["id"] for record in records_of(farm)}

        # The server is back: the record arrives once, and the desk sees the bag on its shelf.
        farm = farm.again()
        phone.all_sent(60_000)
        assert [r for r in records_of(farm) if r["ty"] == "bag.moved"] == [written]
        desk.go(f"bag/{bag}")
        expect(desk.page.get_by_text(re.compile("Shelf 3")).first).to_be_visible()
    finally:
        phone.stop()
        desk.stop()
        farm.stop()


def test_an_ended_certificate_is_no_plain_silence(
    client: None, playwright: Playwright, tmp_path: Path
) -> None:
    need_certutil()
    farm = LanFarm(tmp_path / "farm", BAGTRAIL_NAME="Fen Edge").up()
    phone = NetPhone(playwright, tmp_path / "phone", farm.origin, {farm.host: "127.0.0.1"})
    phone.trusts(root_file(farm, tmp_path))
    hint = phone.start().page.get_by_text(words("cert_hint.what"))
    authority = farm.authority
    plain = Welcome(authority, "0000", "Fen Edge", farm.origin, lambda: -1)
    try:
        phone.pair(code_of(farm))
        phone.shell_ready()
        phone.go("settings")
        phone.until("localStorage.getItem('bagtrail-plain-port')")
        farm.stop()
        # Nobody there: plain silence, and nothing is said of certificates.
        phone.page.reload()
        expect(phone.page.locator("#main").get_by_text(words("link.silent"))).to_be_visible()
        phone.page.wait_for_timeout(1_000)
        expect(hint).to_have_count(0)
        # The computer is back with a certificate that is over.
        over = stolen(farm, farm.host, days=-1)
        page = plain.server("127.0.0.1", farm.welcome_port)
        threading.Thread(target=page.serve_forever, daemon=True).start()
        with another_server(over, tmp_path, farm.tls_port):
            phone.page.reload()
            expect(hint).to_be_visible()
        page.shutdown()
        page.server_close()
    finally:
        phone.stop()
        farm.stop()


def test_a_renewed_certificate_changes_nothing_for_the_phone(
    farm: LanFarm, new_phone: NewPhone, tmp_path: Path
) -> None:
    phone = new_phone().trusts(root_file(farm, tmp_path)).start()
    phone.goes_to(farm.origin)
    before = farm.serial(farm.trusting())
    old = leaf.issue(farm.authority, [], datetime.now(UTC) - timedelta(days=350))
    files.write(farm.folder / leaf.FILE, old)
    phone.page.evaluate("""() => {
      const asked = globalThis.asked = { n: 0, bad: 0, end: false };
      asked.done = (async () => {
        while (!asked.end) {
          try {
            if (!(await fetch('/api/ping', { cache: 'no-store' })).ok) asked.bad += 1;
          } catch { asked.bad += 1; }
          asked.n += 1;
          await new Promise((done) => setTimeout(done, 20));
        }
      })();
    }""")
    # Asked all the while until the certificate has changed, and for a while afterwards.
    new = phone.page.evaluate("asked.n")
    farm.wait_for(lambda: farm.serial(farm.trusting()) != before, "another certificate", 60)
    changed = phone.page.evaluate("asked.n")
    assert changed > new
    phone.until(f"asked.n >= {changed + 50}")
    phone.page.evaluate("asked.end = true, asked.done")
    assert phone.page.evaluate("asked.bad") == 0
