"""kill -9 in the middle of pushes: every acknowledged record is there after the next start."""

from __future__ import annotations

import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest

ROUNDS = 12 if os.environ.get("BAGTRAIL_LONG") else 2
ROOT = Path(__file__).resolve().parents[2]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Served:
    """``bagtrail serve`` in processes of its own."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        path = os.pathsep.join([str(ROOT / "server"), str(ROOT / "labels")])
        self.process = subprocess.Popen(
            [sys.executable, "-m", "bagtrail", "serve", "--port", str(self.port)],
            env={**os.environ, "PYTHONPATH": path, "BAGTRAIL_DATA": str(folder)},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )

    def call(self, path: str, body: Any = None, headers: dict[str, str] | None = None) -> Any:
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}{path}",
            data=data,
            headers={"Content-Type": "application/json", **(headers or {})},
        )
        with urllib.request.urlopen(request, timeout=10) as reply:
            return json.load(reply)

    def wait(self) -> float:
        """Waits until it answers and returns the seconds it took."""
        began = time.perf_counter()
        while time.perf_counter() - began < 20:
            try:
                self.call("/api/farm")
            except OSError:
                assert self.process.poll() is None, self.process.stdout.read()
                time.sleep(0.02)
            else:
                return time.perf_counter() - began
        raise AssertionError("the server never answered")

    def end(self, sign: int) -> str:
        """Sends a signal to all its processes and returns what it had said."""
        if sign == signal.SIGKILL:
            os.killpg(self.process.pid, sign)
        else:
            self.process.send_signal(sign)
        return self.process.communicate(timeout=20)[0]


@pytest.fixture
def paired(server: Any) -> Any:
    phone = server.pair()
    server.log.close()
    return phone


def test_killed_server_has_every_record_it_acknowledged(server: Any, paired: Any) -> None:
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
                except (OSError, ValueError):
                    return
                acked.update({row[0]: row[2] for row in reply["r"]})

        worker = threading.Thread(target=pushes)
        worker.start()
        time.sleep(rng.uniform(0.3, 1.2))
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


def test_sigterm_ends_cleanly_saves_state_and_the_next_start_is_quick(
    server: Any, paired: Any
) -> None:
    served = Served(server.folder)
    first = served.wait()
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
    second = again.wait()
    again.end(signal.SIGTERM)
    assert max(first, second) < 3


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
