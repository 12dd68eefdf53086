"""The database's shape: every step walked with a real row, from every age to now."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from bagtrail import store
from bagtrail.errors import BadData
from bagtrail.migrations import STEPS, Step, applied, migrate

# One row a table as that step's own SQL knew it; a later step must carry it along.
ROWS: dict[str, tuple[tuple[str, tuple[Any, ...]], ...]] = {
    "0001_log": (
        ("head", (1, "e" + "0" * 11, 1, "a" * 32, 3)),
        ("event", (1, "00000000-0000-7000-8000-000000000001", "0" * 16, 1, "d" + "0" * 16,
                   b'{"v":1}', "b" * 32, b"{}", "c" * 32, "a" * 32, 1_700_000_000_000)),
        ("event_sub", ("B0000001K", 1, 1_700_000_000_000)),
    ),
    "0002_devices": (
        ("device", ("d" + "0" * 16, 1, "owner", "W00000012", "Phone", "A", "paired", 1, 2)),
        ("stream", ("0" * 16, "d" + "0" * 16, 1, 1, 0, 0, 5)),
        ("pairing", ("f" * 64, "owner", "W00000012", 9, 0, "start")),
        ("attempt", ("127.0.0.1", 5, 0)),
    ),
    "0003_snapshots": (("snapshot", ("farm", 1, b"{}")),),
    "0004_epochs": (
        ("epoch", ("e" + "1" * 11, 2, 1, "a" * 32, 5, "restored")),
        ("came_back", ("e" + "1" * 11, "d" + "0" * 16, 3, 5)),
        ("origin", (1, "7.8.9", 1, 0)),
        ("met", ("d" + "0" * 16, "e" + "1" * 11, 3, 0)),
        ("notice", ("two_servers", 5, b"{}")),
    ),
    "0005_backups": (
        ("backup", ("a.zip", "/backups", 5, "e" + "1" * 11, 1, "a" * 32, 9, 6, "", 1, 0, 0)),
    ),
    "0006_pins": (
        ("pin", ("W00000012", "$argon2id$v=19$m=19456,t=2,p=1$YQ$YQ")),
        ("pin_try", ("W00000012", 4, 5)),
    ),
}  # fmt: skip


def open_old(path: Path, steps: int) -> Any:
    """Returns an open database as it was after so many steps, with its rows."""
    db = store.open_database(f"sqlite:///{path}")
    db.connect()
    migrate(db, lambda: db.atomic("IMMEDIATE"), STEPS[:steps])
    for step in STEPS[:steps]:
        for table, row in ROWS[step.name]:
            marks = ", ".join("?" * len(row))
            db.execute_sql(f"INSERT INTO {table} VALUES ({marks})", row)
    return db


def shape(db: Any) -> list[tuple[str, str]]:
    sql = "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name"
    return list(db.execute_sql(sql).fetchall())


@pytest.mark.parametrize("age", range(len(STEPS) + 1))
def test_database_of_any_age_comes_to_the_same_shape_with_its_rows(
    tmp_path: Path, age: int
) -> None:
    fresh = open_old(tmp_path / "new.db", len(STEPS))
    db = open_old(tmp_path / "old.db", age)
    done = migrate(db, lambda: db.atomic("IMMEDIATE"))
    assert done == [step.name for step in STEPS[age:]]
    assert applied(db) == [step.name for step in STEPS]
    assert shape(db) == shape(fresh)
    for step in STEPS[:age]:
        for table, row in ROWS[step.name]:
            assert list(db.execute_sql(f"SELECT * FROM {table}").fetchall()) == [row]
    db.close()
    fresh.close()


def test_store_opens_an_old_database_and_finds_its_record(tmp_path: Path) -> None:
    open_old(tmp_path / "farm.db", 1).close()
    opened = store.Store(f"sqlite:///{tmp_path / 'farm.db'}")
    with opened.reading():
        assert opened.top().gen == 3
        assert opened.after(0)[0].text == '{"v":1}'
        assert opened.newest([("B0000001K", 1)]) == {("B0000001K", 1): 1_700_000_000_000}
        assert opened.devices() == []


def test_every_step_has_rows_and_a_name_in_order() -> None:
    names = [step.name for step in STEPS]
    assert names == sorted(set(names))
    assert set(ROWS) == set(names)


def test_failed_step_leaves_nothing_and_stays_pending(tmp_path: Path) -> None:
    db = open_old(tmp_path / "farm.db", 1)
    before = shape(db)
    broken = (*STEPS[:1], Step("0002_x", ("CREATE TABLE fine (a INTEGER)", "NONSENSE")))
    with pytest.raises(Exception, match="syntax"):
        migrate(db, lambda: db.atomic("IMMEDIATE"), broken)
    assert shape(db) == before
    assert applied(db) == ["0001_log"]
    db.close()


def test_database_of_a_newer_version_is_left_alone(tmp_path: Path) -> None:
    db = open_old(tmp_path / "farm.db", len(STEPS))
    db.execute_sql("INSERT INTO migration VALUES ('9999_future', 1)")
    with pytest.raises(BadData, match="newer"):
        migrate(db, lambda: db.atomic("IMMEDIATE"))
    db.close()


def test_log_is_kept_with_full_synchronous_wal(tmp_path: Path) -> None:
    opened = store.Store(f"sqlite:///{tmp_path / 'farm.db'}")
    with opened.reading():
        assert opened.db.execute_sql("PRAGMA journal_mode").fetchone() == ("wal",)
        assert opened.db.execute_sql("PRAGMA synchronous").fetchone() == (2,)
        assert opened.db.execute_sql("PRAGMA busy_timeout").fetchone()[0] >= 5_000


def test_only_store_and_migrations_know_the_database() -> None:
    import bagtrail

    folder = Path(bagtrail.__file__).parent
    users = {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*.py")
        if "peewee" in path.read_text().split('"""', 2)[-1]
    }
    assert {user.split("/")[0] for user in users} == {"store", "migrations.py"}
