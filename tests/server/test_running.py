"""The first command, run as a grower runs it: server/run in a shell, asked over HTTP."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tests.ports import free_port

ROOT = Path(__file__).resolve().parents[2]
SECOND_START_S = 3.0


def get(url: str) -> bytes | None:
    """The body, or None while nobody listens."""
    try:
        with urllib.request.urlopen(url, timeout=2) as reply:
            return bytes(reply.read())
    except urllib.error.HTTPError as error:
        error.close()
        raise
    except OSError:
        return None


@contextmanager
def running(data: Path, *words: str) -> Iterator[tuple[str, float]]:
    """server/run over a data folder: its address, and the seconds until it answered."""
    port = free_port()
    command = ["bash", str(ROOT / "server" / "run"), "--data", str(data), "--port", str(port)]
    log = data.parent / f"{data.name}.log"
    started = time.monotonic()
    with log.open("wb") as output:
        process = subprocess.Popen(
            [*command, *words], stdin=subprocess.DEVNULL, stdout=output, stderr=output,
            start_new_session=True,
        )  # fmt: skip
    try:
        address = f"http://127.0.0.1:{port}"
        while get(f"{address}/api/farm") is None:
            assert process.poll() is None, log.read_text()
            assert time.monotonic() - started < 240, log.read_text()
            time.sleep(0.02)
        yield address, time.monotonic() - started
    finally:
        # exec hands the process on, so a plain signal reaches the server itself.
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            raise


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder that was served once, so that everything is set up."""
    folder = tmp_path_factory.mktemp("farm") / "data"
    with running(folder):
        pass
    return folder


def test_serves_the_farm_and_the_client(data: Path) -> None:
    with running(data) as (address, _):
        farm = json.loads(get(f"{address}/api/farm") or b"")
        page = (get(f"{address}/") or b"").decode()
        worker = (get(f"{address}/sw.js") or b"").decode()
    assert farm["k"] == "farm1"
    assert (ROOT / "client" / "dist" / "index.html").read_text() == page
    assert "bagtrail-shell-" in worker


def test_is_the_same_farm_after_a_restart(data: Path) -> None:
    seen = []
    for _ in range(2):
        with running(data) as (address, _):
            seen.append(json.loads(get(f"{address}/api/farm") or b"")["farm"])
    assert seen[0] == seen[1]


def test_second_start_takes_under_three_seconds(data: Path) -> None:
    # The best of three: other work shares this machine's cores.
    took = []
    for _ in range(3):
        with running(data) as (_, seconds):
            took.append(seconds)
        if seconds < SECOND_START_S:
            break
    assert min(took) < SECOND_START_S, took


def test_says_where_it_listens_and_where_the_farm_lies(data: Path) -> None:
    with running(data) as (address, _):
        # Said at the moment of listening; the reply may overtake it by a little.
        log = data.parent / f"{data.name}.log"
        deadline = time.monotonic() + 5
        while address.rpartition(":")[2] not in log.read_text() and time.monotonic() < deadline:
            time.sleep(0.05)
        said = log.read_text()
    assert address.rpartition(":")[2] in said
    assert str(data) in said


def test_demo_plants_a_farm_once(tmp_path: Path) -> None:
    data = tmp_path / "demo"
    said = []
    for _ in range(2):
        with running(data, "--demo") as (address, _):
            assert "demo" in json.loads(get(f"{address}/api/farm") or b"")["name"].lower()
        said.append((tmp_path / "demo.log").read_text())
    assert re.search(r"[1-9]\d* records", said[0])
    assert not re.search(r"[1-9]\d* records", said[1])


def test_recover_names_a_backup_that_cannot_be_read(tmp_path: Path) -> None:
    done = subprocess.run(
        ["bash", str(ROOT / "server" / "run"), "--recover", str(tmp_path / "none.zip")],
        capture_output=True, text=True, check=False, timeout=20,
    )  # fmt: skip
    assert done.returncode == 2
    assert "none.zip" in done.stderr


def test_P4_recover_makes_a_bare_machine_the_farms_server(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bagtrail import backup, open_log, recovery, settings
    from bagtrail.sync import now_ms

    log = open_log(settings.load({"BAGTRAIL_DATA": str(data)}))
    row = backup.make(log, data, tmp_path / "usb", now_ms())
    farm = log.identity.farm
    log.close()
    key = recovery.load_key(data)[0]
    monkeypatch.setenv("BAGTRAIL_RECOVERY_KEY", " ".join(recovery.groups_of(key)))
    path = tmp_path / "usb" / row["name"]
    with running(tmp_path / "new", "--recover", str(path)) as (address, _):
        assert json.loads(get(f"{address}/api/farm") or b"")["farm"] == farm
