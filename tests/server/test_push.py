"""Push: what becomes of each record, and that nothing acknowledged is ever missing."""

from __future__ import annotations

import json
from typing import Any

import pytest

BOTH_STORES = True


def stored(server: Any) -> list[Any]:
    with server.log.store.reading():
        return server.log.store.after(0, 10_000)


def mine(server: Any, phone: Any) -> list[Any]:
    return [row for row in stored(server) if row.dev == phone.dev]


def moved(phone: Any, **more: Any) -> dict[str, Any]:
    return phone.record("bag.moved", [phone.code("B")], {"to": phone.code("P")}, **more)


def test_push_then_pull_gives_the_very_same_text(server: Any, phone: Any, outcome: Any) -> None:
    record = phone.record("note.written", [phone.paired["by"]], {"text": "Ä 🍄 \u202eabc"})
    sent = phone.sign(json.dumps(record, indent=3, ensure_ascii=False))
    reply = phone.push(sent)
    assert outcome(reply) == ["ok"]
    row = reply.json["r"][0]
    page = phone.pull().json
    assert page["records"][-1] == [*sent, row[3], row[4], row[2]]
    receipt = json.loads(row[3])
    assert receipt["id"] == record["id"]
    assert receipt["a"] == "o"
    assert receipt["dev"] == phone.dev
    assert receipt["p"] == row[2]
    assert len(row[3]) <= 250


def test_reply_names_farm_nonce_head_and_contig(server: Any, phone: Any) -> None:
    body = phone.push(moved(phone), moved(phone), nonce="abc").json
    last = stored(server)[-1]
    assert body["k"] == "sync1"
    assert body["farm"] == phone.paired["farm"]
    assert body["nonce"] == "abc"
    assert body["head"] == f"{last.pos}.{last.h}"
    assert body["durable"] == 0
    assert body["contig"] == {phone.st: 2}


def test_contig_stops_before_a_gap(phone: Any) -> None:
    first, second, third = (moved(phone) for _ in range(3))
    assert phone.push(first, third).json["contig"] == {phone.st: 1}
    assert phone.push(second).json["contig"] == {phone.st: 3}


def test_repeat_is_dup_and_stored_once(server: Any, phone: Any, outcome: Any) -> None:
    record = phone.sign(moved(phone))
    first = phone.push(record).json["r"][0]
    again = phone.push(record, record).json["r"]
    assert [row[1] for row in again] == ["dup", "dup"]
    assert all(row[2:] == first[2:] for row in again)
    assert len(mine(server, phone)) == 1


def test_repeat_within_one_push_is_stored_once(server: Any, phone: Any, outcome: Any) -> None:
    record = phone.sign(moved(phone))
    assert sorted(outcome(phone.push(record, record))) == ["dup", "ok"]
    assert len(mine(server, phone)) == 1


def test_other_text_under_a_known_id_is_kept_beside_it(
    server: Any, phone: Any, outcome: Any
) -> None:
    batch, bags = phone.batch(1, 1)
    first, other = phone.code("P"), phone.code("P")
    record = phone.record("bag.moved", bags, {"to": first})
    phone.push(record)
    changed = phone.sign({**record, "d": {"to": other}})
    reply = phone.push(changed)
    assert outcome(reply) == ["differs"]
    assert reply.json["r"][0][0] == record["id"]
    assert outcome(phone.push(changed)) == ["differs"]
    rows = mine(server, phone)
    assert len(rows) == 4
    assert rows[-1].id != record["id"]
    assert rows[-1].text == changed[0]
    with server.log.live.now() as farm:
        assert farm.part(bags[0])["place"] == first
        assert {"id": rows[-1].id, "why": "differs"} in farm.unit(batch)["held"]


def test_used_number_of_a_stream_is_a_fork_and_kept(server: Any, phone: Any, outcome: Any) -> None:
    first = moved(phone)
    twin = moved(phone, sq=first["sq"])
    assert outcome(phone.push(first)) == ["ok"]
    assert outcome(phone.push(twin)) == ["fork"]
    assert len(mine(server, phone)) == 2
    assert "fork" in json.loads(mine(server, phone)[-1].receipt)["f"].split()


def test_fork_inside_one_push_is_seen(phone: Any, outcome: Any) -> None:
    first = moved(phone)
    assert sorted(outcome(phone.push(first, moved(phone, sq=first["sq"])))) == ["fork", "ok"]


def test_text_of_16_KiB_passes_and_a_byte_more_is_big(
    server: Any, phone: Any, outcome: Any
) -> None:
    def of_size(size: int) -> list[str]:
        record = phone.record("note.written", [phone.paired["by"]], {"text": "x"})
        text = json.dumps(record)
        return phone.sign(text + " " * (size - len(text)))

    assert outcome(phone.push(of_size(16 * 1024), of_size(16 * 1024 + 1))) == ["ok", "big"]
    assert len(mine(server, phone)) == 1


@pytest.mark.parametrize("fault", ["mac", "text", "stream", "device"])
def test_record_with_a_false_mac_is_not_stored(
    server: Any, phone: Any, outcome: Any, fault: str
) -> None:
    record = moved(phone)
    text, mac = phone.sign(record)
    if fault == "mac":
        mac = mac[:-1] + ("0" if mac[-1] != "0" else "1")
    elif fault == "text":
        text = text.replace('"tz":0', '"tz":1')
    elif fault == "stream":
        text, mac = phone.sign({**record, "st": "0" * 16})
    else:
        text, mac = phone.sign({**record, "dev": "d" + "0" * 16})
    good = moved(phone)
    assert outcome(phone.push([text, mac], good)) == ["unauthentic", "ok"]
    assert [row.id for row in mine(server, phone)] == [good["id"]]


def test_half_a_surrogate_is_unauthentic_and_no_error(phone: Any, outcome: Any) -> None:
    reply = phone.server.http.post(
        "/api/sync/push",
        data=json.dumps(phone.body(["\ud800", "0" * 32])),
        headers=phone.headers,
        content_type="application/json",
    )
    assert outcome(reply) == ["unauthentic"]


UNFOLDABLE: list[tuple[str, dict[str, Any]]] = [
    ("a kind from the future", {"ty": "bag.sung_to"}),
    ("a newer version", {"tv": 2}),
    ("an unknown field", {"d": {"to": "P00000018", "x": 1}}),
    ("a wrong type", {"d": {"to": 5}}),
    ("a tag of the wrong type", {"d": {"to": "B0000001K"}}),
    ("NUL in a text", {"ty": "note.written", "d": {"text": "a\x00b"}}),
    ("half a surrogate escaped", {"ty": "note.written", "d": {"text": "\ud800"}}),
    ("no data", {"d": None}),
    ("subjects that are none", {"sub": ["nonsense"]}),
    ("too many subjects", {"sub": ["B0000001K"] * 1_001}),
    ("another envelope", {"v": 2}),
]


@pytest.mark.parametrize(("why", "change"), UNFOLDABLE, ids=[why for why, _ in UNFOLDABLE])
def test_unfoldable_record_is_stored_and_held(
    server: Any, phone: Any, outcome: Any, why: str, change: dict[str, Any]
) -> None:
    reply = phone.push({**moved(phone), "sub": ["B0000001K"], **change}, moved(phone))
    assert outcome(reply) == ["held", "ok"]
    assert len(mine(server, phone)) == 2


@pytest.mark.parametrize(
    "text",
    ["", "null", "[]", "{", '{"id":"x"}', '{"a":1e400}', "[" * 5_000, "NaN", "\x00", "5" * 4_000],
    ids=["empty", "null", "list", "torn", "poor", "1e400", "deep", "NaN", "NUL", "long number"],
)
def test_unreadable_text_vouched_for_by_its_device_is_held(
    server: Any, phone: Any, outcome: Any, text: str
) -> None:
    sent = phone.sign(text)
    assert outcome(phone.push(sent, moved(phone))) == ["held", "ok"]
    assert outcome(phone.push(sent)) == ["dup"]
    assert text in [row.text for row in mine(server, phone)]
    assert server.log.live.refold()[1] == []


def test_one_bad_row_hurts_no_neighbour(
    server: Any, phone: Any, outcome: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = server.log.store
    insert = store.insert
    for bad in range(5):
        records = [moved(phone) for _ in range(5)]

        def flaky(rows: Any, subs: Any, bad_id: str = records[bad]["id"]) -> None:
            if any(row.id == bad_id for row in rows):
                raise RuntimeError("a bug that only this record meets")
            insert(rows, subs)

        monkeypatch.setattr(store, "insert", flaky)
        reply = phone.push(*records)
        assert outcome(reply) == ["later" if i == bad else "ok" for i in range(5)]
        acked = {row[0] for row in reply.json["r"] if row[1] == "ok"}
        there = {row.id for row in stored(server)} & {r["id"] for r in records}
        assert acked == there
        monkeypatch.setattr(store, "insert", insert)
        assert outcome(phone.push(*records)).count("dup") == 4
    assert_chain(server)


def test_failed_commit_is_an_error_and_stores_nothing(
    server: Any, phone: Any, outcome: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bagtrail import store as store_module

    record = phone.sign(moved(phone))
    before = len(stored(server))

    def full(*_: Any) -> None:
        raise store_module.BROKEN("disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(server.log.store, "insert", full)
        reply = phone.push(record)
    assert reply.status_code == 503
    assert reply.json["error"]["code"] == "busy"
    assert len(stored(server)) == before
    assert outcome(phone.push(record)) == ["ok"]


def test_other_farms_phone_is_told_so(server: Any, phone: Any) -> None:
    reply = phone.push(moved(phone), farm="f" + "0" * 16)
    assert reply.status_code == 409
    assert reply.json["error"]["code"] == "wrong_farm"
    assert mine(server, phone) == []


def test_first_receipt_wins_and_a_kept_one_is_taken_over(server: Any, phone: Any) -> None:
    """A server put back to before the record takes over what was decided when it first came."""
    from bagtrail import keys, receipts

    record = moved(phone, at=1_700_000_000_000)
    text, mac = phone.sign(record)
    key = keys.receipt_key(server.log.identity.master)
    old, rmac = receipts.make(
        key, id_=record["id"], text=text, epoch="e" + "0" * 11, pos=77, eff=1_700_000_123_456,
        quality="stale", flags=[], role="w", dev=phone.dev,
    )  # fmt: skip
    reply = phone.push([text, mac, old, rmac])
    assert reply.json["r"][0][1:] == ["ok", stored(server)[-1].pos, old, rmac]
    assert server.log.live.farm.index.lines[record["id"]]["e"] == 1_700_000_123_456
    assert_chain(server)


@pytest.mark.parametrize("fault", ["rmac", "text", "noise"])
def test_invalid_receipt_is_ignored_and_decided_afresh(
    server: Any, phone: Any, outcome: Any, fault: str
) -> None:
    from bagtrail import keys, receipts

    record = moved(phone)
    text, mac = phone.sign(record)
    key = keys.receipt_key(server.log.identity.master)
    said = text if fault != "text" else text + " "
    receipt, rmac = receipts.make(
        key, id_=record["id"], text=said, epoch="e" + "0" * 11, pos=77, eff=5, quality="sync",
        flags=[], role="o", dev=phone.dev,
    )  # fmt: skip
    if fault == "rmac":
        rmac = "0" * 32
    if fault == "noise":
        receipt = "\ud800"
    row = phone.accept([text, mac, receipt, rmac])["r"][0]
    assert row[1] == "ok"
    assert json.loads(row[3])["t"] == record["at"]


def test_unknown_device_of_this_farm_may_push_not_pull(server: Any, phone: Any) -> None:
    """A server put back to before a pairing still knows the phone by its key."""
    dev = "d" + "5" * 16
    key = server.log.identity.device_key(dev, 1).hex()
    stranger = type(phone)(server, {**phone.paired, "dev": dev, "key": key})
    reply = stranger.push(moved(stranger))
    assert [row[1] for row in reply.json["r"]] == ["held"]
    assert json.loads(reply.json["r"][0][3])["a"] == "-"
    assert stranger.pull().status_code == 403


def test_revoked_device_may_push_not_pull(server: Any, phone: Any, outcome: Any) -> None:
    from bagtrail import devices

    lost = server.pair("worker", "Lost phone")
    assert outcome(lost.push(moved(lost))) == ["ok"]
    devices.revoke(server.log, lost.dev, "lost", phone.by)
    assert outcome(lost.push(moved(lost))) == ["held"]
    reply = lost.pull()
    assert reply.status_code == 403
    assert reply.json["error"]["code"] == "revoked"


def assert_chain(server: Any) -> None:
    """Recomputes the chain from its definition, without the code under test."""
    import hashlib

    h = b"\0" * 16
    for i, row in enumerate(stored(server), start=1):
        link = h + row.id.encode()
        link += hashlib.sha256(row.text.encode()).digest()
        link += hashlib.sha256(row.receipt.encode()).digest()
        h = hashlib.sha256(link).digest()[:16]
        assert row.pos == i
        assert row.h == h.hex()


def test_chain_covers_text_and_receipt(server: Any, phone: Any) -> None:
    phone.push(*[moved(phone) for _ in range(20)])
    assert_chain(server)


def test_many_writers_at_once_leave_contiguous_positions(server: Any, phone: Any) -> None:
    from concurrent.futures import ThreadPoolExecutor

    phones = [server.pair("worker", f"Phone {i}") for i in range(4)]
    batches = [[p.sign(moved(p)) for _ in range(25)] for p in phones for _ in range(5)]
    owners = [p for p in phones for _ in range(5)]
    before = len(stored(server))
    with ThreadPoolExecutor(8) as pool:
        replies = list(
            pool.map(lambda job: job[0].accept(*job[1]), zip(owners, batches, strict=True))
        )
    assert all(row[1] == "ok" for reply in replies for row in reply["r"])
    assert len(stored(server)) == before + 500
    assert_chain(server)


def test_longest_receipt_is_at_most_250_bytes() -> None:
    from bagtrail import receipts

    longest, rmac = receipts.make(
        b"k" * 32, id_="0" * 36, text="x", epoch="e" + "0" * 11, pos=10**12, eff=10**13 - 1,
        quality="stale", flags=["differs", "skew", "revoked"], role="m", dev="d" + "0" * 16,
    )  # fmt: skip
    assert len(longest.encode()) <= receipts.MAX_BYTES == 250
    assert receipts.read(b"k" * 32, longest, rmac, "x") == json.loads(longest)
    assert receipts.read(b"k" * 32, longest, rmac, "y") is None
