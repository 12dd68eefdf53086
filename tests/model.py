"""A model phone: the client's side of the protocol in Python, for tests of the real server.

It keeps what a phone keeps (outbox, receipts, others' records, cursor, proof, epochs met) and does
what a phone does with every reply (sync.md 3.4 to 3.6). The wire it speaks through is given to it,
so the same phone talks to the use cases directly, over HTTP, or through a proxy that breaks things.
"""

from __future__ import annotations

import copy
import hashlib
import hmac
import json
import random
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Reply = tuple[int, Any, dict[str, str]]  # status, JSON or None, headers
Wire = Callable[[str, str, Any, dict[str, str]], Reply]  # method, path, body, headers
DONE = ("ok", "dup", "held", "fork", "differs")


class Cut(Exception):
    """Nothing usable came back: no connection, no reply, or half of one."""


@dataclass
class Kept:
    """A record as a phone keeps it."""

    text: str
    mac: str
    id: str
    st: str = ""
    sq: int = 0
    own: bool = True
    state: str = "queued"  # queued, acked, offer (after a reset), parked
    receipt: str = ""
    rmac: str = ""
    pos: int = 0

    def wire(self) -> list[str]:
        """Return it as it is pushed."""
        return (
            [self.text, self.mac, self.receipt, self.rmac]
            if self.receipt
            else [self.text, self.mac]
        )

    def offered(self) -> str:
        """Return the id it is offered by: the receipt's, where there is one."""
        return str(json.loads(self.receipt)["id"]) if self.receipt else self.id


class ModelPhone:
    """One phone with its memory."""

    def __init__(
        self, wire: Wire, paired: dict[str, Any], seed: Any, now: Callable[[], int]
    ) -> None:
        self.wire, self.paired, self.now = wire, paired, now
        self.rng = random.Random(f"{seed}")
        self.farm, self.dev, self.gen = paired["farm"], paired["dev"], paired["gen"]
        self.by = paired["by"]
        self.key = bytes.fromhex(paired["key"])
        tag = hmac.digest(self.key, b"token", "sha256").hex()
        self.headers = {"Authorization": f"Bearer {self.dev}.{self.gen}.{tag}"}
        self.kept: dict[str, Kept] = {}
        self.epochs: list[str] = []
        self.cursor = self.proof = ""
        self.batch = 500
        self.retry_s = 0.0
        self.two_servers = self.stopped = False
        self.skew = 0  # what this phone's clock is off by, ms
        self.quality = "sync"
        self.last_at = 0
        self.new_stream()

    # Memory

    def new_stream(self) -> None:
        """Mint a new stream."""
        self.st, self.sq = f"{self.rng.getrandbits(64):016x}", 0

    def clone(self, seed: Any) -> ModelPhone:
        """Return a copy as an OS backup or a copied profile makes one: same memory, other luck."""
        other = copy.copy(self)
        other.kept = copy.deepcopy(self.kept)
        other.epochs = list(self.epochs)
        other.rng = random.Random(f"{seed}")
        return other

    def evict(self) -> None:
        """Forget everything but the pairing, as a browser that was short of space does."""
        self.kept, self.epochs = {}, []
        self.cursor = self.proof = ""
        self.two_servers = False
        self.new_stream()

    def waiting(self) -> list[Kept]:
        """Return what is to be pushed, in the order of its streams."""
        return sorted(
            (k for k in self.kept.values() if k.state == "queued"), key=lambda k: (k.st, k.sq)
        )

    # Writing

    def write(self, ty: str, sub: list[str], d: dict[str, Any], **more: Any) -> Kept:
        """Write a record into the outbox."""
        self.sq += 1
        wall = self.now() + self.skew
        self.last_at = at = more.pop("at", max(self.last_at + 1, wall))
        raw = (at << 80) | (0x7 << 76) | (self.rng.getrandbits(12) << 64)
        id_ = str(uuid.UUID(int=raw & ((1 << 128) - 1) | (0b10 << 62) | self.rng.getrandbits(62)))
        base = ".".join(self.cursor.split(".")[:2])
        record = {
            "v": 1, "id": id_, "dev": self.dev, "gen": self.gen, "st": self.st, "sq": self.sq,
            "at": at, "cl": {"w": wall, "o": 0, "q": self.quality}, "tz": 0, "ty": ty, "tv": 1,
            "sub": sub, "base": base, "by": self.by, "d": d, **more,
        }  # fmt: skip
        text = json.dumps(record, separators=(",", ":"), ensure_ascii=False)
        kept = Kept(text, self._mac(text, self.st), id_, self.st, self.sq)
        self.kept[id_] = kept
        return kept

    def _mac(self, text: str, st: str) -> str:
        key = hmac.digest(self.key, f"stream{st}".encode(), "sha256")
        return hmac.digest(key, text.encode(), "sha256")[:16].hex()

    # Talking

    def sync(self, rounds: int = 50) -> bool:
        """Push, offer and pull until nothing is left; return whether it came to an end."""
        for _ in range(rounds):
            if self.stopped or self.retry_s:
                return False
            try:
                if not self._offer() or not self._push():
                    continue
            except Cut:
                return False
            if self.waiting() or self._to_offer():
                continue
            return self.two_servers or self._pull()
        return False

    def _to_offer(self) -> list[Kept]:
        return [k for k in self.kept.values() if k.state == "offer"]

    def _ask(self, method: str, path: str, body: Any = None) -> Any:
        """Send a request; return the JSON of a good reply, None for one that changes nothing."""
        status, said, headers = self.wire(method, path, body, self.headers)
        if status == 409 and isinstance(said, dict) and said.get("k") == "reset":
            self._reset(said, body["nonce"] if body else "n")
            return None
        if status == 413:
            self.batch = max(1, self.batch // 2)
            return None
        if status in (429, 503):
            self.retry_s = float(headers.get("Retry-After", 2))
            return None
        if status == 403 and said and said["error"]["code"] == "unconfirmed":
            return None
        if status in (401, 403):
            self.stopped = True
            return None
        if status != 200 or not isinstance(said, dict) or said.get("k") != "sync1":
            raise Cut(f"{status}")
        if said.get("farm") != self.farm or said.get("nonce") != (body["nonce"] if body else "n"):
            raise Cut("not for us")
        return said

    def _body(self, **more: Any) -> dict[str, Any]:
        return {"farm": self.farm, "proof": self.proof, "nonce": f"{self.rng.getrandbits(64):x}",
                "st": self.st, **more}  # fmt: skip

    def _push(self) -> bool:
        todo = self.waiting()
        sent = todo[: self.batch]
        oldest = min((json.loads(k.text)["at"] for k in sent if k.own), default=0)
        body = self._body(
            now=max(0, self.now() + self.skew), pending=sum(k.own for k in todo),
            oldest=max(0, oldest), records=[k.wire() for k in sent],
        )  # fmt: skip
        said = self._ask("POST", "/api/sync/push", body)
        if said is None:
            return False
        by_id: dict[str, list[Kept]] = {}
        for kept in sent:
            by_id.setdefault(kept.id, []).append(kept)
        forked = False
        for id_, code, pos, receipt, rmac in said["r"]:
            for kept in by_id.get(id_, ()):
                if code in DONE:
                    kept.state, kept.pos = "acked", pos
                    kept.receipt, kept.rmac = receipt, rmac
                    forked = forked or (code == "fork" and kept.st == self.st)
                elif code in ("big", "unauthentic"):
                    kept.state = "parked"
        self._shown(said)
        self._contig(said["contig"].get(self.st), forked)
        return True

    def _contig(self, contig: int | None, forked: bool) -> None:
        """A fork, or more on the server than was ever written here: this is a copy of a phone."""
        if forked or (contig or 0) > self.sq:
            self.new_stream()
            return
        mine = {k.sq: k for k in self.kept.values() if k.own and k.st == self.st}
        gap = mine.get(contig + 1) if contig is not None else None
        # Only a record believed acknowledged tells of a loss: one that is parked leaves a gap, too.
        if gap is not None and gap.state == "acked":
            for kept in mine.values():
                if kept.sq > gap.sq - 1 and kept.state == "acked":
                    kept.state = "queued"

    def _offer(self) -> bool:
        todo = self._to_offer()[:5_000]
        if not todo:
            return True
        by_id: dict[str, list[Kept]] = {}
        for kept in todo:
            by_id.setdefault(kept.offered(), []).append(kept)
        said = self._ask("POST", "/api/sync/offer", self._body(ids=list(by_id)))
        if said is None:
            return False
        wanted = set(said["want"])
        for id_, several in by_id.items():
            for kept in several:
                kept.state = "queued" if id_ in wanted else "acked"
        self._shown(said)
        return True

    def _pull(self) -> bool:
        while True:
            path = f"/api/sync/pull?c={self.cursor}&nonce=n&st={self.st}"
            try:
                said = self._ask("GET", path)
            except Cut:
                return False
            if said is None:
                return False
            h = self.cursor.split(".")[2] if self.cursor else "0" * 32
            for text, mac, receipt, rmac, pos in said["records"]:
                id_ = json.loads(receipt)["id"]
                link = bytes.fromhex(h) + id_.encode() + hashlib.sha256(text.encode()).digest()
                link += hashlib.sha256(receipt.encode()).digest()
                h = hashlib.sha256(link).digest()[:16].hex()
                self._take(Kept(text, mac, id_, "", 0, False, "acked", receipt, rmac, pos))
            assert h == said["h"], "the page is not the chain's"
            self.cursor = f"{said['epoch']}.{said['to']}.{said['h']}"
            self._shown({**said, "head": f"{said['to']}.{said['h']}"})
            if not said["more"]:
                return True

    def _take(self, found: Kept) -> None:
        """Take in a pulled row: the log's receipt replaces ours."""
        mine = self.kept.get(found.id)
        if mine is not None and mine.text != found.text:
            found.id += "+"  # another text under this id is kept beside ours
            mine = self.kept.get(found.id)
            key = found.id
        else:
            key = found.id
        if mine is None:
            for kept in self.kept.values():
                if kept.own and kept.text == found.text:  # ours, under the id it was given
                    mine = kept
                    break
        if mine is None:
            self.kept[key] = found
            return
        mine.receipt, mine.rmac, mine.pos = found.receipt, found.rmac, found.pos
        mine.state = "acked"

    def _shown(self, said: dict[str, Any]) -> None:
        """Keep the furthest place of the log that was shown."""
        epoch = said["epoch"]
        if epoch not in self.epochs:
            self.epochs.append(epoch)
        pos = int(said["head"].split(".")[0])
        known = self.proof.split(".")
        if known[0] != epoch or int(known[1]) <= pos:
            self.proof = f"{epoch}.{said['head']}"

    def _reset(self, said: dict[str, Any], nonce: str) -> None:
        """Begin again with another epoch, if the farm's own server says so."""
        key = hmac.digest(self.key, f"stream{self.st}".encode(), "sha256")
        text = f"reset.{self.farm}.{said['epoch']}.{nonce}".encode()
        if said["farm"] != self.farm or hmac.digest(key, text, "sha256")[:16].hex() != said["mac"]:
            raise Cut("a false reset")
        if said["epoch"] in self.epochs:
            self.two_servers = True
            self.stopped = True
            return
        self.epochs.append(said["epoch"])
        self.cursor, self.proof = "", f"{said['epoch']}.0."
        for kept in self.kept.values():
            if kept.state == "acked":
                kept.state = "offer"

    # What is seen

    def view(self, epochs: list[str]) -> dict[str, str]:
        """Return the folded rows of all that was pulled, as texts by unit."""
        from bagtrail.fold import Farm
        from bagtrail.line import NotARecord, line_of
        from bagtrail.live import dumps

        farm = Farm()
        farm.index.epochs[:] = epochs
        for kept in self.kept.values():
            receipt = json.loads(kept.receipt)
            try:
                line = line_of(kept.text, receipt, kept.pos)
            except NotARecord:
                continue
            if line["id"] != receipt["id"]:
                line["id"], line["w"] = receipt["id"], "differs"
            farm.add(line)
        return {row["unit"]: dumps(row) for row in farm.rows()}
