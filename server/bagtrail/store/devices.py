"""Streams, devices, one-time codes."""

from __future__ import annotations

from typing import Any

from .database import Database
from .rows import Attempt, Device, Met, Pairing, Pin, PinTry, Stream


class DeviceRows(Database):
    """Rows about who writes."""

    # Streams

    def stream(self, st: str) -> dict[str, Any] | None:
        """Returns what is known of a stream."""
        return next(iter(Stream.select().where(Stream.st == st).dicts().bind(self.db)), None)

    def streams(self) -> list[dict[str, Any]]:
        """Returns every stream, last heard first."""
        return list(Stream.select().order_by(Stream.seen.desc()).dicts().bind(self.db))

    def advance(self, st: str, dev: str, now: int, fresh: list[int] | None = None) -> int:
        """Brings a stream's ``contig`` (1..contig all stored) and ``top`` up to the log.

        Args:
            fresh: the numbers just stored, where the caller knows them; a stream whose next number
                is still missing is then not read again.
        """
        known = self.stream(st)
        contig, top = (known["contig"], known["top"]) if known else (0, 0)
        if fresh is None:
            rows = self._all("SELECT MAX(sq) FROM event WHERE st = ?", (st,))
            top = max(top, rows[0][0] or 0)
        else:
            top = max([top, *fresh])
        if fresh is None or contig + 1 in fresh:
            contig = self._contiguous(st, contig)
        values = {"contig": contig, "top": top, "seen": now}
        if known:
            Stream.update(values).where(Stream.st == st).execute(self.db)
        else:
            row = {"st": st, "dev": dev, "pending": 0, "oldest": 0, **values}
            Stream.insert(row).execute(self.db)
        return int(contig)

    def _contiguous(self, st: str, contig: int) -> int:
        sql = "SELECT sq FROM event WHERE st = ? AND sq > ? ORDER BY sq LIMIT 1000"
        while rows := self._all(sql, (st, contig)):
            before = contig
            for (sq,) in rows:
                if sq > contig + 1:
                    return contig
                contig = sq
            if contig == before:
                break
        return contig

    def gaps(self, st: str, contig: int) -> list[tuple[int, int]]:
        """Returns the ranges of a stream's numbers that never came, up to the highest that did."""
        found = []
        last = contig
        sql = "SELECT DISTINCT sq FROM event WHERE st = ? AND sq > ? ORDER BY sq"
        for (sq,) in self._all(sql, (st, contig)):
            if sq > last + 1:
                found.append((last + 1, sq - 1))
            last = sq
        return found

    def note_stream(self, st: str, pending: int, oldest: int) -> None:
        """Keeps what a phone said still waits on it."""
        Stream.update(pending=pending, oldest=oldest).where(Stream.st == st).execute(self.db)

    # Devices

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

    def met(self, dev: str) -> dict[str, Any]:
        """Returns the newest epoch a device proved to know, the ``gen`` then, and held records."""
        row = next(iter(Met.select().where(Met.dev == dev).dicts().bind(self.db)), None)
        return row or {"dev": dev, "told": "", "gen": 0, "held": 0}

    def put_met(self, **row: Any) -> None:
        """Writes what ``met`` returns."""
        Met.delete().where(Met.dev == row["dev"]).execute(self.db)
        Met.insert(row).execute(self.db)

    # One-time codes

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

    def drop_codes(self) -> None:
        """Takes back every unused code: a log put back must not revive one."""
        Pairing.delete().where(Pairing.used == 0).execute(self.db)

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

    # PINs

    def pin(self, person: str) -> str:
        """Returns the hash of a person's PIN, "" where there is none."""
        row = Pin.select().where(Pin.person == person).bind(self.db).first()
        return str(row.hash) if row else ""

    def pins(self) -> set[str]:
        """Returns who has a PIN."""
        return {row.person for row in Pin.select(Pin.person).bind(self.db)}

    def put_pin(self, person: str, hash_: str) -> None:
        """Writes a person's PIN, new or changed; "" takes it away."""
        Pin.delete().where(Pin.person == person).execute(self.db)
        if hash_:
            Pin.insert(person=person, hash=hash_).execute(self.db)

    def pin_try(self, who: str) -> tuple[int, int]:
        """Returns how many PINs went wrong for a person or on a device, and until when it waits."""
        row = PinTry.select().where(PinTry.who == who).bind(self.db).first()
        return (int(row.wrong), int(row.until)) if row else (0, 0)

    def put_pin_try(self, who: str, wrong: int, until: int) -> None:
        """Writes what ``pin_try`` returns."""
        PinTry.delete().where(PinTry.who == who).execute(self.db)
        if wrong:
            PinTry.insert(who=who, wrong=wrong, until=until).execute(self.db)
