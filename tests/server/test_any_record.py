"""Whatever a record says, it ends stored, nobody behind it waits, and the fold stays whole."""

from __future__ import annotations

import json
import os
import random
from typing import Any

from bagtrail.catalogue import KINDS

BOTH_STORES = True
COUNT = 10_000 if os.environ.get("BAGTRAIL_LONG") else 3_000
PUSH = 100
ODD: list[Any] = [
    None, True, 0, -1, 5.0, 1.5, 2**53, 2**63, 1e300, "", "x", "5", "x" * 300, "\ud800", "\x00",
    "🍄",
    [], {}, [[]], [None], {"ms": 1, "p": "m"}, "g-00000000-0000-7000-8000-000000000001",
    "strain-", "B0000001K", "B0000001X", ["B0000001K"], [["M0000001A", ""]], 9_999_999_999_999,
]  # fmt: skip


class Scribe:
    """Makes records of every kind about a few codes, a third of them with something odd."""

    def __init__(self, phone: Any, seed: int) -> None:
        self.phone, self.rng = phone, random.Random(seed)
        self.codes = {letter: [phone.code(letter) for _ in range(4)] for letter in "BGPSHMKW"}
        self.ids: list[str] = []

    def pick(self, text: Any) -> Any:
        """Returns a value with each code of an example in it replaced by one of ours."""
        if isinstance(text, list):
            return [self.pick(t) for t in text]
        if isinstance(text, dict):
            return {k: self.pick(v) for k, v in text.items()}
        tag = isinstance(text, str) and len(text) == 9 and text[1:4] == "000"
        if tag and text[0] in self.codes:
            return self.rng.choice(self.codes[text[0]])
        if isinstance(text, str) and text.startswith("00000000-") and self.ids:
            return self.rng.choice(self.ids)
        return text

    def next(self) -> list[str]:
        rng = self.rng
        kind = KINDS[rng.choice(sorted(KINDS))]
        sub = self.pick(kind.example["sub"])
        if rng.random() < 0.3:
            letters = [s for s in kind.sub if s in self.codes]
            sub = [rng.choice(self.codes[rng.choice(letters)])] if letters else sub
        record = self.phone.record(kind.name, sub, self.pick(kind.example["d"]))
        if rng.random() < 0.2:
            record["except"] = [rng.choice(self.codes["B"])]
        if rng.random() < 0.2:
            record["on"] = {"ms": record["at"] + rng.randrange(-(10**9), 10**8), "p": "m"}
        if rng.random() < 0.33:
            where = rng.choice([record, record["d"], record["cl"]])
            names = [n for n in where if n not in ("dev", "gen", "st", "sq", "id")] + ["extra"]
            where[rng.choice(names)] = rng.choice(ODD)
        self.ids.append(record["id"])
        if isinstance(record.get("d"), dict) and "to" in record["d"] and rng.random() < 0.3:
            self.codes["G"].append(f"g-{record['id']}")
        return self.phone.sign(json.dumps(record))


def test_P5_B4_fuzzed_records_end_ok_or_held_and_fold_alike_again(server: Any, phone: Any) -> None:
    scribe = Scribe(phone, 7)
    seen: dict[str, int] = {}
    for _ in range(COUNT // PUSH):
        reply = phone.push(*[scribe.next() for _ in range(PUSH)])
        assert reply.status_code == 200, reply.text
        for row in reply.json["r"]:
            seen[row[1]] = seen.get(row[1], 0) + 1
        assert phone.get("/api/sync/snapshot").status_code == 200
    assert set(seen) <= {"ok", "held"}
    assert seen["ok"] > COUNT / 3
    assert seen["held"] > COUNT / 10
    index = server.log.live.farm.index
    assert [i for i in index.lines if index.lines[i].get("w") == "broken"] == []
    assert server.log.live.refold()[1] == []
    for letter, path in (("M", "batch"), ("B", "part"), ("P", "place")):
        for code in scribe.codes[letter]:
            assert phone.get(f"/api/answers/{path}/{code}").status_code in (200, 404)
    assert phone.get("/api/answers/find", q="").status_code == 200


def test_record_that_breaks_the_fold_is_held_and_stops_nobody(
    server: Any, phone: Any, monkeypatch: Any, outcome: Any
) -> None:
    from bagtrail.fold import Farm

    batch, bags = phone.batch(2, 2)
    record = phone.record("bag.moved", [bags[0]], {"to": phone.code("P")})
    touch = Farm._touch

    def breaks(self: Farm, line: Any, touched: Any) -> None:
        if line["id"] == record["id"]:
            raise RuntimeError("a bug of the fold")
        touch(self, line, touched)

    monkeypatch.setattr(Farm, "_touch", breaks)
    assert outcome(phone.push(record)) == ["held"]
    to = phone.code("P")
    assert outcome(phone.push(phone.record("bag.moved", bags, {"to": to}))) == ["ok"]
    with server.log.live.now() as farm:
        assert [farm.part(bag)["place"] for bag in bags] == [to, to]
