"""kill -9 in the middle of pushes: every acknowledged record is there after the next start."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from tests.served import ROOT, Served, wait_until

ROUNDS = 12 if os.environ.get("BAGTRAIL_LONG") else 2


@pytest.fixture
def paired(server: Any) -> Any:
    phone = server.pair()
    server.log.close()
    return phone


def test_P3_C10_killed_server_has_every_record_it_acknowledged(server: Any, paired: Any) -> None:
    rng = random.Random(11)
    acked: dict[str, int] = {}
    sent: set[str] = set()
    for _ in range(ROUNDS):
        served = Served(server.folder)
        served.wait()
        stop = threading.Event()

        def pushes(served: Served = served, stop: threading.Event = stop) -> None:
            while not stop.is_set():
                records = [
                    paired.record("note.written", [paired.by], {"text": "x" * 200})
                    for _ in range(rng.randrange(1, 30))
                ]
                sent.update(r["id"] for r in records)
                body = paired.body(*map(paired.sign, records))
                try:
                    reply = served.call("/api/sync/push", body, paired.headers)
                except (OSError, ValueError, http.client.HTTPException):
                    return
                acked.update({row[0]: row[2] for row in reply["r"]})

        worker = threading.Thread(target=pushes)
        before = len(acked)
        worker.start()
        wait_until(lambda n=before: len(acked) > n + 25, "pushes are acknowledged", 60)
        time.sleep(rng.uniform(0, 0.9))
        served.end(signal.SIGKILL)
        stop.set()
        worker.join()
    served = Served(server.folder)
    served.wait()
    rows, cursor = [], ""
    while True:
        page = served.call(f"/api/sync/pull?c={cursor}", headers=paired.headers)
        rows += page["records"]
        cursor = f"{page['epoch']}.{page['to']}.{page['h']}"
        if not page["more"]:
            break
    served.end(signal.SIGTERM)
    there = {json.loads(row[0])["id"]: row[4] for row in rows}
    assert len(acked) > 50
    assert {i: there.get(i) for i in acked} == acked
    assert [row[4] for row in rows] == list(range(1, len(rows) + 1))
    server.open()
    assert server.log.live.refold()[1] == []


def test_worker_ends_with_a_killed_parent_and_frees_the_port(server: Any) -> None:
    served = Served(server.folder)
    served.wait()
    os.kill(served.process.pid, signal.SIGKILL)
    served.process.communicate(timeout=20)  # returns when the worker's output is closed, too
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind(("127.0.0.1", served.port))


def test_sigterm_ends_cleanly_saves_state_and_the_next_start_serves(
    server: Any, paired: Any
) -> None:
    served = Served(server.folder)
    served.wait()
    records = [paired.record("note.written", [paired.by], {"text": "x"}) for _ in range(50)]
    served.call("/api/sync/push", paired.body(*map(paired.sign, records)), paired.headers)
    said = served.end(signal.SIGTERM)
    assert served.process.returncode == 0
    assert f"http://localhost:{served.port}/" in said
    assert "Traceback" not in said
    assert "#pair=" not in said  # a device is paired already
    with server.log.store.reading():
        meta = json.loads(server.log.store.snapshot_meta())
        assert meta["pos"] == server.log.store.top().pos
    again = Served(server.folder)
    again.wait()  # how quick it is, is a figure, not a test
    again.end(signal.SIGTERM)
    assert again.process.returncode == 0


def test_first_start_prints_an_address_that_pairs(tmp_path: Path) -> None:
    served = Served(tmp_path / "new")
    served.wait()
    printed = ""
    while "#pair=" not in printed:
        printed = served.process.stdout.readline()
    code = printed.strip().partition("#pair=")[2]
    body = served.call("/api/devices/pair", {"code": code, "name": "First"})
    served.end(signal.SIGTERM)
    assert body["role"] == "owner"


def test_port_in_use_is_one_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        served = Served(tmp_path / "farm")
        served.process.kill()
        served.process.communicate()
        command = [sys.executable, "-m", "bagtrail", "serve", "--port",
                   str(taken.getsockname()[1]), "--data", str(tmp_path / "farm")]  # fmt: skip
        path = os.pathsep.join([str(ROOT / "server"), str(ROOT / "labels")])
        done = subprocess.run(
            command,
            env={**os.environ, "PYTHONPATH": path},
            capture_output=True,
            text=True,
            timeout=20,
        )
    assert done.returncode == 1
    assert "cannot be used" in done.stderr
    assert "Traceback" not in done.stderr


def test_first_start_shows_the_recovery_sheet_once(tmp_path: Path) -> None:
    from bagtrail import recovery

    folder = tmp_path / "new"
    served = Served(folder)
    served.wait()
    said = served.end(signal.SIGTERM)
    groups = recovery.groups_of(recovery.load_key(folder)[0])
    assert all(group in said for group in groups)
    assert (folder / "recovery-sheet.pdf").read_bytes().startswith(b"%PDF")
    again = Served(folder)
    again.wait()
    assert groups[0] not in again.end(signal.SIGTERM)
