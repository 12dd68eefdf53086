"""Seeded random logs over all kinds of the catalogue: small farms in which everything collides.

A handful of codes, four streams that rarely see each other, clocks that differ, labels claimed
twice, voids of voids, places rolled into each other, records nobody can read. Most of it is valid,
so that it reaches the fold; the rest is there to be held alike on both sides.
"""

from __future__ import annotations

import json
import random
from dataclasses import dataclass, field
from typing import Any

from bagtrail.catalogue import KINDS, Field
from bagtrail.ids import ALPHABET, check_symbol

T0 = 1_764_000_000_000
MINUTE, HOUR, DAY = 60_000, 3_600_000, 86_400_000
Record = dict[str, Any]
Sent = tuple[str, dict[str, Any] | None, int, str]

WEIGHTS = {
    "bag.filled": 6, "stock.opened": 2, "group.split": 8, "group.corrected": 3, "bag.moved": 12,
    "bag.contaminated": 4, "bag.harvested": 7, "bag.inoculated": 5, "load.ran": 3, "load.filled": 4,
    "record.voided": 9, "record.amended": 5, "record.admitted": 3, "place.named": 3,
    "place.moved": 5, "bag.finished": 4, "spawn.received": 2, "spawn.made": 2,
}  # fmt: skip
FIRST = ["bag.filled", "stock.opened", "place.named", "spawn.received", "group.split", "bag.moved"]
MISFITS: list[Any] = [
    None, True, -1, 0, 1.5, 1e21, 2**53, 2**60, -0.0, 1.0, "", "x" * 2_100, "\x00", "\ud800",
    "\U0001f344" * 60, [], {}, [1], {"g": 1}, "M0000001A", "__proto__", "constructor",
]  # fmt: skip


@dataclass
class Stream:
    """One phone's outbox: what it wrote, and how far it had pulled."""

    st: str
    dev: str
    by: str
    role: str
    skew: int
    sq: int = 0
    base: str = ""


@dataclass
class Log:
    """A random log: what was sent, in the order of the log, and the epochs it went through."""

    seed: int
    epochs: list[str] = field(default_factory=lambda: ["e1"])
    sent: list[Sent] = field(default_factory=list)


def code(letter: str, i: int) -> str:
    """Return the i-th code of a type letter, with its check symbol."""
    body = letter + "".join(ALPHABET[(i >> (5 * k)) & 31] for k in reversed(range(7)))
    return body + check_symbol(body)


class Maker:
    """Writes one log."""

    def __init__(self, seed: int, records: int) -> None:
        self.rng = random.Random(seed)
        self.log = Log(seed)
        pick = self.rng.randint
        self.pool = {
            letter: [code(letter, i) for i in range(1, n + 1)]
            for letter, n in (("B", pick(3, 9)), ("G", pick(1, 4)), ("M", pick(1, 3)),
                              ("P", pick(2, 5)), ("S", 3), ("H", 2), ("K", 1), ("W", 2))
        }  # fmt: skip
        self.ids = [self._uuid() for _ in range(records)]
        for word in ("strain", "material", "recipe", "plan", "vessel"):
            self.pool[word] = [f"{word}-{self._uuid()}" for _ in range(2)]
        self.streams = [
            Stream(self._hex(16), "d" + self._hex(16), self.rng.choice(self.pool["W"]), role,
                   self.rng.choice((0, 0, 0, -20 * MINUTE, 3 * DAY)))
            for role in ("o", "w", "w", self.rng.choice("mmw-"))
        ]  # fmt: skip
        self.written: list[Record] = []
        self.births: list[Record] = []
        self.last: tuple[Stream, str, list[str], dict[str, Any]] | None = None
        self.now = T0

    def make(self) -> Log:
        """Return the log."""
        for i, record_id in enumerate(self.ids):
            self.now += self.rng.choice((1_000, 2_000, 5 * MINUTE, 10 * MINUTE, 5 * HOUR, DAY))
            if self.rng.random() < 0.02:
                self.log.epochs.append(f"e{len(self.log.epochs) + 1}")
            self._write(record_id, i)
        return self.log

    def answer(self, questions: list[dict[str, Any]]) -> None:
        """Let somebody answer some of the questions the fold asks."""
        for question in questions:
            if self.rng.random() < 0.3:
                sub = question["sub"] if self.rng.random() < 0.8 else []
                d = {"question": question["id"], "choice": "seen"}
                self._send(self._uuid(), "question.answered", sub, d)

    # -- records ---------------------------------------------------------------------------------

    def _write(self, record_id: str, i: int) -> None:
        if self.last and self.rng.random() < 0.04:
            return self._repeat(record_id)
        names = list(KINDS) if i > 6 else FIRST
        ty = self.rng.choices(names, [WEIGHTS.get(name, 1) for name in names])[0]
        kind = KINDS[ty]
        sub = self._subjects(ty)
        d = {f.name: self._value(f) for f in kind.fields if f.required or self.rng.random() < 0.5}
        if ty.startswith("record."):
            sub = self._correct(ty, i, sub, d)
        elif "born" in kind.rules:
            self._birth(d)
        elif ty == "bag.harvested":
            d["of"] = self._of()
        elif ty in ("load.ran", "load.filled"):
            sub = [self.rng.choice(self.pool["H"]), *[c for c in sub if c[0] != "H"]]
        self._send(record_id, ty, sub, d)

    def _repeat(self, record_id: str) -> None:
        """Write the last record again from the same phone, a moment later."""
        assert self.last
        stream, ty, sub, d = self.last
        self.now += self.rng.choice((0, 1_000, 2_999, 3_000))
        self._send(record_id, ty, list(sub), json.loads(json.dumps(d)), stream)

    def _subjects(self, ty: str) -> list[str]:
        kind = KINDS[ty]
        most = min(kind.subs[1], 4)
        wanted = self.rng.randint(kind.subs[0], most) if self.rng.random() < 0.4 else kind.subs[0]
        found = {self._subject(kind.sub) for _ in range(wanted)} if kind.sub else set()
        return sorted(found, key=lambda _: self.rng.random())

    def _subject(self, letters: tuple[str, ...]) -> str:
        letter = self.rng.choice(letters)
        if letter in "BG" and self.births and self.rng.random() < 0.25:
            birth = self.rng.choice(self.births)
            labels = birth["d"].get("to") if isinstance(birth["d"], dict) else None
            if isinstance(labels, list) and labels and self.rng.random() < 0.5:
                return f"g-{birth['id']}.{self.rng.randrange(len(labels))}"
            return f"g-{birth['id']}"
        return self.rng.choice(self.pool[letter])

    def _correct(self, ty: str, i: int, sub: list[str], d: dict[str, Any]) -> list[str]:
        if self.written and self.rng.random() < 0.85:
            recent = self.written[-6:] if self.rng.random() < 0.4 else self.written
            target = self.rng.choice(recent)
            d["target"] = target["id"]
            subs = list(target["sub"]) if isinstance(target.get("sub"), list) else []
            if ty == "record.amended" and self.rng.random() < 0.9:
                d["fields"] = self._fields(target)
            if self.rng.random() < 0.7:
                return subs
            return [c for c in subs if self.rng.random() < 0.6]
        d["target"] = self.rng.choice(self.ids)  # of itself, or of one that comes later
        return sub

    def _fields(self, target: Record) -> dict[str, Any]:
        kind = KINDS.get(target["ty"])
        if kind is None or not kind.fields:
            return {}
        f = self.rng.choice(kind.fields)
        return {f.name: self._value(f)}

    def _birth(self, d: dict[str, Any]) -> None:
        labels = [*self.pool["B"], *self.pool["G"]]
        if self.rng.random() < 0.6:
            d["to"] = self.rng.sample(labels, self.rng.randint(1, min(4, len(labels))))
            if sum(c[0] == "G" for c in d["to"]) > 1 and self.rng.random() < 0.9:
                d["to"] = [c for c in d["to"] if c[0] == "B"]
        bags = sum(c[0] == "B" for c in d.get("to", ()))
        if "n" in d or not bags or len(d["to"]) > bags:
            d["n"] = bags + self.rng.randint(0, 30)

    def _of(self) -> list[list[str]]:
        pairs = [
            [m, self.rng.choice(["", *self.pool["strain"]])]
            for m in self.rng.sample(self.pool["M"], self.rng.randint(1, len(self.pool["M"])))
        ]
        return pairs

    def _value(self, f: Field) -> Any:
        rng = self.rng
        match f.type:
            case "int":
                high = min(f.max, max(f.min + 1, 50 if f.name in ("n", "by", "flush") else 5_000))
                low = max(f.min, -20)
                return rng.randint(low, max(low, min(high, 6) if f.name == "flush" else high))
            case "text":
                return rng.choice(("Fen 4", "A12", "007", "ä", "\U0001f344 9"))[: f.max]
            case "code":
                return rng.choice(self.pool[rng.choice(f.letters)])
            case "codes":
                return rng.sample(self.pool[f.letters[0]], 2)
            case "choice":
                return rng.choice(f.choices)
            case "flag":
                return rng.random() < 0.5
            case "time":
                return self.now
            case "id":
                return rng.choice(self.ids)
            case "was":
                return {"ms": self.now - rng.randint(0, 10) * HOUR, "p": rng.choice("md")}
            case "parts":
                name = rng.choice(("Oak sawdust", "Wheat bran", "Calcium carbide", "Gypsum"))
                return [{"name": name, "share": rng.randint(1, 10_000)}]
            case "of":
                return self._of()
            case "fields":
                return {}
            case "rows":
                some = [x for x in f.rows if x.required or rng.random() < 0.5]
                return [{x.name: self._value(x) for x in some} for _ in range(rng.randint(1, 3))]
        raise AssertionError(f.type)

    # -- the envelope ----------------------------------------------------------------------------

    def _send(
        self, record_id: str, ty: str, sub: list[str], d: dict[str, Any], by: Stream | None = None
    ) -> None:
        rng = self.rng
        stream = by or rng.choice(self.streams)
        self.last = (stream, ty, sub, d)
        stream.sq += 1 if rng.random() < 0.97 else 0  # a cloned phone uses a number twice
        if stream.sq == 0:
            stream.sq = 1
        at = self.now + stream.skew
        record: Record = {
            "v": 1, "id": record_id, "dev": stream.dev, "gen": 1, "st": stream.st, "sq": stream.sq,
            "at": at, "cl": {"w": at, "o": 0, "q": "sync"}, "tz": 60, "ty": ty, "tv": 1, "sub": sub,
            "base": stream.base, "by": stream.by, "d": d,
        }  # fmt: skip
        if rng.random() < 0.3:
            back = rng.choice((MINUTE, HOUR, 30 * HOUR, 4 * DAY, -HOUR, -9 * DAY))
            record["on"] = {"ms": at - back, "p": rng.choice("md")}
        if rng.random() < 0.2:
            record["except"] = [self._subject(("B", "G", "P")) for _ in range(rng.randint(1, 2))]
        if rng.random() < 0.2:
            record["act"] = rng.choice(self.ids)
        if rng.random() < 0.06:
            self._spoil(record)
        pos = len(self.log.sent) + 1
        self.written.append(record)
        if KINDS.get(ty) and "born" in KINDS[ty].rules:
            self.births.append(record)
        self._place(record, stream, pos)
        if rng.random() < 0.3:
            stream.base = f"{self.log.epochs[-1]}.{rng.randint(0, pos)}"

    def _place(self, record: Record, stream: Stream, pos: int) -> None:
        rng = self.rng
        text = json.dumps(record, ensure_ascii=rng.random() < 0.5 or _has_half(record))
        if rng.random() < 0.03:
            text = self._tear(text)
        unsent: Sent = (text, None, 0, stream.role)
        if rng.random() < 0.12:
            self.log.sent.append(unsent)
            if rng.random() < 0.5:
                return
        eff = record["at"] if rng.random() < 0.8 else self.now + rng.randint(-3, 3) * MINUTE
        receipt = {
            "id": record["id"], "h": "", "e": self.log.epochs[-1], "p": pos, "t": eff, "q": "sync",
            "f": rng.choice(("", "", "clk", "clk skew")), "dev": stream.dev,
            "a": stream.role if rng.random() < 0.97 else "-",
        }  # fmt: skip
        self.log.sent.append((text, receipt, pos, "-"))

    def _spoil(self, record: Record) -> None:
        """Make a record wrong in one place: data, subjects, envelope."""
        rng = self.rng
        where = rng.random()
        if where < 0.4:
            names = [*record["d"], "g", "to", "n", "strange", "__proto__", "\U0001f344", "\uffee"]
            record["d"][rng.choice(names)] = rng.choice(MISFITS)
        elif where < 0.7:
            name = rng.choice(("d", "sub", "except", "on", "tv", "base", "by", "act", "v"))
            record[name] = rng.choice([*MISFITS, "e1.\u0661\u0662", "e1." + "9" * 5_000])
        elif where < 0.85:
            record["sub"] = [*record["sub"], rng.choice(("B0000001Z", "", "bad", 7, None))]
        else:
            record["ty"] = rng.choice(("bag.flown", "", "constructor", "__proto__"))

    def _tear(self, text: str) -> str:
        """Make a text that one of the two JSON readers, or both, may not like."""
        bad = self.rng.choice((
            "NaN", "Infinity", "1e400", "-0", "1E2", "1.0", "0.1", "9007199254740993", "1" * 5_000,
            "[" * 40 + "]" * 40, '{"a":1,"a":2}', "\t", "tru", '"\\ud83d\\udc4d"',
        ))  # fmt: skip
        how = self.rng.random()
        if how < 0.2:
            return text[: self.rng.randrange(len(text))]
        if how < 0.3:
            return self.rng.choice(("\ufeff", " ", "\xa0")) + text
        name = self.rng.choice(("extra", "sq", "at", "v", "gen", "d"))
        return text[:-1] + f', "{name}": {bad}}}'

    def _uuid(self) -> str:
        h = self._hex(32)
        return f"{h[:8]}-{h[8:12]}-7{h[13:16]}-8{h[17:20]}-{h[20:]}"

    def _hex(self, digits: int) -> str:
        return f"{self.rng.getrandbits(4 * digits):0{digits}x}"


def _has_half(value: Any) -> bool:
    """Tell whether a value holds half of a surrogate pair, which has no UTF-8 form."""
    try:
        json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return True
    return False
