"""Copies of the whole database, and what is known of the backups made of them.

A copy is always an SQLite file, also of a log on PostgreSQL: it can be opened, checked and folded
anywhere, needs no second program of a fitting version, and moves a farm either way.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import peewee as pw

from ..errors import BadBackup
from .database import Database
from .log import EVENT
from .rows import Backup, Head, Origin

# What a copy holds; cached state is folded again, backups are known by whoever made them.
TABLES: dict[str, tuple[str, ...]] = {
    "head": ("one", "epoch", "pos", "h", "gen"),
    "event": EVENT,
    "event_sub": ("code", "pos", "eff"),
    "epoch": ("epoch", "n", "pos", "h", "at", "why"),
    "came_back": ("epoch", "dev", "n", "at"),
    "device": ("dev", "gen", "role", "person", "name", "letter", "state", "made", "seen"),
    "met": ("dev", "told", "gen", "held"),
    "stream": ("st", "dev", "contig", "top", "pending", "oldest", "seen"),
    "pin": ("person", "hash"),
}
_PAGE = 5_000


class CopyRows(Database):
    """Copying out and in, and rows about backups."""

    def copy_to(self, path: Path) -> None:
        """Writes a whole copy as of one moment into a new SQLite file; nobody waits for it."""
        if self.sqlite:
            with closing(sqlite3.connect(path)) as target, pw.__exception_wrapper__:
                # In one step: in WAL mode it holds up no writer, and no writer makes it start over.
                self.db.connection().backup(target)
                for table in ("snapshot", "pairing", "attempt"):
                    target.execute(f"DELETE FROM {table}")
                target.commit()
                target.execute("VACUUM")
        else:
            copy = type(self)(f"sqlite:///{path}")
            with copy.reading(), self.db.atomic(), copy.writing():
                self.db.execute_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
                _pour(self, copy)
            copy.close_all()
        with closing(sqlite3.connect(path)) as target:
            # Whoever opens it next finds one whole file, with no log beside it.
            target.execute("PRAGMA journal_mode=DELETE")
        with path.open("rb+") as file:
            os.fsync(file.fileno())

    def take_from(self, path: Path) -> None:
        """Puts the content of a copy in place of everything here, in one transaction."""
        source = type(self)(f"sqlite:///{path}")
        with source.reading(), self.writing():
            for table in (*TABLES, "snapshot", "notice", "pairing", "attempt", "pin_try"):
                self.db.execute_sql(f"DELETE FROM {table}")
            _pour(source, self)
        source.close_all()

    def check_file(self) -> str:
        """Returns what SQLite's own check says of the file: "ok", or what is broken."""
        if not self.sqlite:
            return "ok"
        try:
            return "; ".join(str(row[0]) for row in self._all("PRAGMA integrity_check(5)"))
        except pw.DatabaseError as bad:
            return str(bad)

    # Backups

    def backups(self) -> list[dict[str, Any]]:
        """Returns every backup known of, newest first."""
        query = Backup.select().order_by(Backup.at.desc(), Backup.name.desc())
        return list(query.dicts().bind(self.db))

    def put_backup(self, **row: Any) -> None:
        """Writes what is known of a backup, new or changed."""
        Backup.delete().where(Backup.name == row["name"]).execute(self.db)
        Backup.insert(row).execute(self.db)

    def drop_backup(self, name: str) -> None:
        """Forgets a backup."""
        Backup.delete().where(Backup.name == name).execute(self.db)

    def claim_backup(self, now: int, every: int) -> bool:
        """Returns whether a scheduled backup is due and this process is the one to make it."""
        due = (Origin.one == 1) & (Origin.backup_at <= now - every)
        return bool(Origin.update(backup_at=now).where(due).execute(self.db))

    def raise_gen(self, least: int) -> int:
        """Raises ``gen`` above itself and above ``least``, and returns it (sync.md 3.4, rule 3)."""
        gen = self._all("SELECT gen FROM head")[0][0]
        gen = max(int(gen), least) + 1
        Head.update(gen=gen).where(Head.one == 1).execute(self.db)
        return gen


def _pour(source: Database, target: Database) -> None:
    for table, columns in TABLES.items():
        order = {"event": "pos", "event_sub": "code, pos"}.get(table, columns[0])
        if table not in ("event", "event_sub"):
            rows = source._all(f"SELECT {', '.join(columns)} FROM {table} ORDER BY {order}")
            target._many(table, columns, [tuple(row) for row in rows])
            continue
        last = 0
        while True:
            sql = f"SELECT {', '.join(columns)} FROM {table} WHERE pos > ? AND pos <= ?"
            rows = source._all(f"{sql} ORDER BY {order}", (last, last + _PAGE))
            target._many(table, columns, [tuple(row) for row in rows])
            last += _PAGE
            if last >= source._all("SELECT COALESCE(MAX(pos), 0) FROM event")[0][0]:
                break


def open_copy(path: Path) -> None:
    """Raises BadBackup unless a file is an SQLite database."""
    with open(path, "rb") as file:
        if file.read(16) != b"SQLite format 3\x00":
            raise BadBackup(f"{path.name} holds no database.")
