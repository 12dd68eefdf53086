"""Records on their way into the log: read, known again, decided upon, numbered, chained, stored.

Works inside the write transaction of whoever calls; says of each record what became of it.
"""

from __future__ import annotations

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


@dataclass(frozen=True)
class Caller:
    """Who delivers: a device of this farm, proven by its token; says nothing of who wrote."""

    dev: str
    gen: int
    role: str = ""
    by: str = ""
    state: str = "seen"


@dataclass
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
    base: str = ""
    quality: str = "none"
    subs: list[str] = field(default_factory=list)
    sent: tuple[str, str] | None = None
    sent_eff: int = 0
    code: str = ""
    role: str = "-"
    eff: int = 0
    flags: list[str] = field(default_factory=list)
    row: Stored | None = None
    same_as: Entry | None = None


class Intake:
    """The way into one farm's log."""

    def __init__(self, identity: Identity, store: Store) -> None:
        self.identity = identity
        self.store = store
        self._receipt_key = keys.receipt_key(identity.master)

    def read(self, record: list[Any], caller: Caller, st: str) -> Entry:
        """Reads one sent record: who wrote it, and whether the MAC says so too."""
        entry = Entry(text=record[0], mac=record[1])
        said = ID_IN_TEXT.search(entry.text)
        entry.sent_id = said[1] if said else ""
        try:
            size = len(entry.text.encode())
        except UnicodeEncodeError:  # a lone surrogate has no bytes, so no MAC and no hash
            entry.code = "unauthentic"
            return entry
        entry.id = entry.sent_id or receipts.derived_id("", entry.text)
        if size > line.MAX_TEXT_BYTES:
            entry.code = "big"
            return entry
        try:
            parsed = line.parse(entry.text)
            _fill(entry, parsed)
        except line.NotARecord:
            # It cannot say whose it is; the device that delivers it vouches with its own key.
            entry.dev, entry.gen, entry.st = caller.dev, caller.gen, st
            entry.flags.append("unread")
        key = self.identity.stream_key(entry.dev, entry.gen, entry.st)
        if not keys.same(keys.mac(key, entry.text), entry.mac):
            entry.code = "unauthentic"
        elif len(record) == 4:
            self._read_receipt(entry, record[2], record[3])
        return entry

    def _read_receipt(self, entry: Entry, receipt: str, rmac: str) -> None:
        """Takes over what this farm once said of the record; anything else is ignored."""
        said = receipts.read(self._receipt_key, receipt, rmac, entry.text)
        if said and said["id"] in (entry.id, receipts.derived_id(entry.id, entry.text)):
            entry.id, entry.sent, entry.sent_eff = said["id"], (receipt, rmac), said["t"]

    def ingest(self, entries: list[Entry], caller: Caller, received: int, skew: int) -> None:
        """Decides on every authentic record and writes the new ones; inside a transaction."""
        todo = sorted((e for e in entries if not e.code), key=lambda e: (e.st, e.sq))
        known = self.store.by_id([e.id for e in todo])
        mine: dict[str, Entry] = {}
        numbers: dict[str, list[int]] = {}
        for entry in todo:
            numbers.setdefault(entry.st, []).append(entry.sq)
        used = {st: self.store.used(st, taken) for st, taken in numbers.items()}
        writers = {dev: self.store.device(dev) for dev in {e.dev for e in todo}}
        epoch = self.store.top().epoch
        fresh: list[Entry] = []
        last_eff: dict[str, int] = {}
        for entry in todo:
            self._identify(entry, known, mine)
            if entry.row or entry.same_as:
                continue
            if entry.sq in used[entry.st] and "unread" not in entry.flags and not entry.code:
                entry.code = "fork"
                entry.flags.append("fork")
            used[entry.st].add(entry.sq)
            own = entry.dev == caller.dev and entry.gen == caller.gen
            if entry.sent:  # decided by this farm before; only taken over
                entry.eff = entry.sent_eff
            else:
                entry.role = self._role(entry, writers, received)
                floor = max(last_eff.get(entry.st, 0), self._seen_until(entry, epoch))
                self._time(entry, received, skew if own else None, floor)
            last_eff[entry.st] = entry.eff
            mine[entry.id] = entry
            fresh.append(entry)
        self._place(fresh, received)

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
            known.update(self.store.by_id([entry.id]))

    def _time(self, entry: Entry, received: int, skew: int | None, floor: int) -> None:
        """Decides when the record counts."""
        entry.eff, flags = receipts.effective(
            at=entry.at, quality=entry.quality, received=received, skew=skew, floor=floor
        )
        entry.flags += flags

    def _seen_until(self, entry: Entry, epoch: str) -> int:
        """Returns the first ms after all that the writer had seen of the record's subjects."""
        base = BASE.fullmatch(entry.base)
        if base is None or base[1] != epoch or not entry.subs:
            return 0
        return self.store.newest_eff(entry.subs, int(base[2])) + 1

    def _role(self, entry: Entry, writers: dict[str, Any], received: int) -> str:
        """Returns the writer's authority at this moment: o, m, w, or - for none."""
        if entry.dev == self.identity.dev:
            return "o"
        row = writers[entry.dev]
        if row is None:  # its key proves it is ours: paired after the backup this log came from
            row = writers[entry.dev] = {
                "dev": entry.dev, "gen": entry.gen, "role": "", "person": "", "name": "",
                "letter": "", "state": "seen", "made": received, "seen": received,
            }  # fmt: skip
            self.store.put_device(**row)
        if row["state"] != "paired" or row["gen"] != entry.gen:
            entry.flags.append("unknown" if row["state"] == "seen" else "revoked")
            return "-"
        return str(row["role"])[:1]

    def _place(self, fresh: list[Entry], received: int) -> None:
        """Numbers, chains and inserts; a row that raises is left out alone, as ``later``."""
        top = self.store.top()
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
                    entry.row, entry.code = None, "later"
        self.store.set_top(top)

    def _insert(self, top: Top, entries: list[Entry], received: int) -> Top:
        rows, subs, pos, h = [], [], top.pos, top.h
        for entry in entries:
            pos += 1
            receipt, rmac = entry.sent or receipts.make(
                self._receipt_key, id_=entry.id, text=entry.text, epoch=top.epoch, pos=pos,
                eff=entry.eff, quality=entry.quality, flags=entry.flags, role=entry.role,
                dev=entry.dev,
            )  # fmt: skip
            h = receipts.chain(h, entry.id, entry.text, receipt)
            entry.row = Stored(
                pos, entry.id, entry.st, entry.sq, entry.dev, entry.text, entry.mac, receipt, rmac,
                h, received,
            )  # fmt: skip
            entry.code = entry.code or "ok"
            rows.append(entry.row)
            subs += [(code, pos, entry.eff) for code in dict.fromkeys(entry.subs)]
        self.store.insert(rows, subs)
        return Top(top.epoch, pos, h, top.gen)


def _fill(entry: Entry, parsed: dict[str, Any]) -> None:
    entry.id = entry.sent_id = parsed["id"]
    entry.st, entry.sq = parsed["st"], parsed["sq"]
    entry.dev, entry.gen, entry.at = parsed["dev"], parsed["gen"], parsed["at"]
    base, clock, subs = parsed.get("base"), parsed.get("cl"), parsed.get("sub")
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
