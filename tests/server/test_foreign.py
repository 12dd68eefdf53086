"""P4, P5: a farm begun anew takes what a phone of the old farm held, as held (design 7.8).

The old farm's computer is gone with its backups, or its recovery sheet is: no seal of its records
can be checked. Two farms stand for the old and the new one.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bagtrail import backup, keys
from bagtrail.foreign import ADMIT_AT_ONCE
from bagtrail.sync import now_ms

BOTH_STORES = True
NOW = 1_764_072_000_000


@pytest.fixture
def old(each_farm: Any) -> Iterator[Any]:
    """A phone of the old farm."""
    made = each_farm()
    yield made.pair("owner", "Old phone")
    made.log.close()


def days_work(old: Any, n: int = 3) -> tuple[str, list[str], list[list[str]]]:
    """A batch with labelled bags, each picked; returns what the phone's file holds of it."""
    batch, bags = old.code("M"), [old.code("B") for _ in range(n)]
    records = [
        old.record("batch.mixed", [batch], {"name": "12 Jun A1", "moisture": 6_000}),
        old.record("bag.filled", [batch], {"n": n, "fill_g": 2_400, "to": bags}),
        *(old.record("bag.harvested", [bag], {"g": 400, "of": [[batch, ""]], "flush": 1})
          for bag in bags),
    ]  # fmt: skip
    return batch, bags, [old.sign(record) for record in records]


def bring(phone: Any, *records: list[str]) -> Any:
    body = phone.body(*records, pending=0)
    return phone.server.http.post("/api/sync/foreign", json=body, headers=phone.headers)


def admit(phone: Any) -> Any:
    return phone.server.http.post("/api/sync/foreign/admit", json={}, headers=phone.headers)


def devices(phone: Any) -> list[dict[str, Any]]:
    found = phone.get("/api/sync/state").json["devices"]
    return [{name: row[name] for name in row if name != "seen"} for row in found]


def held(phone: Any) -> dict[str, str]:
    rows = phone.get("/api/sync/snapshot").json["rows"]
    return {one["id"]: one["why"] for row in rows for one in row.get("held", ())}


def stored(phone: Any) -> list[str]:
    with phone.server.log.store.reading():
        return [row.text for row in phone.server.log.store.after(0, 10_000)]


def test_P4_P5_a_new_farm_takes_an_old_farms_file_as_held_and_lets_it_count_at_a_word(
    phone: Any, old: Any, outcome: Any
) -> None:
    batch, bags, file = days_work(old)
    # As its own it is nobody's: the seals are under a secret that this farm does not have.
    assert outcome(phone.push(*file)) == ["unauthentic"] * 5
    own, own_bags = phone.batch(2, 2)
    known = devices(phone)

    reply = bring(phone, *file)
    assert reply.status_code == 200, reply.text
    assert outcome(reply) == ["held"] * 5
    ids = {json.loads(text)["id"] for text, _ in file}
    assert held(phone) == dict.fromkeys(ids, "foreign")
    assert set(stored(phone)) > {text for text, _ in file}, "kept as they were written"
    # It changes nothing meanwhile, and brings neither a device nor numbers to wait for.
    assert phone.get(f"/api/answers/part/{bags[0]}").status_code == 404
    assert devices(phone) == known
    # The same file again, or another phone's with the same records: nothing is doubled.
    assert outcome(bring(phone, *file)) == ["dup"] * 5

    assert admit(phone).json == {"k": "admit1", "done": 5, "left": 0}
    assert held(phone) == {}
    with phone.server.log.live.now() as farm:
        parts = farm.unit(batch)["parts"]
        assert [parts[bag]["g"] for bag in bags] == [400] * 3
        assert set(farm.unit(own)["parts"]) == set(own_bags)
    assert admit(phone).json == {"k": "admit1", "done": 0, "left": 0}
    assert phone.server.log.live.refold()[1] == []


def test_P4_what_an_owner_takes_out_stays_out_when_the_rest_is_let_count(
    phone: Any, old: Any, outcome: Any
) -> None:
    batch, bags, file = days_work(old)
    bring(phone, *file)
    wrong = json.loads(file[-1][0])
    told = {"target": wrong["id"]}
    void = phone.record("record.voided", wrong["sub"], told, at=NOW + 60_000)
    assert outcome(phone.push(void)) == ["ok"]
    assert admit(phone).json["done"] == 4
    with phone.server.log.live.now() as farm:
        parts = farm.unit(batch)["parts"]
        assert [parts[bag].get("g", 0) for bag in bags] == [400, 400, 0]


def test_P4_C3_it_comes_back_as_held_when_the_new_farm_is_put_back(
    phone: Any, old: Any, each_farm: Any, outcome: Any
) -> None:
    _, _, file = days_work(old)
    bring(phone, *file)
    pulled = [row[:4] for row in phone.pull(nonce="n").json["records"]]
    theirs = [row for row in pulled if row[0] in {text for text, _ in file}]
    assert len(theirs) == 5

    # The same farm with an empty log: another server under its identity.
    again = each_farm()
    again.log.identity = again.log.intake.identity = phone.server.log.identity
    master = phone.server.log.identity.master
    again.log.intake._receipt_key = keys.receipt_key(master)
    again.log.intake._foreign_key = keys.foreign_key(master)
    desk = again.pair()
    # With its receipt, as phones bring it back; and with the seal alone, as a file of ours has it.
    assert outcome(desk.push(*theirs[:3])) == ["held"] * 3
    assert outcome(desk.push(*(row[:2] for row in theirs[3:]))) == ["held"] * 2
    assert set(held(desk).values()) == {"foreign"}
    assert admit(desk).json == {"k": "admit1", "done": 5, "left": 0}
    again.log.close()


def test_P5_B4_what_cannot_be_read_is_held_and_blocks_nobody(
    phone: Any, old: Any, outcome: Any
) -> None:
    _, _, file = days_work(old, 1)
    odd = [
        ["{}", ""], ["no record", "x"], ['{"g":1e400}', ""], ['"\ud800"', ""],
        ["x" * 20_000, ""], old.sign(old.record("bag.sung_to", [old.code("B")], {})),
    ]  # fmt: skip
    said = outcome(bring(phone, *odd, *file))
    assert said == ["held", "held", "held", "unauthentic", "big", "held", *["held"] * 3]
    assert admit(phone).json == {"k": "admit1", "done": 3, "left": 0}
    assert sorted(held(phone).values()) == ["kind", "unread", "unread", "unread"]


def test_nobody_gets_rights_by_it(phone: Any, old: Any, outcome: Any) -> None:
    """A void, an admission or a person of the old farm settles nothing here by itself."""
    batch, _ = phone.batch(2, 2)
    note = phone.record("note.written", [batch], {"text": "ours"})
    phone.push(note)
    boss = old.code("W")
    file = [
        old.record("person.named", [boss], {"name": "Me", "role": "owner"}),
        old.record("record.voided", [batch], {"target": note["id"]}, by=boss),
        # In the name of the server's own device, whose word is an owner's.
        old.record("note.written", [batch], {"text": "forged"}, dev=phone.server.log.identity.dev),
    ]
    assert outcome(bring(phone, *map(old.sign, file))) == ["held"] * 3
    with phone.server.log.live.now() as farm:
        assert farm.index.counts(note["id"])
    # A worker cannot bring it, and not let it count.
    worker = phone.server.pair("worker", "Hand")
    assert bring(worker, *map(worker.sign, file)).status_code == 403
    assert admit(worker).status_code == 403


def test_more_than_one_transaction_holds_is_let_count_in_turns(phone: Any, old: Any) -> None:
    _, _, file = days_work(old, ADMIT_AT_ONCE)
    for start in range(0, len(file), 400):
        bring(phone, *file[start : start + 400])
    left = len(file) - ADMIT_AT_ONCE
    assert admit(phone).json == {"k": "admit1", "done": ADMIT_AT_ONCE, "left": left}
    assert admit(phone).json == {"k": "admit1", "done": left, "left": 0}
    assert held(phone) == {}


def test_P4_C9_it_lies_in_backups_like_any_record(phone: Any, old: Any, tmp_path: Path) -> None:
    _, _, file = days_work(old)
    bring(phone, *file)
    log = phone.server.log
    made = backup.make(log, phone.server.folder, tmp_path / "to", now_ms())
    assert made["verified"]
    assert not made["fault"]
    assert made["pos"] == len(stored(phone))
