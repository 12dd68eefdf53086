"""The log and its head, its epochs, and what came back in each.

Positions are taken from the head row inside the transaction, so commit order is position order and
a roll-back gives its numbers back.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import peewee as pw

from ..errors import Replica
from .database import Database
from .rows import CameBack, Epoch, Head, Notice, Origin, Stored, Top

EPOCH_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"
ZERO_HASH = "0" * 32  # h(0): the chain starts from sixteen zero bytes
EVENT = ("pos", "id", "st", "sq", "dev", "text", "mac", "receipt", "rmac", "h", "rt")
_EVENTS = f"SELECT {', '.join(EVENT)} FROM event"
_LAST = 1 << 60  # above every position


def new_epoch() -> str:
    """Returns the name of a new incarnation of a log."""
    return "e" + "".join(secrets.choice(EPOCH_ALPHABET) for _ in range(11))


class LogRows(Database):
    """Rows of the log."""

    def top(self, lock: bool = False) -> Top:
        """Returns the log's head; ``lock`` takes the head row for the rest of a transaction.

        Raises:
            Replica: the database only follows another one, whose order of commits it may show
                differently (sync.md C8).
        """
        if self.sqlite:
            sql = "SELECT epoch, pos, h, gen FROM head"
        else:
            sql = "SELECT epoch, pos, h, gen, pg_is_in_recovery() FROM head"
            sql += " FOR UPDATE" if lock else ""
        for row in self._all(sql):
            if len(row) == 5 and row[4]:
                raise Replica()
            return Top(*row[:4])
        return Top("", 0, ZERO_HASH, 0)

    def set_top(self, top: Top) -> None:
        """Moves the head; only inside a write transaction."""
        values = {"epoch": top.epoch, "pos": top.pos, "h": top.h, "gen": top.gen}
        if not Head.update(values).where(Head.one == 1).execute(self.db):
            Head.insert({"one": 1, **values}).execute(self.db)

    def insert(self, rows: list[Stored], subs: list[tuple[str, int, int]]) -> None:
        """Writes rows of the log and their (code, pos, eff).

        What ``event_sub`` keeps of a code is its newest ``eff`` up to the position, so that one
        look at an index says what a writer had seen, however long the code's history.
        """
        newest = {
            code: eff for (code, _), eff in self.newest((c, _LAST) for c, _, _ in subs).items()
        }
        running = []
        for code, pos, eff in subs:
            newest[code] = eff = max(eff, newest.get(code, 0))
            running.append((code, pos, eff))
        self._many(
            "event",
            EVENT,
            [(r.pos, r.id, r.st, r.sq, r.dev, r.text.encode(), r.mac, r.receipt.encode(), r.rmac,
              r.h, r.rt) for r in rows],
        )  # fmt: skip
        if running:
            self._many("event_sub", ("code", "pos", "eff"), running)

    def by_id(self, ids: Iterable[str]) -> dict[str, Stored]:
        """Returns the stored records with these ids."""
        found: dict[str, Stored] = {}
        for part in pw.chunked(ids, 500):
            values = list(part)
            for row in self._events(f"WHERE id IN ({_marks(values)})", values):
                found[row.id] = row
        return found

    def known(self, ids: Sequence[str]) -> set[str]:
        """Returns which of these ids are on the log."""
        found: set[str] = set()
        for part in pw.chunked(ids, 5000):
            values = list(part)
            rows = self._all(f"SELECT id FROM event WHERE id IN ({_marks(values)})", values)
            found.update(id_ for (id_,) in rows)
        return found

    def used(self, st: str, numbers: list[int]) -> set[int]:
        """Returns which of these numbers of a stream are already on the log."""
        newest = self._all("SELECT MAX(sq) FROM event WHERE st = ?", (st,))[0][0]
        if newest is None or newest < min(numbers):  # the usual: a stream goes on
            return set()
        taken: set[int] = set()
        for part in pw.chunked(numbers, 500):
            values = [st, *part]
            sql = f"SELECT sq FROM event WHERE st = ? AND sq IN ({_marks(values[1:])})"
            taken.update(sq for (sq,) in self._all(sql, values))
        return taken

    def after(self, pos: int, limit: int = 1000) -> list[Stored]:
        """Returns the rows after a position, in order, at most ``limit``."""
        return list(self._events("WHERE pos > ? ORDER BY pos LIMIT ?", (pos, limit)))

    def at(self, pos: int) -> Stored | None:
        """Returns the row at a position."""
        return next(self._events("WHERE pos = ?", (pos,)), None)

    def hash_at(self, pos: int) -> str | None:
        """Returns the chain's hash after a position; None where the log has no such row."""
        if pos == 0:
            return ZERO_HASH
        return next((h for (h,) in self._all("SELECT h FROM event WHERE pos = ?", (pos,))), None)

    def newest(self, wanted: Iterable[tuple[str, int]]) -> dict[tuple[str, int], int]:
        """Returns for each (code, pos) the newest ``eff`` up to there of what names the code."""
        found: dict[tuple[str, int], int] = {}
        for part in pw.chunked(dict.fromkeys(wanted), 400):
            pairs = list(part)
            one = "(CAST(? AS VARCHAR(64)), CAST(? AS BIGINT))"
            sql = (
                f"WITH asked(code, pos) AS (VALUES {', '.join([one] * len(pairs))})"
                " SELECT code, pos, (SELECT s.eff FROM event_sub s WHERE s.code = asked.code"
                " AND s.pos <= asked.pos ORDER BY s.pos DESC LIMIT 1) FROM asked"
            )
            for code, pos, eff in self._all(sql, [v for pair in pairs for v in pair]):
                if eff is not None:
                    found[(code, pos)] = eff
        return found

    def _events(self, rest: str, values: Sequence[Any]) -> Iterator[Stored]:
        for pos, id_, st, sq, dev, text, mac, receipt, rmac, h, rt in self._all(
            f"{_EVENTS} {rest}", values
        ):
            yield Stored(
                pos, id_, st, sq, dev, bytes(text).decode(), mac, bytes(receipt).decode(), rmac, h,
                rt,
            )  # fmt: skip

    # Epochs

    def epochs(self) -> list[str]:
        """Returns the epochs of this log, oldest first, with those met that were lost here."""
        return [e for (e,) in self._all("SELECT epoch FROM epoch ORDER BY n")]

    def epoch(self, epoch: str) -> dict[str, Any] | None:
        """Returns what is known of an epoch."""
        return next(iter(Epoch.select().where(Epoch.epoch == epoch).dicts().bind(self.db)), None)

    def begin_epoch(self, epoch: str, top: Top, at: int, why: str) -> None:
        """Enters a new epoch behind all others."""
        n = self._all("SELECT COALESCE(MAX(n), 0) + 1 FROM epoch")[0][0]
        Epoch.insert(epoch=epoch, n=n, pos=top.pos, h=top.h, at=at, why=why).execute(self.db)

    def lost_epoch(self, epoch: str, now: str, at: int, why: str) -> None:
        """Enters an epoch that this log has lost, right before the one in which it was met."""
        n = self._all("SELECT n FROM epoch WHERE epoch = ?", (now,))[0][0]
        Epoch.update(n=Epoch.n + 1).where(Epoch.n >= n).execute(self.db)
        row = {"epoch": epoch, "n": n, "pos": 0, "h": ZERO_HASH, "at": at, "why": why}
        Epoch.insert(row).execute(self.db)

    def met_epoch(self, epoch: str) -> None:
        """Notes that an epoch known from receipts was met in a proof, too."""
        Epoch.update(why="lost").where(Epoch.epoch == epoch).execute(self.db)

    def note_back(self, epoch: str, dev: str, n: int, at: int) -> None:
        """Counts records that a device brought back in an epoch."""
        mine = (CameBack.epoch == epoch) & (CameBack.dev == dev)
        more = {CameBack.n: CameBack.n + n, CameBack.at: at}
        if not CameBack.update(more).where(mine).execute(self.db):
            CameBack.insert(epoch=epoch, dev=dev, n=n, at=at).execute(self.db)

    def came_back(self, epoch: str) -> dict[str, int]:
        """Returns how many records each device brought back in an epoch."""
        rows = self._all("SELECT dev, n FROM came_back WHERE epoch = ? ORDER BY dev", (epoch,))
        return dict(tuple(row) for row in rows)

    def origin(self) -> tuple[str, int]:
        """Returns in which database and on which timeline the log was last found."""
        rows = self._all("SELECT place, timeline FROM origin")
        return (rows[0][0], rows[0][1]) if rows else ("", 0)

    def set_origin(self, place: str, timeline: int) -> None:
        """Keeps in which database the log is."""
        values = {"place": place, "timeline": timeline}
        if not Origin.update(values).where(Origin.one == 1).execute(self.db):
            Origin.insert({"one": 1, "backup_at": 0, **values}).execute(self.db)

    # Notices

    def notice(self, what: str) -> tuple[int, str] | None:
        """Returns (ms, JSON text) of a notice to the owner."""
        rows = self._all("SELECT at, json FROM notice WHERE what = ?", (what,))
        return (rows[0][0], bytes(rows[0][1]).decode()) if rows else None

    def put_notice(self, what: str, at: int, text: str) -> None:
        """Keeps a notice, in place of the one before."""
        self.drop_notice(what)
        Notice.insert(what=what, at=at, json=text.encode()).execute(self.db)

    def drop_notice(self, what: str) -> None:
        """Takes a notice away."""
        Notice.delete().where(Notice.what == what).execute(self.db)


def _marks(values: Sequence[Any]) -> str:
    return ", ".join("?" * len(values))
