"""A real PostgreSQL for the tests: a cluster of its own in a folder of its own, gone afterwards."""

from __future__ import annotations

import getpass
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.ports import free_port

SETTINGS = (
    "listen_addresses = '127.0.0.1'",
    "max_connections = 120",
    "shared_buffers = 64MB",
    "wal_level = replica",
    "max_wal_senders = 4",
    "hot_standby = on",
)


def programs() -> Path:
    """Return the folder of PostgreSQL's programs, the newest there is.

    Raises:
        FileNotFoundError: PostgreSQL is not installed; tests/run installs it.
    """
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: float(p.parent.name))
    folders += [Path(p).resolve().parent for p in (shutil.which("initdb"),) if p]
    for folder in reversed(folders):
        if (folder / "initdb").exists() and (folder / "postgres").exists():
            return folder
    raise FileNotFoundError("initdb is not there: install the package postgresql")


def runner() -> str | None:
    """Return the user to run it as: PostgreSQL refuses root. None for the user of the tests."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        try:
            pwd.getpwnam(name)
        except KeyError:
            continue
        return name
    raise KeyError("no unprivileged user to run PostgreSQL as")


class Cluster:
    """One cluster: made at once, started and stopped at will."""

    def __init__(self, folder: Path, made: bool = False) -> None:
        self.folder, self.port, self.user = folder, free_port(), runner()
        self.data = folder / "data"
        if not made:
            self.run("initdb", "-D", str(self.data), "-U", "bagtrail", "-A", "trust", "-N",
                     "--locale=C", "-E", "UTF8")  # fmt: skip
            with (self.data / "postgresql.conf").open("a") as file:
                file.write("\n".join(SETTINGS) + "\n")

    def run(self, program: str, *words: str, check: bool = True, **more: Any) -> str:
        """Run one of PostgreSQL's programs as the cluster's user and return what it says."""
        done = subprocess.run(
            [str(programs() / program), *words], user=self.user, cwd=self.folder, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False, timeout=120,
            env={**os.environ, "HOME": str(self.folder), "LC_ALL": "C"}, **more,
        )  # fmt: skip
        if check and done.returncode:
            raise RuntimeError(f"{program}: {done.stdout}")
        return done.stdout

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = f"-p {self.port} -k {self.folder}"
        log = str(self.folder / "log")
        # Its output to a file of its own: a pipe that the server inherits would never end.
        with (self.folder / "ctl").open("w") as said:
            done = subprocess.run(
                [str(programs() / "pg_ctl"), "-D", str(self.data), "-o", options, "-l", log, "-w",
                 "-t", "60", "start"],
                user=self.user, cwd=self.folder, stdout=said, stderr=said, check=False, timeout=90,
            )  # fmt: skip
        if done.returncode:
            raise RuntimeError(Path(log).read_text() if Path(log).exists() else "no log")

    def stop(self, how: str = "fast") -> None:
        """Stop it: fast, or immediate as a cut of the power would."""
        self.run("pg_ctl", "-D", str(self.data), "-m", how, "-w", "-t", "60", "stop", check=False)

    def url(self, database: str) -> str:
        """Return the address of a database."""
        return f"postgresql://bagtrail@127.0.0.1:{self.port}/{database}"

    def sql(self, text: str, database: str = "postgres") -> list[Any]:
        """Run SQL outside a transaction and return its rows."""
        import psycopg

        with psycopg.connect(self.url(database), autocommit=True) as connection:
            cursor = connection.execute(text)
            return cursor.fetchall() if cursor.description else []

    def make_database(self, name: str) -> str:
        """Make a database and return its address."""
        self.sql(f'CREATE DATABASE "{name}"')
        return self.url(name)

    def drop_database(self, name: str) -> None:
        """Drop a database, whoever is connected."""
        self.sql(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')

    def dump(self, database: str) -> Path:
        """Dump a database with pg_dump and return the file."""
        path = self.folder / f"{database}.dump"
        self.run("pg_dump", "-Fc", "-f", str(path), self.url(database))
        return path

    def put_back(self, dump: Path, database: str) -> str:
        """Make a database anew from a dump and return its address."""
        self.drop_database(database)
        self.make_database(database)
        self.run("pg_restore", "-d", self.url(database), str(dump))
        return self.url(database)

    def replica(self, folder: Path) -> Cluster:
        """Return a stopped replica of this running cluster in another folder."""
        shutil.chown(folder, self.user, None) if self.user else None
        self.run("pg_basebackup", "-D", str(folder / "data"), "-R", "-X", "stream", "-c", "fast",
                 "-d", f"postgresql://bagtrail@127.0.0.1:{self.port}/postgres")  # fmt: skip
        return Cluster(folder, made=True)


@contextmanager
def cluster() -> Iterator[Cluster]:
    """A running cluster for as long as it is needed."""
    with folder() as made:
        found = Cluster(made)
        found.start()
        try:
            yield found
        finally:
            found.stop("immediate")


@contextmanager
def folder() -> Iterator[Path]:
    """A folder that the cluster's user may use; pytest's own are closed to others."""
    made = Path(tempfile.mkdtemp(prefix="bagtrail-pg-"))
    user = runner()
    try:
        if user:
            shutil.chown(made, user)
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)


def who() -> str:
    """Return the user it runs as, for messages."""
    return runner() or getpass.getuser()
