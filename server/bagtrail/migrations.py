"""The database's shape, as ordered, named steps that are only ever added to.

A step and the note that it ran commit together; a step that fails leaves nothing and stays
pending. Steps hold frozen SQL, never today's models, so that a database of any age walks the
same way. ``{blob}`` is the one word in which SQLite and PostgreSQL differ here.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import peewee

from .errors import BadData


@dataclass(frozen=True)
class Step:
    """One migration: its name for ever, and the SQL it runs."""

    name: str
    sql: tuple[str, ...]


STEPS: tuple[Step, ...] = (
    Step(
        "0001_log",
        (
            "CREATE TABLE head (one INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),"
            " epoch VARCHAR(12) NOT NULL, pos BIGINT NOT NULL, h VARCHAR(32) NOT NULL,"
            " gen BIGINT NOT NULL)",
            "CREATE TABLE event (pos BIGINT NOT NULL PRIMARY KEY, id VARCHAR(64) NOT NULL UNIQUE,"
            " st VARCHAR(16) NOT NULL, sq BIGINT NOT NULL, dev VARCHAR(17) NOT NULL,"
            " text {blob} NOT NULL, mac VARCHAR(32) NOT NULL, receipt {blob} NOT NULL,"
            " rmac VARCHAR(32) NOT NULL, h VARCHAR(32) NOT NULL, rt BIGINT NOT NULL)",
            # Not unique: a cloned phone uses a number twice, and both records are kept.
            "CREATE INDEX event_st_sq ON event (st, sq)",
            "CREATE TABLE event_sub (code VARCHAR(64) NOT NULL, pos BIGINT NOT NULL,"
            " eff BIGINT NOT NULL, PRIMARY KEY (code, pos))",
        ),
    ),
    Step(
        "0002_devices",
        (
            "CREATE TABLE device (dev VARCHAR(17) NOT NULL PRIMARY KEY, gen BIGINT NOT NULL,"
            " role VARCHAR(8) NOT NULL, person VARCHAR(9) NOT NULL, name VARCHAR(60) NOT NULL,"
            " letter VARCHAR(4) NOT NULL, state VARCHAR(12) NOT NULL, made BIGINT NOT NULL,"
            " seen BIGINT NOT NULL)",
            "CREATE TABLE stream (st VARCHAR(16) NOT NULL PRIMARY KEY, dev VARCHAR(17) NOT NULL,"
            " contig BIGINT NOT NULL, top BIGINT NOT NULL, pending BIGINT NOT NULL,"
            " oldest BIGINT NOT NULL, seen BIGINT NOT NULL)",
            "CREATE TABLE pairing (hash VARCHAR(64) NOT NULL PRIMARY KEY, role VARCHAR(8) NOT NULL,"
            " person VARCHAR(9) NOT NULL, expires BIGINT NOT NULL, used BIGINT NOT NULL,"
            " made_by VARCHAR(17) NOT NULL)",
            "CREATE TABLE attempt (who VARCHAR(64) NOT NULL, at BIGINT NOT NULL,"
            " n INTEGER NOT NULL, PRIMARY KEY (who, at, n))",
        ),
    ),
    Step(
        "0003_snapshots",
        (
            "CREATE TABLE snapshot (unit VARCHAR(64) NOT NULL PRIMARY KEY, pos BIGINT NOT NULL,"
            " json {blob} NOT NULL)",
        ),
    ),
    Step(
        "0004_epochs",
        (
            "CREATE TABLE epoch (epoch VARCHAR(12) NOT NULL PRIMARY KEY, n BIGINT NOT NULL,"
            " pos BIGINT NOT NULL, h VARCHAR(32) NOT NULL, at BIGINT NOT NULL,"
            " why VARCHAR(16) NOT NULL)",
            "INSERT INTO epoch (epoch, n, pos, h, at, why)"
            " SELECT epoch, 1, 0, '00000000000000000000000000000000', 0, 'new' FROM head"
            " WHERE epoch <> ''",
            "CREATE TABLE came_back (epoch VARCHAR(12) NOT NULL, dev VARCHAR(17) NOT NULL,"
            " n BIGINT NOT NULL, at BIGINT NOT NULL, PRIMARY KEY (epoch, dev))",
            "CREATE TABLE origin (one INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),"
            " place VARCHAR(80) NOT NULL, timeline BIGINT NOT NULL, backup_at BIGINT NOT NULL)",
            "CREATE TABLE met (dev VARCHAR(17) NOT NULL PRIMARY KEY, told VARCHAR(12) NOT NULL,"
            " gen BIGINT NOT NULL, held BIGINT NOT NULL)",
            "CREATE TABLE notice (what VARCHAR(24) NOT NULL PRIMARY KEY, at BIGINT NOT NULL,"
            " json {blob} NOT NULL)",
            # From here on `eff` is the newest of the code up to that position.
            "UPDATE event_sub SET eff = most.eff FROM (SELECT code, pos, MAX(eff) OVER"
            " (PARTITION BY code ORDER BY pos) AS eff FROM event_sub) AS most"
            " WHERE most.code = event_sub.code AND most.pos = event_sub.pos",
        ),
    ),
    Step(
        "0005_backups",
        (
            "CREATE TABLE backup (name VARCHAR(80) NOT NULL PRIMARY KEY,"
            " folder VARCHAR(1000) NOT NULL, at BIGINT NOT NULL, epoch VARCHAR(12) NOT NULL,"
            " pos BIGINT NOT NULL, h VARCHAR(32) NOT NULL, size BIGINT NOT NULL,"
            " verified BIGINT NOT NULL, fault VARCHAR(300) NOT NULL, elsewhere BOOLEAN NOT NULL,"
            " away BIGINT NOT NULL, gone BOOLEAN NOT NULL)",
        ),
    ),
    Step(
        "0006_pins",
        (
            "CREATE TABLE pin (person VARCHAR(9) NOT NULL PRIMARY KEY, hash VARCHAR(200) NOT NULL)",
            "CREATE TABLE pin_try (who VARCHAR(17) NOT NULL PRIMARY KEY, wrong BIGINT NOT NULL,"
            " until BIGINT NOT NULL)",
        ),
    ),
)


def applied(db: peewee.Database) -> list[str]:
    """Returns the names of the steps that ran, oldest first; only reads."""
    if not db.table_exists("migration"):
        return []
    rows = db.execute_sql("SELECT name FROM migration ORDER BY name").fetchall()
    return [name for (name,) in rows]


def migrate(
    db: peewee.Database,
    begin: Callable[[], object],
    steps: Sequence[Step] = STEPS,
) -> list[str]:
    """Runs the pending steps and returns their names.

    Args:
        begin: a callable that opens one exclusive write transaction (a context manager).

    Raises:
        BadData: the database was written by a newer version of Bagtrail.
    """
    blob = "BLOB" if isinstance(db, peewee.SqliteDatabase) else "BYTEA"
    known = [step.name for step in steps]
    done: list[str] = []
    if applied(db) == known:  # the usual start: no write lock taken
        return done
    for step in steps:
        with begin():  # type: ignore[attr-defined]
            names = applied(db)  # read again under the lock: another process may have been first
            newer = sorted(set(names) - set(known))
            if newer:
                raise BadData(
                    f"The database was written by a newer Bagtrail (step {newer[0]}).",
                    "Start the newer version, or take another data folder.",
                )
            if step.name in names:
                continue
            if not names:
                db.execute_sql(
                    "CREATE TABLE IF NOT EXISTS migration"
                    " (name VARCHAR(64) NOT NULL PRIMARY KEY, at BIGINT NOT NULL)"
                )
            for sql in step.sql:
                db.execute_sql(sql.format(blob=blob))
            db.execute_sql(
                f"INSERT INTO migration (name, at) VALUES ({db.param}, {db.param})",
                (step.name, int(time.time() * 1000)),
            )
            done.append(step.name)
    return done
