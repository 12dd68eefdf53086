"""One-time codes: once, for 15 minutes, not guessable; keys that follow from one secret."""

from __future__ import annotations

import hashlib
import hmac
import json
import stat
from typing import Any

import pytest

from bagtrail import devices, keys

BOTH_STORES = True


def pair(server: Any, code: str, **more: Any) -> Any:
    return server.http.post("/api/devices/pair", json={"code": code, "name": "Phone", **more})


def test_first_start_gives_the_owner_a_code_that_pairs(server: Any) -> None:
    code = devices.start_code(server.log)
    assert len(code) == 8
    body = pair(server, code).json
    assert body["k"] == "pair1"
    assert body["role"] == "owner"
    assert body["letter"] == "A"
    assert body["gen"] == 1
    assert body["name"] == "Alder Hollow"
    assert body["zone"] == "Europe/London"
    people = server.log.live.ref("people")
    assert people[body["by"]]["role"] == "owner"
    assert len(people) == 1
    assert devices.start_code(server.log) is None


def test_pairing_is_a_record_that_folds(server: Any) -> None:
    body = pair(server, devices.start_code(server.log)).json
    folded = server.log.live.ref("devices")[body["dev"]]
    assert folded["letter"] == "A"
    assert folded["person"] == body["by"]
    with server.log.store.reading():
        row = server.log.store.after(0)[-1]
    assert json.loads(row.text)["ty"] == "device.paired"
    assert json.loads(row.receipt)["a"] == "o"
    assert row.dev == server.log.identity.dev


def test_code_works_once(server: Any) -> None:
    code = devices.start_code(server.log)
    assert pair(server, code).status_code == 200
    again = pair(server, code)
    assert again.status_code == 403
    assert again.json["error"]["code"] == "pairing_refused"


@pytest.mark.parametrize("form", ["lower", "spaced", "misread"])
def test_code_may_be_typed_as_people_type(server: Any, form: str) -> None:
    code = devices.start_code(server.log)
    typed = {
        "lower": code.lower(),
        "spaced": f" {code[:4]} - {code[4:]} ",
        "misread": code.replace("0", "O").replace("1", "l"),
    }[form]
    assert pair(server, typed).status_code == 200


def test_code_expires(server: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    code = devices.start_code(server.log)
    later = server.log.clock() + devices.CODE_MS
    monkeypatch.setattr(server.log, "clock", lambda: later)
    assert pair(server, code).status_code == 403


def test_codes_are_stored_as_macs_only(server: Any) -> None:
    code = devices.start_code(server.log)
    server.log.close()
    for path in server.folder.iterdir():
        assert code.encode() not in path.read_bytes()


def test_wrong_codes_are_limited_and_right_ones_wait_too(
    server: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = devices.start_code(server.log)
    for _ in range(devices.TRIES_EACH):
        assert pair(server, "00000000").status_code == 403
    reply = pair(server, code)
    assert reply.status_code == 429
    assert reply.json["error"]["code"] == "too_many_tries"
    assert int(reply.headers["Retry-After"]) > 0
    later = server.log.clock() + devices.TRY_MS + 1
    monkeypatch.setattr(server.log, "clock", lambda: later)
    assert pair(server, devices.new_code(server.log, "worker")["code"]).status_code == 200


def test_letters_are_given_in_order_and_never_twice(server: Any) -> None:
    letters = [server.pair("worker", f"P{i}").paired["letter"] for i in range(28)]
    assert letters[:3] == ["A", "B", "C"]
    assert letters[25:] == ["Z", "AA", "AB"]
    assert devices.letter_of(26 + 26 * 26 - 1) == "ZZ"


@pytest.mark.parametrize(
    ("asker", "role", "status"),
    [
        ("owner", "owner", 200), ("owner", "worker", 200), ("manager", "worker", 200),
        ("manager", "manager", 200), ("manager", "owner", 403), ("worker", "worker", 403),
    ],
)  # fmt: skip
def test_who_may_make_codes(server: Any, asker: str, role: str, status: int) -> None:
    phone = server.pair(asker)
    reply = server.http.post("/api/devices/codes", json={"role": role}, headers=phone.headers)
    assert reply.status_code == status
    if status == 200:
        assert reply.json["url"].endswith(f"/#pair={reply.json['code']}")
        body = pair(server, reply.json["code"], person="Mira").json
        assert body["role"] == role
        assert server.log.live.ref("people")[body["by"]]["name"] == "Mira"
    else:
        assert reply.json["error"]["code"] == "not_allowed"


def test_code_for_a_person_nobody_knows(server: Any, phone: Any) -> None:
    body = {"role": "worker", "person": phone.code("W")}
    reply = server.http.post("/api/devices/codes", json=body, headers=phone.headers)
    assert reply.status_code == 422


@pytest.mark.parametrize("name", ["", "x" * 61, "a\x00b", "a\nb", 5, None])
def test_names_that_no_screen_can_show_are_refused(server: Any, name: Any) -> None:
    code = devices.start_code(server.log)
    assert pair(server, code, name=name).status_code == 422
    assert pair(server, code, name="محمد 📱").status_code == 200


def test_keys_follow_from_the_master_as_written_down(server: Any) -> None:
    """Design 7.5, computed here from the definition alone."""
    known = server.log.identity
    k = hmac.digest(known.master, b"d0123456789abcdef.3", hashlib.sha256)
    assert keys.device_key(known.master, "d0123456789abcdef", 3) == k
    assert keys.stream_key(k, "00ff") == hmac.digest(k, b"stream00ff", hashlib.sha256)
    assert keys.bearer_tag(k) == hmac.digest(k, b"token", hashlib.sha256).hex()
    assert keys.receipt_key(known.master) == hmac.digest(known.master, b"receipt", hashlib.sha256)
    said = hmac.digest(k, "Ä".encode(), hashlib.sha256)[:16].hex()
    assert keys.mac(k, "Ä") == said


def test_secret_is_for_its_owner_only_and_survives_a_restart(server: Any, phone: Any) -> None:
    path = server.folder / keys.FILE
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    before = server.log.identity
    server.restart()
    assert server.log.identity == before
    assert phone.pull().status_code == 200


def test_two_starts_at_once_agree_on_one_identity(tmp_path: Any) -> None:
    from concurrent.futures import ThreadPoolExecutor

    for i in range(20):
        folder = tmp_path / str(i)
        with ThreadPoolExecutor(4) as pool:
            found = list(pool.map(lambda f: keys.load_identity(f), [folder] * 4))
        assert len(set(found)) == 1
        assert [p.name for p in folder.iterdir()] == [keys.FILE]


@pytest.mark.parametrize("text", ["", "{}", '{"farm":"x"}', "\x00"])
def test_damaged_identity_is_said_and_not_replaced(tmp_path: Any, text: str) -> None:
    from bagtrail.errors import BadData

    path = tmp_path / keys.FILE
    path.write_text(text)
    with pytest.raises(BadData, match=r"identity\.json"):
        keys.load_identity(tmp_path)
    assert path.read_text() == text
