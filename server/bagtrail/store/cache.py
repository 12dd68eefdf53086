"""Folded state as cached rows: thrown away at will, the log folds to it again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import peewee as pw

from .database import Database
from .rows import Snapshot


class CacheRows(Database):
    """Rows of cached state."""

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
