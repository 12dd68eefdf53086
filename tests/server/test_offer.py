"""Offers, limits, phones that were lost, and older versions: what replies say beside the codes."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bagtrail import devices, intake, limits
from bagtrail.answers import heard
from bagtrail.errors import TooFast

BOTH_STORES = True


def note(phone: Any, text: str = "x", **more: Any) -> dict[str, Any]:
    return phone.record("note.written", [phone.by], {"text": text}, **more)


def offer(phone: Any, ids: list[str], **more: Any) -> Any:
    body = {"farm": phone.paired["farm"], "proof": "", "nonce": "n2", "st": phone.st, "ids": ids}
    return phone.server.http.post("/api/sync/offer", json={**body, **more}, headers=phone.headers)


def test_offer_wants_what_is_not_here_and_nothing_else(phone: Any) -> None:
    sent = [note(phone) for _ in range(3)]
    phone.push(*sent)
    new = note(phone)
    reply = offer(phone, [sent[0]["id"], new["id"], sent[2]["id"], new["id"]]).json
    assert reply["want"] == [new["id"]]
    assert (reply["k"], reply["nonce"], reply["farm"]) == ("sync1", "n2", phone.paired["farm"])
    assert offer(phone, []).json["want"] == []


def test_offer_takes_five_thousand_ids_and_no_more(phone: Any) -> None:
    ids = [f"00000000-0000-7000-8000-{i:012d}" for i in range(5_001)]
    assert offer(phone, ids[:5_000]).json["want"] == ids[:5_000]
    assert offer(phone, ids).status_code == 422
    assert offer(phone, ["nonsense"]).status_code == 422


def test_offer_proves_like_a_push(phone: Any) -> None:
    reply = offer(phone, [], proof=f"e{'0' * 11}.5.{'0' * 32}")
    assert reply.status_code == 409
    assert reply.json["k"] == "reset"
    assert offer(phone, [], farm="f0").status_code == 409


def test_second_text_of_an_id_is_offered_by_the_id_in_its_receipt(phone: Any) -> None:
    record = note(phone)
    phone.push(record)
    row = phone.push({**record, "d": {"text": "other"}}).json["r"][0]
    assert row[1] == "differs"
    own = json.loads(row[3])["id"]
    assert own != record["id"]
    assert offer(phone, [record["id"], own]).json["want"] == []


def test_revoked_device_delivers_nothing_of_others(server: Any, phone: Any, outcome: Any) -> None:
    lost = server.pair("worker", "Lost")
    theirs, mine = phone.sign(note(phone)), note(lost)
    devices.revoke(server.log, lost.dev, "lost", phone.by)
    assert outcome(lost.push(theirs, lost.sign(mine))) == ["later", "held"]
    assert outcome(phone.push(theirs)) == ["ok"]


def test_revoked_device_is_taken_only_so_many_records(
    server: Any, phone: Any, outcome: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(intake, "MAX_FROM_REVOKED", 5)
    lost = server.pair("worker", "Lost")
    before = note(lost)
    lost.push(before)
    devices.revoke(server.log, lost.dev, "lost", phone.by)
    assert outcome(lost.push(*[note(lost) for _ in range(4)])) == ["held"] * 4
    assert outcome(lost.push(*[note(lost) for _ in range(3)])) == ["held", "later", "later"]
    assert outcome(lost.push(before, note(lost))) == ["dup", "later"]


def test_imported_outbox_of_another_phone_is_verified_without_its_token(
    server: Any, phone: Any, outcome: Any
) -> None:
    dead = server.pair("worker", "Dead phone")
    records = [dead.sign(note(dead)) for _ in range(3)]
    assert outcome(phone.push(*records)) == ["ok"] * 3
    receipt = json.loads(phone.push(records[0]).json["r"][0][3])
    assert (receipt["dev"], receipt["a"]) == (dead.dev, "w")


def test_P8_lost_phone_zero_waiting_or_the_numbers_that_never_arrived(
    server: Any, phone: Any
) -> None:
    lost = server.pair("worker", "Ben's phone")
    records = [note(lost) for _ in range(20)]
    lost.push(*records[:5], pending=5)

    def told() -> dict[str, Any]:
        return next(d for d in heard.devices(server.log) if d["dev"] == lost.dev)

    assert told()["lost"] == 0
    assert heard.heard_of(told(), "UTC").startswith("0 waiting at ")
    lost.push(*records[6:8], pending=14)  # the sixth was skipped; twelve stay behind
    assert told()["missing"] == [[lost.st, 6, 6], [lost.st, 9, 20]]
    assert told()["lost"] == 13
    assert "13 records, sq 6, 9-20, never arrived" in heard.heard_of(told(), "UTC")
    assert any("Ben's phone: 13" in s for s in phone.get("/api/sync/state").json["sentences"])
    listed = phone.get("/api/devices").json["devices"]
    assert next(d for d in listed if d["dev"] == lost.dev)["lost"] == 13
    phone.push(*[lost.sign(r) for r in [records[5], *records[8:]]])  # they turn up elsewhere
    with server.log.store.writing():
        server.log.store.note_stream(lost.st, 0, 0)
    assert told()["lost"] == 0


def test_state_and_devices_are_for_owner_and_manager(server: Any, phone: Any) -> None:
    worker = server.pair("worker", "W")
    for path in ("/api/sync/state", "/api/devices"):
        assert worker.get(path).status_code == 403
        assert phone.get(path).status_code == 200
    for path, body in (("/api/devices/confirm", {}), ("/api/devices/revoke", {"dev": phone.dev}),
                       ("/api/sync/away", {"name": "x"})):  # fmt: skip
        assert server.http.post(path, json=body, headers=worker.headers).status_code == 403
    reply = server.http.post(
        "/api/devices/revoke", json={"dev": worker.dev, "why": "left"}, headers=phone.headers
    )
    assert reply.status_code == 200
    assert worker.pull().json["error"]["code"] == "revoked"
    done = server.http.post("/api/devices/confirm", json={}, headers=phone.headers)
    assert done.json == {"confirmed": []}


def test_every_reply_says_the_least_version_and_old_ones_still_push(phone: Any) -> None:
    from bagtrail.version import MIN_APP

    assert phone.push(note(phone)).json["min_app"] == MIN_APP
    assert phone.pull().json["min_app"] == MIN_APP
    assert offer(phone, []).json["min_app"] == MIN_APP


def test_B7_too_many_requests_of_one_device_are_told_to_wait() -> None:
    now = [0.0]
    box = limits.Limits(lambda: now[0])
    for _ in range(limits.BURST):
        box.take("d1")
    with pytest.raises(TooFast) as caught:
        box.take("d1")
    assert caught.value.headers["Retry-After"] == "1"
    box.take("d2")
    now[0] += 1
    for _ in range(int(limits.EACH_S)):
        box.take("d1")
    with pytest.raises(TooFast):
        box.take("d1")


def test_B7_hammering_device_gets_429_and_nothing_is_lost(
    server: Any, phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    # On a busy machine the bucket would fill as fast as this empties it.
    monkeypatch.setattr(limits, "EACH_S", 0.01)
    statuses = [phone.push(note(phone)).status_code for _ in range(limits.BURST + 60)]
    assert set(statuses) == {200, 429}
    reply = next(r for r in iter(lambda: phone.push(note(phone)), None) if r.status_code == 429)
    assert int(reply.headers["Retry-After"]) >= 1
    assert reply.json["error"]["code"] == "too_fast"


def test_busy_database_says_when_to_come_again(
    server: Any, phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bagtrail import store

    def locked(*_: Any) -> None:
        raise store.BROKEN("database is locked")

    monkeypatch.setattr(server.log.store, "insert", locked)
    reply = phone.push(note(phone))
    assert (reply.status_code, reply.headers["Retry-After"]) == (503, "2")
