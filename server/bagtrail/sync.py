"""Push, pull, offer and snapshot as use cases: plain data in, plain data out, no HTTP.

A push, in one transaction: read each record and verify its MAC; know it by its id; decide its
time and receipt once; chain and insert; and only after COMMIT fold it and build the answer.
Nothing is refused for its meaning: what cannot be folded is stored and waits for a person.
"""

from __future__ import annotations

import json
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from . import keys, scope
from .durable import Durable
from .epochs import Epochs
from .errors import AppError, Revoked, Unconfirmed, WrongFarm, WrongLog
from .intake import Caller, Entry, Intake, answer
from .keys import Identity
from .live import Live
from .news import News
from .sidefile import SideFile
from .store import Store, Stored, Top
from .version import MIN_APP

MAX_RECORDS = 500
MAX_OFFERED = 5_000
PAGE_BYTES = 1 << 20  # a pull page stays near this, whatever its limit says
DONE = ("ok", "dup", "held", "fork", "differs")  # what these say of a record is on the disk
DEVICE_KINDS = ("device.paired", "device.revoked")


def now_ms() -> int:
    """Returns the server's clock, ms UTC."""
    return time.time_ns() // 1_000_000


class Log:
    """The farm's log with its keys and its folded state."""

    def __init__(
        self,
        identity: Identity,
        store: Store,
        side: SideFile,
        clock: Callable[[], int] = now_ms,
    ) -> None:
        self.identity = identity
        self.store = store
        self.clock = clock
        self.epochs = Epochs(store, side)
        with store.writing():
            self.epochs.check(clock())
        self.intake = Intake(identity, store)
        self.durable = Durable(store)
        self.news = News(store)
        self._live: Live | None = None
        self._loading = threading.Lock()

    @property
    def live(self) -> Live:
        """The folded state, loaded when first asked for: who only writes need not wait for it."""
        with self._loading:
            if self._live is None:
                self._live = Live(self.store)
        return self._live

    def devices(self) -> list[dict[str, Any]]:
        """Returns every device's row, oldest first."""
        with self.store.reading():
            return self.store.devices()

    def close(self) -> None:
        """Saves the cached state, if it was ever loaded."""
        self.news.close()
        if self._live is not None:
            self._live.close()
        self.store.close_all()

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
        received = self.clock() if now is None else now
        self._is_ours(push["farm"])
        entries = [self.intake.read(record, caller, push["st"]) for record in push["records"]]
        with self._proven(caller, push["proof"], push["st"], push["nonce"], received) as top:
            skew = received - push["now"]
            top = self.intake.ingest(entries, caller, received, skew, top)
            self._note_back(entries, caller, top, received)
            contig = self._streams(entries, caller, push, received)
            self.epochs.told(caller.dev, push["proof"], top)
        self.news.tell(top.epoch, top.pos)  # before the folding: who pulls reads the log itself
        self.live.take([e for e in entries if e.fresh])
        self._readmit(entries)
        held = self.live.held({e.row.id for e in entries if e.row})
        return {
            **self._head(top, push["nonce"]),
            "now": received,
            "contig": contig,
            "r": [answer(entry, held) for entry in entries],
        }

    def _head(self, top: Top, nonce: str) -> dict[str, Any]:
        """Returns what every reply says."""
        return {
            "k": "sync1",
            "farm": self.identity.farm,
            "nonce": nonce,
            "epoch": top.epoch,
            "head": f"{top.pos}.{top.h}",
            "durable": self.durable.pos(top),
            "min_app": MIN_APP,
        }

    def _streams(
        self, entries: list[Entry], caller: Caller, push: dict[str, Any], received: int
    ) -> dict[str, int]:
        """Brings the streams up to the log, and keeps what the phone says still waits on it."""
        # Another farm's streams are no business of ours: nobody here waits for their numbers.
        ours = [e for e in entries if e.row and not e.foreign]
        writers = {e.st: e.dev for e in ours}
        writers.setdefault(push["st"], caller.dev)
        stored: dict[str, list[int]] = {st: [] for st in writers}
        for entry in ours:
            stored[entry.st].append(entry.sq)
        contig = {
            st: self.store.advance(st, dev, received, stored[st])
            for st, dev in sorted(writers.items())
        }
        done = sum(1 for e in entries if e.code in DONE and e.dev == caller.dev)
        left = max(0, push["pending"] - done)
        self.store.note_stream(push["st"], left, push["oldest"] if left else 0)
        self.store.saw_device(caller.dev, received)
        return contig

    def _note_back(self, entries: list[Entry], caller: Caller, top: Top, received: int) -> None:
        """Counts what came back with a receipt of an earlier time, and learns of lost epochs."""
        back = [e for e in entries if e.fresh and e.sent and e.said]
        if back:
            self.store.note_back(top.epoch, caller.dev, len(back), received)
            self.epochs.met_in_receipts({e.said["e"] for e in back if e.said}, top, received)

    def _readmit(self, entries: list[Entry]) -> None:
        """Knows devices again whose pairing or revoking, written by this farm, came back."""
        devs = {
            entry.parsed["d"].get("dev")
            for entry in entries
            if entry.fresh and entry.sent and entry.dev == self.identity.dev and entry.parsed
            and entry.parsed["ty"] in DEVICE_KINDS and isinstance(entry.parsed.get("d"), dict)
        }  # fmt: skip
        if devs:
            told = self.live.ref("devices")
            self.epochs.readmit({dev: told[dev] for dev in devs if dev in told}, self.clock())

    # Offer

    def offer(
        self, caller: Caller, offer: dict[str, Any], now: int | None = None
    ) -> dict[str, Any]:
        """Says which of the offered records this log does not have (design 7.7).

        Args:
            offer: {"farm", "proof", "nonce", "st", "ids"}; an id is the one in the record's
                receipt, where it has one, for a second text under a known id has an id of its own.

        Raises:
            WrongFarm, WrongLog, Busy: as in ``accept``.
        """
        received = self.clock() if now is None else now
        self._is_ours(offer["farm"])
        with self._proven(caller, offer["proof"], offer["st"], offer["nonce"], received) as top:
            known = self.store.known(offer["ids"])
            self.store.saw_device(caller.dev, received)
            self.epochs.told(caller.dev, offer["proof"], top)
        want = [id_ for id_ in dict.fromkeys(offer["ids"]) if id_ not in known]
        return {**self._head(top, offer["nonce"]), "now": received, "want": want}

    # Pull

    def since(
        self,
        caller: Caller,
        cursor: str,
        limit: int,
        nonce: str,
        st: str,
        back: int | None = None,
    ) -> dict[str, Any]:
        """Returns the page of the log after a cursor ``epoch.pos.h`` ("" for the start).

        Args:
            back: a place before the cursor: the page begins after it. A device that began with a
                snapshot reads through the records behind it so, and keeps them for the farm.

        Raises:
            Revoked, Unconfirmed: the device may push but not pull.
            WrongLog: the cursor is not on this log's chain.
        """
        if caller.state == "revoked":
            raise self._revoked(caller, st, nonce)
        with self.store.reading():
            top = self._shown(caller, cursor, st, nonce)
            self.may_read(caller)
            start = int(cursor.split(".")[1]) if cursor else 0
            if back is not None:
                start = min(back, start)
            page: list[Stored] = []
            size = 0
            for row in self.store.after(start, min(limit, top.pos - start)):
                size += len(row.text) + len(row.receipt) + 100
                if page and size > PAGE_BYTES:
                    break
                page.append(row)
            last = page[-1].pos if page else start
            h = page[-1].h if page else self.store.hash_at(start)
            epochs = self.store.epochs()
        return {
            **self._head(top, nonce),
            "now": self.clock(),
            "epochs": epochs,
            "from": start,
            "to": last,
            "h": h,
            "more": last < top.pos,
            "records": [[r.text, r.mac, r.receipt, r.rmac, r.pos] for r in page],
        }

    def snapshot(self, caller: Caller, texts: bool = False, scoped: bool = False) -> dict[str, Any]:
        """Returns the folded state of the farm at one place of the log.

        Args:
            texts: each row as its JSON text, which a phone stores as it came.
            scoped: archived batches as their summaries only, in ``archived`` (rows are texts).
        """
        self.may_read(caller)
        with self.live.lock:
            self.live.catch_up()
            epoch, pos, h = self.live.place()
            archived: list[tuple[str, dict[str, Any]]] = []
            rows: list[Any]
            if scoped:
                rows, archived = self.live.scoped(self.clock())
            else:
                rows = self.live.texts() if texts else list(self.live.farm.rows())
            return {
                "k": "snap1",
                "farm": self.identity.farm,
                "epoch": epoch,
                "epochs": list(self.live.farm.index.epochs),
                "pos": pos,
                "h": h,
                "rows": rows,
                "archived": archived,
            }

    def lines(self, caller: Caller, asked: dict[str, Any]) -> dict[str, Any]:
        """Returns the lines of batches as they were at a place of the log the caller was shown.

        Args:
            asked: {"farm", "proof", "nonce", "st", "pos", "units", "records"}: ``lines`` are those
                of the units, ``leads`` the batches that the records lead to.

        Raises:
            Revoked, Unconfirmed: the device may push but not pull.
            WrongFarm, WrongLog, Busy: as in ``accept``.
        """
        self._is_ours(asked["farm"])
        self.may_read(caller)
        with self.store.reading():
            top = self._shown(caller, asked["proof"], asked["st"], asked["nonce"])
        with self.live.now() as farm:
            found = scope.lines_of(farm, asked["units"], asked["pos"], PAGE_BYTES)
            leads = scope.batches_of(farm, asked["records"])
        return {
            **self._head(top, asked["nonce"]),
            "now": self.clock(),
            "lines": found,
            "leads": leads,
        }

    def _revoked(self, caller: Caller, st: str, nonce: str) -> Revoked:
        """Returns the error with a proof that no portal can forge: the phone lets its view go."""
        farm = self.identity.farm
        key = self.identity.stream_key(caller.dev, caller.gen, st)
        mac = keys.mac(key, keys.revoked_text(farm, nonce))
        return Revoked(extra={"k": "revoked", "farm": farm, "nonce": nonce, "mac": mac})

    def may_read(self, caller: Caller) -> None:
        """Raises Revoked or Unconfirmed unless the device is paired; others may still push."""
        if caller.state == "revoked":
            raise Revoked()
        if caller.state != "paired":
            raise Unconfirmed()

    # Proofs

    def _is_ours(self, farm: str) -> None:
        if farm != self.identity.farm:
            raise WrongFarm()

    def _fits(self, proof: str, top: Top) -> bool:
        if not proof:
            return True
        epoch, pos, h = proof.split(".")
        return epoch == top.epoch and (int(pos) == 0 or self.store.hash_at(int(pos)) == h)

    def _shown(self, caller: Caller, proof: str, st: str, nonce: str) -> Top:
        """The log's head, for who only reads and was shown nothing but this log.

        Raises:
            WrongLog: as in ``_proven``, which alone writes what it finds out.
        """
        top = self.store.top()
        if not self._fits(proof, top):
            with self._proven(caller, proof, st, nonce, self.clock()) as found:
                top = found
        return top

    @contextmanager
    def _proven(self, caller: Caller, proof: str, st: str, nonce: str, now: int) -> Iterator[Top]:
        """A write transaction at the log's head, for who was shown nothing but this log.

        Raises:
            WrongLog: the proof is not on the chain; a new epoch, if it needed one, is committed.
        """
        with self.store.writing():
            top = self.epochs.current(now)
            fits, top = self.epochs.proves(proof, caller, top, now)
            if fits:
                yield top
                return
        self.epochs.note()
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
        dev, at = self.identity.dev, self.clock()
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
            self.intake.ingest([entry], caller, at, 0, top)
            if entry.row is None:
                raise AppError(f"The server could not write its own record {kind}.")
            self.store.advance(st, dev, at, [entry.sq])


def new_id(at: int) -> str:
    """Returns a UUID of version 7 (RFC 9562 section 5.7) for a time in ms."""
    raw = uuid.uuid4().int
    raw = (at << 80) | (raw & ((1 << 80) - 1))
    raw = (raw & ~(0xF << 76)) | (0x7 << 76)
    return str(uuid.UUID(int=raw))
