"""PostgreSQL for real: eight writers at once, restores, replicas, several servers on one log."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import threading
import time
from concurrent.futures import ThreadPoolExecutor, wait
from pathlib import Path
from typing import Any

import pytest
from tests import postgres as pg
from tests.model import ModelPhone
from tests.ports import free_port
from tests.served import Served, wait_until
from tests.server.test_restore import Farm, held_by
from tests.simulation import Server
from tests.wires import over_http

from bagtrail.errors import Busy, Replica

LONG = bool(os.environ.get("BAGTRAIL_LONG"))
SECONDS = 20 if LONG else 2


@pytest.mark.parametrize("on", ["sqlite", "postgresql"])
def test_P6_C1_eight_writers_with_rollbacks_leave_no_gap_for_a_reader(
    on: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Random delays before COMMIT and 5 % rolled back; a poller reads along (sync.md 3.3)."""
    url = request.getfixturevalue("database") if on == "postgresql" else ""
    farm = Farm(tmp_path, url)
    logs = [farm.server.log]
    if url:  # several processes are as many stores here
        logs += [Server(tmp_path / "farm", farm.now, url).log for _ in range(3)]
    stop = time.monotonic() + SECONDS
    acked: list[dict[str, int]] = [{} for _ in range(8)]

    def write(n: int) -> None:
        from bagtrail import devices

        rng, log = random.Random(n), logs[n % len(logs)]
        phone = ModelPhone(lambda *_: (500, None, {}), farm.phones[n % 4].paired, n, farm.now)
        caller = devices.authenticate(log, phone.headers["Authorization"])
        while time.monotonic() < stop:
            sent = [phone.write("note.written", [phone.by], {"text": "x"}) for _ in range(20)]
            push = phone._body(now=farm.time, pending=0, oldest=0,
                               records=[k.wire() for k in sent])  # fmt: skip
            try:
                with log.store.writing():
                    reply = log.accept(caller, push)
                    time.sleep(rng.uniform(0, 0.004))
                    if rng.random() < 0.05:
                        raise RuntimeError("rolled back")
            except (RuntimeError, Busy):
                continue
            acked[n].update({row[0]: row[2] for row in reply["r"]})

    seen: list[int] = []
    written = threading.Event()

    def read() -> None:
        store = logs[-1].store
        while True:
            last = written.is_set()  # before the look, so that it sees all of it
            with store.reading():
                page = [row.pos for row in store.after(seen[-1] if seen else 0, 500)]
            seen.extend(page)
            if last and not page:
                return

    with ThreadPoolExecutor(9) as pool:
        reader = pool.submit(read)
        writers = [pool.submit(write, n) for n in range(8)]
        wait(writers)
        written.set()
        for job in (*writers, reader):
            job.result()
    rows = farm.server.rows()
    assert seen == list(range(1, len(rows) + 1))
    there = {row.id: row.pos for row in rows}
    everything = {i: p for mine in acked for i, p in mine.items()}
    assert len(everything) > 500
    assert {i: there.get(i) for i in everything} == everything
    for log in logs:
        log.close()


def by_tool(farm: Farm, cluster: pg.Cluster, name: str) -> Any:
    from bagtrail import backup, restore

    log = farm.server.log
    row = backup.make(log, farm.server.folder, farm.folder / "to", farm.now())
    path = Path(row["folder"]) / row["name"]
    return lambda: restore.restore(farm.server.log, farm.server.folder, path, farm.now())


def by_dump_restore(farm: Farm, cluster: pg.Cluster, name: str) -> Any:
    dump = cluster.dump(name)

    def back() -> None:
        farm.server.log.close()
        (farm.server.folder / "starts").unlink()  # the database itself must tell
        cluster.put_back(dump, name)
        farm.server.open()

    return back


def by_empty_database(farm: Farm, cluster: pg.Cluster, name: str) -> Any:
    def back() -> None:
        farm.server.log.close()
        cluster.drop_database(name)
        cluster.make_database(name)
        farm.server.open()

    return back


WAYS = [by_tool, by_dump_restore, by_empty_database]


@pytest.mark.parametrize("way", WAYS, ids=[w.__name__ for w in WAYS])
def test_P4_C3_restore_postgresql(
    way: Any, tmp_path: Path, postgres: pg.Cluster, database: str
) -> None:
    farm = Farm(tmp_path, database)
    farm.work(10)
    back = way(farm, postgres, database.rpartition("/")[2])
    farm.work(15)
    held = held_by(farm.phones)
    back()
    with farm.server.log.store.reading():
        why = farm.server.log.store.epoch(farm.server.log.store.top().epoch)["why"]
    assert why == {"by_tool": "restored", "by_dump_restore": "cluster",
                   "by_empty_database": "emptied"}[way.__name__]  # fmt: skip
    farm.come_back(farm.phones)
    farm.check(farm.phones, held)
    farm.server.log.close()


@pytest.mark.parametrize("to", ["postgresql", "sqlite"])
def test_a_farm_moves_from_one_store_to_the_other_by_a_backup(
    to: str, tmp_path: Path, database: str
) -> None:
    from bagtrail import backup, recovery, restore

    farm = Farm(tmp_path, "" if to == "postgresql" else database)
    farm.work(5)
    row = backup.make(farm.server.log, farm.server.folder, tmp_path / "to", farm.now())
    key = recovery.load_key(farm.server.folder)[0]
    held = held_by(farm.phones)
    farm.server.log.close()
    new = database if to == "postgresql" else f"sqlite:///{tmp_path / 'new' / 'farm.db'}"
    restore.recover(tmp_path / "new", new, tmp_path / "to" / row["name"], key, farm.now())
    farm.server = Server(tmp_path / "new", farm.now, new)
    farm.come_back(farm.phones)
    farm.check(farm.phones, held)
    farm.server.log.close()


def test_P6_C8_a_replica_is_never_read_from(tmp_path: Path) -> None:
    with pg.cluster() as primary, pg.folder() as folder:
        url = primary.make_database("farm")
        farm = Farm(tmp_path, url)
        farm.work(3)
        replica = primary.replica(folder)
        replica.start()
        try:
            from bagtrail.store import Store

            store = Store(replica.url("farm"))
            with store.reading(), pytest.raises(Replica):
                store.top()
            with pytest.raises(Replica), store.writing():
                store.set_top(store.top())
            farm.server.log.store, kept = store, farm.server.log.store
            phone = farm.phones[0]
            status, said, _ = phone.wire("GET", "/api/sync/pull?nonce=n", None, phone.headers)
            assert (status, said["error"]["code"]) == (503, "replica")
            store.close_all()
            farm.server.log.store = kept
        finally:
            replica.stop("immediate")
        farm.server.log.close()


@pytest.mark.skipif(not LONG, reason="a promotion takes its time; in the long run")
def test_P4_C3_promotion_of_a_replica_that_lagged_begins_an_epoch(tmp_path: Path) -> None:
    """Point-in-time recovery and fail-over alike: another timeline, and the newest commits gone."""
    with pg.cluster() as primary, pg.folder() as folder:
        url = primary.make_database("farm")
        farm = Farm(tmp_path, url)
        farm.work(5)
        replica = primary.replica(folder)
        (replica.data / "postgresql.auto.conf").write_text(
            "recovery_target = 'immediate'\n"
            "recovery_target_action = 'promote'\n"
            "restore_command = 'false'\n"
        )
        farm.work(7)
        held = held_by(farm.phones)
        farm.server.log.close()
        primary.stop("immediate")
        (farm.server.folder / "starts").unlink()
        replica.start()
        try:
            for _ in range(100):
                if not replica.sql("SELECT pg_is_in_recovery()")[0][0]:
                    break
                time.sleep(0.1)
            farm.server.database = replica.url("farm")
            farm.server.open()
            with farm.server.log.store.reading():
                top = farm.server.log.store.top()
                assert farm.server.log.store.epoch(top.epoch)["why"] == "cluster"
            farm.come_back(farm.phones)
            farm.check(farm.phones, held)
            farm.server.log.close()
        finally:
            replica.stop("immediate")


def test_P3_cut_of_the_databases_power_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    """`pg_ctl stop -m immediate` in the middle of pushes: recovery finds every acknowledged one."""
    with pg.cluster() as cluster:
        url = cluster.make_database("farm")
        cluster.sql("ALTER DATABASE farm SET synchronous_commit = off")  # ours asks for on
        farm = Farm(tmp_path, url)
        farm.work(1)
        acked: set[str] = set()
        phone = farm.phones[0]
        for _ in range(6 if LONG else 2):
            stop = threading.Event()

            def pushes(stop: threading.Event = stop) -> None:
                while not stop.is_set():
                    phone.write("note.written", [phone.by], {"text": "x"})
                    if phone.sync(rounds=1) or phone.retry_s:
                        acked.update(k.text for k in phone.kept.values() if k.state == "acked")
                    phone.retry_s = 0

            worker = threading.Thread(target=pushes)
            before = len(acked)
            worker.start()
            wait_until(lambda n=before: len(acked) > n + 20, "pushes are acknowledged", 60)
            cluster.stop("immediate")
            stop.set()
            worker.join()
            cluster.start()
        assert len(acked) > 20
        phone.retry_s = 0
        deadline = time.monotonic() + 60
        while not phone.sync() and time.monotonic() < deadline:
            phone.retry_s = 0
        texts = [row.text for row in farm.server.rows()]
        assert acked <= set(texts)
        assert len(texts) == len(set(texts))
        farm.server.log.close()


def test_several_servers_on_one_database_are_one_farm(tmp_path: Path, database: str) -> None:
    """Two server processes with data folders of their own and one identity; phones meet either."""
    from bagtrail import devices, open_log, settings

    one, two = tmp_path / "one", tmp_path / "two"
    log = open_log(settings.load({"BAGTRAIL_DATA": str(one), "BAGTRAIL_DATABASE": database}))
    paired = [
        devices.pair(log, devices.new_code(log, "owner")["code"], f"P{i}", "", "x")
        for i in range(4)
    ]
    log.close()
    two.mkdir()
    for name in ("identity.json",):
        shutil.copy(one / name, two / name)
    served = [Served(folder, BAGTRAIL_DATABASE=database) for folder in (one, two)]
    try:
        for each in served:
            each.wait()

        def now() -> int:
            return time.time_ns() // 1_000_000

        def port(n: int) -> Any:
            turn = iter(range(10**9))
            return lambda: served[(n + next(turn)) % 2].port

        phones = [ModelPhone(over_http(port(i)), p, i, now) for i, p in enumerate(paired)]

        def work(phone: ModelPhone) -> None:
            for _ in range(12):
                for _ in range(5):
                    phone.write("note.written", [phone.by], {"text": phone.dev})
                phone.sync()

        with ThreadPoolExecutor(4) as pool:
            list(pool.map(work, phones))
        for phone in phones:
            assert phone.sync()
        assert len({phone.cursor for phone in phones}) == 1
        assert all(len(phone.kept) == len(phones[0].kept) for phone in phones)
        snaps = [
            json.dumps(each.call("/api/sync/snapshot", headers=phones[0].headers)["rows"])
            for each in served
        ]
        assert snaps[0] == snaps[1]
    finally:
        for each in served:
            each.end(signal.SIGKILL)


def test_database_address_that_cannot_be_used_is_one_sentence(tmp_path: Path) -> None:
    from bagtrail.store import Store

    with pytest.raises(Busy, match="cannot be opened"):
        Store(f"postgresql://bagtrail@127.0.0.1:{free_port()}/farm")
