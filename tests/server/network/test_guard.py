"""Least privilege: every route against every caller; a route missing from the table fails."""

from __future__ import annotations

import hmac
import json
import logging
import stat
from pathlib import Path
from typing import Any

import pytest

from bagtrail import devices, ids, pins
from bagtrail.intake import Caller
from bagtrail.limits import BURST

MONITOR = "monitor-token-of-the-tests"
CALLERS = ("nobody", "stranger", "forged", "revoked", "worker", "manager", "owner", "monitor")
ALL = set(CALLERS)
MEMBERS = {"worker", "manager", "owner"}
BOSSES = {"manager", "owner"}

# (method, rule): (who is let in, body or query). What a revoked device still sends is kept, held.
TABLE: dict[tuple[str, str], tuple[set[str], Any]] = {
    ("GET", "/"): (ALL, None),
    ("GET", "/<path:path>"): (ALL, None),
    ("GET", "/hello.html"): (ALL, None),
    ("GET", "/hello.css"): (ALL, None),
    ("GET", "/hello.js"): (ALL, None),
    ("GET", "/api/openapi.json"): (ALL, None),
    ("GET", "/api/farm"): (ALL, None),
    ("GET", "/api/catalogue"): (ALL, None),
    ("GET", "/api/ping"): (ALL, None),
    ("POST", "/api/devices/pair"): (ALL, "pair"),
    ("GET", "/api/answers/find"): (MEMBERS, None),
    ("GET", "/api/answers/batch/<code>"): (MEMBERS, None),
    ("GET", "/api/answers/part/<code>"): (MEMBERS, None),
    ("GET", "/api/answers/place/<code>"): (MEMBERS, None),
    ("GET", "/api/answers/record/<code>"): (BOSSES, None),
    ("GET", "/api/answers/loads"): (MEMBERS, None),
    ("GET", "/api/answers/load/<code>"): (MEMBERS, None),
    ("POST", "/api/labels"): (MEMBERS, "labels"),
    ("POST", "/api/labels/preview"): (MEMBERS, "labels"),
    ("POST", "/api/labels/calibration"): (MEMBERS, "empty"),
    ("POST", "/api/labels/sheet"): (MEMBERS, "sheet"),
    ("GET", "/api/labels/stocks"): (MEMBERS, None),
    ("GET", "/api/labels/layouts"): (MEMBERS, None),
    ("GET", "/api/labels/advice"): (MEMBERS, None),
    ("POST", "/api/papers/card"): (MEMBERS, "card"),
    ("POST", "/api/papers/day-sheet"): (MEMBERS, "day sheet"),
    ("POST", "/api/papers/mix-sheet"): (MEMBERS, "mix sheet"),
    ("POST", "/api/sync/push"): (MEMBERS | {"revoked"}, "push"),
    ("POST", "/api/sync/foreign"): (BOSSES, "push"),
    ("POST", "/api/sync/foreign/admit"): (BOSSES, "empty"),
    ("POST", "/api/sync/offer"): (MEMBERS | {"revoked"}, "offer"),
    ("GET", "/api/sync/pull"): (MEMBERS, None),
    ("GET", "/api/sync/snapshot"): (MEMBERS, None),
    ("POST", "/api/sync/lines"): (MEMBERS, "lines"),
    ("GET", "/api/sync/wait"): (MEMBERS, None),
    ("POST", "/api/photos"): (MEMBERS, "photo"),
    ("POST", "/api/photos/standing"): (MEMBERS, "photos"),
    ("GET", "/api/photos/<code>"): (MEMBERS, None),
    ("POST", "/api/loads/log"): (MEMBERS, "photo"),
    ("POST", "/api/loads/log/score"): (MEMBERS, "log"),
    ("GET", "/api/loads/log/<code>"): (MEMBERS, None),
    ("GET", "/api/scale"): (MEMBERS, None),
    ("GET", "/api/sync/state"): (BOSSES, None),
    ("POST", "/api/sync/away"): ({"owner"}, "away"),
    ("POST", "/api/sync/backup"): ({"owner"}, "empty"),
    ("GET", "/api/devices"): (BOSSES, None),
    ("POST", "/api/devices/codes"): (BOSSES, "code"),
    ("POST", "/api/devices/confirm"): ({"owner"}, "confirm"),
    ("POST", "/api/devices/revoke"): (BOSSES, "revoke"),
    ("GET", "/api/people/pins"): (MEMBERS, None),
    ("POST", "/api/people/pin"): (MEMBERS, "pin"),
    ("POST", "/api/people/enter"): (MEMBERS, "enter"),
    ("POST", "/api/people/stay"): (MEMBERS, "empty"),
    ("GET", "/api/network"): (BOSSES, None),
    ("POST", "/api/network/sheet"): (BOSSES, "empty"),
    ("GET", "/api/health"): (BOSSES | {"monitor"}, None),
}


@pytest.fixture
def farm(each_farm: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A farm that serves phones and has a device of every role."""
    monkeypatch.setenv("BAGTRAIL_LAN", "on")
    monkeypatch.setenv("BAGTRAIL_MONITOR_TOKEN", MONITOR)
    made = each_farm()
    yield made
    made.log.close()


@pytest.fixture
def callers(farm: Any, each_farm: Any) -> dict[str, dict[str, str]]:
    """The headers of each caller, and `devs`: what the bodies name."""
    other = each_farm()
    phones = {role: farm.pair(role) for role in ("owner", "manager", "worker")}
    gone = farm.pair("owner", "Lost phone")
    devices.revoke(farm.log, gone.dev, "lost", phones["owner"].by)
    worker = phones["worker"]
    token = worker.headers["Authorization"]
    found = {
        "nobody": {},
        "stranger": other.pair("owner").headers,
        # A true token whose device id is another's: the tag belongs to one device and generation.
        "forged": {"Authorization": token.replace(worker.dev, phones["owner"].dev)},
        "revoked": gone.headers,
        "monitor": {"Authorization": f"Bearer {MONITOR}"},
        **{role: phone.headers for role, phone in phones.items()},
    }
    other.log.close()
    farm.phones = phones
    return found


def body_of(farm: Any, what: Any, caller: str) -> Any:
    """A body that is right in itself, so that only the caller decides."""
    phone = farm.phones.get(caller) or farm.phones["worker"]
    if what == "pair":
        return {"code": devices.new_code(farm.log, "worker")["code"], "name": "Phone"}
    if what == "enter":
        pins.set_pin(farm.log, Caller("", 1, "owner", "", "paired"), phone.by, "2580")
    return {
        None: None,
        "pin": {"person": phone.by, "pin": "2580"},
        "enter": {"person": phone.by, "pin": "2580"},
        "empty": {},
        "labels": {"stock": "a4-24", "labels": [{"code": phone.code("B")}]},
        "sheet": {"batch": phone.code("M")},
        "card": {"title": "Card", "groups": [
            {"title": "Round", "tags": [
                {"code": "X0000001" + ids.check_symbol("X0000001"), "text": "Done"}]}]},
        "day sheet": {"title": "Day", "date": "Day", "by": "Who", "columns": ["Time"] * 7},
        "mix sheet": {"title": "Mix", "heads": ["What", "Weigh", "Scale"], "charges": [
            {"rows": [{"name": "Oak", "amount": "1 kg"}]}]},
        "push": phone.body(),
        "offer": {"farm": farm.log.identity.farm, "proof": "", "nonce": "n", "st": phone.st,
                  "now": 0, "ids": []},
        "lines": {"farm": farm.log.identity.farm, "proof": "", "nonce": "n", "st": phone.st,
                  "pos": 1, "units": [phone.code("M")], "records": []},
        "away": {"name": "bagtrail-0000-20251125-121500.zip"},
        "code": {"role": "worker"},
        "confirm": {"devices": []},
        "revoke": {"dev": "d0000000000000000"},
        "photo": {"sha256": "0" * 64, "bytes": 8, "offset": 0, "data": "AAAA"},
        "photos": {"sha256": ["0" * 64]},
        "log": {"sha256": "0" * 64, "ref": 12_110, "z": 1_000, "limit": 12_100},
    }[what]  # fmt: skip


def test_secrets_are_compared_in_constant_time(
    farm: Any, callers: dict[str, dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Token, MAC, receipt, pass and monitor's token are decided by hmac.compare_digest alone."""
    phone, owner = farm.phones["worker"], farm.phones["owner"]
    pins.set_pin(farm.log, Caller(owner.dev, 1, "owner", owner.by, "paired"), owner.by, "2580")
    entered = farm.http.post(
        "/api/people/enter", json={"person": owner.by, "pin": "2580"}, headers=phone.headers
    )
    held = {**phone.headers, "X-Bagtrail-Pass": entered.json["pass"]}
    record = phone.sign(phone.record("batch.mixed", [phone.code("M")], {"name": "25 Nov A1"}))
    row = phone.push(record).json["r"][0]
    token = phone.headers["Authorization"].rpartition(".")[2]
    true, compared = hmac.compare_digest, []

    def compare(a: Any, b: Any) -> bool:
        compared.append({x.decode() if isinstance(x, bytes) else x for x in (a, b)})
        return bool(true(a, b))

    monkeypatch.setattr("hmac.compare_digest", compare)
    assert farm.http.get("/api/devices", headers=held).status_code == 200
    assert farm.http.get("/api/health", headers=callers["monitor"]).status_code == 200
    assert phone.push([*record, row[3], row[4]]).json["r"][0][1] == "dup"
    secrets = (token, record[1], row[4], entered.json["pass"].rpartition(".")[2],
               callers["monitor"]["Authorization"])  # fmt: skip
    for secret in secrets:
        assert {secret} in compared
    # No other comparison lets anybody in.
    monkeypatch.setattr("hmac.compare_digest", lambda a, b: False)
    assert farm.http.get("/api/devices", headers=held).status_code == 401
    assert farm.http.get("/api/health", headers=callers["monitor"]).status_code in (401, 403)


def rules(farm: Any) -> set[tuple[str, str]]:
    return {
        (method, rule.rule)
        for rule in farm.app.url_map.iter_rules()
        for method in rule.methods - {"HEAD", "OPTIONS"}
    }


def test_every_route_stands_in_the_table(farm: Any) -> None:
    assert rules(farm) == set(TABLE)


@pytest.mark.parametrize("caller", CALLERS)
def test_every_route_lets_in_whom_it_should_and_nobody_else(
    farm: Any, callers: dict[str, dict[str, str]], caller: str
) -> None:
    for (method, rule), (let_in, what) in TABLE.items():
        path = rule.replace("<code>", "B0000001K").replace("<path:path>", "somewhere")
        body = body_of(farm, what, caller)
        more = {} if body is None else {"json": body}
        reply = farm.http.open(path, method=method, headers=callers[caller], buffered=True, **more)
        asked = f"{caller}: {method} {path} -> {reply.status_code} {reply.data[:200]!r}"
        if caller in let_in:
            # What is asked for may not be there; the door is open all the same.
            assert reply.status_code in (200, 404, 422), asked
            if reply.status_code == 422:
                assert reply.json["error"]["code"] in ("bad_fields", "bad_code"), asked
                assert "fields" not in reply.json["error"]["details"], asked
        elif caller in ("nobody", "stranger", "forged", "monitor"):
            assert (reply.status_code, reply.json["error"]["code"]) == (401, "no_device"), asked
        else:
            assert reply.status_code == 403, asked
            assert reply.json["error"]["code"] in ("revoked", "not_allowed"), asked


def test_a_manager_shuts_no_owner_out(farm: Any, callers: dict[str, dict[str, str]]) -> None:
    owner, manager, worker = (farm.phones[r] for r in ("owner", "manager", "worker"))

    def revoke(by: Any, whom: Any) -> int:
        return int(
            farm.http.post(
                "/api/devices/revoke", json={"dev": whom.dev}, headers=by.headers
            ).status_code
        )

    assert revoke(manager, owner) == 403
    assert owner.pull().status_code == 200
    assert revoke(manager, worker) == 200
    assert worker.pull().status_code == 403
    assert revoke(owner, manager) == 200


def test_what_a_revoked_phone_still_sends_is_held(
    farm: Any, callers: dict[str, dict[str, str]]
) -> None:
    worker = farm.phones["worker"]
    devices.revoke(farm.log, worker.dev, "lost", farm.phones["owner"].by)
    reply = worker.push(worker.record("batch.mixed", [worker.code("M")], {"name": "25 Nov C1"}))
    assert [r[1] for r in reply.json["r"]] == ["held"]
    assert worker.pull().status_code == 403
    assert worker.get("/api/answers/find", q="C1").status_code == 403


def test_an_unconfirmed_owner_is_told_where_devices_are_confirmed(
    farm: Any, callers: dict[str, dict[str, str]]
) -> None:
    """After a restore every device is unconfirmed: "ask an owner" would lead in a circle."""
    owner = farm.phones["owner"]
    with farm.log.store.writing():
        row = farm.log.store.device(owner.dev)
        farm.log.store.put_device(**{**row, "state": "unconfirmed"})
    for method, path, body in (
        ("POST", "/api/devices/confirm", {"devices": [owner.dev]}),
        ("GET", "/api/devices", None),
        ("GET", "/api/sync/pull", None),
    ):
        more = {} if body is None else {"json": body}
        reply = farm.http.open(path, method=method, headers=callers["owner"], **more)
        assert reply.status_code == 403
        assert reply.json["error"]["code"] == "unconfirmed"
        assert "`bagtrail devices --confirm`" in reply.json["error"]["todo"]
        assert "farm's computer" in reply.json["error"]["todo"]
    gone = farm.http.post("/api/devices/confirm", json={"devices": []}, headers=callers["revoked"])
    assert (gone.status_code, gone.json["error"]["code"]) == (403, "revoked")


@pytest.mark.parametrize(
    "header",
    ["Bearer", "Bearer ", "Bearer a.b.c", "Basic dXNlcjpwYXNz", "Bearer d0123456789abcdef.1.",
     "Bearer d0123456789abcdef.١.aa", "Bearer " + "x" * 9_000, f"bearer {MONITOR[:-1]}",
     f"Bearer {MONITOR} ", f"Bearer {MONITOR}.1.a"],
)  # fmt: skip
def test_tokens_that_are_none(farm: Any, header: str) -> None:
    for path in ("/api/health", "/api/sync/pull", "/api/network"):
        reply = farm.http.get(path, headers={"Authorization": header.encode().decode("latin-1")})
        assert reply.status_code == 401


def test_a_token_is_no_cookie(farm: Any, callers: dict[str, dict[str, str]]) -> None:
    """No request that another site's page can make carries who we are."""
    token = callers["owner"]["Authorization"].removeprefix("Bearer ")
    for cookie in (token, f"token={token}", f"Authorization=Bearer {token}"):
        assert farm.http.get("/api/health", headers={"Cookie": cookie}).status_code == 401
    for method, path in (m for m in TABLE if m[0] == "POST"):
        # What a form of another site can send, and what it would need leave to send.
        for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
            reply = farm.http.open(path, method=method, data=b"{}", content_type=kind,
                                   headers=callers["owner"])  # fmt: skip
            assert reply.status_code == 415, (path, kind)
        leave = farm.http.options(path, headers={
            "Origin": "https://evil.example", "Access-Control-Request-Method": "POST",
            "Access-Control-Request-Headers": "authorization,content-type",
        })  # fmt: skip
        assert not [h for h in leave.headers.keys() if h.lower().startswith("access-control-")]


def test_policy_and_caching_of_every_route(farm: Any, callers: dict[str, dict[str, str]]) -> None:
    for (method, rule), (_, what) in TABLE.items():
        path = rule.replace("<code>", "B0000001K").replace("<path:path>", "somewhere")
        body = body_of(farm, what, "owner")
        more = {} if body is None else {"json": body}
        reply = farm.http.open(path, method=method, headers=callers["owner"], buffered=True, **more)
        policy = reply.headers["Content-Security-Policy"]
        assert "unsafe-inline" not in policy
        assert "'unsafe-eval'" not in policy
        assert "frame-ancestors 'none'" in policy
        assert reply.headers["X-Content-Type-Options"] == "nosniff"
        assert "Strict-Transport-Security" not in reply.headers
        if path.startswith("/api/"):
            assert reply.headers["Cache-Control"] == "no-store", path


def test_pairing_is_guessed_by_nobody(farm: Any) -> None:
    wrong = {"code": "00000000", "name": "x"}
    seen = [farm.http.post("/api/devices/pair", json=wrong).status_code for _ in range(12)]
    assert seen == [403] * 10 + [429] * 2
    # A header of the guesser's own does not make another address of it.
    reply = farm.http.post("/api/devices/pair", json=wrong, headers={"X-Forwarded-For": "10.9.9.9"})
    assert reply.status_code == 429


def test_one_device_cannot_take_every_turn(farm: Any, callers: dict[str, dict[str, str]]) -> None:
    farm.app.extensions["bagtrail.limits"]._clock = lambda: 0.0  # no room comes back meanwhile
    phone = farm.phones["worker"]
    seen = [phone.push().status_code for _ in range(BURST + 5)]
    assert seen == [200] * BURST + [429] * 5
    assert farm.phones["manager"].push().status_code == 200


def test_paths_lead_nowhere_else(farm: Any) -> None:
    for path in (
        "/../identity.json", "/..%2fidentity.json", "/%2e%2e/identity.json", "//etc/passwd",
        "/assets/../../identity.json", "/assets/%2e%2e/%2e%2e/pyproject.toml",
        "/..\\identity.json", "/hello.html/../ca/intermediate.key", "/ca/intermediate.key",
        "/api/../identity.json", "/\x00identity.json",
    ):  # fmt: skip
        reply = farm.http.get(path, buffered=True)
        assert b"secret" not in reply.data, path
        assert b"PRIVATE" not in reply.data, path
        assert reply.status_code in (200, 308, 404, 421), path
        if reply.status_code == 200:  # the client's own page, which knows no such screen
            assert reply.mimetype == "text/html", path


def test_nothing_secret_is_logged(
    farm: Any, callers: dict[str, dict[str, str]], caplog: pytest.LogCaptureFixture,
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    caplog.set_level(logging.DEBUG)
    secret_code = devices.new_code(farm.log, "owner")["code"]
    phone = farm.phones["owner"]
    for caller in CALLERS:
        for method, rule in TABLE:
            farm.http.open(rule, method=method, headers=callers[caller], json={"x": secret_code},
                           buffered=True)  # fmt: skip

    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(farm.log, "snapshot", broken)
    assert phone.get("/api/sync/snapshot").status_code == 500
    farm.http.post("/api/devices/pair", json={"code": secret_code, "name": "New"})
    said = caplog.text + "".join(capfd.readouterr())
    assert "a bug" in said  # the log does work
    key = (farm.folder / "ca" / "intermediate.key").read_text().splitlines()[1]
    tags = [c["Authorization"].rpartition(".")[2] for c in callers.values() if c]
    for secret in (
        secret_code, phone.paired["key"], farm.log.identity.master.hex(), MONITOR, key, *tags
    ):  # fmt: skip
        assert secret not in said


def test_files_with_keys_are_for_their_owner_only(farm: Any) -> None:
    assert stat.S_IMODE(farm.folder.stat().st_mode) == 0o700
    named = [farm.folder / "identity.json", *(farm.folder / "ca").iterdir()]
    assert len(named) == 5
    for path in named:
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


def test_a_secret_lies_in_no_other_file(farm: Any, callers: dict[str, dict[str, str]]) -> None:
    master = farm.log.identity.master.hex()
    key = json.loads(json.dumps(farm.phones["owner"].paired))["key"]
    farm.log.close()
    kept = [p for p in Path(farm.folder).rglob("*") if p.is_file()]
    holds = {p.name for p in kept if master.encode() in p.read_bytes()}
    assert holds == {"identity.json"}
    assert not [p for p in kept if key.encode() in p.read_bytes()]
    farm.open()
