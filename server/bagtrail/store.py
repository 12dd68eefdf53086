"""The database: the log, its head, devices and cached state. Only peewee here and in migrations.

Writers are serialised three ways that do not depend on each other: one lock in the process
(SQLite's own waiting made the slowest 1 % 25 times slower, measured in design/network.md), BEGIN
IMMEDIATE or the head row's lock between processes, and a busy time-out. Positions are taken
from the head row inside the transaction, so commit order is position order and a roll-back
gives its numbers back.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import peewee as pw

from .errors import BadSetting, Busy
from .migrations import migrate

EPOCH_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"
ZERO_HASH = "0" * 32  # h(0): the chain starts from sixteen zero bytes
BUSY_S = 10
BROKEN = pw.OperationalError  # disk full, locked, gone: no row's fault, so the whole push fails


class Head(pw.Model):
    one = pw.IntegerField(primary_key=True)
    epoch = pw.CharField()
    pos = pw.BigIntegerField()
    h = pw.CharField()
    gen = pw.BigIntegerField()


class Event(pw.Model):
    pos = pw.BigIntegerField(primary_key=True)
    id = pw.CharField()
    st = pw.CharField()
    sq = pw.BigIntegerField()
    dev = pw.CharField()
    text = pw.BlobField()
    mac = pw.CharField()
    receipt = pw.BlobField()
    rmac = pw.CharField()
    h = pw.CharField()
    rt = pw.BigIntegerField()


class EventSub(pw.Model):
    code = pw.CharField()
    pos = pw.BigIntegerField()
    eff = pw.BigIntegerField()

    class Meta:
        table_name = "event_sub"
        primary_key = False


class Device(pw.Model):
    dev = pw.CharField(primary_key=True)
    gen = pw.BigIntegerField()
    role = pw.CharField()
    person = pw.CharField()
    name = pw.CharField()
    letter = pw.CharField()
    state = pw.CharField()  # paired, revoked, or seen (known by its key only, after a restore)
    made = pw.BigIntegerField()
    seen = pw.BigIntegerField()


class Stream(pw.Model):
    st = pw.CharField(primary_key=True)
    dev = pw.CharField()
    contig = pw.BigIntegerField()
    top = pw.BigIntegerField()
    pending = pw.BigIntegerField()
    oldest = pw.BigIntegerField()
    seen = pw.BigIntegerField()


class Pairing(pw.Model):
    hash = pw.CharField(primary_key=True)
    role = pw.CharField()
    person = pw.CharField()
    expires = pw.BigIntegerField()
    used = pw.BigIntegerField()
    made_by = pw.CharField()


class Attempt(pw.Model):
    who = pw.CharField()
    at = pw.BigIntegerField()
    n = pw.IntegerField()

    class Meta:
        primary_key = False


class Snapshot(pw.Model):
    unit = pw.CharField(primary_key=True)
    pos = pw.BigIntegerField()
    json = pw.BlobField()


@dataclass(frozen=True)
class Stored:
    """One row of the log: the record's text as it came, and what the server said of it."""

    pos: int
    id: str
    st: str
    sq: int
    dev: str
    text: str
    mac: str
    receipt: str
    rmac: str
    h: str
    rt: int


@dataclass(frozen=True)
class Top:
    """Where the log ends: its epoch, last position and the chain's hash there."""

    epoch: str
    pos: int
    h: str
    gen: int


def new_epoch() -> str:
    """Returns the name of a new incarnation of a log."""
    return "e" + "".join(secrets.choice(EPOCH_ALPHABET) for _ in range(11))


def open_database(url: str) -> pw.Database:
    """Returns the database behind a URL, not yet connected.

    Raises:
        BadSetting: a scheme other than sqlite or postgresql.
    """
    scheme, _, rest = url.partition("://")
    if scheme == "sqlite" and rest.startswith("/"):
        path = rest[1:]
        Path(path).parent.mkdir(parents=True, exist_ok=True)
        return pw.SqliteDatabase(
            path,
            timeout=BUSY_S,
            pragmas={"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1},
        )
    if scheme in ("postgresql", "postgres"):
        from playhouse.db_url import connect  # needs psycopg, which a small farm does not

        return connect(url)
    raise BadSetting(f"BAGTRAIL_DATABASE is {url!r}; sqlite:///… and postgresql://… are known.")


class Store:
    """One open database. Methods that read need ``reading()`` or ``writing()`` around them."""

    def __init__(self, url: str) -> None:
        self.db = open_database(url)
        self._lock = threading.RLock()
        with self.reading():
            migrate(self.db, self.writing)

    # Transactions

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Holds this thread's connection; nested uses share it, the outermost closes it."""
        mine = self.db.is_closed()
        try:
            if mine:
                self.db.connect()
        except pw.OperationalError as down:
            raise Busy(f"The database cannot be opened ({down}).") from down
        try:
            yield
        finally:
            if mine:
                self.db.close()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One write transaction: committed at the end, rolled back by any exception.

        Raises:
            Busy: the database stayed locked, is full or cannot be written.
        """
        with self.reading(), self._lock:
            try:
                with self.db.atomic("IMMEDIATE") if self._sqlite else self.db.atomic():
                    yield
            except pw.OperationalError as bad:
                raise Busy(f"The database cannot be written at this moment ({bad}).") from bad

    def savepoint(self) -> Any:
        """A part of a write transaction that can be rolled back alone."""
        return self.db.savepoint()

    @property
    def _sqlite(self) -> bool:
        return isinstance(self.db, pw.SqliteDatabase)

    # The log

    def top(self, lock: bool = False) -> Top:
        """Returns the log's head; ``lock`` takes the head row for the rest of a transaction."""
        query = Head.select()
        if lock and not self._sqlite:
            query = query.for_update()
        for row in query.tuples().bind(self.db):
            return Top(*row[1:])
        return Top("", 0, ZERO_HASH, 0)

    def set_top(self, top: Top) -> None:
        """Moves the head; only inside a write transaction."""
        values = {"epoch": top.epoch, "pos": top.pos, "h": top.h, "gen": top.gen}
        if not Head.update(values).where(Head.one == 1).execute(self.db):
            Head.insert({"one": 1, **values}).execute(self.db)

    def insert(self, rows: list[Stored], subs: list[tuple[str, int, int]]) -> None:
        """Writes rows of the log and their (code, pos, eff)."""
        data = [
            {**row.__dict__, "text": row.text.encode(), "receipt": row.receipt.encode()}
            for row in rows
        ]
        for part in pw.chunked(data, 500):
            Event.insert_many(part).execute(self.db)
        for part in pw.chunked(subs, 2000):
            fields = [EventSub.code, EventSub.pos, EventSub.eff]
            EventSub.insert_many(part, fields=fields).execute(self.db)

    def by_id(self, ids: Iterable[str]) -> dict[str, Stored]:
        """Returns the stored records with these ids."""
        found: dict[str, Stored] = {}
        for part in pw.chunked(ids, 500):
            for row in self._events(Event.id.in_(list(part))):
                found[row.id] = row
        return found

    def used(self, st: str, numbers: list[int]) -> set[int]:
        """Returns which of these numbers of a stream are already on the log."""
        taken: set[int] = set()
        for part in pw.chunked(numbers, 500):
            query = Event.select(Event.sq).where((Event.st == st) & Event.sq.in_(list(part)))
            taken.update(sq for (sq,) in query.tuples().bind(self.db))
        return taken

    def after(self, pos: int, limit: int = 1000) -> list[Stored]:
        """Returns the rows after a position, in order, at most ``limit``."""
        return list(self._events(Event.pos > pos, limit))

    def at(self, pos: int) -> Stored | None:
        """Returns the row at a position."""
        return next(self._events(Event.pos == pos, 1), None)

    def hash_at(self, pos: int) -> str | None:
        """Returns the chain's hash after a position; None where the log has no such row."""
        if pos == 0:
            return ZERO_HASH
        query = Event.select(Event.h).where(Event.pos == pos)
        return next((h for (h,) in query.tuples().bind(self.db)), None)

    def newest_eff(self, codes: list[str], pos: int) -> int:
        """Returns the newest ``eff`` of the records up to ``pos`` that name one of the codes."""
        newest = 0
        for part in pw.chunked(codes, 500):
            query = EventSub.select(pw.fn.MAX(EventSub.eff)).where(
                EventSub.code.in_(list(part)) & (EventSub.pos <= pos)
            )
            for (eff,) in query.tuples().bind(self.db):
                newest = max(newest, eff or 0)
        return newest

    def _events(self, where: Any, limit: int | None = None) -> Iterator[Stored]:
        query = Event.select().where(where).order_by(Event.pos).limit(limit).tuples()
        for pos, id_, st, sq, dev, text, mac, receipt, rmac, h, rt in query.bind(self.db):
            yield Stored(
                pos, id_, st, sq, dev, bytes(text).decode(), mac, bytes(receipt).decode(), rmac, h,
                rt,
            )  # fmt: skip

    # Streams

    def stream(self, st: str) -> dict[str, Any] | None:
        """Returns what is known of a stream."""
        return next(iter(Stream.select().where(Stream.st == st).dicts().bind(self.db)), None)

    def streams(self) -> list[dict[str, Any]]:
        """Returns every stream, last heard first."""
        return list(Stream.select().order_by(Stream.seen.desc()).dicts().bind(self.db))

    def advance(self, st: str, dev: str, now: int) -> int:
        """Brings a stream's ``contig`` (1..contig all stored) and ``top`` up to the log."""
        known = self.stream(st)
        contig = known["contig"] if known else 0
        top = known["top"] if known else 0
        query = Event.select(Event.sq).where((Event.st == st) & (Event.sq > contig))
        for (sq,) in query.order_by(Event.sq).tuples().bind(self.db):
            if sq == contig + 1:
                contig = sq
            top = max(top, sq)
        values = {"contig": contig, "top": top, "seen": now}
        if known:
            Stream.update(values).where(Stream.st == st).execute(self.db)
        else:
            Stream.insert({"st": st, "dev": dev, "pending": 0, "oldest": 0, **values}).execute(
                self.db
            )
        return int(contig)

    def note_stream(self, st: str, pending: int, oldest: int) -> None:
        """Keeps what a phone said still waits on it."""
        Stream.update(pending=pending, oldest=oldest).where(Stream.st == st).execute(self.db)

    # Devices and codes

    def device(self, dev: str) -> dict[str, Any] | None:
        """Returns a device's row."""
        return next(iter(Device.select().where(Device.dev == dev).dicts().bind(self.db)), None)

    def devices(self) -> list[dict[str, Any]]:
        """Returns every device, oldest first."""
        return list(Device.select().order_by(Device.made, Device.dev).dicts().bind(self.db))

    def put_device(self, **row: Any) -> None:
        """Writes a device's row, new or changed."""
        Device.delete().where(Device.dev == row["dev"]).execute(self.db)
        Device.insert(row).execute(self.db)

    def saw_device(self, dev: str, now: int) -> None:
        """Keeps when a device was last heard."""
        Device.update(seen=now).where(Device.dev == dev).execute(self.db)

    def put_pairing(self, **row: Any) -> None:
        """Writes a one-time code (its hash); codes long expired go."""
        Pairing.delete().where(Pairing.expires < row["expires"] - 86_400_000).execute(self.db)
        Pairing.insert(row).execute(self.db)

    def take_pairing(self, hash_: str, now: int) -> dict[str, Any] | None:
        """Uses up a code and returns its row; None when unknown, used or expired.

        One UPDATE decides, so two phones that type the same code at once cannot both win.
        """
        fresh = (Pairing.hash == hash_) & (Pairing.used == 0) & (Pairing.expires > now)
        if not Pairing.update(used=now).where(fresh).execute(self.db):
            return None
        return next(iter(Pairing.select().where(Pairing.hash == hash_).dicts().bind(self.db)), None)

    def drop_pairings(self, made_by: str) -> None:
        """Takes back the unused codes that one device made."""
        Pairing.delete().where((Pairing.made_by == made_by) & (Pairing.used == 0)).execute(self.db)

    def attempts(self, since: int, who: str | None = None) -> int:
        """Returns how many wrong codes were tried since a time, by everyone or one address."""
        query = Attempt.select().where(Attempt.at >= since)
        if who is not None:
            query = query.where(Attempt.who == who)
        return int(query.bind(self.db).count())

    def note_attempt(self, who: str, now: int, keep_ms: int) -> None:
        """Keeps a wrong try, and forgets those older than ``keep_ms``."""
        Attempt.delete().where(Attempt.at < now - keep_ms).execute(self.db)
        again = Attempt.select().where((Attempt.who == who) & (Attempt.at == now))
        Attempt.insert(who=who, at=now, n=again.bind(self.db).count()).execute(self.db)

    # Cached state

    def snapshot_meta(self) -> str | None:
        """Returns what the cached state says of itself (kept as the unit with no name)."""
        query = Snapshot.select(Snapshot.json).where(Snapshot.unit == "")
        return next((bytes(text).decode() for (text,) in query.tuples().bind(self.db)), None)

    def snapshot_rows(self) -> Iterator[tuple[str, str]]:
        """Yields (unit, JSON text) of the cached state."""
        query = Snapshot.select(Snapshot.unit, Snapshot.json).where(Snapshot.unit != "")
        for unit, text in query.order_by(Snapshot.unit).tuples().bind(self.db):
            yield unit, bytes(text).decode()

    def put_snapshot(self, rows: Iterable[tuple[str, str]], pos: int) -> None:
        """Writes cached rows, each in place of the one before."""
        for part in pw.chunked(rows, 200):
            data = [{"unit": unit, "pos": pos, "json": text.encode()} for unit, text in part]
            Snapshot.delete().where(Snapshot.unit.in_([d["unit"] for d in data])).execute(self.db)
            Snapshot.insert_many(data).execute(self.db)

    def keep_snapshots(self, units: list[str]) -> None:
        """Drops cached rows of units that are no more."""
        query = Snapshot.select(Snapshot.unit).where(Snapshot.unit != "")
        there = [unit for (unit,) in query.tuples().bind(self.db)]
        for part in pw.chunked(set(there) - set(units), 500):
            Snapshot.delete().where(Snapshot.unit.in_(list(part))).execute(self.db)

    def drop_snapshot(self) -> None:
        """Throws the cached state away; the log folds to it again."""
        Snapshot.delete().execute(self.db)
