"""Power loss under a running server: what was acknowledged is there, and the chain verifies.

On a disk that loses every unsynced write (tests/powercut.py); where there can be none, the tests of
it are skipped with the reason, and SIGKILL with dropped caches, which runs everywhere, remains.
"""

from __future__ import annotations

import http.client
import os
import random
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import psutil
import pytest
from tests import postgres as pg
from tests import powercut
from tests.conftest import FarmServer, Phone
from tests.served import ROOT, Served, wait_until

ROUNDS = 12 if os.environ.get("BAGTRAIL_LONG") else 3


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[powercut.Disk]:
    made = powercut.disk(tmp_path)
    if isinstance(made, str):
        pytest.skip(made)
    yield made
    made.close()


class Pusher:
    """Pushes notes until nobody answers; `acked` is what it was told: id to place in the log."""

    def __init__(self, phone: Phone, rng: random.Random) -> None:
        self.phone, self.rng = phone, rng
        self.cut = False
        self.acked: dict[str, int] = {}
        self.texts: dict[str, str] = {}

    def run(self, served: Served, until: Any, seconds: float) -> None:
        """Push for a while, call `until` in the middle of it, and wait for the end."""
        thread = threading.Thread(target=self._push, args=(served,))
        before, self.cut = len(self.acked), False
        thread.start()
        wait_until(lambda: len(self.acked) > before, "pushes are acknowledged", 60)
        time.sleep(seconds)
        until()
        self.cut = True
        thread.join()

    def _push(self, served: Served) -> None:
        note = {"text": "x" * 200}
        failed = 0
        while failed < 3:  # some after the cut, too: none of them may be acknowledged
            records = [
                self.phone.record("note.written", [self.phone.by], note)
                for _ in range(self.rng.randrange(1, 30))
            ]
            signed = [self.phone.sign(record) for record in records]
            self.texts |= {r["id"]: s[0] for r, s in zip(records, signed, strict=True)}
            try:
                # A server whose disk is gone may never answer.
                reply = served.call(
                    "/api/sync/push", self.phone.body(*signed), self.phone.headers,
                    timeout=1 if self.cut else 5,
                )  # fmt: skip
            except (OSError, ValueError, http.client.HTTPException):
                failed += 1
                continue
            self.acked.update({row[0]: row[2] for row in reply["r"] if row[1] != "later"})


def assert_all_there(folder: Path, pusher: Pusher, database: str = "") -> None:
    """Every acknowledged record lies at its place, byte for byte; chain and fold are whole."""
    from bagtrail.receipts import chain
    from bagtrail.store import ZERO_HASH

    server = FarmServer(folder, database)
    try:
        with server.log.store.reading():
            top = server.log.store.top()
            rows = server.log.store.after(0, top.pos)
        there = {row.id: (row.pos, row.text) for row in rows}
        for record, pos in pusher.acked.items():
            assert there.get(record) == (pos, pusher.texts[record])
        assert [row.pos for row in rows] == list(range(1, top.pos + 1))
        h = ZERO_HASH
        for row in rows:
            h = chain(h, row.id, row.text, row.receipt)
            assert row.h == h, row.pos
        assert top.h == h
        assert server.log.live.refold()[1] == []
    finally:
        server.log.close()


def paired(folder: Path, database: str = "") -> Phone:
    server = FarmServer(folder, database)
    phone = server.pair()
    server.log.close()
    return phone


def test_P3_C10_power_loss_keeps_every_acknowledged_record(disk: powercut.Disk) -> None:
    folder = disk.at / "farm"
    pusher = Pusher(paired(folder), random.Random(5))
    for _ in range(ROUNDS):
        served = Served(folder)
        served.wait()
        before = len(pusher.acked)
        pusher.run(served, disk.cut, pusher.rng.uniform(0.3, 1.0))
        served.end(signal.SIGKILL)
        disk.back()
        assert len(pusher.acked) > before
        assert_all_there(folder, pusher)


def test_P3_C10_power_loss_under_postgresql_keeps_every_acknowledged_record(
    tmp_path: Path,
) -> None:
    """The farm's own folder stays on a sound disk: its database is on another machine."""
    with pg.folder() as there:
        disk = powercut.disk(there, 400 << 20)
        if isinstance(disk, str):
            pytest.skip(disk)
        try:
            home = disk.at / "pg"
            home.mkdir()
            there.chmod(0o755)
            if user := pg.runner():
                shutil.chown(home, user)
            cluster = pg.Cluster(home)
            subprocess.run(["sync", "-f", str(home)], check=True)  # made without syncs
            cluster.start()
            url = cluster.make_database("farm")
            pusher = Pusher(paired(tmp_path / "farm", url), random.Random(7))
            for _ in range(ROUNDS - 1):
                served = Served(tmp_path / "farm", BAGTRAIL_DATABASE=url)
                served.wait()
                before = len(pusher.acked)
                postmaster = int((cluster.data / "postmaster.pid").read_text().split()[0])
                pusher.run(served, disk.cut, pusher.rng.uniform(0.3, 1.0))
                served.end(signal.SIGKILL)
                kill_family(postmaster)
                disk.back()
                cluster.start()
                assert len(pusher.acked) > before
                assert_all_there(tmp_path / "farm", pusher, url)
            kill_family(int((cluster.data / "postmaster.pid").read_text().split()[0]))
        finally:
            disk.close()


def kill_family(pid: int) -> None:
    """SIGKILL a process and its children, and wait until they are gone."""
    try:
        head = psutil.Process(pid)
        family = [head, *head.children(recursive=True)]
    except psutil.NoSuchProcess:
        return
    for process in family:
        with suppress(psutil.NoSuchProcess):
            process.kill()
    psutil.wait_procs(family, timeout=20)


def test_P3_C10_power_loss_in_the_first_minute_keeps_farm_and_pairing(disk: powercut.Disk) -> None:
    folder = disk.at / "farm"
    served = Served(folder)
    served.wait()
    printed = ""
    while "#pair=" not in printed:
        printed = served.process.stdout.readline()
    code = printed.strip().partition("#pair=")[2]
    told = served.call("/api/devices/pair", {"code": code, "name": "First"})
    disk.cut()
    served.end(signal.SIGKILL)
    disk.back()
    server = FarmServer(folder)
    phone = Phone(server, told)
    reply = phone.push(phone.record("note.written", [phone.by], {"text": "x"}))
    assert [row[1] for row in reply.json["r"]] == ["ok"]
    assert server.http.get("/api/farm").json["farm"] == told["farm"]
    server.log.close()


def test_P4_C9_a_backup_that_was_told_of_outlives_power_loss(disk: powercut.Disk) -> None:
    folder = disk.at / "farm"
    phone = paired(folder)
    server = FarmServer(folder)
    phone.server = server
    phone.push(*(phone.record("note.written", [phone.by], {"text": "x"}) for _ in range(200)))
    server.log.close()
    env = {**os.environ, "BAGTRAIL_DATA": str(folder), "BAGTRAIL_BACKUPS": str(disk.at / "kept"),
           "PYTHONPATH": os.pathsep.join([str(ROOT / "server"), str(ROOT / "labels")])}  # fmt: skip
    command = [sys.executable, "-m", "bagtrail"]
    subprocess.run([*command, "backup"], env=env, check=True, capture_output=True, timeout=60)
    disk.cut()
    disk.back()
    (backup,) = [path for path in (disk.at / "kept").iterdir() if path.suffix != ".json"]
    done = subprocess.run(
        [*command, "verify", str(backup)], env=env, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_P3_C10_kill_and_dropped_caches_keep_every_acknowledged_record(tmp_path: Path) -> None:
    """What can be had everywhere: a killed server, and files read from the disk again."""
    folder = tmp_path / "farm"
    pusher = Pusher(paired(folder), random.Random(6))
    served = Served(folder)
    served.wait()
    pusher.run(served, lambda: os.killpg(served.process.pid, signal.SIGKILL), 0.6)
    served.process.communicate(timeout=20)
    for path in folder.rglob("*"):
        if path.is_file() and hasattr(os, "posix_fadvise"):
            with path.open("rb") as file:
                os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    assert pusher.acked
    assert_all_there(folder, pusher)
