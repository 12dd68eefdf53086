"""Connections and transactions, over SQLite or PostgreSQL; what the two do differently is here.

Writers are serialised three ways that do not depend on each other: one lock in the process
(SQLite's own waiting made the slowest 1 % 25 times slower, measured in design/network.md), BEGIN
IMMEDIATE or the head row's lock between processes, and a busy time-out.
"""

from __future__ import annotations

import sqlite3
import threading
import time
import weakref
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import peewee as pw

from ..errors import BadSetting, Busy, Replica
from ..migrations import migrate

BUSY_S = 10
CONNECTIONS = 20  # a process has eight threads of requests and a few of its own
IDLE_S = 300
HOLD_S = 2.0
BROKEN = pw.OperationalError  # disk full, locked, gone: no row's fault, so the whole push fails
# An acknowledged record is on the disk whatever the cluster's default says, and nobody waits for
# ever behind a writer that died.
PG_OPTIONS = (
    "-c synchronous_commit=on -c lock_timeout=10s -c idle_in_transaction_session_timeout=60s"
)


def open_database(url: str) -> pw.Database:
    """Returns the database behind a URL, not yet connected.

    Raises:
        BadSetting: a scheme other than sqlite or postgresql, or no driver for it.
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
        return _postgres(f"postgresql://{rest}")
    raise BadSetting(f"BAGTRAIL_DATABASE is {url!r}; sqlite:///… and postgresql://… are known.")


def _postgres(url: str) -> pw.Database:
    from playhouse.pool import PooledPostgresqlDatabase

    try:
        import psycopg  # noqa: F401  (a small farm does not install it)
    except ImportError as bad:
        raise BadSetting(
            "BAGTRAIL_DATABASE names PostgreSQL, but its driver is not installed.",
            "Install Bagtrail with the extra `postgres`.",
        ) from bad
    more = {} if "options=" in url else {"options": PG_OPTIONS}
    return PooledPostgresqlDatabase(
        url, max_connections=CONNECTIONS, stale_timeout=IDLE_S, prefer_psycopg3=True,
        connect_timeout=BUSY_S, **more,
    )  # fmt: skip


class Database:
    """One open database. Methods that read need ``reading()`` or ``writing()`` around them."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.db = open_database(url)
        self.sqlite = isinstance(self.db, pw.SqliteDatabase)
        self._lock = threading.RLock()
        self._holding = threading.Lock()
        self._held: list[sqlite3.Connection] = []  # one at most
        self._used = 0.0
        # Also at the end of a command, and of a process.
        weakref.finalize(self, _close, self._held)
        if not self.sqlite:
            weakref.finalize(self, self.db.close_all)
        with self.reading():
            migrate(self.db, self.writing)

    @property
    def file(self) -> Path | None:
        """Where an SQLite database lies; None for PostgreSQL."""
        return Path(self.db.database) if self.sqlite else None

    @property
    def is_here(self) -> bool:
        """Tells whether the database lies on this machine."""
        host = "" if self.sqlite else urlsplit(self.url).hostname or ""
        return host in ("", "localhost", "127.0.0.1", "::1")

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Holds this thread's connection; nested uses share it, the outermost closes it.

        Raises:
            Busy: the database cannot be opened, or was lost while it was read.
        """
        mine = self.db.is_closed()
        try:
            if mine:
                self.db.connect()
                self._hold()
        except (pw.OperationalError, ValueError) as down:  # ValueError: the pool is used up
            raise Busy(f"The database cannot be opened ({_first(down)}).") from down
        try:
            yield
        except (pw.OperationalError, pw.InterfaceError) as lost:
            if not mine:
                raise
            raise Busy(f"The database was lost ({_first(lost)}).") from lost
        finally:
            if mine:
                self.db.close()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One write transaction: committed at the end, rolled back by any exception.

        Raises:
            Busy: the database stayed locked, is full or cannot be written.
            Replica: the database only follows another one.
        """
        with self.reading(), self._lock:
            try:
                with self.db.atomic("IMMEDIATE") if self.sqlite else self.db.atomic():
                    yield
            except (pw.OperationalError, pw.InterfaceError) as bad:
                raise Busy(
                    f"The database cannot be written at this moment ({_first(bad)})."
                ) from bad
            except pw.InternalError as bad:
                if "read-only" in str(bad):
                    raise Replica() from bad
                raise

    def savepoint(self) -> Any:
        """A part of a write transaction that can be rolled back alone."""
        return self.db.savepoint()

    def where(self) -> tuple[str, int]:
        """Returns which database this is and on which timeline, ("", 0) on SQLite.

        The identifier of the cluster changes with dump and restore into another one, the oids
        with a restore into the same one, the timeline with a promotion or recovery to a point.
        """
        if self.sqlite:
            return "", 0
        row = self._all(
            "SELECT (SELECT system_identifier FROM pg_control_system()),"
            " (SELECT oid FROM pg_database WHERE datname = current_database()),"
            " CAST(CAST('head' AS regclass) AS oid),"
            " CASE WHEN pg_is_in_recovery() THEN '' ELSE pg_walfile_name(pg_current_wal_lsn()) END"
        )[0]
        return f"{row[0]}.{row[1]}.{row[2]}", int(row[3][:8] or "0", 16)

    def close_all(self) -> None:
        """Closes what is kept open between uses."""
        if not self.sqlite:
            self.db.close_all()
        with self._holding:
            _close(self._held)

    def _hold(self) -> None:
        """Keeps one SQLite connection open while the farm is busy.

        Closing the last one brings the whole write-ahead log into the file: four milliseconds and
        two flushes a request. An idle farm lets go, so that its file is again the whole of it.
        """
        self._used = time.monotonic()
        if not self.sqlite or self._held:
            return
        with self._holding:
            if not self._held:
                held = sqlite3.connect(str(self.file), check_same_thread=False)
                held.execute("SELECT COUNT(*) FROM sqlite_master").fetchall()
                self._held.append(held)
                self._watch(HOLD_S)

    def _watch(self, after: float) -> None:
        timer = threading.Timer(after, self._let_go)
        timer.daemon = True
        timer.start()

    def _let_go(self) -> None:
        idle = time.monotonic() - self._used
        if self._held and idle < HOLD_S:
            self._watch(HOLD_S - idle)
            return
        with self._holding:
            _close(self._held)

    # SQL by hand, where building a query costs more than running it. The mark of a parameter is ?.

    def _all(self, sql: str, values: Sequence[Any] = ()) -> list[Any]:
        if not self.sqlite:
            sql = sql.replace("?", "%s")
        return list(self.db.execute_sql(sql, tuple(values) or None).fetchall())

    def _many(self, table: str, columns: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> None:
        """Inserts rows of bare values: one prepared statement, or COPY."""
        names = ", ".join(columns)
        with pw.__exception_wrapper__:
            cursor = self.db.connection().cursor()
            if self.sqlite:
                marks = ", ".join("?" * len(columns))
                cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", rows)
                return
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)


def _close(held: list[sqlite3.Connection]) -> None:
    while held:
        held.pop().close()


def _first(error: BaseException) -> str:
    """Returns the first line of what a driver says: the rest repeats the statement."""
    return (str(error).strip().splitlines() or ["no reason given"])[0]
