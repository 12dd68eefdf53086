"""The plain page that a phone meets first, and the same steps on paper."""

from __future__ import annotations

import hashlib
import http.client
import json
import plistlib
import re
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import zxingcpp

from bagtrail.network import ca, pairing_sheet, profile, qr, steps
from bagtrail.network.welcome import Welcome, WelcomeServer

ORIGIN = "https://farm-7k3q.local:8443"
NAME = 'Alder & "Hollow" <b>'


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> ca.Authority:
    return ca.ensure(tmp_path_factory.mktemp("farm"), "7K3Q", True, datetime.now(UTC))


@pytest.fixture(scope="module")
def server(authority: ca.Authority) -> Iterator[WelcomeServer]:
    running = Welcome(authority, "7K3Q", NAME, ORIGIN, lambda: 200).server("127.0.0.1", 0)
    threading.Thread(target=running.serve_forever, daemon=True).start()
    yield running
    running.shutdown()
    running.server_close()


def ask(server: WelcomeServer, path: str, method: str = "GET", **headers: str) -> Any:
    link = http.client.HTTPConnection("127.0.0.1", server.server_address[1], timeout=5)
    link.putrequest(method, path, skip_host=True)
    for name, value in {"Host": "192.168.1.50:8080", **headers}.items():
        link.putheader(name, value)
    link.endheaders()
    reply = link.getresponse()
    reply.body = reply.read()  # type: ignore[attr-defined]
    link.close()
    return reply


def test_it_hands_out_the_authority_to_android(
    server: WelcomeServer, authority: ca.Authority
) -> None:
    reply = ask(server, "/farm-7k3q.crt")
    assert reply.getheader("Content-Type") == "application/x-x509-ca-cert"
    assert 'filename="farm-7k3q.crt"' in reply.getheader("Content-Disposition")
    assert hashlib.sha256(reply.body).hexdigest() == authority.fingerprint


def test_it_hands_out_a_profile_to_ios(server: WelcomeServer, authority: ca.Authority) -> None:
    reply = ask(server, "/farm-7k3q.mobileconfig")
    assert reply.getheader("Content-Type") == "application/x-apple-aspen-config"
    said = plistlib.loads(reply.body)
    [payload] = said["PayloadContent"]
    assert payload["PayloadType"] == "com.apple.security.root"
    assert payload["PayloadContent"] == authority.der
    assert said["PayloadOrganization"] == NAME
    # A second one replaces the first.
    again = plistlib.loads(profile.mobileconfig(authority, "other"))
    assert again["PayloadUUID"] == said["PayloadUUID"] != payload["PayloadUUID"]
    # iOS shows no switch for a root without a common name.
    assert authority.title == payload["PayloadDisplayName"] == "Bagtrail farm 7K3Q"


def test_the_page_shows_code_and_steps_and_escapes_the_farms_name(
    server: WelcomeServer, authority: ca.Authority
) -> None:
    page = ask(server, "/").body.decode()
    assert f'<b id="code">{authority.code}</b>' in page
    assert "Alder &amp; &quot;Hollow&quot; &lt;b&gt; (7K3Q)" in page
    assert f'data-origin="{ORIGIN}"' in page
    assert 'data-here="https://192.168.1.50:8443"' in page
    assert "$" not in page
    for system in steps.WORDS:
        section = page.partition(f'data-system="{system}" open>')[2].partition("</details>")[0]
        assert 8 <= section.count("<li>") <= steps.MOST, system


def test_its_policy_allows_no_inline_script_and_only_the_farm(server: WelcomeServer) -> None:
    for path in ("/", "/nowhere", "/welcome.js"):
        reply = ask(server, path)
        policy = dict(
            part.strip().split(" ", 1)
            for part in reply.getheader("Content-Security-Policy").split(";")
        )
        assert policy["default-src"] == policy["base-uri"] == policy["form-action"] == "'none'"
        assert policy["object-src"] == "'none'"
        assert policy["script-src"] == policy["style-src"] == "'self'"
        assert policy["connect-src"] == f"{ORIGIN} https://192.168.1.50:8443"
        assert reply.getheader("X-Content-Type-Options") == "nosniff"
        assert reply.getheader("Strict-Transport-Security") is None
        assert "Python" not in reply.getheader("Server")
    page = ask(server, "/").body.decode()
    assert not re.search(r"<script(?![^>]*src=)|\son\w+=|<style|\sstyle=|javascript:", page)


@pytest.mark.parametrize(
    "host", ["evil.example", "farm-0000.local", "", "a\tb", '"><script>', "farm-7k3q.local.evil"]
)
def test_it_answers_to_no_strangers_name(server: WelcomeServer, host: str) -> None:
    reply = ask(server, "/farm-7k3q.crt", Host=host)
    assert reply.status == 421
    assert host == "" or host.encode() not in reply.body


@pytest.mark.parametrize(
    "path",
    ["/../ca.py", "/%2e%2e/ca.py", "//etc/passwd", "/hello.html", "/hello.js", "/web/hello.js",
     "/welcome.js/..", "/ca/intermediate.key", "/api/farm", "/welcome.html"],
)  # fmt: skip
def test_it_has_six_files_and_no_way_to_others(server: WelcomeServer, path: str) -> None:
    assert ask(server, path).status == 404


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "TRACE"])
def test_it_only_gives(server: WelcomeServer, method: str) -> None:
    assert ask(server, "/", method).status == 501


def test_its_ping_answers_the_farms_own_page_and_no_other(server: WelcomeServer) -> None:
    for asker, allowed in (
        (ORIGIN, ORIGIN), ("https://192.168.1.50:8443", "https://192.168.1.50:8443"),
        ("https://evil.example", None), ("null", None), ("https://192.168.1.50", None),
    ):  # fmt: skip
        reply = ask(server, "/ping", Origin=asker)
        assert reply.getheader("Access-Control-Allow-Origin") == allowed
        assert reply.body == b'{"k": "welcome1", "tag": "7K3Q", "days": 200}'
    assert ask(server, "/", Origin=ORIGIN).getheader("Access-Control-Allow-Origin") is None


def test_a_crowd_is_shed_and_the_page_goes_on(server: WelcomeServer) -> None:
    import socket

    idle = [socket.create_connection(server.server_address[:2]) for _ in range(60)]
    try:
        # Those beyond the limit are closed at once; those within wait for their own time.
        closed = 0
        for each in idle:
            each.settimeout(0.2)
            try:
                closed += each.recv(1) == b""
            except TimeoutError:
                pass
        assert closed >= 60 - 32
    finally:
        for each in idle:
            each.close()
    for _ in range(50):
        try:
            assert ask(server, "/ping").status == 200
            return
        except (OSError, http.client.HTTPException):
            threading.Event().wait(0.05)
    raise AssertionError("the page did not come back")


def test_nothing_is_logged(server: WelcomeServer, capfd: pytest.CaptureFixture[str]) -> None:
    ask(server, "/")
    ask(server, "/nowhere")
    assert capfd.readouterr() == ("", "")


def test_the_square_is_read_by_another_decoder() -> None:
    from PIL import Image

    grid = qr.rows("http://192.168.100.200:8080/")
    image = Image.new("L", (len(grid), len(grid)), 255)
    for y, row in enumerate(grid):
        for x, dark in enumerate(row):
            image.putpixel((x, y), 0 if dark == "1" else 255)
    [found] = zxingcpp.read_barcodes(image.resize((len(grid) * 6,) * 2, Image.Resampling.NEAREST))
    assert found.text == "http://192.168.100.200:8080/"


def test_the_steps_name_what_the_app_shows() -> None:
    """In the very words of the client's own screens."""
    texts: dict[str, str] = {}
    for name in ("en-GB.json", "en-GB.rest.json"):
        file = Path(__file__).parents[3] / "client" / "src" / "i18n" / name
        if file.exists():
            texts |= json.loads(file.read_text(encoding="utf-8"))
    for system, listed in steps.WORDS.items():
        for message, step in (
            ("screen.settings", 0), ("settings.pair_other", 0), ("settings.pair_make", 0),
            ("pair.do", -1),
        ):  # fmt: skip
            assert f"**{texts[message]}**" in listed[step], (system, message)


def test_the_sheet_holds_square_code_and_the_same_steps(
    authority: ca.Authority, tmp_path: Path
) -> None:
    url = "http://192.168.1.50:8080/"
    pdf = pypdfium2.PdfDocument(BytesIO(pairing_sheet.pdf(authority, "7K3Q", NAME, url)))
    assert len(pdf) == 2  # phones on one page, other computers on one
    text = pdf[0].get_textpage().get_text_bounded()
    flat = re.sub(r"\s+", "", text)
    assert authority.code in flat
    assert "Alder&" in flat
    for system in ("android", "ios"):
        for words in steps.WORDS[system]:
            said = words.format(
                title=authority.title, code=authority.code, file=steps.file_name("7K3Q")
            )
            assert re.sub(r"\s+|\*\*", "", said) in flat
    found = zxingcpp.read_barcodes(pdf[0].render(scale=2).to_pil().convert("L"))
    assert [f.text for f in found] == [url]
