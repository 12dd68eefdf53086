"""The farm's real server as a process that can be killed, and what its log and API say."""

from __future__ import annotations

import gzip
import hashlib
import hmac
import json
import os
import re
import secrets
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.ports import free_port

from bagtrail import devices, open_log, settings
from bagtrail.live import line_of_row

ROOT = Path(__file__).resolve().parents[2]
START_S = 60


def wait_until(true: Any, what: str, seconds: float = 20) -> Any:
    """Return the first truthy answer of `true()`; fail with `what` after `seconds`."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if answer := true():
            return answer
        time.sleep(0.05)
    raise AssertionError(f"not within {seconds} s: {what}")


class FarmServer:
    """`python -m bagtrail serve` on one port and one data folder, through many lives."""

    def __init__(self, data: Path, *, demo: bool = False) -> None:
        self.data = data
        self._demo = demo
        self.port = free_port()
        self.lives = 0
        self._process: subprocess.Popen[bytes] | None = None
        self._said = data.parent / f"{data.name}.out"

    @property
    def url(self) -> str:
        """Return the address; localhost, so that it is a secure context."""
        return f"http://localhost:{self.port}"

    @property
    def _env(self) -> dict[str, str]:
        paths = [str(ROOT / "server"), str(ROOT / "labels"), os.environ.get("PYTHONPATH", "")]
        return {
            **os.environ,
            "PYTHONPATH": os.pathsep.join(p for p in paths if p),
            "BAGTRAIL_NAME": "Fen Edge",
            "BAGTRAIL_ZONE": "Europe/London",
        }

    def start(self) -> FarmServer:
        """Start it and wait until it answers; raises AssertionError with what it said otherwise."""
        with self._said.open("wb") as out:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "bagtrail", "serve", "--data", str(self.data),
                 "--port", str(self.port), *(["--demo"] if self._demo else [])],
                stdout=out, stderr=subprocess.STDOUT, env=self._env, start_new_session=True,
            )  # fmt: skip
        self.lives += 1
        try:
            wait_until(self._answers, "the server answers", START_S)
        except AssertionError as late:
            raise AssertionError(f"{late}\n{self.said()}") from late
        return self

    def _answers(self) -> bool:
        assert self._process is not None
        if self._process.poll() is not None:
            raise AssertionError(f"the server ended by itself:\n{self.said()}")
        try:
            with urllib.request.urlopen(f"{self.url}/api/farm", timeout=2) as reply:
                return bool(reply.status == 200)
        except OSError:
            return False

    def said(self) -> str:
        """Return what this life of the server has printed."""
        return self._said.read_text(encoding="utf-8", errors="replace")

    def kill(self) -> None:
        """SIGKILL the server and its workers, as a power cut does; nobody listens afterwards."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """End it as a person does."""
        self._end(signal.SIGTERM)

    def _end(self, how: signal.Signals) -> None:
        process, self._process = self._process, None
        if process is None or process.poll() is not None:
            return
        # The session we started it in: its workers are in it, nobody else is.
        os.killpg(process.pid, how)
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(5)
        wait_until(self._refuses, "the port is closed")

    def _refuses(self) -> bool:
        with socket.socket() as probe:
            probe.settimeout(1)
            return probe.connect_ex(("127.0.0.1", self.port)) != 0

    def cli(self, *words: str) -> str:
        """Run `bagtrail` on this farm's data beside the server; returns what it printed."""
        done = subprocess.run(
            [sys.executable, "-m", "bagtrail", "--data", str(self.data), *words],
            capture_output=True, text=True, encoding="utf-8", timeout=60, env=self._env,
        )  # fmt: skip
        assert done.returncode == 0, f"bagtrail {words}: {done.stdout}{done.stderr}"
        return done.stdout

    def first_code(self) -> str:
        """Return the one-time code that the first start printed."""
        found = re.search(r"#pair=(\w{8})", self.said())
        assert found, self.said()
        return found[1]

    @contextmanager
    def opened(self) -> Iterator[Any]:
        """The farm's log, opened beside the server as the commands do, without their start."""
        log = open_log(settings.load({
            "BAGTRAIL_DATA": str(self.data),
            "BAGTRAIL_NAME": self._env["BAGTRAIL_NAME"],
            "BAGTRAIL_ZONE": self._env["BAGTRAIL_ZONE"],
        }))  # fmt: skip
        try:
            yield log
        finally:
            log.close()

    def pair_code(self, role: str = "owner") -> str:
        """Return a new one-time code."""
        with self.opened() as log:
            who = devices.owner_of(log) if role == "owner" else ""
            return str(devices.new_code(log, role, who)["code"])

    def log(self) -> list[dict[str, Any]]:
        """Return every record of the log as it was written, in the log's order."""
        return [json.loads(text) for text in self.log_texts()]

    def log_texts(self) -> list[str]:
        """Return every record's text as it is stored, in the log's order."""
        return [row.text for row in self._rows()]

    def _rows(self) -> list[Any]:
        with self.opened() as log, log.store.reading():
            return list(log.store.after(0, 100_000))

    def held(self) -> list[str]:
        """Return the kind of each record that is held, and why."""
        lines = [line_of_row(row) for row in self._rows()]
        return [f"{line['k']}: {line['w']}" for line in lines if "w" in line]

    def device(self, name: str = "Observer") -> ApiDevice:
        """Pair a device that only asks."""
        return ApiDevice(self.url, self.pair_code("manager"), name)


def uuid7(ms: int) -> str:
    """Return a record id of that moment (RFC 9562, version 7)."""
    bits = (ms << 80) | (0x7 << 76) | (secrets.randbits(12) << 64) | (0b10 << 62)
    return str(uuid.UUID(int=bits | secrets.randbits(62)))


class ApiDevice:
    """A paired device without a screen: asks the API what the farm's computer believes."""

    def __init__(self, url: str, code: str, name: str) -> None:
        self.url = url
        paired = self._ask("POST", "/api/devices/pair", {"code": code, "name": name}, "")
        self._key = bytes.fromhex(paired["key"])
        #: What pairing gave: farm, dev, gen, key, by ...
        self.paired: dict[str, Any] = paired
        self._stream, self._sent = secrets.token_hex(8), 0
        tag = hmac.new(self._key, b"token", hashlib.sha256).hexdigest()
        self.token = f"{paired['dev']}.{paired['gen']}.{tag}"
        #: The farm's tag, as it stands before the code on each label.
        self.tag = str(paired["tag"])

    def get(self, path: str, **query: str) -> Any:
        """Return the JSON answer to GET /api/<path>."""
        text = f"?{urllib.parse.urlencode(query)}" if query else ""
        return self._ask("GET", f"/api/{path}{text}", None, self.token)

    def post(self, path: str, body: Any) -> Any:
        """Return the JSON answer to POST /api/<path>."""
        return self._ask("POST", f"/api/{path}", body, self.token)

    def write(self, kind: str, sub: list[str], **d: Any) -> str:
        """Push one record of this device's stream; returns what became of it (ok, held, ...)."""
        return self.write_at(time.time_ns() // 1_000_000, kind, sub, **d)

    def write_at(self, now: int, kind: str, sub: list[str], **d: Any) -> str:
        """Push a record written at a time, ms UTC: one that waited on a device until today."""
        self._sent += 1
        record = {
            "v": 1, "id": uuid7(now), "dev": self.paired["dev"], "gen": self.paired["gen"],
            "st": self._stream, "sq": self._sent, "at": now, "cl": {"w": now, "o": 0, "q": "sync"},
            "tz": 0, "ty": kind, "tv": 1, "sub": sub, "base": "", "by": self.paired["by"], "d": d,
        }  # fmt: skip
        return self.send(json.dumps(record, ensure_ascii=False, separators=(",", ":")))

    def send(self, text: str, now: int = 0) -> str:
        """Push any text under this device's own key; returns what became of it."""
        now = now or time.time_ns() // 1_000_000
        key = hmac.new(self._key, b"stream" + self._stream.encode(), hashlib.sha256).digest()
        mac = hmac.new(key, text.encode(), hashlib.sha256).hexdigest()[:32]
        answer = self.post("sync/push", {
            "farm": self.paired["farm"], "proof": "", "nonce": secrets.token_hex(8), "now": now,
            "st": self._stream, "pending": 1, "oldest": now, "records": [[text, mac]],
        })  # fmt: skip
        return str(answer["r"][0][1])

    def _ask(self, method: str, path: str, body: Any, token: str) -> Any:
        request = urllib.request.Request(
            self.url + path,
            None if body is None else json.dumps(body).encode(),
            {"Content-Type": "application/json", "Authorization": f"Bearer {token}"},
            method=method,
        )
        try:
            with urllib.request.urlopen(request, timeout=20) as reply:
                data = reply.read()
                if reply.headers.get("Content-Encoding") == "gzip":
                    data = gzip.decompress(data)
        except urllib.error.HTTPError as refused:
            raise AssertionError(f"{method} {path}: {refused.code} {refused.read()!r}") from refused
        return json.loads(data)
