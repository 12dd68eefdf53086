"""Records that nobody means well: each class ends stored or refused, is seen, and settled.

10,000 under --long. Between any two hostile records stands a plain one, which must go through.
"""

from __future__ import annotations

import json
import os
import random
from collections import Counter
from collections.abc import Callable
from typing import Any

from bagtrail.catalogue import KINDS

BOTH_STORES = True
COUNT = 10_000 if os.environ.get("BAGTRAIL_LONG") else 1_200
PUSH = 100  # hostile records a push; as many plain ones stand between them
STORED = {"ok", "held"}
Make = Callable[["Hostile"], list[str]]


class Hostile:
    """Makes one record of a class that is asked for, under the phone's own key unless forged."""

    def __init__(self, phone: Any, seed: int) -> None:
        self.phone, self.rng = phone, random.Random(seed)
        self.batch, self.bags = phone.batch(8, 8)
        self.receipts: list[list[Any]] = []

    def plain(self) -> dict[str, Any]:
        made: dict[str, Any] = self.phone.record(
            "bag.harvested",
            [self.rng.choice(self.bags)],
            {"g": self.rng.randrange(1, 900), "of": [[self.batch, ""]], "flush": 1},
        )
        return made

    def unknown_kind(self) -> list[str]:
        word = "".join(self.rng.choices("abcdefghijklmnop_.", k=9))
        return self.phone.sign({**self.plain(), "ty": self.rng.choice(["", word, "bag.sung_to"])})

    def future(self) -> list[str]:
        more = self.rng.choice([{"v": 2}, {"tv": 99}, {"tv": 0}, {"v": "1"}, {"v": 2, "tv": 2}])
        return self.phone.sign({**self.plain(), **more})

    def wrong_type(self) -> list[str]:
        record = self.plain()
        odd = [None, True, [], {}, [[]], "", "x", 1.5, -1, {"g": {}}, [None]]
        where = self.rng.choice([record, record["d"], record["cl"]])
        where[self.rng.choice(sorted(where))] = self.rng.choice(odd)
        return self.phone.sign(record)

    def deep(self) -> list[str]:
        n = self.rng.choice([33, 100, 1_000, 3_000])
        text = json.dumps(self.plain(), separators=(",", ":"))
        opening, closing = self.rng.choice([("[", "]"), ('{"a":', "}")])
        n = min(n, 15_000 // (len(opening) + 1))
        return self.phone.sign(text[:-2] + ',"note":' + opening * n + "1" + closing * n + "}}")

    def surrogate(self) -> list[str]:
        half = self.rng.choice(["\\ud800", "\\udc00", "\\udfff\\ud800"])
        text = json.dumps(
            self.phone.record("note.written", [self.bags[0]], {"text": "HALF"}),
            separators=(",", ":"),
        )
        return self.phone.sign(text.replace("HALF", half))

    def huge_number(self) -> list[str]:
        word = self.rng.choice(["1e400", "-1e400", "NaN", "Infinity", "9" * 400, "1e-400", "01"])
        text = json.dumps(self.plain(), separators=(",", ":"))
        field = self.rng.choice(['"g":', '"at":', '"sq":', '"flush":', '"o":', '"tv":'])
        head, _, tail = text.partition(field)
        rest = tail[len(tail) - len(tail.lstrip("-0123456789")) :]
        return self.phone.sign(head + field + word + rest)

    def no_record(self) -> list[str]:
        return self.phone.sign(
            self.rng.choice(["", "{}", "[]", "null", "{", "\x00", '"x"', "🍄", "{}{}"])
            + " " * self.rng.randrange(5_000)
        )

    def forged_mac(self) -> list[str]:
        text, mac = self.phone.sign(self.plain())
        return [text, self.rng.choice([mac[::-1], "0" * 32, mac[:-1] + "x", ""])]

    def raw_half(self) -> list[str]:
        text, mac = self.phone.sign(self.plain())
        return [text.replace('"d":', '"d\ud800":', 1), mac]

    def forged_receipt(self) -> list[str]:
        signed = self.phone.sign(self.plain())
        said, rmac = self.rng.choice(self.receipts)[3:5] if self.receipts else ("{}", "0" * 32)
        best = json.dumps({"id": json.loads(signed[0])["id"], "h": "", "e": "e", "p": 1, "t": 1,
                           "q": "sync", "f": "", "a": "o", "dev": self.phone.dev})  # fmt: skip
        return [*signed, *self.rng.choice([(said, rmac), (best, "0" * 32), ("x", "y"), ("", "")])]


# What may become of a class. A forged receipt is ignored and its record decided afresh.
CLASSES: dict[str, tuple[Make, set[str]]] = {
    "unknown kind": (Hostile.unknown_kind, {"held"}),
    "future version": (Hostile.future, {"held"}),
    "wrong type": (Hostile.wrong_type, STORED | {"unauthentic"}),
    "deep nesting": (Hostile.deep, {"held"}),
    "lone surrogate": (Hostile.surrogate, {"held"}),
    "1e400": (Hostile.huge_number, STORED),
    "no record": (Hostile.no_record, {"held", "dup"}),
    "forged MAC": (Hostile.forged_mac, {"unauthentic"}),
    "half a surrogate in the bytes": (Hostile.raw_half, {"unauthentic"}),
    "forged receipt": (Hostile.forged_receipt, {"ok"}),
}


def seen_held(phone: Any) -> dict[str, str]:
    """What the desk's list shows: id -> why, from the rows that every owner's device holds."""
    rows = phone.get("/api/sync/snapshot").json["rows"]
    return {one["id"]: one["why"] for row in rows for one in row.get("held", ())}


def test_P5_B4_hostile_records_block_nobody_and_are_seen_and_settled(
    server: Any, phone: Any
) -> None:
    hostile = Hostile(phone, 3)
    names = sorted(CLASSES)
    became: dict[str, Counter[str]] = {name: Counter() for name in names}
    held: dict[str, str] = {}
    for first in range(0, COUNT, PUSH):
        turn = [names[(first + i) % len(names)] for i in range(PUSH)]
        sent: list[list[str]] = []
        for name in turn:
            sent += [phone.sign(hostile.plain()), CLASSES[name][0](hostile)]
        reply = phone.push(*sent)
        assert reply.status_code == 200, reply.text
        rows = reply.json["r"]
        assert len(rows) == len(sent)
        assert {row[1] for row in rows[::2]} == {"ok"}  # the neighbours
        hostile.receipts = rows[::2]
        for name, row in zip(turn, rows[1::2], strict=True):
            became[name][row[1]] += 1
            assert row[1] in CLASSES[name][1], (name, row)
            if row[1] == "held":
                held[json.loads(row[3])["id"]] = name
    assert all(sum(counts.values()) == COUNT // len(names) for counts in became.values())

    # Each that is held is seen, with its reason; nothing else is.
    seen = seen_held(phone)
    assert set(seen) == set(held)
    assert {why.partition(":")[0] for why in seen.values()} >= {
        "kind", "version", "field", "unread",
    }  # fmt: skip
    # The owner looks at what came, byte for byte, and says of each that it does not count.
    for record_id in random.Random(1).sample(sorted(held), 20):
        told = phone.get(f"/api/answers/record/{record_id}")
        assert told.status_code == 200, told.text
        with server.log.store.reading():
            stored = server.log.store.by_id([record_id])[record_id]
        assert (told.json["text"], told.json["pos"]) == (stored.text, stored.pos)
    # As the client writes a correction: of the same codes, and later than what it corrects.
    with server.log.live.now() as farm:
        targets = [farm.index.lines[i] for i in sorted(held)]
    voids = [
        phone.record("record.voided", sorted(set(t["s"])), {"target": t["id"]}, at=t["e"] + 1)
        for t in targets
    ]
    for first in range(0, len(voids), 200):
        reply = phone.push(*voids[first : first + 200])
        assert {row[1] for row in reply.json["r"]} == {"ok"}
    assert seen_held(phone) == {}
    assert server.log.live.refold()[1] == []


def test_every_kind_written_again_in_place_of_a_broken_one_counts(
    server: Any, phone: Any, outcome: Any
) -> None:
    """How a record is mended: void and new record in one act."""
    for kind in KINDS.values():
        if kind.name.startswith(("device.", "record.", "question.")):
            continue
        sub, d = kind.example["sub"], kind.example["d"]
        broken = phone.record(kind.name, sub, {**d, "surplus": 1})
        assert outcome(phone.push(broken)) == ["held"], kind.name
        act = broken["id"]
        void = phone.record("record.voided", sub, {"target": broken["id"]}, act=act)
        again = phone.record(kind.name, sub, d, act=act)
        assert outcome(phone.push(void, again))[0] == "ok", kind.name
        assert broken["id"] not in seen_held(phone), kind.name
