"""By which names the server answers, and to which address it leads."""

from __future__ import annotations

from typing import Any

import pytest

NAVIGATES = {"Sec-Fetch-Mode": "navigate"}


@pytest.fixture
def farm(each_farm: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("BAGTRAIL_LAN", "on")
    monkeypatch.setenv("BAGTRAIL_HOSTS", "farm.example, Proxy.example")
    made = each_farm()
    made.host = f"farm-{made.log.identity.tag.lower()}.local"
    yield made
    made.log.close()


def get(farm: Any, host: str, path: str = "/api/farm", **headers: str) -> Any:
    client = farm.app.test_client(use_cookies=False)  # it would put its own in place of ours
    return client.get(
        path, headers={"Host": host, **headers}, base_url=f"https://{host}/", buffered=True
    )


def test_it_answers_to_its_own_names_and_to_numbers(farm: Any) -> None:
    for host in (
        farm.host, farm.host.upper(), f"{farm.host}:8443", "localhost:8765", "127.0.0.1",
        "192.168.1.50:8443", "203.0.113.5", "farm.example", "proxy.example", "x.localhost",
    ):  # fmt: skip
        assert get(farm, host).status_code == 200, host


@pytest.mark.parametrize(
    "host", ["evil.example", "farm-zzzz.local", "farm.example.evil", "localhost.evil", "1.2.3"]
)
@pytest.mark.parametrize("path", ["/api/farm", "/", "/assets/x.js", "/hello.html"])
def test_it_answers_to_no_name_of_a_stranger(farm: Any, host: str, path: str) -> None:
    reply = get(farm, host, path)
    assert reply.status_code == 421
    assert reply.json["error"]["code"] == "wrong_host"
    assert host not in reply.text
    assert "Content-Security-Policy" in reply.headers


def test_a_name_that_is_no_name(farm: Any) -> None:
    for host in ("", "a b", "a/b", "farm.example\\evil", "[::1"):
        reply = farm.http.get("/api/farm", environ_overrides={"HTTP_HOST": host})
        assert reply.status_code == 421, host


def test_a_browser_that_comes_by_a_number_is_led_to_the_one_address(farm: Any) -> None:
    reply = get(farm, "192.168.1.50:8443", "/", **NAVIGATES)
    assert reply.status_code == 302
    assert reply.headers["Location"] == f"https://{farm.host}:8443/"
    code = get(farm, "192.168.1.50:8443", "/B0000001K", **NAVIGATES)
    assert code.headers["Location"] == f"https://{farm.host}:8443/B0000001K"


def test_the_way_leads_to_no_other_place(farm: Any) -> None:
    for path in ("//evil.example", "/%0d%0aX: y", "/a/b", "/\\evil.example", "/a?b=//c"):
        reply = get(farm, "192.168.1.50", path, **NAVIGATES)
        if reply.status_code == 302:
            there = reply.headers["Location"]
            assert there in (f"https://{farm.host}:8443/", f"https://{farm.host}:8443/a"), path


def test_who_is_not_led_on(farm: Any) -> None:
    """The desk, the app's own requests, the last check, and a phone that finds no names."""
    for host, path, headers in (
        ("localhost:8765", "/", NAVIGATES), ("127.0.0.1:8765", "/", NAVIGATES),
        (f"{farm.host}:8443", "/", NAVIGATES), ("192.168.1.50:8443", "/", {}),
        ("192.168.1.50:8443", "/hello.html", NAVIGATES),
        ("192.168.1.50:8443", "/api/farm", NAVIGATES),
        ("192.168.1.50:8443", "/", {**NAVIGATES, "Cookie": "__Host-own=1"}),
    ):  # fmt: skip
        assert get(farm, host, path, **headers).status_code == 200, (host, path, headers)


def test_only_a_number_is_kept_as_a_phones_own_address(farm: Any) -> None:
    reply = get(farm, "192.168.1.50:8443", "/hello.html?own")
    cookie = reply.headers["Set-Cookie"]
    for word in ("__Host-own=1", "Secure", "HttpOnly", "Path=/", "SameSite=Strict"):
        assert word in cookie
    assert "Domain" not in cookie
    assert "Set-Cookie" not in get(farm, farm.host, "/hello.html?own").headers
    assert "Set-Cookie" not in get(farm, "192.168.1.50", "/hello.html").headers


def test_the_ping_answers_the_farms_own_plain_page_and_no_other(farm: Any) -> None:
    allowed = {
        f"http://{farm.host}:8080": True, "http://192.168.1.50:8080": True,
        "http://evil.example:8080": False, f"http://{farm.host}": False, "null": False,
        "http://192.168.1.99:8080": False, f"https://{farm.host}:8080": False,
    }  # fmt: skip
    for asker, good in allowed.items():
        reply = get(farm, "192.168.1.50:8443", "/api/ping", Origin=asker)
        assert reply.json == {"k": "ping1", "tag": farm.log.identity.tag, "welcome": 8080}
        assert (reply.headers.get("Access-Control-Allow-Origin") == asker) is good, asker
        assert "Access-Control-Allow-Credentials" not in reply.headers
        assert "Origin" in reply.headers["Vary"]


def test_the_code_for_a_phone_names_the_one_address(farm: Any) -> None:
    owner = farm.pair("owner")
    reply = farm.http.post("/api/devices/codes", json={"role": "worker"}, headers=owner.headers)
    assert reply.json["url"] == f"https://{farm.host}:8443/#pair={reply.json['code']}"
    told = reply.json["invitation"]
    assert told["url"].startswith("http://")
    assert told["url"].endswith(":8080/")
    # The one-time code never passes over plain http.
    assert reply.json["code"] not in told["url"]
    assert set("".join(told["qr"])) == {"0", "1"}
    assert len(told["check"]) == 9


def test_a_farm_that_serves_no_phones_has_no_invitation(server: Any, phone: Any) -> None:
    assert phone.get("/api/network").json["invitation"] is None
    assert phone.get("/api/network").json["certificate"] is None
    made = server.http.post("/api/devices/codes", json={"role": "worker"}, headers=phone.headers)
    assert made.json["invitation"] is None
    assert made.json["url"].startswith("http://localhost/#pair=")
    sheet = server.http.post("/api/network/sheet", json={}, headers=phone.headers)
    assert (sheet.status_code, sheet.json["error"]["code"]) == (409, "not_served")
    assert server.http.get("/hello.html").status_code == 404


def test_the_app_may_ask_the_plain_page_and_nobody_else(server: Any, farm: Any) -> None:
    def connect(reply: Any) -> str:
        policy = reply.headers["Content-Security-Policy"]
        return str(policy.partition("connect-src ")[2].partition(";")[0])

    for path in ("/", "/sw.js", "/hello.html", "/api/ping"):
        assert connect(get(farm, farm.host, path)) == f"'self' http://{farm.host}:8080"
        assert connect(server.http.get(path, buffered=True)) == "'self'"
