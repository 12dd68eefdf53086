"""A large invented farm for the figures: real records of a paired device, pushed in pages."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from bagtrail import devices, ids, keys, open_log, settings
from bagtrail.sync import Caller, Log

START_MS = 1_760_000_000_000
SHELVES = 60
BAGS_A_BATCH = 50


def open_farm(folder: Path) -> Log:
    """Open a new farm in a folder, with the settings' defaults."""
    return open_log(settings.load({"BAGTRAIL_DATA": str(folder)}))


class Pen:
    """One paired device that writes records in order."""

    def __init__(self, log: Log) -> None:
        self.log = log
        code = devices.new_code(log, "owner", devices.owner_of(log))["code"]
        self.device = devices.pair(log, code, "bench", "", "127.0.0.1")
        self.st = "0123456789abcdef"
        key = bytes.fromhex(self.device["key"])
        self._key = keys.stream_key(key, self.st)
        dev, gen, by = (self.device[name] for name in ("dev", "gen", "by"))
        self.caller = Caller(dev, gen, "owner", by, "paired")
        self.sq = 0
        self.at = START_MS

    def record(self, ty: str, sub: list[str], d: dict[str, Any]) -> list[str]:
        """Return [text, mac] of the next record; a minute passes."""
        self.sq += 1
        self.at += 60_000
        text = json.dumps(
            {"v": 1, "id": str(uuid.UUID(int=(self.at << 80) | (7 << 76) | (2 << 62) | self.sq)),
             "dev": self.device["dev"], "gen": self.device["gen"], "st": self.st, "sq": self.sq,
             "at": self.at, "cl": {"w": self.at, "o": 0, "q": "sync"}, "tz": 0, "ty": ty, "tv": 1,
             "sub": sub, "base": "", "by": self.device["by"], "d": d},
            separators=(",", ":"),
        )  # fmt: skip
        return [text, keys.mac(self._key, text)]

    def push(self, records: list[list[str]]) -> dict[str, Any]:
        """Push one page of at most 500 records."""
        push = {"farm": self.log.identity.farm, "proof": "", "nonce": "n", "now": self.at,
                "st": self.st, "pending": 0, "oldest": 0, "records": records}  # fmt: skip
        return self.log.accept(self.caller, push, now=self.at + 1_000)


def code(letter: str, number: int) -> str:
    """Return the code of a type with a running number for its seven symbols."""
    symbols = ""
    for _ in range(7):
        number, rest = divmod(number, 32)
        symbols = ids.ALPHABET[rest] + symbols
    return letter + symbols + ids.check_symbol(letter + symbols)


def life(pen: Pen, bags: int, acts: int) -> Iterator[list[str]]:
    """Yield the records of a farm of so many bags, each with so many acts (at most 8)."""
    strain = "strain-00000000-0000-7000-8000-000000000001"
    shelves = [code("P", i) for i in range(SHELVES)]
    lot = code("S", 1)
    yield pen.record("strain.named", [strain], {"name": "Fen 4"})
    yield pen.record("spawn.received", [lot], {"strain": strain, "carrier": "grain"})
    for i, shelf in enumerate(shelves):
        yield pen.record("place.named", [shelf], {"name": f"Shelf {i + 1}", "type": "shelf"})
    for first in range(0, bags, BAGS_A_BATCH):
        batch = code("M", first)
        labels = [code("B", i) for i in range(first, min(first + BAGS_A_BATCH, bags))]
        yield pen.record("batch.mixed", [batch], {"name": f"Mix {first}", "moisture": 6_000})
        filled = {"n": len(labels), "to": labels, "fill_g": 2_400, "first": "A1"}
        yield pen.record("bag.filled", [batch], filled)
        yield pen.record("load.ran", [code("H", first), batch], {"result": "passed"})
        for i, label in enumerate(labels):
            shelf = shelves[(i + first) % SHELVES]
            done: list[tuple[str, dict[str, Any]]] = [
                ("bag.inoculated", {"spawn": lot}), ("bag.moved", {"to": shelf}),
                ("bag.colonised", {}), ("bag.opened", {"how": "top_cut"}),
                ("bag.harvested", {"g": 300 + i, "of": [[batch, strain]], "flush": 1}),
                ("bag.soaked", {"minutes": 600}),
                ("bag.harvested", {"g": 200 + i, "of": [[batch, strain]], "flush": 2}),
                ("bag.checked", {}),
            ]  # fmt: skip
            for ty, d in done[:acts]:
                yield pen.record(ty, [label], d)


def plant(pen: Pen, bags: int, acts: int, page: int = 500) -> int:
    """Push a whole farm and return how many records it has."""
    records: list[list[str]] = []
    count = 0
    for record in life(pen, bags, acts):
        records.append(record)
        count += 1
        if len(records) == page:
            pen.push(records)
            records = []
    if records:
        pen.push(records)
    return count
