"""Push, pull and snapshot as use cases: plain data in, plain data out, no HTTP.

A push, in one transaction: read each record and verify its MAC; know it by its id; decide its
time and receipt once; chain and insert; and only after COMMIT fold it and build the answer.
Nothing is refused for its meaning: what cannot be folded is stored and waits for a person.
"""

from __future__ import annotations

import json
import logging
import threading
import time
import uuid
from typing import Any

from . import keys
from .errors import AppError, Revoked, WrongFarm, WrongLog
from .intake import Caller, Entry, Intake, answer
from .keys import Identity
from .live import Live
from .store import ZERO_HASH, Store, Stored, Top, new_epoch

log = logging.getLogger("bagtrail.sync")

MAX_RECORDS = 500
PAGE_BYTES = 1 << 20  # a pull page stays near this, whatever its limit says


def now_ms() -> int:
    """Returns the server's clock, ms UTC."""
    return time.time_ns() // 1_000_000


class Log:
    """The farm's log with its keys and its folded state."""

    def __init__(self, identity: Identity, store: Store) -> None:
        self.identity = identity
        self.store = store
        with store.writing():
            if not store.top(lock=True).epoch:
                store.set_top(Top(new_epoch(), 0, ZERO_HASH, 0))
        self.intake = Intake(identity, store)
        self._live: Live | None = None
        self._loading = threading.Lock()

    @property
    def live(self) -> Live:
        """The folded state, loaded when first asked for: who only writes need not wait for it."""
        with self._loading:
            if self._live is None:
                self._live = Live(self.store)
        return self._live

    def close(self) -> None:
        """Saves the cached state, if it was ever loaded."""
        if self._live is not None:
            self._live.close()

    # Push

    def accept(
        self, caller: Caller, push: dict[str, Any], now: int | None = None
    ) -> dict[str, Any]:
        """Takes a push and returns its reply; everything it acknowledges is on the disk.

        Args:
            push: {"farm", "proof", "nonce", "now", "st", "pending", "oldest", "records"}.
            now: ms UTC, the server's clock when left out.

        Raises:
            WrongFarm: the device belongs to another farm.
            WrongLog: the proof is not on this log's chain (a reset, MACed under the stream key).
            Busy: the database could not take it; nothing was stored.
        """
        received = now_ms() if now is None else now
        if push["farm"] != self.identity.farm:
            raise WrongFarm()
        entries = [self.intake.read(record, caller, push["st"]) for record in push["records"]]
        with self.store.writing():
            top = self.store.top(lock=True)
            self._prove(push["proof"], caller, push["st"], push["nonce"], top)
            self.intake.ingest(entries, caller, received, received - push["now"])
            contig = self._streams(entries, caller, push, received)
            top = self.store.top()
        self.live.catch_up()
        held = self.live.held({e.row.id for e in entries if e.row})
        return {
            "k": "sync1",
            "farm": self.identity.farm,
            "nonce": push["nonce"],
            "epoch": top.epoch,
            "now": received,
            "head": f"{top.pos}.{top.h}",
            "durable": 0,  # no verified backup yet (design 7.9): phones keep everything
            "contig": contig,
            "r": [answer(entry, held) for entry in entries],
        }

    def _streams(
        self, entries: list[Entry], caller: Caller, push: dict[str, Any], received: int
    ) -> dict[str, int]:
        """Brings the streams up to the log, and keeps what the phone says still waits on it."""
        writers = {e.st: e.dev for e in entries if e.row}
        writers.setdefault(push["st"], caller.dev)
        contig = {st: self.store.advance(st, dev, received) for st, dev in sorted(writers.items())}
        self.store.note_stream(push["st"], push["pending"], push["oldest"])
        self.store.saw_device(caller.dev, received)
        return contig

    # Pull

    def since(self, caller: Caller, cursor: str, limit: int, nonce: str, st: str) -> dict[str, Any]:
        """Returns the page of the log after a cursor ``epoch.pos.h`` ("" for the start).

        Raises:
            Revoked: the device may push but not pull.
            WrongLog: the cursor is not on this log's chain.
        """
        self.may_read(caller)
        with self.store.reading():
            top = self.store.top()
            self._prove(cursor, caller, st, nonce, top)
            start = int(cursor.split(".")[1]) if cursor else 0
            page: list[Stored] = []
            size = 0
            for row in self.store.after(start, min(limit, top.pos - start)):
                size += len(row.text) + len(row.receipt) + 100
                if page and size > PAGE_BYTES:
                    break
                page.append(row)
            last = page[-1].pos if page else start
            h = page[-1].h if page else self.store.hash_at(start)
        return {
            "k": "sync1",
            "farm": self.identity.farm,
            "nonce": nonce,
            "epoch": top.epoch,
            "from": start,
            "to": last,
            "h": h,
            "more": last < top.pos,
            "head": f"{top.pos}.{top.h}",
            "durable": 0,
            "records": [[r.text, r.mac, r.receipt, r.rmac, r.pos] for r in page],
        }

    def snapshot(self, caller: Caller) -> dict[str, Any]:
        """Returns the folded state of the whole farm at one place of the log."""
        self.may_read(caller)
        with self.live.lock:
            self.live.catch_up()
            epoch, pos, h = self.live.place()
            return {
                "k": "snap1",
                "farm": self.identity.farm,
                "epoch": epoch,
                "pos": pos,
                "h": h,
                "rows": list(self.live.farm.rows()),
            }

    def may_read(self, caller: Caller) -> None:
        """Raises Revoked unless the device is paired; others may still push."""
        if caller.state != "paired":
            raise Revoked()

    def _prove(self, proof: str, caller: Caller, st: str, nonce: str, top: Top) -> None:
        """Raises WrongLog unless what the device was shown is a place on this log's chain."""
        if not proof:
            return
        epoch, pos, h = proof.split(".")
        if epoch == top.epoch and (int(pos) == 0 or self.store.hash_at(int(pos)) == h):
            return
        key = self.identity.stream_key(caller.dev, caller.gen, st)
        text = keys.reset_text(self.identity.farm, top.epoch, nonce)
        raise WrongLog(
            extra={
                "k": "reset",
                "farm": self.identity.farm,
                "epoch": top.epoch,
                "nonce": nonce,
                "mac": keys.mac(key, text),
            }
        )

    # The server's own records

    def write(self, kind: str, sub: list[str], d: dict[str, Any], by: str = "") -> None:
        """Writes a record of the server's own device; inside or outside a transaction.

        The caller lets ``live.catch_up()`` follow once the outermost transaction is committed.
        """
        dev, at = self.identity.dev, now_ms()
        with self.store.writing():
            top = self.store.top(lock=True)
            # One stream an epoch: a log put back to an older state never reuses its numbers.
            st = keys.mac(self.identity.master, f"server.{top.epoch}")[:16]
            known = self.store.stream(st)
            record = {
                "v": 1, "id": new_id(at), "dev": dev, "gen": 1, "st": st,
                "sq": (known["top"] if known else 0) + 1, "at": at,
                "cl": {"w": at, "o": 0, "q": "sync"}, "tz": 0, "ty": kind, "tv": 1, "sub": sub,
                "base": f"{top.epoch}.{top.pos}", "by": by, "d": d,
            }  # fmt: skip
            text = json.dumps(record, ensure_ascii=False, separators=(",", ":"))
            mac = keys.mac(self.identity.stream_key(dev, 1, st), text)
            caller = Caller(dev, 1, "owner", by, "paired")
            entry = self.intake.read([text, mac], caller, st)
            self.intake.ingest([entry], caller, at, 0)
            if entry.row is None:
                raise AppError(f"The server could not write its own record {kind}.")
            self.store.advance(st, dev, at)

    def started(self, side: int) -> int:
        """Raises ``gen`` at a start and returns it; a rewound log gets a new epoch (sync.md 3.4).

        Args:
            side: the number kept outside the database, 0 when there is none.
        """
        with self.store.writing():
            top = self.store.top(lock=True)
            epoch = top.epoch
            if top.gen < side:
                epoch = new_epoch()
                log.warning("the database is older than the last start: new epoch %s", epoch)
            gen = max(top.gen, side) + 1
            self.store.set_top(Top(epoch, top.pos, top.h, gen))
        return gen


def new_id(at: int) -> str:
    """Returns a UUID of version 7 (RFC 9562 section 5.7) for a time in ms."""
    raw = uuid.uuid4().int
    raw = (at << 80) | (raw & ((1 << 80) - 1))
    raw = (raw & ~(0xF << 76)) | (0x7 << 76)
    return str(uuid.UUID(int=raw))
