"""Records on their way into the log: read, known again, decided upon, numbered, chained, stored.

Works inside the write transaction of whoever calls; says of each record what became of it.
"""

from __future__ import annotations

import hashlib
import logging
import re
from dataclasses import dataclass, field
from typing import Any

from . import ids, keys, line, receipts
from .keys import Identity
from .store import BROKEN, Store, Stored, Top

log = logging.getLogger("bagtrail.sync")

BASE = re.compile(r"(e[0-9a-z]{11})\.([0-9]{1,15})")
ID_IN_TEXT = re.compile(r'"id"\s*:\s*"([0-9a-f-]{36})"')
# Taken from a device after its key was taken back, and held for the owner to look at.
MAX_FROM_REVOKED = 5_000
TRUSTED = ("paired", "unconfirmed")
# The flag of a record that came in another farm's file: nobody here vouches for its writer.
FOREIGN = "foreign"


@dataclass(frozen=True)
class Standing:
    """Who has shown a PIN at the device: the person's own role, and since when (ms UTC)."""

    person: str
    role: str
    since: int


@dataclass(frozen=True)
class Caller:
    """Who delivers: a device of this farm, proven by its token; says nothing of who wrote.

    With ``stands``, ``role`` and ``by`` are that person's where they are more than the device's.
    """

    dev: str
    gen: int
    role: str = ""
    by: str = ""
    state: str = "seen"
    stands: Standing | None = None


@dataclass(slots=True)
class Entry:
    """One record of a push on its way through."""

    text: str
    mac: str
    sent_id: str = ""
    id: str = ""
    st: str = ""
    sq: int = 0
    dev: str = ""
    gen: int = 0
    at: int = -1
    by: str = ""
    base: str = ""
    quality: str = "none"
    subs: list[str] = field(default_factory=list)
    parsed: dict[str, Any] | None = None
    digest: bytes = b""
    sent: tuple[str, str] | None = None
    said: dict[str, Any] | None = None  # what the receipt says, sent along or made here
    code: str = ""
    role: str = "-"
    eff: int = 0
    flags: list[str] = field(default_factory=list)
    row: Stored | None = None
    fresh: bool = False  # new to the log with this push
    same_as: Entry | None = None

    @property
    def foreign(self) -> bool:
        """Whether it came in another farm's file."""
        return FOREIGN in self.flags


class Intake:
    """The way into one farm's log."""

    def __init__(self, identity: Identity, store: Store) -> None:
        self.identity = identity
        self.store = store
        self._receipt_key = keys.receipt_key(identity.master)
        self._foreign_key = keys.foreign_key(identity.master)
        self._stream_keys: dict[tuple[str, int, str], bytes] = {}

    def read(self, record: list[Any], caller: Caller, st: str) -> Entry:
        """Reads one sent record: who wrote it, and whether the MAC says so too."""
        entry = Entry(text=record[0], mac=record[1])
        said = ID_IN_TEXT.search(entry.text)
        entry.sent_id = said[1] if said else ""
        try:
            raw = entry.text.encode()
        except UnicodeEncodeError:  # a lone surrogate has no bytes, so no MAC and no hash
            entry.code = "unauthentic"
            return entry
        entry.id = entry.sent_id or receipts.derived_id("", entry.text)
        if len(raw) > line.MAX_TEXT_BYTES:
            entry.code = "big"
            return entry
        try:
            entry.parsed = line.parse(entry.text)
            _fill(entry, entry.parsed)
        except line.NotARecord:
            # It cannot say whose it is; the device that delivers it vouches with its own key.
            entry.dev, entry.gen, entry.st = caller.dev, caller.gen, st
            entry.flags.append("unread")
        key = self._stream_key(entry.dev, entry.gen, entry.st)
        if not keys.same(keys.mac(key, entry.text), entry.mac):
            if not keys.same(keys.mac(self._foreign_key, entry.text), entry.mac):
                entry.code = "unauthentic"
                return entry
            entry.flags.append(FOREIGN)
        entry.digest = hashlib.sha256(raw).digest()
        if caller.state == "revoked" and entry.dev != caller.dev:
            entry.code = "later"  # from others' records it has nothing to give (design 7.7)
        elif len(record) == 4:
            self._read_receipt(entry, record[2], record[3])
        return entry

    def _stream_key(self, dev: str, gen: int, st: str) -> bytes:
        """Returns a stream's key; those of the last few streams are kept at hand."""
        known = self._stream_keys.get((dev, gen, st))
        if known is None:
            if len(self._stream_keys) >= 256:
                self._stream_keys = {}
            known = self._stream_keys[(dev, gen, st)] = self.identity.stream_key(dev, gen, st)
        return known

    def _read_receipt(self, entry: Entry, receipt: str, rmac: str) -> None:
        """Takes over what this farm once said of the record; anything else is ignored."""
        said = receipts.read(self._receipt_key, receipt, rmac, entry.text)
        if said and said["id"] in (entry.id, receipts.derived_id(entry.id, entry.text)):
            entry.id, entry.sent, entry.said = said["id"], (receipt, rmac), said

    def ingest(
        self, entries: list[Entry], caller: Caller, received: int, skew: int, top: Top
    ) -> Top:
        """Decides on every authentic record and writes the new ones; inside a transaction.

        Args:
            received: ms UTC by the server's clock.
            skew: ms to add to the sender's clock, as this request shows it.
            top: the log's head, locked.

        Returns:
            The head afterwards.
        """
        todo = sorted((e for e in entries if not e.code), key=lambda e: (e.st, e.sq))
        if not todo:
            return top
        known = self.store.by_id([e.id for e in todo])
        mine: dict[str, Entry] = {}
        numbers: dict[str, list[int]] = {}
        for entry in todo:
            numbers.setdefault(entry.st, []).append(entry.sq)
        used = {st: self.store.used(st, taken) for st, taken in numbers.items()}
        writers = {dev: self.store.device(dev) for dev in {e.dev for e in todo}}
        seen = self._seen(todo, known, top.epoch)
        stands = caller.stands
        room: dict[str, int] = {}
        fresh: list[Entry] = []
        last_eff: dict[str, int] = {}
        for entry in todo:
            self._identify(entry, known, mine)
            if entry.row or entry.same_as:
                continue
            if not entry.sent:
                entry.role = self._role(entry, writers, received)
                if entry.role != "-" and entry.parsed is not None:
                    own = entry.dev == caller.dev and entry.gen == caller.gen
                    self._who(entry, writers, stands if own else None, skew)
                if "revoked" in entry.flags and not self._has_room(entry.dev, room):
                    entry.code = "later"
                    continue
            if entry.sq in used[entry.st] and "unread" not in entry.flags and not entry.code:
                entry.code = "fork"
                entry.flags.append("fork")
            used[entry.st].add(entry.sq)
            own = entry.dev == caller.dev and entry.gen == caller.gen
            if entry.sent and entry.said:  # decided by this farm before; only taken over
                entry.eff = entry.said["t"]
            else:
                floor = max(last_eff.get(entry.st, 0), self._seen_until(entry, seen))
                self._time(entry, received, skew if own else None, floor)
            last_eff[entry.st] = entry.eff
            mine[entry.id] = entry
            fresh.append(entry)
        for dev, left in room.items():
            self.store.put_met(**{**self.store.met(dev), "held": MAX_FROM_REVOKED - left})
        return self._place(fresh, received, top)

    def _has_room(self, dev: str, room: dict[str, int]) -> bool:
        """Counts a record of a revoked device; False beyond the limit."""
        if dev not in room:
            room[dev] = MAX_FROM_REVOKED - self.store.met(dev)["held"]
        if room[dev] <= 0:
            return False
        room[dev] -= 1
        return True

    def _identify(self, entry: Entry, known: dict[str, Stored], mine: dict[str, Entry]) -> None:
        """Finds the record on the log: as a repeat, or as another text under a known id."""
        for _ in range(2):
            stored, twin = known.get(entry.id), mine.get(entry.id)
            text = stored.text if stored else twin.text if twin else None
            if text is None:
                return
            if text == entry.text:
                entry.code = entry.code or "dup"
                entry.row, entry.same_as = stored, twin
                return
            entry.code = "differs"
            entry.flags.append("differs")
            entry.id, entry.sent = receipts.derived_id(entry.id, entry.text), None
            entry.said = None
            known.update(self.store.by_id([entry.id]))

    def _time(self, entry: Entry, received: int, skew: int | None, floor: int) -> None:
        """Decides when the record counts."""
        entry.eff, flags = receipts.effective(
            at=entry.at, quality=entry.quality, received=received, skew=skew, floor=floor
        )
        entry.flags += flags

    def _seen(
        self, todo: list[Entry], known: dict[str, Stored], epoch: str
    ) -> dict[tuple[str, int], int]:
        """Returns the newest ``eff`` of each subject up to what its writer had pulled."""
        wanted = []
        for entry in todo:
            base = BASE.fullmatch(entry.base)
            if base and base[1] == epoch and not entry.sent and entry.id not in known:
                # Beyond the log nothing can have been seen; such a base is a phone's mistake.
                wanted += [(code, int(base[2])) for code in entry.subs]
        return self.store.newest(wanted)

    def _seen_until(self, entry: Entry, seen: dict[tuple[str, int], int]) -> int:
        """Returns the first ms after all that the writer had seen of the record's subjects."""
        base = BASE.fullmatch(entry.base) if seen else None
        if base is None:
            return 0
        return max((seen.get((code, int(base[2])), 0) for code in entry.subs), default=0) + 1

    def _role(self, entry: Entry, writers: dict[str, Any], received: int) -> str:
        """Returns the writer's authority at this moment: o, m, w, or - for none."""
        if entry.foreign:
            return "-"
        if entry.dev == self.identity.dev:
            return "o"
        row = writers[entry.dev]
        if row is None:  # its key proves it is ours: paired after the backup this log came from
            row = writers[entry.dev] = {
                "dev": entry.dev, "gen": entry.gen, "role": "", "person": "", "name": "",
                "letter": "", "state": "seen", "made": received, "seen": received,
            }  # fmt: skip
            self.store.put_device(**row)
        if row["state"] not in TRUSTED or row["gen"] != entry.gen:
            entry.flags.append("unknown" if row["state"] == "seen" else "revoked")
            return "-"
        return str(row["role"])[:1]

    def _who(
        self, entry: Entry, writers: dict[str, Any], stands: Standing | None, skew: int
    ) -> None:
        """Checks who is said to have written; the flag "by" marks a mere word.

        A device vouches for the person it was paired with. Another one is believed, with that
        person's own authority, where a PIN was shown here before the record was written.
        """
        row = writers[entry.dev]
        person = row["person"] if row else ""
        if not person or entry.by == person:
            return
        if stands and entry.by == stands.person and entry.at + skew >= stands.since:
            entry.role = stands.role[:1]
        else:
            entry.flags.append("by")

    def _place(self, fresh: list[Entry], received: int, top: Top) -> Top:
        """Numbers, chains and inserts; a row that raises is left out alone, as ``later``."""
        if not fresh:
            return top
        try:
            with self.store.savepoint():
                top = self._insert(top, fresh, received)
        except BROKEN:
            raise
        except Exception:
            log.exception("a push of %d records raised; taking them one by one", len(fresh))
            for entry in fresh:
                try:
                    with self.store.savepoint():
                        top = self._insert(top, [entry], received)
                except BROKEN:
                    raise
                except Exception:
                    log.exception("record %s cannot be stored now", entry.id)
                    entry.row, entry.code, entry.fresh = None, "later", False
        self.store.set_top(top)
        return top

    def _insert(self, top: Top, entries: list[Entry], received: int) -> Top:
        rows, subs, pos, h = [], [], top.pos, top.h
        for entry in entries:
            pos += 1
            if entry.sent:
                receipt, rmac = entry.sent
            else:
                receipt, rmac = receipts.make(
                    self._receipt_key, id_=entry.id, text=entry.text, epoch=top.epoch, pos=pos,
                    eff=entry.eff, quality=entry.quality, flags=entry.flags, role=entry.role,
                    dev=entry.dev, digest=entry.digest,
                )  # fmt: skip
                entry.said = {"e": top.epoch, "p": pos, "t": entry.eff, "a": entry.role,
                              "f": " ".join(entry.flags)}  # fmt: skip
            h = receipts.chain(h, entry.id, entry.text, receipt, entry.digest)
            entry.row = Stored(
                pos, entry.id, entry.st, entry.sq, entry.dev, entry.text, entry.mac, receipt, rmac,
                h, received,
            )  # fmt: skip
            rows.append(entry.row)
            subs += [(code, pos, entry.eff) for code in dict.fromkeys(entry.subs)]
        self.store.insert(rows, subs)
        for entry in entries:
            entry.code = entry.code or "ok"
            entry.fresh = True
        return Top(top.epoch, pos, h, top.gen)


def _fill(entry: Entry, parsed: dict[str, Any]) -> None:
    entry.id = entry.sent_id = parsed["id"]
    entry.st, entry.sq = parsed["st"], parsed["sq"]
    entry.dev, entry.gen, entry.at = parsed["dev"], parsed["gen"], parsed["at"]
    base, clock, subs = parsed.get("base"), parsed.get("cl"), parsed.get("sub")
    entry.by = parsed["by"] if isinstance(parsed.get("by"), str) else ""
    entry.base = base if isinstance(base, str) else ""
    quality = clock.get("q") if isinstance(clock, dict) else None
    entry.quality = quality if quality in receipts.QUALITIES else "none"
    if isinstance(subs, list):
        entry.subs = [c for c in subs[:1000] if isinstance(c, str) and ids.type_of(c)]


def answer(entry: Entry, held: set[str]) -> list[Any]:
    """Returns [id as sent, code, pos, receipt, rmac] for one record."""
    if entry.same_as and entry.same_as.row is None:
        entry.code = "later"
    row = entry.row or (entry.same_as.row if entry.same_as else None)
    if row is None:
        return [entry.sent_id or entry.id, entry.code, 0, "", ""]
    code = "held" if entry.code == "ok" and row.id in held else entry.code
    return [entry.sent_id or entry.id, code, row.pos, row.receipt, row.rmac]
