"""Pull and snapshot: no gaps, no cursor on another log, nothing for the revoked."""

from __future__ import annotations

import hashlib
import hmac
import json
from typing import Any

import pytest

BOTH_STORES = True


def note(phone: Any, text: str = "x") -> dict[str, Any]:
    return phone.record("note.written", [phone.by], {"text": text})


def test_pages_cover_the_log_without_gap_and_chain(server: Any, phone: Any) -> None:
    phone.push(*[note(phone) for _ in range(25)])
    cursor, rows = "", []
    while True:
        page = phone.pull(cursor, limit=7, nonce="q").json
        assert page["nonce"] == "q"
        assert page["from"] == (int(cursor.split(".")[1]) if cursor else 0)
        rows += page["records"]
        cursor = f"{page['epoch']}.{page['to']}.{page['h']}"
        if not page["more"]:
            break
    assert [row[4] for row in rows] == list(range(1, len(rows) + 1))
    assert page["head"] == f"{page['to']}.{page['h']}"
    h = bytes(16)
    for text, _, receipt, _, _ in rows:
        id_ = json.loads(receipt)["id"]
        digests = hashlib.sha256(text.encode()).digest() + hashlib.sha256(receipt.encode()).digest()
        h = hashlib.sha256(h + id_.encode() + digests).digest()[:16]
    assert h.hex() == page["h"]
    again = phone.pull(cursor).json
    assert again["records"] == []
    assert again["to"] == page["to"]


def test_what_lies_behind_a_snapshot_is_read_through_again(phone: Any) -> None:
    phone.push(*[note(phone) for _ in range(9)])
    all_rows = phone.pull().json["records"]
    snap = phone.get("/api/sync/snapshot").json
    cursor = f"{snap['epoch']}.{snap['pos']}.{snap['h']}"
    back, rows = 3, []
    while back < snap["pos"]:
        page = phone.pull(cursor, limit=4, back=back).json
        assert page["from"] == back
        rows += page["records"]
        back = page["to"]
    assert rows == all_rows[3:]
    # Never ahead of what the cursor proves to be this log.
    early = f"{snap['epoch']}.0."
    assert phone.pull(early, back=5).json["from"] == 0
    assert phone.pull(cursor, back=-1).status_code == 422


def test_page_stays_near_a_megabyte(phone: Any) -> None:
    phone.push(*[phone.sign(json.dumps(note(phone)) + " " * 15_000) for _ in range(60)])
    phone.push(*[phone.sign(json.dumps(note(phone)) + " " * 15_000) for _ in range(60)])
    page = phone.pull().json
    assert page["more"] is True
    assert 0 < len(page["records"]) < 120


@pytest.mark.parametrize("fault", ["epoch", "beyond", "hash"])
@pytest.mark.parametrize("way", ["push", "pull"])
def test_proof_that_is_not_on_our_chain_is_answered_by_a_reset(
    server: Any, phone: Any, fault: str, way: str
) -> None:
    phone.push(note(phone))
    page = phone.pull().json
    epoch, pos, h = page["epoch"], page["to"], page["h"]
    if fault == "epoch":
        epoch = "e" + "0" * 11
    elif fault == "beyond":
        pos += 1
    else:
        h = "0" * 32
    proof = f"{epoch}.{pos}.{h}"
    before = server.log.store.top
    if way == "push":
        reply = phone.push(note(phone), proof=proof, nonce="n7")
    else:
        reply = phone.pull(proof, nonce="n7", st=phone.st)
    assert reply.status_code == 409
    body = reply.json
    assert body["k"] == "reset"
    assert body["farm"] == phone.paired["farm"]
    # Such a proof shows that this log was put back: it goes on as another one.
    assert body["epoch"] not in (page["epoch"], epoch)
    assert body["nonce"] == "n7"
    assert body["error"]["code"] == "wrong_log"
    key = hmac.digest(phone.key, f"stream{phone.st}".encode(), "sha256")
    said = f"reset.{body['farm']}.{body['epoch']}.n7".encode()
    assert body["mac"] == hmac.digest(key, said, "sha256")[:16].hex()
    with server.log.store.reading():
        assert before().pos == page["to"]
        assert before().epoch == body["epoch"]


def test_proof_of_the_start_of_this_epoch_is_right(phone: Any) -> None:
    epoch = phone.pull().json["epoch"]
    assert phone.push(note(phone), proof=f"{epoch}.0.").status_code == 200
    assert phone.pull(f"{epoch}.0.{'0' * 32}").status_code == 200


def test_database_put_back_gets_a_new_epoch(server: Any, phone: Any) -> None:
    """Rule 3 of sync.md 3.4: the number of starts beside the database is higher than inside."""
    from bagtrail import devices
    from bagtrail.sync import now_ms

    server.log.epochs.start(now_ms())
    epoch = phone.pull().json["epoch"]
    server.log.epochs.start(now_ms())
    assert phone.pull().json["epoch"] == epoch
    with server.log.store.writing():
        top = server.log.store.top()
        server.log.store.set_top(type(top)(top.epoch, top.pos, top.h, top.gen - 1))
    server.log.epochs.start(now_ms())
    assert phone.pull().json["error"]["code"] == "unconfirmed"
    assert devices.confirm(server.log, phone.by) == [phone.dev]
    page = phone.pull().json
    assert page["epoch"] != epoch
    assert page["epochs"] == [epoch, page["epoch"]]


def test_B11_a_revoked_phone_is_told_so_with_a_proof_that_it_can_check(
    server: Any, phone: Any
) -> None:
    from bagtrail import devices

    other = server.pair("worker", "Lost phone")
    devices.revoke(server.log, other.dev, "lost", phone.by)
    reply = other.pull("", nonce="n7", st=other.st)
    assert reply.status_code == 403
    said = reply.json
    assert (said["k"], said["farm"], said["nonce"]) == ("revoked", other.paired["farm"], "n7")
    key = hmac.digest(other.key, f"stream{other.st}".encode(), "sha256")
    text = f"revoked.{said['farm']}.n7"
    assert said["mac"] == hmac.digest(key, text.encode(), "sha256").hex()[:32]
    assert said["error"]["code"] == "revoked"
    assert "records" not in said


def test_snapshot_is_the_folded_farm_at_one_place(server: Any, phone: Any) -> None:
    batch, bags = phone.batch(12, 3)
    snap = phone.get("/api/sync/snapshot").json
    page = phone.pull().json
    assert (snap["k"], snap["epoch"], snap["pos"], snap["h"]) == (
        "snap1", page["epoch"], page["to"], page["h"],
    )  # fmt: skip
    rows = {row["unit"]: row for row in snap["rows"]}
    assert set(rows[batch]["parts"]) > set(bags)
    assert sum(part["n"] for part in rows[batch]["parts"].values()) == 12
    assert rows["farm"]["ref"]["settings"]["farm"]["name"] == "Alder Hollow"
    from bagtrail.fold import Farm

    farm = Farm()
    for row in snap["rows"]:
        farm.load_row(row)
    assert farm.part(bags[0])["stage"] == "filled"


def test_rows_of_a_snapshot_as_texts_are_the_same_rows_after_every_record(
    server: Any, phone: Any
) -> None:
    batch, bags = phone.batch(12, 3)
    places = [phone.code("P") for _ in range(2)]
    moved = phone.record("bag.moved", [bags[0]], {"to": places[0]})
    for record in (
        moved,
        phone.record("place.named", [places[0]], {"name": "Rack 1", "type": "rack"}),
        phone.record("bag.moved", [batch], {"to": places[1]}),
        phone.record("bag.checked", [phone.code("B")], {}),
        phone.record("bag.harvested", [bags[1]], {"g": -1, "of": [[batch, ""]], "flush": 1}),
        phone.record("note.written", [batch], {"text": "\ud800"}),
        phone.record("record.voided", [bags[0]], {"target": moved["id"]}),
    ):
        phone.push(record)
        plain = phone.get("/api/sync/snapshot").json
        texts = phone.get("/api/sync/snapshot", rows="text").json
        assert [json.loads(text) for text in texts["rows"]] == plain["rows"]
        assert {**texts, "rows": 0} == {**plain, "rows": 0}
    server.log.live.save()
    server.restart()
    again = phone.get("/api/sync/snapshot", rows="text").json
    assert again["rows"] == texts["rows"]
    assert phone.get("/api/sync/snapshot", rows="csv").status_code == 422


def test_second_phone_sees_what_the_first_pushed(server: Any, phone: Any) -> None:
    batch, bags = phone.batch(2, 2)
    other = server.pair("worker", "Second")
    to = other.code("P")
    other.push(other.record("bag.moved", [bags[0]], {"to": to}))
    snap = phone.get("/api/sync/snapshot").json
    parts = next(row for row in snap["rows"] if row["unit"] == batch)["parts"]
    assert parts[bags[0]]["place"] == to
    assert "place" not in parts[bags[1]]


@pytest.mark.parametrize("path", ["/api/sync/pull", "/api/sync/snapshot", "/api/answers/find"])
@pytest.mark.parametrize(
    "token",
    ["", "Bearer", "Bearer a.b", "Bearer d0.1.x", "Basic abc", "Bearer d" + "0" * 16 + ".1.0"],
)
def test_without_a_key_of_this_farm_nothing_is_told(server: Any, path: str, token: str) -> None:
    reply = server.http.get(path, headers={"Authorization": token} if token else {})
    assert reply.status_code == 401
    assert reply.json["error"]["code"] == "no_device"
